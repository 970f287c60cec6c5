//! Reading the ledger from its first line to its last, and judging what stands there.

use super::error::ArchiveError;
use super::head::{Head, HeadFile};
use super::line::{self, Entry, FormatVersion, LineProblem, genesis};
use super::place;
use super::store::Store;
use super::trouble::{Failure, Trouble};
use crate::schema::Digest;
use std::io::{BufRead, BufReader, Read, Take};

/// The lines of a ledger up to a given length, one at a time.
pub(super) struct Lines {
    reader: BufReader<Take<Box<dyn Read + Send>>>,
    buffer: Vec<u8>,
    seq: u64,
    offset: u64,
    place: String,
}

/// One line as it stands in the file.
pub(super) struct RawLine<'a> {
    /// Number of the line, from 1.
    pub(super) seq: u64,
    /// Where it begins.
    pub(super) offset: u64,
    /// Its bytes without the line feed.
    pub(super) bytes: &'a [u8],
    /// Whether it ends in a line feed.
    pub(super) ended: bool,
    /// Whether nothing follows.
    pub(super) last: bool,
}

impl Lines {
    /// Returns the lines in the first `length` bytes of the ledger.
    pub(super) fn open(store: &Store, length: u64) -> Result<Lines, ArchiveError> {
        Ok(Lines {
            reader: BufReader::with_capacity(256 * 1024, store.open(place::LEDGER)?.take(length)),
            buffer: Vec::new(),
            seq: 0,
            offset: 0,
            place: store.place(),
        })
    }

    /// Returns the next line; `None` behind the last.
    pub(super) fn next(&mut self) -> Result<Option<RawLine<'_>>, ArchiveError> {
        let offset = self.offset;
        self.buffer.clear();
        let read = self.reader.read_until(b'\n', &mut self.buffer);
        let last = read.and_then(|count| Ok((count, self.reader.fill_buf()?.is_empty())));
        let (count, last) = last.map_err(|source| ArchiveError::File {
            action: "read",
            path: place::LEDGER.to_owned(),
            place: self.place.clone(),
            source,
        })?;
        if count == 0 {
            return Ok(None);
        }
        self.offset += count as u64;
        self.seq += 1;
        let ended = self.buffer.last() == Some(&b'\n');
        Ok(Some(RawLine {
            seq: self.seq,
            offset,
            bytes: self.buffer.strip_suffix(b"\n").unwrap_or(&self.buffer),
            ended,
            last,
        }))
    }
}

/// A last line that a stopped writer left unfinished: nobody was told that it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Torn {
    /// Number that the line would have had.
    pub seq: u64,
    /// Where it begins in the ledger: the length of everything sound.
    pub offset: u64,
    /// Bytes that stand there.
    pub bytes: u64,
}

/// What a walk over the ledger found.
pub(super) struct Walk {
    /// Last sound line.
    pub(super) head: Head,
    /// Line that the HEAD file names.
    pub(super) named: HeadFile,
    /// Length of the sound lines in bytes.
    pub(super) sound: u64,
    /// Unfinished last line.
    pub(super) torn: Option<Torn>,
    /// Newest format among the lines.
    pub(super) newest: FormatVersion,
    /// What does not hold, in the order of the lines.
    pub(super) failures: Vec<Failure>,
}

/// Walks the ledger: every line's digest, number, link to the line before, and the HEAD file.
/// Each line that holds by itself is handed to `visit`.
pub(super) fn walk(
    store: &Store,
    mut visit: impl FnMut(&Entry, &mut Vec<Failure>),
) -> Result<Walk, ArchiveError> {
    let named = HeadFile::read(store)?;
    let Some(length) = store.size(place::LEDGER)? else {
        return Err(ArchiveError::NotAnArchive(store.place()));
    };
    let mut lines = Lines::open(store, length)?;
    let mut walk = Walk {
        head: Head::empty(),
        named,
        sound: 0,
        torn: None,
        newest: FormatVersion::CURRENT,
        failures: Vec::new(),
    };
    let mut previous = Some(genesis());
    let mut at_head = None;
    while let Some(raw) = lines.next()? {
        let end = raw.offset + raw.bytes.len() as u64 + 1;
        match judge(&raw) {
            Ok(entry) => {
                check_link(&entry, &raw, previous.as_ref(), &mut walk.failures);
                walk.newest = walk.newest.max(entry.format);
                walk.head = Head {
                    seq: raw.seq,
                    digest: entry.digest.clone(),
                };
                walk.sound = end;
                visit(&entry, &mut walk.failures);
                previous = Some(entry.digest);
            }
            Err(_) if raw.last && may_be_torn(&walk, store)? => {
                walk.torn = Some(Torn {
                    seq: raw.seq,
                    offset: raw.offset,
                    bytes: length - raw.offset,
                });
                break;
            }
            Err(failure) => {
                walk.failures.push(failure);
                previous = line::stated_digest(raw.bytes);
                walk.head.seq = raw.seq;
            }
        }
        if matches!(&walk.named, HeadFile::Names(head) if head.seq == raw.seq) {
            at_head.clone_from(&previous);
        }
    }
    let failure = check_head(&walk, at_head.as_ref(), store)?;
    walk.failures.extend(failure);
    Ok(walk)
}

/// A line is torn only where a stopped writer can leave one: HEAD names the line before it. A
/// broken line that HEAD names was acknowledged, and is damage.
fn may_be_torn(walk: &Walk, store: &Store) -> Result<bool, ArchiveError> {
    if !walk.failures.is_empty() {
        return Ok(false);
    }
    if walk.named.named().as_ref() == Some(&walk.head) {
        return Ok(true);
    }
    // HEAD has moved on since it was read: a writer is at work, and the line is not yet whole.
    let now = HeadFile::read(store)?;
    Ok(now != walk.named && now.named().is_some_and(|head| head.seq >= walk.head.seq))
}

fn judge(raw: &RawLine<'_>) -> Result<Entry, Failure> {
    let (trouble, found, expected) = match line::parse(raw.bytes) {
        Ok(entry) if raw.ended => return Ok(entry),
        Ok(_) => (
            Trouble::Damaged,
            "a line without its line end".to_owned(),
            "a line feed behind the last line".to_owned(),
        ),
        Err(LineProblem::NoDigest) => (
            Trouble::Damaged,
            "a line that does not end in its digest".to_owned(),
            "a line as it was written".to_owned(),
        ),
        Err(LineProblem::OtherDigest { stated, actual }) => (
            Trouble::Damaged,
            format!("a line with the digest {actual}"),
            format!("the digest {stated} that it states"),
        ),
        Err(LineProblem::OtherFormat(found)) => (
            Trouble::Newer,
            format!("a line in format `{found}`"),
            format!(
                "format {}.x, which this version reads",
                FormatVersion::CURRENT.major
            ),
        ),
        Err(LineProblem::NotALine(words)) => (
            Trouble::Damaged,
            format!("a line that is no event: {words}"),
            "an event as this program writes it".to_owned(),
        ),
    };
    Err(Failure::in_ledger(trouble, raw.seq, found, expected))
}

fn check_link(
    entry: &Entry,
    raw: &RawLine<'_>,
    previous: Option<&Digest>,
    failures: &mut Vec<Failure>,
) {
    if entry.seq != raw.seq {
        failures.push(Failure::in_ledger(
            Trouble::Damaged,
            raw.seq,
            format!("event {}", entry.seq),
            format!("event {}: a line was removed, added or moved", raw.seq),
        ));
    }
    if previous.is_some_and(|digest| *digest != entry.previous) {
        failures.push(Failure::in_ledger(
            Trouble::Damaged,
            raw.seq,
            format!("{} as the digest of the line before", entry.previous),
            "the digest that the line before has: the chain is broken here".to_owned(),
        ));
    }
}

/// Compares the HEAD file with the line it names. Without failures before, it may lag by one.
fn check_head(
    walk: &Walk,
    at_head: Option<&Digest>,
    store: &Store,
) -> Result<Option<Failure>, ArchiveError> {
    let last = walk.head.seq;
    let damaged = |found: String, expected: String| {
        Ok(Some(Failure::new(
            Trouble::Damaged,
            place::HEAD,
            found,
            expected,
        )))
    };
    let head = match &walk.named {
        HeadFile::Unreadable => {
            return damaged(
                "bytes that name no ledger line".to_owned(),
                "format, number and digest of the last ledger line".to_owned(),
            );
        }
        HeadFile::Absent => Head::empty(),
        HeadFile::Names(head) => head.clone(),
    };
    if head.seq > last {
        return Ok(Some(Failure::new(
            Trouble::Cut,
            place::LEDGER,
            format!("{last} lines"),
            format!(
                "at least {} lines, as HEAD says: the end was cut off",
                head.seq
            ),
        )));
    }
    if head.seq > 0 && at_head.is_some_and(|digest| *digest != head.digest) {
        return damaged(
            format!("{} as the digest of line {}", head.digest, head.seq),
            "the digest that this line has".to_owned(),
        );
    }
    // A writer at work may have added lines since HEAD was read: look at it again.
    let now = HeadFile::read(store)?.named().map_or(0, |head| head.seq);
    if now.max(head.seq) + 1 < last {
        let found = if head.seq == 0 {
            "no HEAD".to_owned()
        } else {
            format!("line {} named", head.seq)
        };
        let trouble = if head.seq == 0 {
            Trouble::Missing
        } else {
            Trouble::Damaged
        };
        return Ok(Some(Failure::new(
            trouble,
            place::HEAD,
            found,
            format!("line {last} named, or the line before it"),
        )));
    }
    Ok(None)
}
