//! Exit codes: what a script learns from a finished command.

/// How a command ended, as its exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ExitStatus {
    /// Done.
    Done,
    /// Done, but something has to be looked at or redone.
    Attention,
    /// Wrong usage, or nothing could be read.
    Usage,
    /// The archive does not verify.
    NotVerified,
    /// A fault of this program.
    Internal,
}

impl ExitStatus {
    /// Every exit status, lowest code first.
    pub const ALL: [ExitStatus; 5] = [
        ExitStatus::Done,
        ExitStatus::Attention,
        ExitStatus::Usage,
        ExitStatus::NotVerified,
        ExitStatus::Internal,
    ];

    /// Returns the code given to the shell.
    pub fn code(self) -> u8 {
        match self {
            ExitStatus::Done => 0,
            ExitStatus::Attention => 1,
            ExitStatus::Usage => 2,
            ExitStatus::NotVerified => 3,
            ExitStatus::Internal => 70,
        }
    }

    /// Returns one sentence that says what the code means.
    pub fn meaning(self) -> &'static str {
        match self {
            ExitStatus::Done => "Done.",
            ExitStatus::Attention => {
                "Done, with reject-level findings or an unreadable file among readable ones."
            }
            ExitStatus::Usage => "Wrong usage, or nothing could be read.",
            ExitStatus::NotVerified => "The archive does not verify.",
            ExitStatus::Internal => "A fault of this program; please report it.",
        }
    }
}
