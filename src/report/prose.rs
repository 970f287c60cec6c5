//! Running text: what stands between backticks is set as code, everything else as written.

use serde::Serialize;

/// A piece of running text.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub(super) struct Piece {
    code: bool,
    text: String,
}

/// A line of running text.
pub(super) type Prose = Vec<Piece>;

/// Returns `text` in pieces. Where backticks do not pair up, the text stays as written.
pub(super) fn prose(text: &str) -> Prose {
    if text.matches('`').count() % 2 == 1 {
        return vec![Piece {
            code: false,
            text: text.to_owned(),
        }];
    }
    // A doc comment writes links to code as [`name`]; a printed page has no such links.
    let plain = text.replace("[`", "`").replace("`]", "`");
    let parts = plain.split('`').enumerate();
    parts
        .filter(|(_, part)| !part.is_empty())
        .map(|(position, part)| Piece {
            code: position % 2 == 1,
            text: part.to_owned(),
        })
        .collect()
}

/// Returns the paragraphs of a doc comment, each on one line.
pub(super) fn paragraphs(text: &str) -> Vec<Prose> {
    let blocks = text.split("\n\n").map(|block| {
        let words: Vec<&str> = block.split_whitespace().collect();
        words.join(" ")
    });
    blocks
        .filter(|block| !block.is_empty())
        .map(|block| prose(&block))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        let pieces = prose(text).into_iter();
        pieces
            .map(|p| {
                if p.code {
                    format!("<{}>", p.text)
                } else {
                    p.text
                }
            })
            .collect()
    }

    #[test]
    fn code_is_what_stands_between_backticks() {
        assert_eq!(shown("use `a.csv`, not `b`"), "use <a.csv>, not <b>");
        assert_eq!(shown("see [`Outcome`] there"), "see <Outcome> there");
        assert_eq!(shown("a lone ` stays"), "a lone ` stays");
        assert_eq!(shown(""), "");
    }

    #[test]
    fn a_doc_comment_falls_into_paragraphs_without_line_ends() {
        let lines = paragraphs(" One\n two.\n\n Three.\n\n");
        assert_eq!(lines, vec![prose("One two."), prose("Three.")]);
    }
}
