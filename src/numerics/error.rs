//! Why a fit or a test gives no answer.

/// The reason why a statistic cannot be computed from what was given.
///
/// No reason is ever replaced by a number: a caller shows it in the words of its own room.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Two inputs that belong together differ in length.
    #[error("{found} values where {expected} belong together")]
    Lengths {
        /// How many were expected.
        expected: usize,
        /// How many came.
        found: usize,
    },
    /// A value is infinite or no number.
    #[error("value {index} (counted from 0) is not finite")]
    NotFinite {
        /// Place of the value, counted from 0.
        index: usize,
    },
    /// There are fewer observations, groups or levels than the method needs.
    #[error("{found} {what} where at least {needed} are needed")]
    TooFew {
        /// What is counted: `observations`, `groups`, …
        what: &'static str,
        /// The least number that would do.
        needed: usize,
        /// How many there are.
        found: usize,
    },
    /// A parameter lies outside the range in which the method is defined.
    #[error("{what} is {found}, outside the range in which the method is defined")]
    OutOfRange {
        /// The parameter.
        what: &'static str,
        /// Its value.
        found: f64,
    },
    /// A term, level or variable was named that the design does not have.
    #[error("the design has no {what} {index} (counted from 0)")]
    Unknown {
        /// `variable`, `level`, `term`.
        what: &'static str,
        /// The number that was asked for.
        index: usize,
    },
    /// The model leaves no degree of freedom for the error.
    #[error("the model leaves no degree of freedom for the error")]
    NoResidual,
    /// The design cannot answer the question: the contrast is confounded or a cell is empty.
    #[error("the design cannot estimate this: its cells are empty or confounded with another term")]
    NotEstimable,
    /// All values are equal, where the method needs that they differ.
    #[error("the values do not vary")]
    NoVariation,
    /// An iteration did not reach its tolerance.
    #[error("the iteration did not converge")]
    NotConverged,
}

/// Refuses `values` that are not all finite.
pub(super) fn require_finite(values: &[f64]) -> Result<(), FitError> {
    match values.iter().position(|v| !v.is_finite()) {
        Some(index) => Err(FitError::NotFinite { index }),
        None => Ok(()),
    }
}

/// Refuses lists of different length.
pub(super) fn require_length(expected: usize, found: usize) -> Result<(), FitError> {
    if expected == found {
        return Ok(());
    }
    Err(FitError::Lengths { expected, found })
}

/// Refuses fewer than `needed` of `what`.
pub(super) fn require_count(
    what: &'static str,
    needed: usize,
    found: usize,
) -> Result<(), FitError> {
    if found >= needed {
        return Ok(());
    }
    Err(FitError::TooFew {
        what,
        needed,
        found,
    })
}

/// Refuses a probability that does not lie strictly between 0 and 1.
pub(super) fn require_open_unit(what: &'static str, found: f64) -> Result<(), FitError> {
    if found > 0.0 && found < 1.0 {
        return Ok(());
    }
    Err(FitError::OutOfRange { what, found })
}

/// Refuses a number that is not positive and finite.
pub(super) fn require_positive(what: &'static str, found: f64) -> Result<(), FitError> {
    if found > 0.0 && found.is_finite() {
        return Ok(());
    }
    Err(FitError::OutOfRange { what, found })
}
