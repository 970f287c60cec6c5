//! The straight line of least squares.

use super::distribution::student_quantile;

/// A straight line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Abscissa it is anchored at: the mean of the points'.
    pub x: f64,
    /// Height there: the mean of the points'.
    pub y: f64,
    /// Slope.
    pub slope: f64,
}

impl Line {
    /// Returns the height at `x`.
    pub fn at(&self, x: f64) -> f64 {
        self.y + self.slope * (x - self.x)
    }
}

/// A straight line with its scatter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineFit {
    /// The line.
    pub line: Line,
    /// Its slope.
    pub slope: f64,
    /// Standard error of the slope.
    pub slope_error: f64,
    /// Residual standard deviation about the line.
    pub residual_deviation: f64,
    /// Share of the scatter of the ordinates that the line explains, R².
    pub explained: f64,
    /// Points used; two fewer are the degrees of freedom.
    pub points: usize,
}

impl LineFit {
    /// Returns the height at abscissa nought.
    pub fn intercept(&self) -> f64 {
        self.line.at(0.0)
    }

    /// Returns the standard error of the line's height at `x` (the mean there, not a new point).
    pub fn error_at(&self, x: f64) -> f64 {
        let mean_error = self.residual_deviation / (self.points as f64).sqrt();
        let lever = (x - self.line.x) * self.slope_error;
        (mean_error * mean_error + lever * lever).sqrt()
    }

    /// Returns half the width of a 95 % interval in standard errors: Student's t at the degrees of
    /// freedom. `None` without any.
    pub fn coverage_factor(&self) -> Option<f64> {
        student_quantile(0.975, self.degrees_of_freedom() as f64)
    }

    /// Returns the degrees of freedom.
    pub fn degrees_of_freedom(&self) -> usize {
        self.points.saturating_sub(2)
    }
}

/// Returns the line of least squares through the points (Legendre 1805); `None` for fewer than
/// two abscissae.
pub fn fit_line(x: &[f64], y: &[f64]) -> Option<Line> {
    let n = x.len().min(y.len());
    if n < 2 {
        return None;
    }
    let count = n as f64;
    let mean_x = x[..n].iter().sum::<f64>() / count;
    let mean_y = y[..n].iter().sum::<f64>() / count;
    let (mut spread, mut joint) = (0.0, 0.0);
    for (a, b) in x[..n].iter().zip(y) {
        spread += (a - mean_x) * (a - mean_x);
        joint += (a - mean_x) * (b - mean_y);
    }
    (spread > 0.0).then(|| Line {
        x: mean_x,
        y: mean_y,
        slope: joint / spread,
    })
}

/// Returns the line of least squares with its scatter (residual variance over `n - 2`; any
/// textbook of regression, checked against the certified NIST StRD line); `None` for fewer than
/// three points or two abscissae, or ordinates that do not vary.
pub fn regress_line(x: &[f64], y: &[f64]) -> Option<LineFit> {
    let points = x.len().min(y.len());
    let line = fit_line(&x[..points], &y[..points])?;
    if points < 3 {
        return None;
    }
    let (mut about_line, mut about_mean, mut spread) = (0.0, 0.0, 0.0);
    for (a, b) in x[..points].iter().zip(y) {
        about_line += (b - line.at(*a)) * (b - line.at(*a));
        about_mean += (b - line.y) * (b - line.y);
        spread += (a - line.x) * (a - line.x);
    }
    let residual_deviation = (about_line / (points - 2) as f64).sqrt();
    (about_mean > 0.0).then(|| LineFit {
        line,
        slope: line.slope,
        slope_error: residual_deviation / spread.sqrt(),
        residual_deviation,
        explained: 1.0 - about_line / about_mean,
        points,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_general_library() {
        // numpy 2.4.6, polyfit([0, 1, 2, 3], [1, 4, 2, 8], 1): slope 1.9, at 0: 0.9.
        let line = fit_line(&[0.0, 1.0, 2.0, 3.0], &[1.0, 4.0, 2.0, 8.0]);
        assert!(line.is_some_and(|l| (l.slope - 1.9).abs() < 1e-12));
        assert!(line.is_some_and(|l| (l.at(0.0) - 0.9).abs() < 1e-12));
        assert_eq!(fit_line(&[1.0, 1.0], &[2.0, 3.0]), None);
        assert_eq!(fit_line(&[1.0], &[2.0]), None);
    }

    #[test]
    fn its_scatter_is_that_of_a_general_library() {
        // scipy 1.17.1, stats.linregress([0, 1, 2, 3], [1, 4, 2, 8]): stderr 1.03440804327886,
        // intercept_stderr 1.9352002480363628, rvalue 0.7923547734168841.
        let fit = regress_line(&[0.0, 1.0, 2.0, 3.0], &[1.0, 4.0, 2.0, 8.0]);
        assert!(fit.is_some_and(|f| {
            (f.slope_error - 1.034_408_043_278_86).abs() < 1e-12
                && (f.error_at(0.0) - 1.935_200_248_036_362_8).abs() < 1e-12
                && (f.explained - 0.792_354_773_416_884_1_f64.powi(2)).abs() < 1e-12
                && f.degrees_of_freedom() == 2
        }));
        assert_eq!(regress_line(&[0.0, 1.0], &[0.0, 1.0]), None);
    }
}
