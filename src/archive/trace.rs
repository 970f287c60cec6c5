//! Which events tell of a thing, what it was made from, and what was made from it.
//!
//! A thing is known by its digest, its id, and the ids it holds; names find things, but lead no
//! further, since two things may share one. The ledger itself is the index: a pass looks at each
//! text of each line and takes apart only the lines that have one of those wanted. No second
//! file has to be kept right, and a pass over 10,000 events takes milliseconds.

use super::error::ArchiveError;
use super::event::Item;
use super::ledger::Lines;
use super::line::Entry;
use super::reader::{Reader, entry_in};
use super::wanted::{Telling, Wanted};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// How an event tells of a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// It came out of the event.
    Output,
    /// It is inside something that came out.
    HeldByOutput,
    /// It went into the event.
    Input,
    /// It is inside something that went in.
    HeldByInput,
    /// Something that came out was made from it.
    Source,
    /// It is an import profile that was used.
    Profile,
    /// It is a definition that was used.
    Metric,
    /// It stands somewhere else, such as among the parameters.
    Elsewhere,
}

/// An event that tells of a thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Mention {
    /// How.
    pub roles: Vec<Role>,
    /// The event.
    pub entry: Entry,
}

/// One step away from the thing that was asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// How many steps away, from 0.
    pub depth: u32,
    /// Ledger line of the event that it came out of.
    pub seq: u64,
    /// What it is.
    pub item: Item,
}

/// Where a thing comes from and where it went.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// What was asked for.
    pub id: String,
    /// What it is and what it was made from, nearest first.
    pub made_from: Vec<Step>,
    /// Things among its sources that no event made: instruments, persons, what came from outside.
    pub origins: Vec<Item>,
    /// What was made from it, nearest first.
    pub made_into: Vec<Step>,
    /// Ledger lines that tell of it or of something on the way and made nothing of it:
    /// exclusions, corrections, reviews, calibrations.
    pub remarks: Vec<u64>,
    /// Every event that the above names, by ledger line.
    pub events: BTreeMap<u64, Entry>,
}

impl Trace {
    /// Returns whether no event tells of it.
    pub fn is_empty(&self) -> bool {
        self.events.is_empty()
    }
}

impl Item {
    /// Returns digest and id.
    fn own_keys(&self) -> impl Iterator<Item = &str> {
        let digest = self.digest.as_ref().map(crate::schema::Digest::as_str);
        digest.into_iter().chain(self.id.as_deref())
    }

    /// Returns digest, id and the ids it holds.
    fn keys(&self) -> impl Iterator<Item = &str> {
        self.own_keys().chain(self.holds.iter().map(String::as_str))
    }

    fn is_one_of(&self, wanted: &BTreeSet<String>) -> bool {
        self.keys().any(|key| wanted.contains(key))
    }
}

impl Reader {
    /// Returns every event that tells of `id`: a digest, an identifier, a name, or any other text
    /// that stands in an event as it is.
    ///
    /// # Errors
    /// [`ArchiveError`] when the ledger cannot be read or a line that has it is broken.
    pub fn find(&self, id: &str) -> Result<Vec<Mention>, ArchiveError> {
        let wanted = BTreeSet::from([id.to_owned()]);
        let entries = self.telling_of(&wanted)?;
        Ok(entries
            .into_iter()
            .map(|entry| Mention {
                roles: roles(&entry, id),
                entry,
            })
            .collect())
    }

    /// Returns where the thing called `id` comes from and what became of it. `id` is a digest, an
    /// identifier or a name; a name stands for every version that bore it.
    ///
    /// # Errors
    /// [`ArchiveError`] when the ledger cannot be read or a line on the way is broken.
    pub fn trace(&self, id: &str) -> Result<Trace, ArchiveError> {
        let mut trace = Trace {
            id: id.to_owned(),
            made_from: Vec::new(),
            origins: Vec::new(),
            made_into: Vec::new(),
            remarks: Vec::new(),
            events: BTreeMap::new(),
        };
        let mut remarks = BTreeSet::new();
        let begin = self.things_called(id)?;
        self.trace_back(begin.clone(), &mut trace, &mut remarks)?;
        self.trace_forth(begin, &mut trace, &mut remarks)?;
        for step in trace.made_from.iter().chain(&trace.made_into) {
            remarks.remove(&step.seq);
        }
        trace.remarks = remarks.into_iter().collect();
        Ok(trace)
    }

    /// Returns `id` itself and the keys of everything that has it as its name.
    fn things_called(&self, id: &str) -> Result<BTreeSet<String>, ArchiveError> {
        let mut keys = BTreeSet::from([id.to_owned()]);
        for entry in self.telling_of(&keys.clone())? {
            for item in entry.event.outputs.iter().chain(&entry.event.inputs) {
                if item.name.as_deref() == Some(id) {
                    keys.extend(item.own_keys().map(str::to_owned));
                }
            }
        }
        Ok(keys)
    }

    fn trace_back(
        &self,
        begin: BTreeSet<String>,
        trace: &mut Trace,
        remarks: &mut BTreeSet<u64>,
    ) -> Result<(), ArchiveError> {
        let mut seen = begin.clone();
        let mut wanted = begin;
        let mut inputs: BTreeMap<String, Item> = BTreeMap::new();
        let mut depth = 0;
        while !wanted.is_empty() {
            let mut next = BTreeSet::new();
            let mut made = BTreeSet::new();
            for entry in self.telling(&wanted, Telling::OfItself)? {
                let event = &entry.event;
                let mut concerned = false;
                for item in event.outputs.iter().filter(|i| i.is_one_of(&wanted)) {
                    concerned = true;
                    made.extend(item.keys().map(str::to_owned));
                    trace.made_from.push(Step {
                        depth,
                        seq: entry.seq,
                        item: item.clone(),
                    });
                    next.extend(sources(&entry, item));
                }
                for input in &event.inputs {
                    if event.outputs.is_empty() && input.is_one_of(&wanted) {
                        concerned = true;
                        remarks.insert(entry.seq);
                    }
                    for key in input.own_keys() {
                        inputs
                            .entry(key.to_owned())
                            .or_insert_with(|| input.clone());
                    }
                }
                if concerned {
                    trace.events.insert(entry.seq, entry);
                }
            }
            for key in wanted.difference(&made) {
                let origin = inputs.get(key).filter(|_| depth > 0);
                trace.origins.extend(origin.cloned());
            }
            next.retain(|key| seen.insert(key.clone()));
            wanted = next;
            depth += 1;
        }
        Ok(())
    }

    fn trace_forth(
        &self,
        begin: BTreeSet<String>,
        trace: &mut Trace,
        remarks: &mut BTreeSet<u64>,
    ) -> Result<(), ArchiveError> {
        let mut wanted = begin;
        // What uses the whole uses its parts: a result is in its run, a run in its table.
        for step in trace.made_from.iter().filter(|step| step.depth == 0) {
            wanted.extend(step.item.own_keys().map(str::to_owned));
        }
        let mut seen = wanted.clone();
        let mut depth = 1;
        while !wanted.is_empty() {
            let mut next = BTreeSet::new();
            for entry in self.telling_of(&wanted)? {
                let event = &entry.event;
                let used = event.inputs.iter().any(|i| i.is_one_of(&wanted))
                    || event
                        .profiles
                        .iter()
                        .any(|p| wanted.contains(p.digest.as_str()));
                let mut concerned = false;
                for item in &event.outputs {
                    let named = item.from.iter().any(|source| wanted.contains(source));
                    if named || (used && item.from.is_empty()) {
                        concerned = true;
                        next.extend(item.keys().map(str::to_owned));
                        trace.made_into.push(Step {
                            depth,
                            seq: entry.seq,
                            item: item.clone(),
                        });
                    }
                }
                if used && event.outputs.is_empty() {
                    concerned = true;
                    remarks.insert(entry.seq);
                }
                if concerned {
                    trace.events.insert(entry.seq, entry);
                }
            }
            next.retain(|key| seen.insert(key.clone()));
            wanted = next;
            depth += 1;
        }
        Ok(())
    }

    /// Returns the events whose line has one of the wanted texts.
    fn telling_of(&self, wanted: &BTreeSet<String>) -> Result<Vec<Entry>, ArchiveError> {
        self.telling(wanted, Telling::Anywhere)
    }

    fn telling(
        &self,
        wanted: &BTreeSet<String>,
        telling: Telling,
    ) -> Result<Vec<Entry>, ArchiveError> {
        let wanted = Wanted::new(wanted)?;
        let mut lines = Lines::open(&self.store, self.length)?;
        let mut entries = Vec::new();
        while let Some(raw) = lines.next()? {
            if wanted.is_in(raw.bytes, telling) {
                entries.push(entry_in(&raw)?);
            }
        }
        Ok(entries)
    }
}

/// Returns what an item was made from.
fn sources(entry: &Entry, item: &Item) -> Vec<String> {
    let event = &entry.event;
    let profiles = event.profiles.iter().map(|p| p.digest.to_string());
    if item.from.is_empty() {
        let inputs = event.inputs.iter().flat_map(Item::own_keys);
        inputs.map(str::to_owned).chain(profiles).collect()
    } else {
        item.from.iter().cloned().chain(profiles).collect()
    }
}

fn roles(entry: &Entry, id: &str) -> Vec<Role> {
    let event = &entry.event;
    let is = |item: &Item| item.name.as_deref() == Some(id) || item.own_keys().any(|k| k == id);
    let holds = |item: &Item| item.holds.iter().any(|held| held == id);
    let found = [
        (Role::Output, event.outputs.iter().any(is)),
        (Role::HeldByOutput, event.outputs.iter().any(holds)),
        (Role::Input, event.inputs.iter().any(is)),
        (Role::HeldByInput, event.inputs.iter().any(holds)),
        (
            Role::Source,
            event.outputs.iter().any(|o| o.from.iter().any(|f| f == id)),
        ),
        (
            Role::Profile,
            event
                .profiles
                .iter()
                .any(|p| p.id == id || p.digest.as_str() == id),
        ),
        (Role::Metric, event.metrics.iter().any(|m| m == id)),
    ];
    let mut roles: Vec<Role> = found
        .into_iter()
        .filter_map(|(role, holds)| holds.then_some(role))
        .collect();
    if roles.is_empty() {
        roles.push(Role::Elsewhere);
    }
    roles
}
