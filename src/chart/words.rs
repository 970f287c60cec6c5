//! The texts around a figure, and what a caption says.

use super::theme::Palette;
use crate::schema::ResultId;

/// Title, notes and caption of a figure, with the palette that all figures of a report share.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Words {
    /// Title.
    pub title: String,
    /// File, flour, water, day: what was measured.
    pub subtitle: String,
    /// Treatments and how each looks; the same for every figure of a report.
    pub palette: Palette,
    /// Values without a place on the figure, with the reason; findings.
    pub notes: Vec<String>,
    /// Number of runs, doughs and blocks, method, ids; see [`caption`].
    pub caption: String,
}

impl Words {
    /// Returns what a figure says to readers who cannot see it: title, `sentences`, notes, caption.
    pub(super) fn alt(&self, sentences: impl IntoIterator<Item = String>) -> String {
        let head = [self.title.clone(), self.subtitle.clone()];
        let tail = self.notes.iter().chain([&self.caption]).cloned();
        let all = head.into_iter().chain(sentences).chain(tail);
        let all: Vec<String> = all
            .map(|words| words.trim().trim_end_matches('.').replace('\u{a0}', " "))
            .filter(|words| !words.is_empty())
            .collect();
        all.join(". ") + "."
    }
}

/// Returns `confidence`, or the usual 95 % where none is stated.
pub(super) fn confidence_or_usual(confidence: &str) -> &str {
    match confidence {
        "" => "95 %",
        stated => stated,
    }
}

/// How much data a figure shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Runs or pieces.
    pub runs: usize,
    /// Doughs: the unit of replication.
    pub doughs: usize,
    /// Blocks, such as days.
    pub blocks: usize,
}

/// Returns a caption: counts, then `method`, then the first and last of `results`, whose full list is
/// in the picture's own metadata.
pub fn caption(counts: Counts, method: &str, results: &[ResultId]) -> String {
    let of = |n: usize, one: &str, many: &str| match n {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {many}")),
    };
    let counted: Vec<String> = [
        of(counts.runs, "run", "runs"),
        of(counts.doughs, "dough", "doughs"),
        of(counts.blocks, "block", "blocks"),
    ]
    .into_iter()
    .flatten()
    .collect();
    let short = |id: &ResultId| id.as_str().chars().take(12).collect::<String>();
    let ids = match results {
        [] => None,
        [only] => Some(format!("result {}", short(only))),
        [first, .., last] => Some(format!(
            "{} results {} … {}",
            results.len(),
            short(first),
            short(last)
        )),
    };
    let parts = [Some(counted.join(", ")), Some(method.to_owned()), ids];
    let parts: Vec<String> = parts
        .into_iter()
        .flatten()
        .filter(|part| !part.is_empty())
        .collect();
    parts.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::Digest;

    #[test]
    fn captions_count_and_name_their_results() {
        let ids = [b"a", b"b"].map(|b| ResultId::from_digest(&Digest::of(b)));
        let counts = Counts {
            runs: 12,
            doughs: 1,
            blocks: 0,
        };
        let words = caption(counts, "mean of two pieces", &ids);
        assert!(words.starts_with("12 runs, 1 dough; mean of two pieces; 2 results "));
        assert_eq!(caption(Counts::default(), "", &[]), "");
    }
}
