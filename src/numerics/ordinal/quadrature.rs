//! Nodes and weights of Gauss–Hermite quadrature.

use nalgebra::DMatrix;

/// Returns `count` nodes x and weights w with ∫ e^(−x²) f(x) dx ≈ Σ w f(x), from the eigenvalues of
/// the recurrence (Golub and Welsch 1969, Math. Comput. 23:221), in rising order.
pub(super) fn gauss_hermite(count: usize) -> Vec<(f64, f64)> {
    let recurrence = DMatrix::from_fn(count, count, |i, j| {
        if i.abs_diff(j) == 1 {
            (0.5 * i.max(j) as f64).sqrt()
        } else {
            0.0
        }
    });
    let eigen = recurrence.symmetric_eigen();
    let root_pi = std::f64::consts::PI.sqrt();
    let mut nodes: Vec<(f64, f64)> = (0..count)
        .map(|k| {
            let first = eigen.eigenvectors[(0, k)];
            (eigen.eigenvalues[k], root_pi * first * first)
        })
        .collect();
    nodes.sort_by(|a, b| a.0.total_cmp(&b.0));
    nodes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_general_library() {
        // numpy 2.4.6, polynomial.hermite.hermgauss(5).
        let wanted = [
            (-2.020_182_870_456_085_6, 0.019_953_242_059_045_91),
            (-0.958_572_464_613_818_5, 0.393_619_323_152_241_2),
            (0.0, 0.945_308_720_482_941_9),
        ];
        for ((x, w), (node, weight)) in gauss_hermite(5).iter().zip(wanted) {
            assert!(
                (x - node).abs() < 1e-12 && (w - weight).abs() < 1e-12,
                "{x} {w}"
            );
        }
    }
}
