//! Where a stretched piece tears: the place from which a trace falls at once.

use super::line::{Line, fit_line};

/// A trace over an increasing abscissa.
#[derive(Debug, Clone, Copy)]
pub struct Trace<'a> {
    /// Abscissa, mm.
    pub x: &'a [f64],
    /// Ordinate; as long as the abscissa.
    pub y: &'a [f64],
    /// Standard deviation of the noise of the ordinate.
    pub noise: f64,
    /// Greatest ordinate.
    pub top: f64,
}

/// What the share lost at a tear is a share of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShareOf {
    /// The greatest ordinate of the trace.
    Maximum,
    /// The ordinate from which it falls.
    Level,
}

/// How a tear shows.
#[derive(Debug, Clone, Copy)]
pub struct TearRule {
    /// Share that is lost.
    pub share: f64,
    /// What it is a share of.
    pub of: ShareOf,
    /// Length within which it is lost, mm.
    pub within: f64,
    /// Length over which the trace is read as straight before it, mm.
    pub straight: f64,
    /// Last readings left out of that line: they may be torn already, mm.
    pub clear: f64,
    /// Whether a fall counts only if the trace never comes back above the middle of it.
    pub sustained: bool,
}

/// Where a trace tore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tear {
    /// Best estimate of the place, mm.
    pub at: f64,
    /// Last reading before it, mm.
    pub low: f64,
    /// First reading after it, mm.
    pub high: f64,
    /// Index of the last reading before it.
    pub last: usize,
    /// Ordinate there, on the line before the tear.
    pub height: f64,
}

/// Length over which a fall is compared with the slowest that is a tear, mm (project choice).
const NEAR_MM: f64 = 1.0;

/// Returns the first place at or after reading `from` from which the trace falls as the rule says:
/// where it leaves its own line. `None` when it does not tear.
pub fn find_tear(trace: &Trace<'_>, from: usize, rule: &TearRule) -> Option<Tear> {
    let n = trace.x.len().min(trace.y.len());
    let (start, torn) =
        (from..n).find_map(|k| torn_within(trace, k, rule).map(|torn| (k, torn)))?;
    let roughly = last_slow(trace, (start, torn), rule);
    let clear = trace
        .x
        .partition_point(|x| *x < trace.x[roughly] - rule.clear);
    let clear = clear.clamp(from.min(start), roughly);
    let line = line_before(trace, (from, clear), rule.straight);
    let tolerance = (4.0 * trace.noise).max(0.01 * trace.top);
    let last = last_on(trace, line, (clear, roughly + 1), tolerance);
    let before = |x: f64| line.map_or(trace.y[last], |line| line.at(x));
    let (low, high) = (trace.x[last], trace.x[last + 1]);
    let at = tear_start(trace, last + 1, before).map_or(low, |at| at.clamp(low.min(high), high));
    Some(Tear {
        at,
        low,
        high,
        last,
        height: before(at),
    })
}

/// Returns the level below which no tear by share of the level is looked for: a twentieth of the
/// greatest ordinate, or ten times the noise (project choice).
pub fn least_level(top: f64, noise: f64) -> f64 {
    (0.05 * top).max(10.0 * noise)
}

/// Returns how much is lost at a tear from reading `k`.
fn fall_from(trace: &Trace<'_>, k: usize, rule: &TearRule) -> f64 {
    match rule.of {
        ShareOf::Maximum => rule.share * trace.top,
        ShareOf::Level => rule.share * trace.y[k],
    }
}

/// Returns the reading by which the trace has torn, if it tears at reading `k`.
fn torn_within(trace: &Trace<'_>, k: usize, rule: &TearRule) -> Option<usize> {
    let fall = fall_from(trace, k, rule);
    // A level near zero has lost everything already: what noise makes of it is no tear.
    let least = match rule.of {
        ShareOf::Maximum => fall,
        ShareOf::Level => least_level(trace.top, trace.noise),
    };
    if trace.y[k] <= least {
        return None;
    }
    let torn = (k + 1..trace.x.len())
        .take_while(|m| trace.x[*m] - trace.x[k] <= rule.within)
        .find(|m| trace.y[k] - trace.y[*m] > fall)?;
    let middle = trace.y[k] - 0.5 * fall;
    let stays = || trace.y[torn..].iter().all(|y| *y < middle);
    (!rule.sustained || stays()).then_some(torn)
}

/// Returns the last of the readings `start..torn` before the trace falls, within 1 mm, by half as
/// much as a tear asks of that length and by more than the noise.
fn last_slow(trace: &Trace<'_>, (start, torn): (usize, usize), rule: &TearRule) -> usize {
    let top = match rule.of {
        ShareOf::Maximum => trace.top,
        ShareOf::Level => trace.y[start],
    };
    let rate = rule.share / rule.within;
    let limit = (0.5 * rate * top).max(7.0 * trace.noise);
    let falls = |i: &usize| {
        let before = (start..*i).rev();
        let near = before.take_while(|j| trace.x[*i] - trace.x[*j] <= NEAR_MM || *j + 1 == *i);
        near.map(|j| trace.y[j]).fold(f64::MIN, f64::max) - trace.y[*i] > limit
    };
    (start + 1..=torn).find(falls).map_or(start, |i| i - 1)
}

/// Returns the line through the `length` mm up to reading `to`, from reading `from` at the earliest.
fn line_before(trace: &Trace<'_>, (from, to): (usize, usize), length: f64) -> Option<Line> {
    let begin = trace.x.partition_point(|x| *x < trace.x[to] - length);
    let begin = begin.clamp(from.min(to), to);
    fit_line(&trace.x[begin..=to], &trace.y[begin..=to])
}

/// Returns the last of the readings `from..to` up to which none lies more than `tolerance` below
/// the line.
fn last_on(
    trace: &Trace<'_>,
    line: Option<Line>,
    (from, to): (usize, usize),
    tolerance: f64,
) -> usize {
    let level = |i: usize| line.map_or(trace.y[from], |line| line.at(trace.x[i]));
    (from..to)
        .take_while(|i| trace.y[*i] >= level(*i) - tolerance)
        .last()
        .unwrap_or(from)
}

/// Returns where the steep line of the tear, from reading `first` on, meets the line `before` it;
/// `None` when the tear shows fewer than two readings.
fn tear_start(trace: &Trace<'_>, first: usize, before: impl Fn(f64) -> f64) -> Option<f64> {
    let (x, y) = (trace.x, trace.y);
    let floor = 0.25 * before(x[first]);
    let second = (first + 1..x.len()).take_while(|i| y[*i] >= floor).last()?;
    let fall = y[first] - y[second];
    let run = x[second] - x[first];
    if fall <= 10.0 * trace.noise || fall <= 0.0 || run <= 0.0 {
        return None;
    }
    let slope_before = (before(x[second]) - before(x[first])) / run;
    let gap = before(x[first]) - y[first];
    Some(x[first] - gap / (fall / run + slope_before).max(fall / run * 0.5))
}

/// Returns the greatest loss within `length` between readings `from` and `last`, as a share of the
/// trace's maximum with the reading it starts at, when it exceeds `least`.
pub fn sudden_loss(
    trace: &Trace<'_>,
    (from, last): (usize, usize),
    length: f64,
    least: f64,
) -> Option<(usize, f64)> {
    let mut worst: Option<(usize, f64)> = None;
    for i in from..=last {
        let within = (i + 1..=last).take_while(|j| trace.x[*j] - trace.x[i] <= length);
        let lowest = within.map(|j| trace.y[j]).fold(f64::MAX, f64::min);
        let loss = (trace.y[i] - lowest) / trace.top;
        if loss > least && worst.is_none_or(|(_, most)| loss > most) {
            worst = Some((i, loss));
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULE: TearRule = TearRule {
        share: 0.3,
        of: ShareOf::Level,
        within: 2.0,
        straight: 2.0,
        clear: 0.5,
        sustained: true,
    };

    fn tear(x: &[f64], y: &[f64]) -> Option<Tear> {
        let trace = Trace {
            x,
            y,
            noise: 0.0,
            top: y.iter().copied().fold(f64::MIN, f64::max),
        };
        find_tear(&trace, 0, &RULE)
    }

    #[test]
    fn a_sustained_fall_is_a_tear_and_a_dip_is_not() {
        // Analytic: 10 up to 50 mm, a dip of one reading at 20 mm, nought from 51 mm on.
        let x: Vec<f64> = (0..60).map(f64::from).collect();
        let mut y: Vec<f64> = x
            .iter()
            .map(|x| if *x <= 50.0 { 10.0 } else { 0.0 })
            .collect();
        y[20] = 2.0;
        let found = tear(&x, &y);
        assert!(found.is_some_and(|t| t.last == 50 && (t.height - 10.0).abs() < 1e-9));
        assert_eq!(tear(&x[..51], &y[..51]), None);
        let slow: Vec<f64> = x.iter().map(|x| 10.0 * libm::exp(-x / 20.0)).collect();
        assert_eq!(tear(&x, &slow), None);
    }

    #[test]
    fn the_greatest_loss_before_the_end_is_found() {
        let x: Vec<f64> = (0..30).map(f64::from).collect();
        let mut y: Vec<f64> = x.iter().map(|x| 10.0 + x).collect();
        y[12] = 15.0;
        let trace = Trace {
            x: &x,
            y: &y,
            noise: 0.0,
            top: 39.0,
        };
        let loss = sudden_loss(&trace, (0, 29), 2.0, 0.1);
        assert!(loss.is_some_and(|(at, share)| at == 11 && (share - 6.0 / 39.0).abs() < 1e-12));
        assert_eq!(sudden_loss(&trace, (15, 29), 2.0, 0.1), None);
    }
}
