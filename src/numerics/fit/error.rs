//! Why a fit is not to be had.

/// Why a fit is not to be had.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FitError {
    /// Abscissae, ordinates and weights differ in number.
    #[error("{abscissae} abscissae, {ordinates} ordinates and {weights} weights do not pair up")]
    Ragged {
        /// Number of abscissae.
        abscissae: usize,
        /// Number of ordinates.
        ordinates: usize,
        /// Number of weights.
        weights: usize,
    },
    /// A point or its weight is not a usable number.
    #[error("point {} is not a finite number with a positive weight", point + 1)]
    NotFinite {
        /// Index of the point.
        point: usize,
    },
    /// No more points than parameters: nothing is left to judge the scatter by.
    #[error("{points} points do not settle {parameters} parameters and their scatter")]
    TooFewPoints {
        /// Number of points.
        points: usize,
        /// Number of parameters.
        parameters: usize,
    },
    /// The start has the wrong number of parameters, or one outside its bound.
    #[error("the start does not fit the model at parameter {}", parameter + 1)]
    BadStart {
        /// Index of the parameter.
        parameter: usize,
    },
    /// No start led to a minimum.
    #[error("no minimum was reached from {starts} starts")]
    NoMinimum {
        /// How many starts were tried.
        starts: usize,
    },
    /// The minimum does not tell the parameters apart: some direction changes nothing that was
    /// measured.
    #[error("the points do not tell {parameter} apart from the other parameters")]
    NotIdentified {
        /// Name of the parameter with the largest share in the undetermined direction.
        parameter: &'static str,
    },
}
