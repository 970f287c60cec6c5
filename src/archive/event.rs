//! What one ledger line tells: who did what, when, with what, and what came of it.

use super::error::ArchiveError;
use super::place;
use crate::schema::Digest;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Action {
    /// Raw files were taken in.
    Import,
    /// Numbers were derived from raw files.
    Derive,
    /// Quality rules were applied.
    Check,
    /// Runs were excluded, with a reason.
    Exclude,
    /// A statement was corrected, with a reason; the earlier value stays.
    Correct,
    /// A report was made.
    Report,
    /// The ledger was signed.
    Seal,
    /// Records were handed over.
    Export,
    /// A second person looked at a run, a day or a report.
    Review,
    /// An instrument was calibrated.
    Calibrate,
    /// The claims of a study were put on record before its data.
    Plan,
    /// The claims of a study were judged.
    Compare,
    /// The limits of a control chart were set.
    Limits,
    /// Something that a newer version of this program knows.
    Other(String),
}

/// Every action with its word in the ledger.
const ACTIONS: &[(Action, &str)] = &[
    (Action::Import, "import"),
    (Action::Derive, "derive"),
    (Action::Check, "check"),
    (Action::Exclude, "exclude"),
    (Action::Correct, "correct"),
    (Action::Report, "report"),
    (Action::Seal, "seal"),
    (Action::Export, "export"),
    (Action::Review, "review"),
    (Action::Calibrate, "calibrate"),
    (Action::Plan, "plan"),
    (Action::Compare, "compare"),
    (Action::Limits, "limits"),
];

impl Action {
    /// Returns the word that stands for it in the ledger.
    pub fn as_str(&self) -> &str {
        if let Action::Other(word) = self {
            return word;
        }
        ACTIONS
            .iter()
            .find(|(action, _)| action == self)
            .map_or("other", |(_, word)| word)
    }

    /// Returns the action that `word` stands for.
    pub fn from_word(word: &str) -> Action {
        ACTIONS
            .iter()
            .find(|(_, known)| *known == word)
            .map_or_else(
                || Action::Other(word.to_owned()),
                |(action, _)| action.clone(),
            )
    }
}

impl std::fmt::Display for Action {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for Action {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.as_str())
    }
}

impl<'de> Deserialize<'de> for Action {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        Ok(Action::from_word(&String::deserialize(d)?))
    }
}

/// A thing that went into an event or came out of it: a raw file, a table segment, a run, a
/// report. The archive knows what it is called and what its bytes are, never what it means.
///
/// An item is found by its digest, its id and every id it holds; see [`super::Reader::trace`].
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Item {
    /// What it is: `raw`, `segment`, `run`, `report` or any other word.
    pub kind: String,
    /// Name as a person knows it; two things may bear the same name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Identifier, which no other thing of this archive bears.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// SHA-256 of its bytes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digest: Option<Digest>,
    /// Size in bytes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bytes: Option<u64>,
    /// Where the archive keeps the bytes; a thing without is kept elsewhere, or has no bytes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub path: Option<String>,
    /// Identifiers of what is inside it, such as the results of a run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<String>,
    /// Digests and identifiers of what it was made of. Empty: of everything that went into the
    /// event.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub from: Vec<String>,
}

impl Item {
    /// Returns a thing with an identifier.
    pub fn with_id(kind: &str, id: &str) -> Item {
        Item {
            kind: kind.to_owned(),
            id: Some(id.to_owned()),
            ..Item::default()
        }
    }

    /// Returns a thing with bytes that are kept elsewhere.
    pub fn with_digest(kind: &str, name: &str, digest: &Digest, bytes: u64) -> Item {
        Item {
            kind: kind.to_owned(),
            name: Some(name.to_owned()),
            digest: Some(digest.clone()),
            bytes: Some(bytes),
            ..Item::default()
        }
    }

    /// Returns the same thing, holding `ids`.
    #[must_use]
    pub fn holding(mut self, ids: impl IntoIterator<Item = String>) -> Item {
        self.holds.extend(ids);
        self
    }

    /// Returns the same thing, made of `sources` (digests or identifiers).
    #[must_use]
    pub fn made_from(mut self, sources: impl IntoIterator<Item = String>) -> Item {
        self.from.extend(sources);
        self
    }
}

/// An import profile that an event used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProfileUsed {
    /// Profile identifier.
    pub id: String,
    /// SHA-256 of the profile's text.
    pub digest: Digest,
}

/// One event. Time, person and tool are those that the caller states: this room has no clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// When it happened: date and time with offset.
    pub when: String,
    /// Who did it.
    pub who: String,
    /// Program and version.
    pub tool: String,
    /// What was done.
    pub action: Action,
    /// What went in.
    pub inputs: Vec<Item>,
    /// How it was done; kept as it is given, with the keys of its objects in order.
    pub parameters: Value,
    /// Import profiles used.
    pub profiles: Vec<ProfileUsed>,
    /// Definitions used, each as identifier and revision.
    pub metrics: Vec<String>,
    /// What came out.
    pub outputs: Vec<Item>,
}

impl Event {
    /// Returns an event that nothing went into and nothing came out of yet.
    pub fn new(when: &str, who: &str, tool: &str, action: Action) -> Event {
        Event {
            when: when.to_owned(),
            who: who.to_owned(),
            tool: tool.to_owned(),
            action,
            inputs: Vec::new(),
            parameters: Value::Null,
            profiles: Vec::new(),
            metrics: Vec::new(),
            outputs: Vec::new(),
        }
    }

    /// Returns whether the event may enter the ledger.
    ///
    /// # Errors
    /// [`ArchiveError::Incomplete`] unless it says when, by whom and with what it was done, and
    /// [`ArchiveError::BadName`] when an item claims a place in the archive.
    pub(super) fn check(&self) -> Result<(), ArchiveError> {
        for (field, text) in [
            ("when", &self.when),
            ("who", &self.who),
            ("tool", &self.tool),
        ] {
            if text.trim().is_empty() {
                return Err(ArchiveError::Incomplete(field));
            }
        }
        // Only the writer says where bytes are kept: it has put them there.
        match self
            .inputs
            .iter()
            .chain(&self.outputs)
            .find(|i| i.path.is_some())
        {
            Some(item) => Err(ArchiveError::BadName {
                name: item.path.clone().unwrap_or_default(),
                expected: "an item without a path; hand the bytes to `commit` instead",
            }),
            None => Ok(()),
        }
    }
}

/// Whether bytes are an original or something made from originals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Bytes as received: measurements, run sheets, profiles, certificates.
    Raw,
    /// Bytes that this tool made, such as one part of a table.
    Segment,
}

/// Bytes to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewFile {
    pub(super) keep: Keep,
    pub(super) name: String,
    pub(super) folder: String,
    pub(super) extension: String,
    pub(super) bytes: Vec<u8>,
    pub(super) holds: Vec<String>,
    pub(super) from: Vec<String>,
}

impl NewFile {
    /// Returns an original with its name as received; the name's extension is kept.
    pub fn raw(name: &str, bytes: Vec<u8>) -> NewFile {
        NewFile {
            keep: Keep::Raw,
            name: name.to_owned(),
            folder: String::new(),
            extension: place::extension(name),
            bytes,
            holds: Vec::new(),
            from: Vec::new(),
        }
    }

    /// Returns a part of a table; `name` is its folder under `tables/` and any file name, of which
    /// the extension is kept: `results/day=2031-05-14/part.parquet`.
    pub fn segment(name: &str, bytes: Vec<u8>) -> NewFile {
        let folder = name.rsplit_once('/').map_or("", |(folder, _)| folder);
        NewFile {
            keep: Keep::Segment,
            folder: folder.to_owned(),
            ..NewFile::raw(name, bytes)
        }
    }

    /// Returns the same file, holding `ids`, for the trace.
    #[must_use]
    pub fn holding(mut self, ids: impl IntoIterator<Item = String>) -> NewFile {
        self.holds.extend(ids);
        self
    }

    /// Returns the same file, made of `sources`, for the trace.
    #[must_use]
    pub fn made_from(mut self, sources: impl IntoIterator<Item = String>) -> NewFile {
        self.from.extend(sources);
        self
    }
}
