//! Claims of one study judged together: the primary one opens the gate, the others share one error
//! rate by Holm's method, and intervals are widened with the verdicts.

use crate::numerics::Interval;
use crate::schema::{Gate, Verdict};
use crate::study::Target;

use super::inference::Inference;

/// One claim as the family sees it.
pub(super) struct Member<'a> {
    pub primary: bool,
    /// Error rate of its verdict if it stood alone.
    pub alpha: f64,
    /// `None` for a refused claim.
    pub known: Option<(&'a dyn Inference, Target)>,
    /// Whether a verdict is withheld although there is an interval.
    pub withheld: bool,
}

/// How a claim came out in its family.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Judged {
    pub gate: Gate,
    pub verdict: Verdict,
    pub alone: Verdict,
    /// Error rate of the verdict and of the interval that is shown.
    pub alpha: f64,
    pub interval: Option<Interval>,
    /// Smallest error rate at which the claim would be supported or contradicted.
    pub p: Option<f64>,
}

/// Returns how each member came out, in their order.
///
/// Holm 1979 (Scand. J. Stat. 6:65) orders the secondary claims by how clear they are, whichever
/// way they come out, and gives the i-th clearest of m the error rate α / (m − i + 1); from the
/// first that does not decide, all others keep its rate. An interval at a claim's rate lies inside
/// or outside the margin exactly when its verdict says so. A refused claim still counts in m: it
/// was planned.
pub(super) fn judge(members: &[Member<'_>]) -> Vec<Judged> {
    let mut judged: Vec<Judged> = members.iter().map(alone).collect();
    let holds = members
        .iter()
        .zip(&judged)
        .any(|(member, own)| member.primary && own.alone == Verdict::Supported);
    let gate = match holds {
        true => Gate::Open,
        false => Gate::Closed,
    };
    for (place, rate) in holm_rates(members, &judged) {
        let (Some(member), Some(own)) = (members.get(place), judged.get_mut(place)) else {
            continue;
        };
        own.gate = gate;
        own.alpha = rate;
        if let Some((inference, target)) = member.known {
            own.interval = inference.interval(rate);
            own.verdict = match (gate, member.withheld) {
                (Gate::Closed, _) | (_, true) => Verdict::Undecided,
                _ => inference.decides(rate, target),
            };
        }
    }
    judged
}

fn alone(member: &Member<'_>) -> Judged {
    let interval = member.known.and_then(|(i, _)| i.interval(member.alpha));
    let alone = match (member.known, member.withheld) {
        (None, _) => Verdict::Refused,
        (_, true) => Verdict::Undecided,
        (Some((inference, target)), false) => inference.decides(member.alpha, target),
    };
    let p = member.known.map(|(inference, target)| {
        inference
            .p_support(target)
            .min(inference.p_contradict(target))
    });
    Judged {
        gate: Gate::Primary,
        verdict: alone,
        alone,
        alpha: member.alpha,
        interval,
        p,
    }
}

/// Returns place and error rate of each secondary claim.
fn holm_rates(members: &[Member<'_>], judged: &[Judged]) -> Vec<(usize, f64)> {
    let mut order: Vec<(usize, f64, f64)> = members
        .iter()
        .zip(judged)
        .enumerate()
        .filter(|(_, (member, _))| !member.primary)
        .map(|(place, (member, own))| {
            let p = match member.withheld {
                true => 1.0,
                false => own.p.unwrap_or(1.0),
            };
            (place, p / member.alpha, member.alpha)
        })
        .collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let count = order.len();
    let mut stopped: Option<usize> = None;
    order
        .into_iter()
        .enumerate()
        .map(|(rank, (place, clarity, alpha))| {
            let left = stopped.unwrap_or(count - rank);
            if clarity * left as f64 > 1.0 {
                stopped.get_or_insert(left);
            }
            (place, alpha / left as f64)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::inference::Student;
    use crate::numerics::Estimate;
    use crate::study::Scale;

    /// An estimate with standard error 1 and a known error.
    fn known(value: f64) -> Student {
        Student {
            estimate: Estimate {
                value,
                standard_error: 1.0,
                df: f64::INFINITY,
            },
            scale: Scale::Linear,
        }
    }

    const ABOVE_ZERO: Target = Target {
        low: 0.0,
        high: f64::INFINITY,
    };

    /// The first is the primary claim.
    fn family(values: &[f64]) -> Vec<Judged> {
        let estimates: Vec<Student> = values.iter().map(|v| known(*v)).collect();
        let members: Vec<Member<'_>> = estimates
            .iter()
            .enumerate()
            .map(|(place, student)| Member {
                primary: place == 0,
                alpha: 0.05,
                known: Some((student, ABOVE_ZERO)),
                withheld: false,
            })
            .collect();
        judge(&members)
    }

    fn verdicts(judged: &[Judged]) -> Vec<Verdict> {
        judged.iter().map(|j| j.verdict).collect()
    }

    #[test]
    fn secondary_claims_do_not_count_without_the_primary() {
        let closed = family(&[1.0, 9.0, -9.0]);
        assert_eq!(verdicts(&closed), [Verdict::Undecided; 3]);
        assert_eq!(closed[1].gate, Gate::Closed);
        assert_eq!(closed[1].alone, Verdict::Supported);
        let open = family(&[3.0, 9.0, -9.0]);
        assert_eq!(
            verdicts(&open),
            [
                Verdict::Supported,
                Verdict::Supported,
                Verdict::Contradicted
            ]
        );
    }

    #[test]
    fn holm_lets_pass_what_bonferroni_would_not_and_stops_at_the_first_failure() {
        // One-sided p: 2.2 -> 0.0139, 2.0 -> 0.0228, 1.7 -> 0.0446; rates 0.05 / 3, / 2, / 1.
        let all = family(&[3.0, 1.7, 2.0, 2.2]);
        assert_eq!(verdicts(&all)[1..], [Verdict::Supported; 3]);
        // 2.1 -> 0.0179 > 0.05 / 3: nothing passes after it, not even 1.7.
        let none = family(&[3.0, 1.7, 2.0, 2.1]);
        assert_eq!(verdicts(&none)[1..], [Verdict::Undecided; 3]);
        assert!(
            none[1..]
                .iter()
                .all(|j| (j.alpha - 0.05 / 3.0).abs() < 1e-12)
        );
        assert!(none[1..].iter().all(|j| j.alone == Verdict::Supported));
    }

    #[test]
    fn a_refused_or_withheld_claim_still_counts_in_the_family() {
        let (strong, clear) = (known(9.0), known(1.8));
        let member = |primary, known, withheld| Member {
            primary,
            alpha: 0.05,
            known,
            withheld,
        };
        let judged = judge(&[
            member(true, Some((&strong as &dyn Inference, ABOVE_ZERO)), false),
            member(false, None, false),
            member(false, Some((&clear as &dyn Inference, ABOVE_ZERO)), false),
            member(false, Some((&strong as &dyn Inference, ABOVE_ZERO)), true),
        ]);
        assert_eq!(judged[1].verdict, Verdict::Refused);
        // p 0.036 would pass alone, but not at 0.05 / 3.
        assert_eq!(
            (judged[2].alone, judged[2].verdict),
            (Verdict::Supported, Verdict::Undecided)
        );
        assert_eq!(judged[3].verdict, Verdict::Undecided);
    }

    #[test]
    fn a_primary_that_is_refused_closes_the_gate() {
        let strong = known(9.0);
        let judged = judge(&[
            Member {
                primary: true,
                alpha: 0.05,
                known: None,
                withheld: false,
            },
            Member {
                primary: false,
                alpha: 0.05,
                known: Some((&strong, ABOVE_ZERO)),
                withheld: false,
            },
        ]);
        assert_eq!(
            (judged[0].verdict, judged[1].verdict),
            (Verdict::Refused, Verdict::Undecided)
        );
    }
}
