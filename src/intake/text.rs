//! Bytes to text, by the declared encoding and nothing else.

use super::desk::{Complaint, locate};
use crate::profile::Encoding;
use crate::record::Fault;
use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::borrow::Cow;

pub(super) const UTF8_MARK: &[u8] = &[0xef, 0xbb, 0xbf];
const UTF16_LE_MARK: &[u8] = &[0xff, 0xfe];
const UTF16_BE_MARK: &[u8] = &[0xfe, 0xff];

/// Returns whether the bytes start with a UTF-16 byte order mark.
pub(super) fn is_utf16(bytes: &[u8]) -> bool {
    bytes.starts_with(UTF16_LE_MARK) || bytes.starts_with(UTF16_BE_MARK)
}

/// Returns the text in `bytes`; UTF-8 and plain ASCII are borrowed, not copied.
pub(super) fn decode<'a>(
    file: &str,
    bytes: &'a [u8],
    encoding: Encoding,
) -> Result<Cow<'a, str>, Fault> {
    if bytes.is_empty() {
        return Err(locate(file, None, None, empty_file()));
    }
    let text = match encoding {
        Encoding::Utf8 => decode_utf8(file, bytes).map(Cow::Borrowed),
        Encoding::Latin1 => decode_latin1(file, bytes),
        Encoding::Utf16 => decode_utf16(bytes).map_err(|c| locate(file, None, None, c)),
    }?;
    if text.trim().is_empty() {
        return Err(locate(file, Some(1), None, empty_file()));
    }
    Ok(text)
}

/// What is said of a file without content.
pub(super) fn empty_file() -> Complaint {
    Complaint::new(
        "an empty file",
        "a header and data",
        "copy the file from the instrument again",
    )
}

fn decode_utf8<'a>(file: &str, bytes: &'a [u8]) -> Result<&'a str, Fault> {
    if is_utf16(bytes) {
        return Err(locate(
            file,
            Some(1),
            None,
            Complaint::new(
                "a UTF-16 byte order mark",
                "UTF-8 text",
                "write a profile with encoding = \"utf-16\"",
            ),
        ));
    }
    let body = bytes.strip_prefix(UTF8_MARK).unwrap_or(bytes);
    refuse_nul(file, body)?;
    std::str::from_utf8(body).map_err(|e| {
        let good = body.get(..e.valid_up_to()).unwrap_or(&[]);
        let byte = body.get(e.valid_up_to()).copied().unwrap_or(0);
        locate(
            file,
            Some(line_at_end(good)),
            None,
            Complaint::new(
                &format!("byte {byte:#04x}, which is no UTF-8"),
                "UTF-8 text",
                "if the file is in Latin-1, write a profile with encoding = \"latin-1\"; \
                 else copy it from the instrument again",
            ),
        )
    })
}

fn decode_latin1<'a>(file: &str, bytes: &'a [u8]) -> Result<Cow<'a, str>, Fault> {
    refuse_nul(file, bytes)?;
    // Windows-1252 differs from Latin-1 only where Latin-1 has control characters, which no
    // layout uses; files called Latin-1 are written in either.
    Ok(WINDOWS_1252.decode_without_bom_handling(bytes).0)
}

/// Returns the text of UTF-16 bytes with a byte order mark.
pub(super) fn decode_utf16(bytes: &[u8]) -> Result<Cow<'_, str>, Complaint> {
    let (encoding, body) = if let Some(body) = bytes.strip_prefix(UTF16_LE_MARK) {
        (UTF_16LE, body)
    } else if let Some(body) = bytes.strip_prefix(UTF16_BE_MARK) {
        (UTF_16BE, body)
    } else {
        return Err(Complaint::new(
            "no UTF-16 byte order mark",
            "UTF-16 text that starts with one",
            "if the file is in UTF-8, write a profile with encoding = \"utf-8\"",
        ));
    };
    let (text, had_errors) = encoding.decode_without_bom_handling(body);
    if had_errors {
        return Err(Complaint::new(
            "bytes that are no UTF-16, or half a character at the end",
            "whole UTF-16 characters",
            "the file is damaged or cut off: copy it from the instrument again",
        ));
    }
    if text.contains('\0') {
        return Err(nul());
    }
    Ok(text)
}

fn nul() -> Complaint {
    Complaint::new(
        "a NUL byte",
        "text",
        "if the file is in UTF-16, save it with a byte order mark and write a profile with \
         encoding = \"utf-16\"; else it is damaged: copy it from the instrument again",
    )
}

fn refuse_nul(file: &str, bytes: &[u8]) -> Result<(), Fault> {
    match memchr::memchr(0, bytes) {
        None => Ok(()),
        Some(at) => {
            let before = bytes.get(..at).unwrap_or(&[]);
            Err(locate(file, Some(line_at_end(before)), None, nul()))
        }
    }
}

fn line_at_end(bytes: &[u8]) -> u64 {
    memchr::memchr_iter(b'\n', bytes).count() as u64 + 1
}
