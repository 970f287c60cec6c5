//! Proof that an archive is what was written: every file re-hashed, every line re-walked.

use super::Archive;
use super::error::ArchiveError;
use super::head::{Head, HeadFile};
use super::ledger::{self, Walk};
use super::medium::Kind;
use super::place;
use super::seal::{SealCheck, TrustedKey, check_seal};
use super::store::Store;
use super::trouble::{Failure, Trouble};
use crate::schema::Digest;
use serde::Serialize;
use std::collections::{HashMap, HashSet};
use std::sync::atomic::{AtomicUsize, Ordering};

/// How to verify.
#[derive(Debug, Clone, Default)]
pub struct VerifyOptions {
    /// Threads that re-hash files; 0 is one. The report does not depend on it.
    pub threads: usize,
    /// Keys that the reader trusts, to tell whose seal it is.
    pub trusted_keys: Vec<TrustedKey>,
    /// A head that a report or a letter states: the ledger must still contain it. This is what
    /// finds a ledger that was cut or written anew as a whole.
    pub stated_heads: Vec<Head>,
}

/// What verification found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChainReport {
    /// Ledger lines that hold.
    pub events: u64,
    /// Kept files that the ledger names.
    pub files: u64,
    /// Bytes re-hashed.
    pub bytes: u64,
    /// Last sound line.
    pub head: Head,
    /// Why the archive does not verify: first the ledger, line by line, then HEAD, then files in
    /// the order in which the ledger names them.
    pub failures: Vec<Failure>,
    /// What was found beside that and takes nothing away: a torn last line, unlisted files.
    pub notices: Vec<Failure>,
    /// Signatures.
    pub seals: Vec<SealCheck>,
}

impl ChainReport {
    /// Returns whether everything that was acknowledged is there, unchanged.
    pub fn verified(&self) -> bool {
        self.failures.is_empty()
    }

    /// Returns the first failure.
    pub fn first(&self) -> Option<&Failure> {
        self.failures.first()
    }

    fn push(&mut self, failure: Failure) {
        if failure.trouble.is_failure() {
            self.failures.push(failure);
        } else {
            self.notices.push(failure);
        }
    }
}

/// A kept file as a ledger line names it.
struct Named {
    path: String,
    digest: Digest,
    bytes: Option<u64>,
    seq: u64,
}

/// Returns what holds and what does not. Nothing is written, and no lock is taken: a writer may
/// be at work meanwhile.
///
/// # Errors
/// [`ArchiveError`] when there is no archive, or it cannot be read at all.
pub fn verify_chain(
    archive: &Archive,
    options: &VerifyOptions,
) -> Result<ChainReport, ArchiveError> {
    let store = archive.store();
    let mut files: Vec<Named> = Vec::new();
    let mut places: HashMap<String, Digest> = HashMap::new();
    let mut seals = Vec::new();
    let mut events = 0;
    let mut stated: Vec<(&Head, bool)> = options.stated_heads.iter().map(|h| (h, false)).collect();
    let mut known: HashMap<u64, Digest> = HashMap::new();
    let walk = ledger::walk(&store, |entry, failures| {
        events += 1;
        for (head, found) in &mut stated {
            *found |= head.seq == entry.seq && head.digest == entry.digest;
        }
        known.insert(entry.seq, entry.digest.clone());
        match check_seal(entry, &known, &options.trusted_keys) {
            Some(Ok(seal)) => seals.push(seal),
            Some(Err(failure)) => failures.push(failure),
            None => {}
        }
        for item in &entry.event.outputs {
            let Some(path) = &item.path else { continue };
            let Some(digest) = item.digest.as_ref().filter(|d| place::is_place_of(path, d)) else {
                failures.push(Failure::in_ledger(
                    Trouble::Damaged,
                    entry.seq,
                    format!("a file kept at `{path}`"),
                    "a place in the archive that bears the file's digest".to_owned(),
                ));
                continue;
            };
            if places.insert(path.clone(), digest.clone()).is_none() {
                files.push(Named {
                    path: path.clone(),
                    digest: digest.clone(),
                    bytes: item.bytes,
                    seq: entry.seq,
                });
            }
        }
    })?;
    let mut report = ChainReport {
        events,
        files: files.len() as u64,
        bytes: 0,
        head: walk.head.clone(),
        failures: Vec::new(),
        notices: Vec::new(),
        seals,
    };
    judge_ledger(walk, &stated, &mut report);
    for (failure, bytes) in check_files(&store, &files, options.threads)? {
        report.bytes += bytes;
        if let Some(failure) = failure {
            report.push(failure);
        }
    }
    for path in unlisted(&store, &places)? {
        report.push(Failure::new(
            Trouble::Unlisted,
            &path,
            "a file that no ledger line names".to_owned(),
            "only files that the ledger names".to_owned(),
        ));
    }
    Ok(report)
}

fn judge_ledger(walk: Walk, stated: &[(&Head, bool)], report: &mut ChainReport) {
    let named = walk.named.named().map_or(0, |head| head.seq);
    let whole = walk.failures.is_empty();
    for failure in walk.failures {
        report.push(failure);
    }
    for (head, _) in stated.iter().filter(|(_, found)| !found) {
        report.push(Failure::new(
            Trouble::Cut,
            place::LEDGER,
            format!("no line {} with the digest {}", head.seq, head.digest),
            "the line that was stated as the head: the ledger was cut or written anew".to_owned(),
        ));
    }
    if let Some(torn) = walk.torn {
        report.push(Failure::in_ledger(
            Trouble::Torn,
            torn.seq,
            format!("{} bytes of a line that is not whole", torn.bytes),
            "nothing behind the last acknowledged line".to_owned(),
        ));
    }
    if whole && !matches!(walk.named, HeadFile::Unreadable) && named < walk.head.seq {
        report.push(Failure::new(
            Trouble::HeadBehind,
            place::HEAD,
            format!("line {named} named"),
            format!("line {}", walk.head.seq),
        ));
    }
}

type Checked = (Option<Failure>, u64);

/// Re-hashes the files, on several threads; what comes back is in the order of the files.
fn check_files(
    store: &Store,
    files: &[Named],
    threads: usize,
) -> Result<Vec<Checked>, ArchiveError> {
    let next = AtomicUsize::new(0);
    let work = || -> Vec<(usize, Result<Checked, ArchiveError>)> {
        let mut done = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            match files.get(at) {
                Some(file) => done.push((at, check_file(store, file))),
                None => return done,
            }
        }
    };
    let mut all = std::thread::scope(|scope| {
        let helpers: Vec<_> = (1..threads.max(1)).map(|_| scope.spawn(work)).collect();
        let mut all = work();
        for helper in helpers {
            all.extend(helper.join().unwrap_or_default());
        }
        all
    });
    all.sort_by_key(|(at, _)| *at);
    all.into_iter().map(|(_, checked)| checked).collect()
}

fn check_file(store: &Store, file: &Named) -> Result<Checked, ArchiveError> {
    let bad = |trouble, found: String, size| {
        let expected = match file.bytes {
            Some(bytes) => format!("{bytes} bytes with the digest {}", file.digest),
            None => format!("bytes with the digest {}", file.digest),
        };
        let expected = format!("{expected}, as ledger line {} says", file.seq);
        let failure = Failure::new(trouble, &file.path, found, expected);
        Ok((Some(failure), size))
    };
    match store.kind(&file.path)? {
        None => return bad(Trouble::Missing, "no file".to_owned(), 0),
        Some(Kind::File(_)) => {}
        Some(_) => return bad(Trouble::Damaged, "a folder or a link".to_owned(), 0),
    }
    match store.hash(&file.path) {
        Ok((digest, size)) if digest != file.digest || file.bytes.is_some_and(|b| b != size) => {
            let found = format!("{size} bytes with the digest {digest}");
            bad(Trouble::Damaged, found, size)
        }
        Ok((_, size)) => Ok((None, size)),
        // One file that cannot be read must not hide what is wrong with the others.
        Err(error) => bad(
            Trouble::Damaged,
            format!("a file that cannot be read ({error})"),
            0,
        ),
    }
}

/// Returns the files below `raw/` and `tables/` that no line names, and strangers at the top.
fn unlisted(store: &Store, places: &HashMap<String, Digest>) -> Result<Vec<String>, ArchiveError> {
    let own: HashSet<&str> = [
        place::LEDGER,
        place::HEAD,
        place::LOCK,
        place::OWNER,
        place::STAGING,
        place::RAW,
        place::TABLES,
    ]
    .into();
    let mut found: Vec<String> = store
        .list("")?
        .into_iter()
        .filter(|name| !own.contains(name.as_str()) && !name.starts_with(place::TORN))
        .collect();
    let mut folders = vec![place::TABLES.to_owned(), place::RAW.to_owned()];
    while let Some(folder) = folders.pop() {
        for name in store.list(&folder)? {
            let path = format!("{folder}/{name}");
            if places.contains_key(&path) {
                continue;
            }
            match store.kind(&path)? {
                Some(Kind::Folder) => folders.push(path),
                Some(_) => found.push(path),
                None => {}
            }
        }
    }
    found.sort();
    Ok(found)
}
