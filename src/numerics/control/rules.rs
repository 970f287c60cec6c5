//! Patterns of successive values that chance rarely makes, named in plain words.

use super::Side;

/// A pattern of values about the centre line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RunRule {
    /// One value beyond three standard deviations.
    BeyondLimits,
    /// Two of three successive values beyond two standard deviations on the same side.
    TwoOfThreeFarOut,
    /// Eight successive values on the same side of the centre.
    EightOnOneSide,
    /// Six successive values, each higher (or each lower) than the one before.
    SixInOneDirection,
}

impl RunRule {
    /// All of them, the gravest first.
    pub const ALL: [Self; 4] = [
        Self::BeyondLimits,
        Self::TwoOfThreeFarOut,
        Self::EightOnOneSide,
        Self::SixInOneDirection,
    ];

    /// Returns what the rule looks for, as a sentence fragment.
    pub fn describe(self) -> &'static str {
        match self {
            Self::BeyondLimits => "a value beyond three standard deviations",
            Self::TwoOfThreeFarOut => {
                "two of three successive values beyond two standard deviations on one side"
            }
            Self::EightOnOneSide => "eight successive values on one side of the centre",
            Self::SixInOneDirection => "six successive values in one direction",
        }
    }

    fn window(self) -> usize {
        match self {
            Self::BeyondLimits => 1,
            Self::TwoOfThreeFarOut => 3,
            Self::EightOnOneSide => 8,
            Self::SixInOneDirection => 6,
        }
    }

    /// Returns whether values counted towards `High` (negated for `Low`) show the pattern. A
    /// window that is not yet full cannot, but for two far values that open a record.
    fn holds(self, window: &[f64]) -> bool {
        match self {
            Self::BeyondLimits => window.iter().all(|z| *z > 3.0),
            Self::TwoOfThreeFarOut => {
                window.last().is_some_and(|z| *z > 2.0)
                    && window.iter().filter(|z| **z > 2.0).count() >= 2
            }
            Self::EightOnOneSide => {
                window.len() == self.window() && window.iter().all(|z| *z > 0.0)
            }
            Self::SixInOneDirection => {
                window.len() == self.window() && window.windows(2).all(|w| w[1] > w[0])
            }
        }
    }

    /// Returns where in a window that shows the pattern it begins.
    fn begins(self, window: &[f64]) -> usize {
        match self {
            Self::TwoOfThreeFarOut => window.iter().position(|z| *z > 2.0).unwrap_or(0),
            _ => 0,
        }
    }
}

/// Where a pattern was found; patterns that overlap are one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RunSignal {
    /// The pattern.
    pub rule: RunRule,
    /// Index of its first value.
    pub first: usize,
    /// Index of its last value.
    pub last: usize,
    /// The side, or the direction.
    pub side: Side,
}

/// Returns every pattern of `rules` in values standardised about the centre line, by rule and then
/// in order of time (Western Electric 1956 and Nelson 1984, J. Qual. Technol. 16:237, in the
/// variants eight and six; from memory; ISO 7870-2 leaves the choice to the user).
pub fn find_runs(standardized: &[f64], rules: &[RunRule]) -> Vec<RunSignal> {
    let negated: Vec<f64> = standardized.iter().map(|z| -z).collect();
    let mut found: Vec<RunSignal> = Vec::new();
    for rule in rules {
        let before = found.len();
        for (side, values) in [(Side::High, standardized), (Side::Low, &negated[..])] {
            find_on_one_side(*rule, side, values, &mut found);
        }
        found[before..].sort_by_key(|signal| signal.first);
    }
    found
}

fn find_on_one_side(rule: RunRule, side: Side, values: &[f64], found: &mut Vec<RunSignal>) {
    let own = found.len();
    for last in 0..values.len() {
        let from = (last + 1).saturating_sub(rule.window());
        let window = &values[from..=last];
        if !rule.holds(window) {
            continue;
        }
        let first = from + rule.begins(window);
        let previous = found[own..].last_mut();
        match previous.filter(|p| first <= p.last + 1) {
            Some(previous) => previous.last = last,
            None => found.push(RunSignal {
                rule,
                first,
                last,
                side,
            }),
        }
    }
}
