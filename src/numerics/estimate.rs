//! An estimate with its error, and what follows from it.

use super::distribution::{student_quantile, student_two_sided, student_upper};
use super::error::{FitError, require_open_unit};

/// A range of values, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end; may be infinite.
    pub low: f64,
    /// Upper end; may be infinite.
    pub high: f64,
}

impl Interval {
    /// Returns the interval of half width `reach` about `centre`.
    pub fn around(centre: f64, reach: f64) -> Self {
        Self {
            low: centre - reach,
            high: centre + reach,
        }
    }

    /// Returns whether `value` lies inside, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Returns the interval on the natural scale, for one of natural logarithms (of a ratio).
    pub fn exponentiated(self) -> Self {
        Self {
            low: libm::exp(self.low),
            high: libm::exp(self.high),
        }
    }
}

/// A value with its standard error and the degrees of freedom behind that error, so that
/// (estimate - truth) / standard error follows Student's distribution.
///
/// Whatever fits a model hands one of these back; tests, intervals and equivalence follow from it
/// in the same way for a paired contrast, a blocked design or a mixed model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate, in the unit of the data.
    pub value: f64,
    /// Its standard error, in the same unit.
    pub standard_error: f64,
    /// Degrees of freedom of the standard error; infinite when that is known.
    pub df: f64,
}

impl Estimate {
    /// Returns Student's t of the estimate against `reference`. Without any error it is infinite,
    /// and zero where the estimate equals the reference.
    pub fn statistic(&self, reference: f64) -> f64 {
        let distance = self.value - reference;
        if distance.abs() > 0.0 {
            distance / self.standard_error
        } else {
            0.0
        }
    }

    /// Returns the two-sided p-value of the hypothesis that the truth is `reference`.
    pub fn p_two_sided(&self, reference: f64) -> f64 {
        student_two_sided(self.statistic(reference), self.df)
    }

    /// Returns the one-sided p-value of the hypothesis that the truth is at most `bound`: small
    /// when the data say that it is above.
    pub fn p_above(&self, bound: f64) -> f64 {
        student_upper(self.statistic(bound), self.df)
    }

    /// Returns the one-sided p-value of the hypothesis that the truth is at least `bound`: small
    /// when the data say that it is below.
    pub fn p_below(&self, bound: f64) -> f64 {
        student_upper(-self.statistic(bound), self.df)
    }

    /// Returns the two-sided interval of `confidence` (0.95 for 95 %).
    ///
    /// # Errors
    /// `OutOfRange` unless `confidence` lies strictly between 0 and 1.
    pub fn interval(&self, confidence: f64) -> Result<Interval, FitError> {
        require_open_unit("confidence", confidence)?;
        let half = self.half_width(0.5 + 0.5 * confidence)?;
        Ok(Interval {
            low: self.value - half,
            high: self.value + half,
        })
    }

    /// Returns the bound that lies below the truth with `confidence`.
    ///
    /// # Errors
    /// `OutOfRange` unless `confidence` lies strictly between 0 and 1.
    pub fn lower_bound(&self, confidence: f64) -> Result<f64, FitError> {
        require_open_unit("confidence", confidence)?;
        Ok(self.value - self.half_width(confidence)?)
    }

    /// Returns the bound that lies above the truth with `confidence`.
    ///
    /// # Errors
    /// `OutOfRange` unless `confidence` lies strictly between 0 and 1.
    pub fn upper_bound(&self, confidence: f64) -> Result<f64, FitError> {
        require_open_unit("confidence", confidence)?;
        Ok(self.value + self.half_width(confidence)?)
    }

    /// Returns the estimate multiplied by `factor`.
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            standard_error: self.standard_error * factor.abs(),
            df: self.df,
        }
    }

    /// Returns the estimate with a standard uncertainty added that all its data share and that no
    /// repetition averages out (calibration of a flow meter, a moisture value): type B of the GUM
    /// with infinite degrees of freedom, combined by the Welch–Satterthwaite formula
    /// (JCGM 100:2008, 5.1.2 and G.4.1).
    ///
    /// # Errors
    /// `OutOfRange` unless `uncertainty` is zero or positive, and finite.
    pub fn with_shared_uncertainty(&self, uncertainty: f64) -> Result<Self, FitError> {
        if !(uncertainty.is_finite() && uncertainty >= 0.0) {
            return Err(FitError::OutOfRange {
                what: "uncertainty",
                found: uncertainty,
            });
        }
        let own = self.standard_error * self.standard_error;
        let variance = own + uncertainty * uncertainty;
        let share = own / variance;
        let df = if uncertainty > 0.0 {
            self.df / (share * share)
        } else {
            self.df
        };
        Ok(Self {
            value: self.value,
            standard_error: variance.sqrt(),
            df,
        })
    }

    fn half_width(&self, probability: f64) -> Result<f64, FitError> {
        let t = student_quantile(probability, self.df).ok_or(FitError::OutOfRange {
            what: "degrees of freedom",
            found: self.df,
        })?;
        Ok(t * self.standard_error)
    }
}

/// One line of an analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SumOfSquares {
    /// Sum of squares, in the squared unit of the data.
    pub sum: f64,
    /// Degrees of freedom.
    pub df: f64,
}

impl SumOfSquares {
    /// The sum divided by its degrees of freedom.
    pub fn mean_square(&self) -> f64 {
        self.sum / self.df
    }
}

/// Fisher's test that several contrasts are all zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FisherTest {
    /// The F statistic.
    pub statistic: f64,
    /// Degrees of freedom above.
    pub numerator_df: f64,
    /// Degrees of freedom below.
    pub denominator_df: f64,
    /// Probability of so large a statistic if all contrasts were zero.
    pub p: f64,
}

impl FisherTest {
    pub(super) fn new(statistic: f64, numerator_df: f64, denominator_df: f64) -> Self {
        Self {
            statistic,
            numerator_df,
            denominator_df,
            p: super::distribution::fisher_upper(statistic, numerator_df, denominator_df),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_estimate_without_error_is_certain() {
        let exact = Estimate {
            value: 2.0,
            standard_error: 0.0,
            df: 3.0,
        };
        assert!(exact.p_two_sided(1.0) <= 0.0 && exact.p_two_sided(2.0) >= 1.0);
        assert!(exact.p_above(1.0) <= 0.0 && exact.p_below(1.0) >= 1.0);
    }

    #[test]
    fn shared_uncertainty_widens_and_frees() {
        // JCGM 100:2008 G.4.1 by hand: u_c = sqrt(3^2 + 4^2) = 5, df = 5^4 / (3^4 / 4) = 30.86.
        let own = Estimate {
            value: 1.0,
            standard_error: 3.0,
            df: 4.0,
        };
        let with = own.with_shared_uncertainty(4.0);
        assert!(with.is_ok_and(
            |e| (e.standard_error - 5.0).abs() < 1e-12 && (e.df - 2500.0 / 81.0).abs() < 1e-9
        ));
        assert_eq!(own.with_shared_uncertainty(0.0), Ok(own));
        assert!(own.with_shared_uncertainty(-1.0).is_err());
        assert!(own.interval(1.0).is_err());
    }
}
