//! Status of a result and level of a finding: the two short word lists every table uses.

use serde::{Deserialize, Serialize};

/// How a metric came out; the `status` column of the results table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// The value was read.
    Exact,
    /// The true value lies above the printed bound (the record ended too early).
    Above,
    /// The true value lies below the printed bound (it had happened before the record could show it).
    Below,
    /// The curve never came to the point that the definition asks for.
    NotReached,
    /// An input that the definition needs is missing.
    NotComputable,
    /// A rule or a person rejected the run or value.
    Rejected,
}

impl Status {
    /// Every status, in the order in which `explain` lists them.
    pub const ALL: [Status; 6] = [
        Status::Exact,
        Status::Above,
        Status::Below,
        Status::NotReached,
        Status::NotComputable,
        Status::Rejected,
    ];

    /// Returns the word stored in tables.
    pub fn word(self) -> &'static str {
        match self {
            Status::Exact => "exact",
            Status::Above => "above",
            Status::Below => "below",
            Status::NotReached => "not-reached",
            Status::NotComputable => "not-computable",
            Status::Rejected => "rejected",
        }
    }

    /// Returns the status that `word` stands for.
    pub fn parse(word: &str) -> Option<Status> {
        Status::ALL.into_iter().find(|status| status.word() == word)
    }

    /// Returns one sentence that says what the status means for a reader.
    pub fn meaning(self) -> &'static str {
        match self {
            Status::Exact => "The value was read from the record by the metric's definition.",
            Status::Above => {
                "The true value is above the printed bound: the record ended before it could be read."
            }
            Status::Below => {
                "The true value is below the printed bound: it had happened before the record could show it."
            }
            Status::NotReached => "The curve never came to the point that the definition asks for.",
            Status::NotComputable => {
                "An input that the definition needs is missing; the reason names it."
            }
            Status::Rejected => {
                "A rule or a person rejected the run or the value; the reason says why."
            }
        }
    }
}

impl std::fmt::Display for Status {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.word())
    }
}

/// How serious a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Worth knowing; nothing to do.
    Note,
    /// Use the results with the stated care.
    Warn,
    /// Do not use the results named; redo or mend.
    Reject,
}

impl Level {
    /// Returns the word stored in tables.
    pub fn word(self) -> &'static str {
        match self {
            Level::Note => "note",
            Level::Warn => "warn",
            Level::Reject => "reject",
        }
    }
}

impl std::fmt::Display for Level {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.word())
    }
}
