//! The step-down procedure of Holm.

use crate::numerics::error::{FitError, require_open_unit};

/// What the procedure says of one hypothesis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HolmStep {
    /// Smallest family-wise level at which the hypothesis is rejected.
    pub adjusted_p: f64,
    /// Whether it is rejected at the level given.
    pub rejected: bool,
    /// The level at which the procedure judged it. An interval drawn at this level in place of
    /// alpha lies wholly on one side of its margin exactly where the hypothesis is rejected, so
    /// that intervals and verdicts never disagree.
    pub level: f64,
}

/// Returns the verdicts on hypotheses with the given `p_values` at family-wise level `alpha`, in
/// the order given (Holm 1979, Scand. J. Stat. 6:65). The least p is judged at alpha/m, the next at
/// alpha/(m-1), and so on to the first that fails; all from there on fail at its level. Intervals at
/// these levels agree with the verdicts one by one; as a joint statement those of rejected
/// hypotheses reach only to their margins (Strassburger and Bretz 2008, Stat. Med. 27:4914).
///
/// # Errors
/// `OutOfRange` unless alpha lies strictly between 0 and 1 and each p in 0..=1.
pub fn adjust_holm(p_values: &[f64], alpha: f64) -> Result<Vec<HolmStep>, FitError> {
    require_open_unit("alpha", alpha)?;
    if let Some(found) = p_values.iter().find(|p| !(0.0..=1.0).contains(*p)) {
        return Err(FitError::OutOfRange {
            what: "p-value",
            found: *found,
        });
    }
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| p_values[*a].total_cmp(&p_values[*b]));
    let mut steps = vec![
        HolmStep {
            adjusted_p: 1.0,
            rejected: false,
            level: alpha,
        };
        p_values.len()
    ];
    let (mut adjusted, mut failed) = (0.0_f64, None);
    for (rank, index) in order.into_iter().enumerate() {
        let left = (p_values.len() - rank) as f64;
        adjusted = adjusted.max((left * p_values[index]).min(1.0));
        let level = *failed.get_or_insert(alpha / left);
        let rejected = p_values[index] <= level && adjusted <= alpha;
        steps[index] = HolmStep {
            adjusted_p: adjusted,
            rejected,
            level,
        };
        if rejected {
            failed = None;
        }
    }
    Ok(steps)
}
