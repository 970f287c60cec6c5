//! What stated inputs bring into the uncertainty of readings.

/// An input of a reading: how large it is, and how well that is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Input {
    /// Value.
    pub value: f64,
    /// Standard uncertainty.
    pub u: f64,
}

impl Input {
    /// Returns the input known to within `tolerance`: rectangular (JCGM 100, 4.3.7).
    pub fn within(value: f64, tolerance: f64) -> Input {
        Input {
            value,
            u: tolerance.abs() / 3.0_f64.sqrt(),
        }
    }
}

/// Returns the standard uncertainty that the inputs bring into each number that `read` gives:
/// `u² = Σ (c_i u_i)²`, each `c_i` by central difference over `± u_i` (JCGM 100, 5.1.3; HANDBOOK
/// §11.5). A number that an input makes undefined is taken from the other side.
pub(super) fn propagate<const N: usize, const M: usize>(
    inputs: &[Input; N],
    read: impl Fn(&[f64; N]) -> [Option<f64>; M],
) -> [f64; M] {
    let values = inputs.map(|input| input.value);
    let base = read(&values);
    let mut squares = [0.0; M];
    for (i, input) in inputs.iter().enumerate() {
        if input.u <= 0.0 {
            continue;
        }
        let moved = |by: f64| {
            let mut moved = values;
            moved[i] += by;
            read(&moved)
        };
        let (less, more) = (moved(-input.u), moved(input.u));
        for (k, square) in squares.iter_mut().enumerate() {
            let step = match (less[k], more[k], base[k]) {
                (Some(less), Some(more), _) => 0.5 * (more - less),
                (None, Some(more), Some(base)) => more - base,
                (Some(less), None, Some(base)) => base - less,
                _ => 0.0,
            };
            *square += step * step;
        }
    }
    squares.map(f64::sqrt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_product_adds_relative_uncertainties_in_squares() {
        // Analytic: u(ab) = sqrt((b u_a)² + (a u_b)²) = sqrt(0.5² + 0.4²).
        let inputs = [Input { value: 4.0, u: 0.1 }, Input { value: 5.0, u: 0.1 }];
        let [u] = propagate(&inputs, |[a, b]| [Some(a * b)]);
        assert!((u - 0.41_f64.sqrt()).abs() < 1e-12);
        let [u] = propagate(&inputs, |[a, b]| [(*a < 4.05).then_some(a * b)]);
        assert!((u - 0.41_f64.sqrt()).abs() < 1e-12);
        assert!((Input::within(1.0, 3.0_f64.sqrt()).u - 1.0).abs() < 1e-12);
    }
}
