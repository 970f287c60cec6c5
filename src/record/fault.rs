//! What is wrong with a file, in the form every message of this tool takes.

use serde::Serialize;

/// A problem with an input, located and with its remedy.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fault {
    /// File, as found.
    pub file: String,
    /// Line of the file, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub line: Option<u64>,
    /// Column name or number, or field.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<String>,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub remedy: String,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column `{column}`")?;
        }
        write!(
            f,
            ": found {}; expected {}; {}",
            self.found, self.expected, self.remedy
        )
    }
}

impl std::error::Error for Fault {}
