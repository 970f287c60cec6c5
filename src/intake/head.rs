//! The beginning of a file, decoded only as far as choosing a profile needs.

use super::text::{UTF8_MARK, decode_utf16, is_utf16};
use crate::profile::Encoding;
use encoding_rs::WINDOWS_1252;
use std::borrow::Cow;
use std::cell::OnceCell;

/// Bytes looked at; the signature of a layout must lie within them.
const HEAD_BYTES: usize = 64 * 1024;

/// The beginning of a file under every encoding it could have.
pub struct Head<'a> {
    bytes: &'a [u8],
    utf8: Option<&'a str>,
    utf16: OnceCell<Option<String>>,
    latin1: OnceCell<Cow<'a, str>>,
}

/// Returns the beginning of `bytes`; nothing is copied for UTF-8.
pub fn head(bytes: &[u8]) -> Head<'_> {
    let cut = bytes.len() > HEAD_BYTES;
    let bytes = bytes.get(..HEAD_BYTES).unwrap_or(bytes);
    Head {
        bytes,
        utf8: if is_utf16(bytes) {
            None
        } else {
            as_utf8(bytes.strip_prefix(UTF8_MARK).unwrap_or(bytes), cut)
        },
        utf16: OnceCell::new(),
        latin1: OnceCell::new(),
    }
}

fn as_utf8(bytes: &[u8], cut: bool) -> Option<&str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Some(text),
        // A character may be cut in two where the head ends.
        Err(e) if cut && e.error_len().is_none() => {
            std::str::from_utf8(bytes.get(..e.valid_up_to())?).ok()
        }
        Err(_) => None,
    }
}

impl Head<'_> {
    /// Returns the text under `encoding`, or `None` if the bytes cannot be in it.
    pub fn text(&self, encoding: Encoding) -> Option<&str> {
        match encoding {
            Encoding::Utf8 => self.utf8,
            Encoding::Utf16 => self.utf16.get_or_init(|| self.decode_wide()).as_deref(),
            Encoding::Latin1 if is_utf16(self.bytes) => None,
            Encoding::Latin1 => Some(
                self.latin1
                    .get_or_init(|| WINDOWS_1252.decode_without_bom_handling(self.bytes).0),
            ),
        }
    }

    fn decode_wide(&self) -> Option<String> {
        if !is_utf16(self.bytes) {
            return None;
        }
        // A half or damaged character at the end of the head is the full read's business.
        let even = self.bytes.len() & !1;
        let whole = self.bytes.get(..even)?;
        decode_utf16(whole)
            .or_else(|_| decode_utf16(whole.get(..even.saturating_sub(2)).unwrap_or(&[])))
            .ok()
            .map(Cow::into_owned)
    }

    /// Returns the first line with anything on it, for messages.
    pub fn first_line(&self) -> Cow<'_, str> {
        let text = match self.text(Encoding::Utf16).or(self.utf8) {
            Some(text) => Cow::Borrowed(text),
            None => String::from_utf8_lossy(self.bytes),
        };
        let line = text.lines().find(|l| !l.trim().is_empty()).unwrap_or("");
        Cow::Owned(line.trim().to_owned())
    }

    /// Returns whether the bytes can be text at all: no control characters but tab and line ends.
    pub fn is_text(&self) -> bool {
        let control = |c: char| c.is_control() && !matches!(c, '\t' | '\r' | '\n' | '\u{c}');
        let text = self.text(Encoding::Utf16).or(self.utf8);
        let text = text.or_else(|| self.text(Encoding::Latin1));
        text.is_some_and(|text| !text.chars().take(512).any(control))
    }

    /// Returns whether there is nothing but white space.
    pub fn is_blank(&self) -> bool {
        self.bytes.is_empty() || self.first_line().is_empty()
    }
}
