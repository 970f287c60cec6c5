//! What a claim asks: its kind, its margin, and the values for which it is true.

use crate::schema::ClaimKind;

/// To which side of the margin the claim points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// Greater values.
    Above,
    /// Smaller values.
    Below,
}

impl Direction {
    /// Returns the comparative a sentence needs.
    pub fn comparative(self) -> &'static str {
        match self {
            Direction::Above => "higher",
            Direction::Below => "lower",
        }
    }
}

/// How far apart two treatments may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Margin {
    /// In the metric's unit.
    Absolute(f64),
    /// As a share of the reference (0.15 for 15 %): compared on the logarithmic scale.
    Relative(f64),
}

/// The scale on which treatments are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Differences.
    Linear,
    /// Ratios, by differences of logarithms.
    Log,
}

/// The values of the contrast for which a claim is true: an open range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Target {
    /// Lower end; negative infinity where there is none.
    pub low: f64,
    /// Upper end; infinity where there is none.
    pub high: f64,
}

impl Target {
    /// Whether `value` lies inside.
    pub fn holds(&self, value: f64) -> bool {
        value > self.low && value < self.high
    }
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub enum Question {
    /// Is the treatment above or below the reference by more than `margin`?
    Difference {
        /// Claimed side.
        direction: Direction,
        /// Least difference, in the metric's unit; zero for any difference at all.
        margin: f64,
    },
    /// Is the ratio of treatment to reference above or below `margin`?
    Ratio {
        /// Claimed side.
        direction: Direction,
        /// Ratio: 0.9 for 90 % of the reference.
        margin: f64,
    },
    /// Are both equal within the margin?
    Equivalent {
        /// Greatest difference that counts as equal.
        margin: Margin,
    },
    /// Is the treatment no worse than the reference by the margin?
    NotWorse {
        /// Which side is better.
        better: Direction,
        /// Greatest loss that is accepted.
        margin: Margin,
    },
    /// Does the treatment take more than `margin` points more water at an equal response?
    GainAtEqual {
        /// Points of water.
        margin: f64,
        /// Greatest departure of the ratio of slopes from 1 at which lines count as parallel
        /// (0.25: between 0.75 and 1.25).
        slope_margin: f64,
    },
    /// Does the treatment use less than `share` of the reference's specific energy?
    EnergyShare {
        /// Share of the reference: 0.7 for 70 %.
        share: f64,
        /// Metrics of the parts of the energy, reported beside the total.
        parts: Vec<String>,
    },
    /// Is the ratio of rates (staling, uptake, softening) above or below `margin`? The rates are
    /// those fitted to each dough.
    Rate {
        /// Claimed side: below for slower.
        direction: Direction,
        /// Ratio of treatment to reference.
        margin: f64,
        /// Metric of the exponent fitted beside the rate, where the law has one.
        exponent: Option<String>,
        /// Metric of the half time, by which doughs of different exponents are compared.
        half_time: Option<String>,
        /// Exponents count as the same when their ratio lies within 1 ± this.
        exponent_margin: f64,
    },
    /// Is the probability that a piece of the treatment is graded above one of the reference (ties
    /// counted half) more than `margin`?
    Grade {
        /// Probability of superiority; 0.5 for no difference.
        margin: f64,
        /// Mixing times that count, min; `None` for all.
        mix_time_min: Option<(f64, f64)>,
    },
    /// Do mean curves stay within ±`margin` of one another everywhere?
    SameCurve {
        /// Greatest difference, in the unit of the curve.
        margin: f64,
        /// Greatest difference of timing, in the unit of the abscissa: min.
        timing_margin: f64,
        /// Range of the abscissa that is compared; `None` for what all curves share.
        range: Option<(f64, f64)>,
        /// Random exchanges of treatments within blocks.
        permutations: usize,
    },
    /// Do two instruments agree within ±`margin`?
    Agreement {
        /// Greatest difference within which 95 % of pairs must lie, in the metric's unit.
        margin: f64,
    },
}

impl Question {
    /// The kind.
    pub fn kind(&self) -> ClaimKind {
        match self {
            Question::Difference { .. } => ClaimKind::Difference,
            Question::Ratio { .. } => ClaimKind::Ratio,
            Question::Equivalent { .. } => ClaimKind::Equivalent,
            Question::NotWorse { .. } => ClaimKind::NotWorse,
            Question::GainAtEqual { .. } => ClaimKind::GainAtEqual,
            Question::EnergyShare { .. } => ClaimKind::EnergyShare,
            Question::Rate { .. } => ClaimKind::Rate,
            Question::Grade { .. } => ClaimKind::Grade,
            Question::SameCurve { .. } => ClaimKind::SameCurve,
            Question::Agreement { .. } => ClaimKind::Agreement,
        }
    }

    /// The scale on which the contrast is taken and shown.
    pub fn scale(&self) -> Scale {
        match self {
            Question::Ratio { .. }
            | Question::EnergyShare { .. }
            | Question::Rate { .. }
            | Question::Equivalent {
                margin: Margin::Relative(_),
            }
            | Question::NotWorse {
                margin: Margin::Relative(_),
                ..
            } => Scale::Log,
            _ => Scale::Linear,
        }
    }

    /// Returns the values of the contrast for which the claim is true; ratios on a scale of ratios.
    /// A relative margin is read as it is said: within 15 % is a ratio between 0.85 and 1.15.
    pub fn target(&self) -> Target {
        let above = |low: f64| Target {
            low,
            high: f64::INFINITY,
        };
        let below = |high: f64| Target {
            low: f64::NEG_INFINITY,
            high,
        };
        let within = |middle: f64, half: f64| Target {
            low: middle - half,
            high: middle + half,
        };
        match self {
            Question::Difference { direction, margin } => match direction {
                Direction::Above => above(*margin),
                Direction::Below => below(-*margin),
            },
            Question::Ratio { direction, margin }
            | Question::Rate {
                direction, margin, ..
            } => match direction {
                Direction::Above => above(*margin),
                Direction::Below => below(*margin),
            },
            Question::Equivalent { margin } => match margin {
                Margin::Absolute(d) => within(0.0, *d),
                Margin::Relative(d) => within(1.0, *d),
            },
            Question::NotWorse { better, margin } => match (better, margin) {
                (Direction::Above, Margin::Absolute(d)) => above(-*d),
                (Direction::Above, Margin::Relative(d)) => above(1.0 - *d),
                (Direction::Below, Margin::Absolute(d)) => below(*d),
                (Direction::Below, Margin::Relative(d)) => below(1.0 + *d),
            },
            Question::GainAtEqual { margin, .. } | Question::Grade { margin, .. } => above(*margin),
            Question::EnergyShare { share, .. } => below(*share),
            Question::SameCurve { margin, .. } | Question::Agreement { margin } => {
                within(0.0, *margin)
            }
        }
    }

    /// Returns the contrast of two treatments that do not differ: zero, one for ratios, a half for
    /// the probability of superiority.
    pub fn no_difference(&self) -> f64 {
        match (self, self.scale()) {
            (Question::Grade { .. }, _) => 0.5,
            (_, Scale::Log) => 1.0,
            (_, Scale::Linear) => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_are_read_as_the_sentence_says_them() {
        let relative = Question::Equivalent {
            margin: Margin::Relative(0.15),
        };
        assert!(relative.target().holds(0.86) && relative.target().holds(1.14));
        assert!(!relative.target().holds(0.84) && !relative.target().holds(1.15));
        assert_eq!(relative.scale(), Scale::Log);
        let lower = Question::NotWorse {
            better: Direction::Below,
            margin: Margin::Absolute(10.0),
        };
        assert!(lower.target().holds(-500.0) && !lower.target().holds(10.0));
        let less = Question::Difference {
            direction: Direction::Below,
            margin: 2.0,
        };
        assert!(less.target().holds(-2.1) && !less.target().holds(-1.9));
    }
}
