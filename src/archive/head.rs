//! The HEAD file: which ledger line is the last.
//!
//! It is written after the line is durable, so after a crash it may lag by one line, never by
//! more and never run ahead: a ledger that ends before its HEAD was cut.

use super::error::ArchiveError;
use super::line::{FormatVersion, genesis};
use super::place;
use super::store::Store;
use crate::schema::Digest;

/// A place in the ledger: a line's number and digest. It stands for everything up to that line.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Head {
    /// Number of the line; 0 before the first.
    pub seq: u64,
    /// Its digest.
    pub digest: Digest,
}

impl Head {
    /// Returns the head of an empty ledger.
    pub(super) fn empty() -> Head {
        Head {
            seq: 0,
            digest: genesis(),
        }
    }

    /// Returns the bytes of the HEAD file.
    fn render(&self) -> String {
        format!("{} {} {}\n", FormatVersion::CURRENT, self.seq, self.digest)
    }

    /// Returns the head in the bytes of a HEAD file; anything but the exact form is `None`.
    fn parse(bytes: &[u8]) -> Option<Head> {
        let text = std::str::from_utf8(bytes).ok()?;
        let mut words = text.split_ascii_whitespace();
        let _format = words.next()?;
        let head = Head {
            seq: words.next()?.parse().ok().filter(|seq| *seq > 0)?,
            digest: Digest::parse(words.next()?).ok()?,
        };
        (head.render() == text).then_some(head)
    }

    /// Writes the HEAD file.
    pub(super) fn write(&self, store: &Store) -> Result<(), ArchiveError> {
        store.replace(place::HEAD, self.render().as_bytes())
    }
}

/// What the HEAD file says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum HeadFile {
    /// There is none.
    Absent,
    /// It names a line.
    Names(Head),
    /// It is not what this program writes.
    Unreadable,
}

impl HeadFile {
    pub(super) fn read(store: &Store) -> Result<HeadFile, ArchiveError> {
        Ok(match store.read(place::HEAD)? {
            None => HeadFile::Absent,
            Some(bytes) => Head::parse(&bytes).map_or(HeadFile::Unreadable, HeadFile::Names),
        })
    }

    /// Returns the line it names; the empty ledger's head where there is no file.
    pub(super) fn named(&self) -> Option<Head> {
        match self {
            HeadFile::Absent => Some(Head::empty()),
            HeadFile::Names(head) => Some(head.clone()),
            HeadFile::Unreadable => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_exact_form_is_read() {
        let head = Head {
            seq: 7,
            digest: Digest::of(b"abc"),
        };
        let text = head.render();
        assert_eq!(Head::parse(text.as_bytes()), Some(head));
        for wrong in [
            text.to_uppercase(),
            text.replace('7', "07"),
            text.replace(' ', "  "),
            text.replace("1.0", "1.1"),
            text.trim_end().to_owned(),
            format!("{text}x"),
            String::new(),
        ] {
            assert_eq!(Head::parse(wrong.as_bytes()), None, "{wrong}");
        }
    }
}
