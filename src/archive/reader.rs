//! Reading an archive while, or long after, it was written. A reader takes no lock and writes
//! nothing; it sees the archive as it was when it was opened.

use super::error::ArchiveError;
use super::event::Item;
use super::head::{Head, HeadFile};
use super::known::RAW_KIND;
use super::ledger::{Lines, RawLine, Torn};
use super::line::{self, Entry, LineProblem};
use super::place;
use super::store::Store;
use super::trouble::{Failure, Trouble};
use crate::schema::Digest;
use std::collections::BTreeMap;
use std::io::Read;

/// An archive open for reading.
///
/// Each line handed out is checked against its own digest, and each file against the digest in
/// its name. That the chain holds from the first line to the last is what
/// [`super::verify_chain`] proves.
pub struct Reader {
    pub(super) store: Store,
    pub(super) length: u64,
    head: Head,
    torn: Option<Torn>,
    trouble: Option<Failure>,
}

/// An original, as the ledger first names it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Original {
    /// Name as received.
    pub name: String,
    /// SHA-256 of its bytes.
    pub digest: Digest,
    /// Size in bytes.
    pub bytes: u64,
    /// Path inside the archive.
    pub path: String,
    /// Ledger line that took it in.
    pub seq: u64,
    /// When.
    pub when: String,
    /// By whom.
    pub who: String,
}

impl Reader {
    pub(super) fn open(store: Store) -> Result<Reader, ArchiveError> {
        let named = HeadFile::read(&store)?;
        let Some(length) = store.size(place::LEDGER)? else {
            return Err(ArchiveError::NotAnArchive(store.place()));
        };
        let mut reader = Reader {
            store,
            length,
            head: Head::empty(),
            torn: None,
            trouble: None,
        };
        let acknowledged = named.named().map(|head| head.seq);
        let mut lines = Lines::open(&reader.store, length)?;
        while let Some(raw) = lines.next()? {
            if raw.last {
                reader.take_last(&raw, acknowledged);
            }
        }
        let last = reader.head.seq;
        if reader.length < length {
            // The last sound line is the one before.
            reader.head = reader.head_at(last - 1)?;
        }
        if reader.trouble.is_none() {
            reader.trouble = match acknowledged {
                None => Some(Failure::new(
                    Trouble::Damaged,
                    place::HEAD,
                    "bytes that name no ledger line".to_owned(),
                    "format, number and digest of the last ledger line".to_owned(),
                )),
                Some(seq) if seq > last => Some(Failure::new(
                    Trouble::Cut,
                    place::LEDGER,
                    format!("{last} lines"),
                    format!("at least {seq} lines, as HEAD says: the end was cut off"),
                )),
                Some(_) => None,
            };
        }
        Ok(reader)
    }

    /// Judges the last line of the ledger; a broken one is left out.
    fn take_last(&mut self, raw: &RawLine<'_>, acknowledged: Option<u64>) {
        let (digest, whole) = match line::check_digest(raw.bytes) {
            Ok(digest) => (digest, raw.ended),
            Err(_) => (self.head.digest.clone(), false),
        };
        self.head = Head {
            seq: raw.seq,
            digest,
        };
        if whole {
            return;
        }
        // HEAD names a line that was acknowledged: if that one is broken, it is no torn one.
        if acknowledged.is_some_and(|seq| seq >= raw.seq) {
            self.trouble = Some(broken_line(raw));
        } else {
            self.torn = Some(Torn {
                seq: raw.seq,
                offset: raw.offset,
                bytes: self.length - raw.offset,
            });
        }
        self.length = raw.offset;
    }

    fn head_at(&self, seq: u64) -> Result<Head, ArchiveError> {
        let mut lines = Lines::open(&self.store, self.length)?;
        while let Some(raw) = lines.next()? {
            if raw.seq == seq {
                let digest = line::check_digest(raw.bytes).map_err(|_| broken(&raw))?;
                return Ok(Head { seq, digest });
            }
        }
        Ok(Head::empty())
    }

    /// Returns the last sound line; reports print it.
    pub fn head(&self) -> &Head {
        &self.head
    }

    /// Returns the unfinished last line, when a stopped writer has left one.
    pub fn torn(&self) -> Option<&Torn> {
        self.torn.as_ref()
    }

    /// Returns what is plainly wrong with the end of the ledger: it was cut, or its last line or
    /// HEAD was changed. What stands before can still be read; people must be told.
    pub fn trouble(&self) -> Option<&Failure> {
        self.trouble.as_ref()
    }

    /// Returns every event, in order.
    ///
    /// # Errors
    /// [`ArchiveError`] when the ledger cannot be read.
    pub fn events(&self) -> Result<Events, ArchiveError> {
        Ok(Events {
            lines: Lines::open(&self.store, self.length)?,
        })
    }

    /// Returns the event on ledger line `seq`.
    ///
    /// # Errors
    /// [`ArchiveError`] when the ledger cannot be read or the line is broken.
    pub fn event(&self, seq: u64) -> Result<Option<Entry>, ArchiveError> {
        let mut lines = Lines::open(&self.store, self.length)?;
        while let Some(raw) = lines.next()? {
            if raw.seq == seq {
                return entry_in(&raw).map(Some);
            }
        }
        Ok(None)
    }

    /// Returns the bytes of the original with this digest; `None` where the archive has none.
    ///
    /// # Errors
    /// [`ArchiveError::Damaged`] when the bytes are not those that were kept.
    pub fn raw(&self, digest: &Digest) -> Result<Option<Vec<u8>>, ArchiveError> {
        let two = digest.as_str().get(..2).unwrap_or("00");
        let folder = format!("{}/{two}", place::RAW);
        let begin = format!("{digest}.");
        match self
            .store
            .list(&folder)?
            .into_iter()
            .find(|name| name.starts_with(&begin))
        {
            Some(name) => self.checked(&format!("{folder}/{name}"), digest).map(Some),
            None => Ok(None),
        }
    }

    /// Returns the bytes of an item that the archive keeps; `None` for one that it does not keep.
    ///
    /// # Errors
    /// [`ArchiveError`] when the file is missing, and [`ArchiveError::Damaged`] when its bytes
    /// are not those that were kept.
    pub fn bytes_of(&self, item: &Item) -> Result<Option<Vec<u8>>, ArchiveError> {
        match (&item.path, &item.digest) {
            (Some(path), Some(digest)) if place::is_place_of(path, digest) => {
                self.checked(path, digest).map(Some)
            }
            _ => Ok(None),
        }
    }

    fn checked(&self, path: &str, digest: &Digest) -> Result<Vec<u8>, ArchiveError> {
        let mut bytes = Vec::new();
        self.store
            .open(path)?
            .read_to_end(&mut bytes)
            .map_err(|source| ArchiveError::File {
                action: "read",
                path: path.to_owned(),
                place: self.store.place(),
                source,
            })?;
        let found = Digest::of(&bytes);
        if found == *digest {
            return Ok(bytes);
        }
        let failure = Failure::new(
            Trouble::Damaged,
            path,
            format!("bytes with the digest {found}"),
            "the digest in its name".to_owned(),
        );
        Err(ArchiveError::Damaged(Box::new(failure.fault)))
    }

    /// Returns every original, each version once, in the order in which they came: what a person
    /// would call the list of what was received.
    ///
    /// # Errors
    /// [`ArchiveError`] when the ledger cannot be read.
    pub fn originals(&self) -> Result<Vec<Original>, ArchiveError> {
        let mut seen = std::collections::HashSet::new();
        let mut originals = Vec::new();
        for entry in self.events()? {
            let entry = entry?;
            for item in &entry.event.outputs {
                let (Some(name), Some(digest), Some(path)) = (&item.name, &item.digest, &item.path)
                else {
                    continue;
                };
                if item.kind == RAW_KIND && seen.insert((name.clone(), digest.clone())) {
                    originals.push(Original {
                        name: name.clone(),
                        digest: digest.clone(),
                        bytes: item.bytes.unwrap_or(0),
                        path: path.clone(),
                        seq: entry.seq,
                        when: entry.event.when.clone(),
                        who: entry.event.who.clone(),
                    });
                }
            }
        }
        Ok(originals)
    }

    /// Returns the list of every kept file in the form that `sha256sum -c` reads, ordered by
    /// path: an archive or a copy of it can be checked without this program. The ledger and HEAD
    /// are in it as they are now.
    ///
    /// # Errors
    /// [`ArchiveError`] when the ledger cannot be read.
    pub fn manifest(&self) -> Result<String, ArchiveError> {
        let mut digests = BTreeMap::new();
        for entry in self.events()? {
            for item in entry?.event.outputs {
                if let (Some(path), Some(digest)) = (item.path, item.digest)
                    && place::is_place_of(&path, &digest)
                {
                    digests.insert(path, digest);
                }
            }
        }
        for path in [place::LEDGER, place::HEAD] {
            if self.store.size(path)?.is_some() {
                digests.insert(path.to_owned(), self.store.hash(path)?.0);
            }
        }
        // Two blanks between digest and name: the form for bytes as they are.
        Ok(digests
            .iter()
            .map(|(path, digest)| format!("{digest}  {path}\n"))
            .collect())
    }
}

/// The events of a ledger, in order.
pub struct Events {
    lines: Lines,
}

impl Iterator for Events {
    type Item = Result<Entry, ArchiveError>;

    fn next(&mut self) -> Option<Self::Item> {
        match self.lines.next() {
            Ok(Some(raw)) => Some(entry_in(&raw)),
            Ok(None) => None,
            Err(error) => Some(Err(error)),
        }
    }
}

/// Returns the event in a line.
pub(super) fn entry_in(raw: &RawLine<'_>) -> Result<Entry, ArchiveError> {
    line::parse(raw.bytes).map_err(|problem| match problem {
        LineProblem::OtherFormat(found) => ArchiveError::Unsound(Box::new(
            Failure::in_ledger(
                Trouble::Newer,
                raw.seq,
                format!("a line in format `{found}`"),
                format!(
                    "format {}.x, which this version reads",
                    line::FormatVersion::CURRENT.major
                ),
            )
            .fault,
        )),
        _ => broken(raw),
    })
}

fn broken(raw: &RawLine<'_>) -> ArchiveError {
    ArchiveError::Unsound(Box::new(broken_line(raw).fault))
}

fn broken_line(raw: &RawLine<'_>) -> Failure {
    Failure::in_ledger(
        Trouble::Damaged,
        raw.seq,
        "a line that does not agree with its digest".to_owned(),
        "a line as it was written; run `verify` for the whole list".to_owned(),
    )
}
