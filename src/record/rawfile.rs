//! What is known of a raw file and of the profile that read it.

use crate::schema::Digest;
use serde::Serialize;

/// A raw file as received.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RawFile {
    /// Name as found, relative to the day folder, with `/` between folders.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: Digest,
    /// Size in bytes.
    pub bytes: u64,
}

/// The import profile that read a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ProfileStamp {
    /// Profile identifier.
    pub id: String,
    /// SHA-256 of the profile's text.
    pub sha256: Digest,
}

/// Lines of a raw file, counted from 1, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct RowRange {
    /// First line.
    pub first: u64,
    /// Last line.
    pub last: u64,
}
