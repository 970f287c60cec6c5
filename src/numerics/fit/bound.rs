//! Where a parameter may lie, and the unbounded coordinate that stands for it in the search.

/// Where a parameter may lie.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Bound {
    /// Anywhere.
    #[default]
    Free,
    /// Above zero; searched on a logarithmic scale.
    Positive,
    /// Strictly between two limits; searched on a logistic scale.
    Between(f64, f64),
}

impl Bound {
    /// Returns the coordinate searched over that stands for `value`; `None` outside the bound.
    pub(super) fn coordinate(self, value: f64) -> Option<f64> {
        match self {
            Self::Free => value.is_finite().then_some(value),
            Self::Positive => (value > 0.0 && value.is_finite()).then(|| libm::log(value)),
            Self::Between(low, high) => {
                let share = (value - low) / (high - low);
                (share > 0.0 && share < 1.0).then(|| libm::log(share / (1.0 - share)))
            }
        }
    }

    /// Returns the parameter a coordinate stands for.
    pub(super) fn value(self, coordinate: f64) -> f64 {
        match self {
            Self::Free => coordinate,
            Self::Positive => libm::exp(coordinate),
            Self::Between(low, high) => low + (high - low) / (1.0 + libm::exp(-coordinate)),
        }
    }

    /// Returns the derivative of the parameter by its coordinate, at the parameter.
    pub(super) fn stretch(self, value: f64) -> f64 {
        match self {
            Self::Free => 1.0,
            Self::Positive => value,
            Self::Between(low, high) => (value - low) * (high - value) / (high - low),
        }
    }

    /// Returns whether a parameter lies inside.
    pub(super) fn holds(self, value: f64) -> bool {
        self.coordinate(value).is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_coordinate_and_its_parameter_are_inverse() {
        for (bound, value) in [
            (Bound::Free, -3.0),
            (Bound::Positive, 0.02),
            (Bound::Between(-1.0, 4.0), 3.5),
        ] {
            let u = bound.coordinate(value);
            assert!(u.is_some_and(|u| (bound.value(u) - value).abs() < 1e-14));
            // Analytic: the stretch is the slope of the parameter by its coordinate.
            let slope = u.map(|u| (bound.value(u + 1e-6) - bound.value(u - 1e-6)) / 2e-6);
            assert!(slope.is_some_and(|s| (s - bound.stretch(value)).abs() < 1e-8));
        }
        assert_eq!(Bound::Positive.coordinate(0.0), None);
        assert_eq!(Bound::Between(0.0, 1.0).coordinate(1.0), None);
    }
}
