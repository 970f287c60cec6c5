//! A recorded curve: one channel over one abscissa.

use crate::schema::{Axis, Channel, Unit};
use thiserror::Error;

/// Why some points are no curve.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CurveError {
    /// Abscissa and ordinate differ in length.
    #[error("{x} abscissa values but {y} ordinate values")]
    Lengths {
        /// Abscissa values.
        x: usize,
        /// Ordinate values.
        y: usize,
    },
    /// No point at all.
    #[error("the curve has no points")]
    Empty,
    /// A value is NaN or infinite.
    #[error("point {index} is not finite")]
    NotFinite {
        /// Index of the point, from 0.
        index: usize,
    },
}

/// One channel of a run, as recorded: abscissa in its canonical unit (s or mm), ordinate in the
/// canonical unit of its quantity. The abscissa may step back; a rule says so.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    channel: Channel,
    axis: Axis,
    unit: Unit,
    x: Vec<f64>,
    y: Vec<f64>,
}

impl Curve {
    /// Returns the curve of the given points.
    ///
    /// # Errors
    /// [`CurveError`] when lengths differ, there is no point, or a value is not finite.
    pub fn new(
        channel: Channel,
        axis: Axis,
        unit: Unit,
        x: Vec<f64>,
        y: Vec<f64>,
    ) -> Result<Curve, CurveError> {
        if x.len() != y.len() {
            return Err(CurveError::Lengths {
                x: x.len(),
                y: y.len(),
            });
        }
        if x.is_empty() {
            return Err(CurveError::Empty);
        }
        if let Some(index) = x
            .iter()
            .zip(&y)
            .position(|(a, b)| !a.is_finite() || !b.is_finite())
        {
            return Err(CurveError::NotFinite { index });
        }
        Ok(Curve {
            channel,
            axis,
            unit,
            x,
            y,
        })
    }

    /// Returns what the ordinate is.
    pub fn channel(&self) -> Channel {
        self.channel
    }

    /// Returns what the abscissa is.
    pub fn axis(&self) -> Axis {
        self.axis
    }

    /// Returns the unit of the ordinate.
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// Returns the abscissa.
    pub fn x(&self) -> &[f64] {
        &self.x
    }

    /// Returns the ordinate.
    pub fn y(&self) -> &[f64] {
        &self.y
    }

    /// Returns the indices of points whose abscissa lies before that of the point before.
    pub fn steps_back(&self) -> Vec<usize> {
        let pairs = self.x.windows(2).enumerate();
        pairs
            .filter(|(_, pair)| pair[1] < pair[0])
            .map(|(i, _)| i + 1)
            .collect()
    }

    /// Returns the number of points; never zero.
    pub fn points(&self) -> usize {
        self.x.len()
    }
}
