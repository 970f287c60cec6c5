//! The straight line of least squares.

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
}
