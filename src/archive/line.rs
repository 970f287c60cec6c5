//! One ledger line: its exact bytes, its digest, and how it is read back.
//!
//! Canonical form, format 1.0: one JSON object without white space; the keys `format`, `seq`,
//! `previous`, `when`, `who`, `tool`, `action`, `inputs`, `parameters`, `profiles`, `metrics`,
//! `outputs`, `digest` in this order; in an item `kind`, `name`, `id`, `digest`, `bytes`, `path`,
//! `holds`, `from`, absent ones left out; the keys inside `parameters` in the order of their
//! bytes; text in UTF-8 with only `"`, `\` and control characters escaped; numbers in their
//! shortest form; one line feed at the end.
//!
//! `digest` is the SHA-256 of the line's bytes without `,"digest":"…"` and without the line feed.
//! So every bit of a line is covered, and general tools can check one:
//!
//! ```sh
//! sed -n 3p ledger.jsonl | sed -E 's/,"digest":"[0-9a-f]{64}"\}$/}/' | tr -d '\n' | sha256sum
//! ```

use super::event::{Action, Event, Item, ProfileUsed};
use crate::schema::Digest;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Version of the ledger's format. Readers accept newer minor versions, writers do not; the place
/// and meaning of `format` and `digest` belong to the major version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct FormatVersion {
    /// Changes when older readers would misread.
    pub major: u32,
    /// Changes when something is added.
    pub minor: u32,
}

impl FormatVersion {
    /// What this version of the program writes.
    pub const CURRENT: FormatVersion = FormatVersion { major: 1, minor: 0 };

    fn parse(text: &str) -> Option<FormatVersion> {
        let (major, minor) = text.split_once('.')?;
        let version = FormatVersion {
            major: major.parse().ok()?,
            minor: minor.parse().ok()?,
        };
        // Only the plain form: no sign, no leading zero.
        (version.to_string() == text).then_some(version)
    }
}

impl std::fmt::Display for FormatVersion {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}.{}", self.major, self.minor)
    }
}

/// A ledger line as read: the event, and its place in the chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Number of the line, from 1.
    pub seq: u64,
    /// Format it was written in.
    pub format: FormatVersion,
    /// Digest of the line before; 64 zeros in the first.
    pub previous: Digest,
    /// Digest of this line.
    pub digest: Digest,
    /// What happened.
    pub event: Event,
}

/// What is wrong with a line by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum LineProblem {
    /// It does not end in a digest.
    NoDigest,
    /// Its bytes have another digest than it states.
    OtherDigest { stated: String, actual: Digest },
    /// It was written in a format with another major version.
    OtherFormat(String),
    /// It is no ledger line although its digest is right.
    NotALine(String),
}

#[derive(Serialize)]
struct Written<'a> {
    format: String,
    seq: u64,
    previous: &'a Digest,
    when: &'a str,
    who: &'a str,
    tool: &'a str,
    action: &'a Action,
    inputs: &'a [Item],
    parameters: Value,
    profiles: &'a [ProfileUsed],
    metrics: &'a [String],
    outputs: &'a [Item],
}

#[derive(Deserialize)]
struct Read {
    seq: u64,
    previous: Digest,
    when: String,
    who: String,
    tool: String,
    action: Action,
    inputs: Vec<Item>,
    parameters: Value,
    profiles: Vec<ProfileUsed>,
    metrics: Vec<String>,
    outputs: Vec<Item>,
}

const BEGIN: &[u8] = b"{\"format\":\"";
const BEFORE_DIGEST: &[u8] = b",\"digest\":\"";
const AFTER_DIGEST: &[u8] = b"\"}";
const TAIL: usize = BEFORE_DIGEST.len() + 64 + AFTER_DIGEST.len();

/// Returns the digest that the first line names as the one before it.
pub(super) fn genesis() -> Digest {
    // 64 digits are a digest whatever they are.
    Digest::parse(&"0".repeat(64)).unwrap_or_else(|_| Digest::of(b""))
}

/// Returns the bytes of a line, with its line feed, and its digest.
pub(super) fn render(
    seq: u64,
    previous: &Digest,
    event: &Event,
) -> Result<(Vec<u8>, Digest), serde_json::Error> {
    let mut bytes = serde_json::to_vec(&Written {
        format: FormatVersion::CURRENT.to_string(),
        seq,
        previous,
        when: &event.when,
        who: &event.who,
        tool: &event.tool,
        action: &event.action,
        inputs: &event.inputs,
        parameters: ordered(&event.parameters),
        profiles: &event.profiles,
        metrics: &event.metrics,
        outputs: &event.outputs,
    })?;
    let digest = Digest::of(&bytes);
    bytes.pop();
    bytes.extend_from_slice(BEFORE_DIGEST);
    bytes.extend_from_slice(digest.as_str().as_bytes());
    bytes.extend_from_slice(AFTER_DIGEST);
    bytes.push(b'\n');
    Ok((bytes, digest))
}

/// Returns the value with the keys of every object in order: the same parameters give the same
/// line, however they were put together.
fn ordered(value: &Value) -> Value {
    match value {
        Value::Object(map) => {
            let mut entries: Vec<_> = map.iter().collect();
            entries.sort_by_key(|(key, _)| *key);
            Value::Object(
                entries
                    .into_iter()
                    .map(|(key, value)| (key.clone(), ordered(value)))
                    .collect(),
            )
        }
        Value::Array(values) => Value::Array(values.iter().map(ordered).collect()),
        other => other.clone(),
    }
}

/// Returns the digest that a line states, when it ends in one.
pub(super) fn stated_digest(line: &[u8]) -> Option<Digest> {
    let (_, tail) = line.split_at_checked(line.len().checked_sub(TAIL)?)?;
    let digits = tail
        .strip_prefix(BEFORE_DIGEST)?
        .strip_suffix(AFTER_DIGEST)?;
    let text = std::str::from_utf8(digits).ok()?;
    let digest = Digest::parse(text).ok()?;
    // A capital digit is a changed byte, though it means the same number.
    (digest.as_str() == text).then_some(digest)
}

/// Returns the digest of a line whose bytes agree with the digest it states.
pub(super) fn check_digest(line: &[u8]) -> Result<Digest, LineProblem> {
    let stated = stated_digest(line).ok_or(LineProblem::NoDigest)?;
    let body = line
        .get(..line.len().saturating_sub(TAIL))
        .unwrap_or_default();
    let actual = super::hash::of_parts(&[body, b"}"]);
    if actual == stated {
        Ok(stated)
    } else {
        Err(LineProblem::OtherDigest {
            stated: stated.to_string(),
            actual,
        })
    }
}

fn format_of(line: &[u8]) -> Option<&str> {
    let rest = line.strip_prefix(BEGIN)?;
    let end = memchr::memchr(b'"', rest)?;
    std::str::from_utf8(rest.get(..end)?).ok()
}

/// Returns the event in a line (without its line feed).
pub(super) fn parse(line: &[u8]) -> Result<Entry, LineProblem> {
    let text = format_of(line).unwrap_or_default();
    let format = FormatVersion::parse(text);
    if let Some(other) = format.filter(|f| f.major != FormatVersion::CURRENT.major) {
        return Err(LineProblem::OtherFormat(other.to_string()));
    }
    let digest = check_digest(line)?;
    let format = format.ok_or_else(|| LineProblem::OtherFormat(text.to_owned()))?;
    let read: Read =
        serde_json::from_slice(line).map_err(|e| LineProblem::NotALine(e.to_string()))?;
    Ok(Entry {
        seq: read.seq,
        format,
        previous: read.previous,
        digest,
        event: Event {
            when: read.when,
            who: read.who,
            tool: read.tool,
            action: read.action,
            inputs: read.inputs,
            parameters: read.parameters,
            profiles: read.profiles,
            metrics: read.metrics,
            outputs: read.outputs,
        },
    })
}
