//! Looking for texts in ledger lines without taking the lines apart.

use super::error::ArchiveError;
use memchr::memmem::Finder;
use std::collections::{BTreeSet, HashSet};

/// Where in a line a text must stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Telling {
    Anywhere,
    /// Not as what something else was made from: an instrument has one line of its own and
    /// thousands that name it as a source.
    OfItself,
}

/// Up to so many texts, each line is first searched for them as they are.
const FEW: usize = 4;

/// Texts to look for, in the form in which they stand in a line.
pub(super) struct Wanted {
    texts: HashSet<Vec<u8>>,
    /// The texts with their quotation marks, when they are few.
    few: Option<Vec<Finder<'static>>>,
    /// Which lengths occur: most texts of a line are ruled out by theirs.
    lengths: Vec<bool>,
}

impl Wanted {
    /// Returns the texts, ready to be looked for.
    pub(super) fn new(wanted: &BTreeSet<String>) -> Result<Wanted, ArchiveError> {
        let mut texts = HashSet::new();
        let mut few = (wanted.len() <= FEW).then(Vec::new);
        let mut lengths = Vec::new();
        for text in wanted {
            let quoted = serde_json::to_vec(text)?;
            let bare = quoted.get(1..quoted.len() - 1).unwrap_or_default().to_vec();
            if let Some(few) = &mut few {
                few.push(Finder::new(&quoted).into_owned());
            }
            if lengths.len() <= bare.len() {
                lengths.resize(bare.len() + 1, false);
            }
            if let Some(known) = lengths.get_mut(bare.len()) {
                *known = true;
            }
            texts.insert(bare);
        }
        Ok(Wanted {
            texts,
            few,
            lengths,
        })
    }

    /// Returns whether a line has one of the texts, whole, as a value or a key.
    pub(super) fn is_in(&self, line: &[u8], telling: Telling) -> bool {
        if let Some(few) = &self.few
            && few.iter().all(|finder| finder.find(line).is_none())
        {
            return false;
        }
        let mut begin = None;
        let mut escaped_at = usize::MAX;
        let mut key: &[u8] = b"";
        for at in memchr::memchr2_iter(b'"', b'\\', line) {
            if escaped_at == at {
                continue;
            }
            if line.get(at) == Some(&b'\\') {
                escaped_at = at + 1;
                continue;
            }
            let Some(from) = begin.take() else {
                begin = Some(at + 1);
                continue;
            };
            let text = line.get(from..at).unwrap_or_default();
            let is_key = line.get(at + 1) == Some(&b':');
            if is_key {
                key = text;
            }
            let known = self.lengths.get(text.len()).copied().unwrap_or(false);
            let counts = telling == Telling::Anywhere || is_key || key != b"from";
            if known && counts && self.texts.contains(text) {
                return true;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_texts_are_found_and_escapes_mislead_nobody() {
        let line = serde_json::to_vec(&serde_json::json!({
            "a": "he said \"K-01\" once", "b": ["back\\", "K-02"], "c": "\u{e9}t\u{e9}\n"
        }))
        .unwrap_or_default();
        let has = |text: &str| {
            Wanted::new(&BTreeSet::from([text.to_owned()]))
                .is_ok_and(|w| w.is_in(&line, Telling::Anywhere))
        };
        assert!(has("K-02") && has("back\\") && has("\u{e9}t\u{e9}\n") && has("b"));
        assert!(has("he said \"K-01\" once"));
        let made = br#"{"from":["a","b"],"id":"c"}"#;
        let tells = |text: &str| {
            Wanted::new(&BTreeSet::from([text.to_owned()]))
                .is_ok_and(|w| w.is_in(made, Telling::OfItself))
        };
        assert!(tells("c") && tells("from") && !tells("a") && !tells("b"));
        assert!(!has("K-01") && !has("K-0") && !has(",") && !has(":[") && !has(""));
    }
}
