//! From an estimate to an interval at any error rate, and from an interval to a verdict.

use crate::numerics::{Estimate, Interval};
use crate::schema::Verdict;
use crate::study::{Scale, Target};

/// What is known of a contrast, on the scale of its margin.
pub(super) trait Inference {
    /// The estimate.
    fn value(&self) -> f64;

    /// The two-sided interval of confidence 1 − 2 `alpha`; `None` where it is unbounded. Intervals
    /// of smaller `alpha` contain those of greater.
    fn interval(&self, alpha: f64) -> Option<Interval>;

    /// Degrees of freedom of the error.
    fn df(&self) -> Option<f64> {
        None
    }

    /// Returns the verdict at the error rate `alpha`. A greater rate never takes a verdict back.
    fn decides(&self, alpha: f64, target: Target) -> Verdict {
        verdict(self.interval(alpha), target)
    }

    /// Returns the smallest error rate at which the claim is supported.
    fn p_support(&self, target: Target) -> f64 {
        smallest_alpha(|alpha| self.decides(alpha, target) == Verdict::Supported)
    }

    /// Returns the smallest error rate at which the claim is contradicted.
    fn p_contradict(&self, target: Target) -> f64 {
        smallest_alpha(|alpha| self.decides(alpha, target) == Verdict::Contradicted)
    }
}

/// An estimate whose error follows Student's distribution, of a difference or of the logarithm of
/// a ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Student {
    pub estimate: Estimate,
    pub scale: Scale,
}

impl Student {
    /// Returns the target on the scale of the estimate.
    fn own(&self, target: Target) -> Target {
        match self.scale {
            Scale::Linear => target,
            Scale::Log => Target {
                low: libm::log(target.low.max(0.0)),
                high: libm::log(target.high),
            },
        }
    }
}

impl Inference for Student {
    fn value(&self) -> f64 {
        match self.scale {
            Scale::Linear => self.estimate.value,
            Scale::Log => libm::exp(self.estimate.value),
        }
    }

    fn interval(&self, alpha: f64) -> Option<Interval> {
        let interval = self.estimate.interval(1.0 - 2.0 * alpha).ok()?;
        Some(match self.scale {
            Scale::Linear => interval,
            Scale::Log => interval.exponentiated(),
        })
    }

    fn df(&self) -> Option<f64> {
        Some(self.estimate.df)
    }

    fn p_support(&self, target: Target) -> f64 {
        let target = self.own(target);
        let above = self.estimate.p_above(target.low);
        above.max(self.estimate.p_below(target.high))
    }

    fn p_contradict(&self, target: Target) -> f64 {
        let target = self.own(target);
        let below = self.estimate.p_below(target.low);
        below.min(self.estimate.p_above(target.high))
    }
}

/// Returns the verdict of an interval: it must lie wholly inside the values for which the claim is
/// true, or wholly outside them.
pub(super) fn verdict(interval: Option<Interval>, target: Target) -> Verdict {
    let Some(interval) = interval else {
        return Verdict::Undecided;
    };
    // An end that the data leave open does no harm where the claim has no limit either.
    let above = target.low.is_infinite() || interval.low > target.low;
    let below = target.high.is_infinite() || interval.high < target.high;
    if above && below {
        Verdict::Supported
    } else if interval.high <= target.low || interval.low >= target.high {
        Verdict::Contradicted
    } else {
        Verdict::Undecided
    }
}

/// Returns the smallest error rate, to a relative 1e-3, at which `reached` holds; one half where it
/// never does. `reached` must go on holding as the rate grows.
fn smallest_alpha(reached: impl Fn(f64) -> bool) -> f64 {
    const LEAST: f64 = 1e-9;
    const MOST: f64 = 0.5 - 1e-9;
    if !reached(MOST) {
        return 0.5;
    }
    if reached(LEAST) {
        return LEAST;
    }
    let (mut low, mut high) = (libm::log(LEAST), libm::log(MOST));
    while high - low > 1e-3 {
        let middle = 0.5 * (low + high);
        match reached(libm::exp(middle)) {
            true => high = middle,
            false => low = middle,
        }
    }
    libm::exp(high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn target(low: f64, high: f64) -> Target {
        Target { low, high }
    }

    fn at(low: f64, high: f64, wanted: Target) -> Verdict {
        verdict(Some(Interval { low, high }), wanted)
    }

    #[test]
    fn an_interval_decides_only_from_wholly_inside_or_outside() {
        let margin = target(-1.0, 1.0);
        assert_eq!(at(-0.9, 0.9, margin), Verdict::Supported);
        assert_eq!(at(-1.0, 0.9, margin), Verdict::Undecided);
        assert_eq!(at(1.0, 3.0, margin), Verdict::Contradicted);
        // Failing to show equivalence is never contradiction.
        assert_eq!(at(-5.0, 5.0, margin), Verdict::Undecided);
        assert_eq!(verdict(None, margin), Verdict::Undecided);
        let more = target(-1.0, f64::INFINITY);
        assert_eq!(at(0.0, f64::INFINITY, more), Verdict::Supported);
        assert_eq!(at(-2.0, f64::INFINITY, more), Verdict::Undecided);
    }

    /// The same estimate without the closed forms.
    struct Plain(Student);

    impl Inference for Plain {
        fn value(&self) -> f64 {
            self.0.value()
        }
        fn interval(&self, alpha: f64) -> Option<Interval> {
            self.0.interval(alpha)
        }
    }

    #[test]
    fn p_values_and_intervals_say_the_same() {
        let student = Student {
            estimate: Estimate {
                value: 0.14,
                standard_error: 0.051,
                df: 4.0,
            },
            scale: Scale::Linear,
        };
        for wanted in [
            target(-0.3, 0.3),
            target(0.0, f64::INFINITY),
            target(-1.0, 0.05),
        ] {
            let plain = Plain(student);
            assert!((plain.p_support(wanted) - student.p_support(wanted).min(0.5)).abs() < 1e-3);
            assert!(
                (plain.p_contradict(wanted) - student.p_contradict(wanted).min(0.5)).abs() < 1e-3
            );
        }
    }
}
