//! Why a text is no profile.

use thiserror::Error;

/// A problem in a profile, located by its key and with its remedy.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("profile `{profile}`, key `{key}`: found {found}; expected {expected}; {remedy}")]
pub struct ProfileError {
    /// Identifier of the profile, as far as it could be read.
    pub profile: String,
    /// Path of the key, with dots.
    pub key: String,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub remedy: String,
}
