//! The maximum of a log-likelihood: by Newton's method with known curvature, or by a quasi-Newton
//! method with differences.

use nalgebra::{DMatrix, DVector};

/// A log-likelihood where it stands.
pub(crate) struct Local {
    /// Its value.
    pub value: f64,
    /// Its slope.
    pub gradient: DVector<f64>,
    /// Its curvature, negated: observed or expected information.
    pub information: DMatrix<f64>,
}

/// Where a log-likelihood is largest.
pub(crate) struct Maximum {
    /// The place.
    pub at: Vec<f64>,
    /// What it looks like there.
    pub local: Local,
    /// Whether the steps became as small as rounding allows.
    pub converged: bool,
}

/// Adds `weight · row rowᵀ` to an information.
pub(crate) fn add_square(information: &mut DMatrix<f64>, row: &[f64], weight: f64) {
    for (i, a) in row.iter().enumerate() {
        if a.abs() > 0.0 {
            for (j, b) in row.iter().enumerate() {
                information[(i, j)] += weight * a * b;
            }
        }
    }
}

/// Returns the solution of `information · step = gradient`; where the information has no inverse,
/// its diagonal is raised until it has.
fn newton_step(information: &DMatrix<f64>, gradient: &DVector<f64>) -> Option<DVector<f64>> {
    let largest = information.diagonal().amax();
    let mut raise = 0.0;
    for _ in 0..12 {
        let mut raised = information.clone();
        for i in 0..raised.nrows() {
            raised[(i, i)] += raise * largest;
        }
        let step = raised.cholesky().map(|c| c.solve(gradient));
        if let Some(step) = step.filter(|s| s.iter().all(|v| v.is_finite())) {
            return Some(step);
        }
        raise = if raise > 0.0 { 10.0 * raise } else { 1e-12 };
    }
    None
}

/// Returns the maximum of a concave (or penalised) log-likelihood by Newton's method with halved
/// steps. The parameter `held` stays where it starts. `evaluate` gives `None` outside the domain.
///
/// `None` when the start lies outside, or no direction can be found.
pub(crate) fn maximize(
    start: &[f64],
    held: Option<usize>,
    evaluate: impl Fn(&[f64]) -> Option<Local>,
) -> Option<Maximum> {
    let mut at = start.to_vec();
    let mut local = evaluate(&at)?;
    let mut converged = false;
    for _ in 0..200 {
        let mut information = local.information.clone();
        let mut gradient = local.gradient.clone();
        if let Some(k) = held {
            information.row_mut(k).fill(0.0);
            information.column_mut(k).fill(0.0);
            information[(k, k)] = 1.0;
            gradient[k] = 0.0;
        }
        let step = newton_step(&information, &gradient)?;
        let size = 1.0 + local.value.abs();
        let rise = step.dot(&gradient);
        if rise <= 1e-15 * size {
            converged = true;
            // The last step rises by less than rounding shows, but lands closer.
            let last: Vec<f64> = at.iter().zip(&step).map(|(a, s)| a + s).collect();
            if let Some(found) = evaluate(&last) {
                at = last;
                local = found;
            }
            break;
        }
        let Some((next, found)) = halved(&at, &step, local.value, &evaluate) else {
            converged = rise <= 1e-9 * size;
            break;
        };
        at = next;
        local = found;
    }
    Some(Maximum {
        at,
        local,
        converged,
    })
}

/// Returns the first of the step, its half, its quarter and so on that goes up.
fn halved(
    at: &[f64],
    step: &DVector<f64>,
    value: f64,
    evaluate: impl Fn(&[f64]) -> Option<Local>,
) -> Option<(Vec<f64>, Local)> {
    let mut share = 1.0;
    for _ in 0..40 {
        let next: Vec<f64> = at.iter().zip(step).map(|(a, s)| a + share * s).collect();
        if let Some(found) = evaluate(&next).filter(|l| l.value > value) {
            return Some((next, found));
        }
        share *= 0.5;
    }
    None
}

/// Returns the slope of `value` at `at` by central differences.
fn slope(at: &[f64], value: &impl Fn(&[f64]) -> f64) -> DVector<f64> {
    let mut moved = at.to_vec();
    DVector::from_fn(at.len(), |i, _| {
        let step = 1e-5 * at[i].abs().max(1.0);
        moved[i] = at[i] + step;
        let above = value(&moved);
        moved[i] = at[i] - step;
        let below = value(&moved);
        moved[i] = at[i];
        (above - below) / (2.0 * step)
    })
}

/// Returns the maximum of a smooth function by the method of Broyden, Fletcher, Goldfarb and
/// Shanno (1970), from `start` and a first guess of the inverse of the negated curvature. Outside
/// its domain the function is −∞.
pub(crate) fn maximize_by_differences(
    start: &[f64],
    guess: DMatrix<f64>,
    value: impl Fn(&[f64]) -> f64,
) -> Option<(Vec<f64>, f64, bool)> {
    let mut at = DVector::from_column_slice(start);
    let mut height = value(start);
    if !height.is_finite() {
        return None;
    }
    let mut gradient = slope(start, &value);
    let mut inverse = guess;
    for _ in 0..300 {
        let mut step = &inverse * &gradient;
        let mut rise = step.dot(&gradient);
        if rise.is_nan() || rise <= 0.0 {
            inverse = DMatrix::identity(at.len(), at.len());
            step = gradient.clone();
            rise = step.dot(&gradient);
        }
        if rise < 1e-11 * (1.0 + height.abs()) {
            return Some((at.iter().copied().collect(), height, true));
        }
        let Some((next, found)) = climbed(&at, &step, height, rise, &value) else {
            return Some((at.iter().copied().collect(), height, rise < 1e-7));
        };
        let next_gradient = slope(next.as_slice(), &value);
        update(&mut inverse, &(&next - &at), &(&gradient - &next_gradient));
        at = next;
        height = found;
        gradient = next_gradient;
    }
    Some((at.iter().copied().collect(), height, false))
}

/// Returns the first of the step, its half and so on that goes up by a fair share of what the
/// slope promises.
fn climbed(
    at: &DVector<f64>,
    step: &DVector<f64>,
    height: f64,
    rise: f64,
    value: &impl Fn(&[f64]) -> f64,
) -> Option<(DVector<f64>, f64)> {
    let mut share = 1.0;
    for _ in 0..40 {
        let next = at + share * step;
        let found = value(next.as_slice());
        if found > height + 1e-4 * share * rise {
            return Some((next, found));
        }
        share *= 0.5;
    }
    None
}

/// Takes what one step showed of the curvature into `inverse`.
fn update(inverse: &mut DMatrix<f64>, moved: &DVector<f64>, fallen: &DVector<f64>) {
    let along = moved.dot(fallen);
    if along.is_nan() || along <= 1e-14 * moved.norm() * fallen.norm() {
        return;
    }
    let rho = 1.0 / along;
    let identity = DMatrix::<f64>::identity(moved.len(), moved.len());
    let left = &identity - rho * moved * fallen.transpose();
    let right = &identity - rho * fallen * moved.transpose();
    *inverse = &left * &*inverse * right + rho * moved * moved.transpose();
}

/// Returns the negated curvature of `value` at `at` by second differences.
pub(crate) fn information_by_differences(
    at: &[f64],
    value: impl Fn(&[f64]) -> f64,
) -> DMatrix<f64> {
    let p = at.len();
    let steps: Vec<f64> = at.iter().map(|a| 1e-3 * a.abs().max(1.0)).collect();
    let moved = |changes: &[(usize, f64)]| {
        let mut place = at.to_vec();
        for (i, sign) in changes {
            place[*i] += sign * steps[*i];
        }
        value(&place)
    };
    let centre = value(at);
    let mut information = DMatrix::zeros(p, p);
    for i in 0..p {
        // Fourth-order differences on the diagonal: the step need not be tiny.
        let near = moved(&[(i, 1.0)]) + moved(&[(i, -1.0)]);
        let far = moved(&[(i, 2.0)]) + moved(&[(i, -2.0)]);
        let second = (16.0 * near - far - 30.0 * centre) / 12.0;
        information[(i, i)] = -second / (steps[i] * steps[i]);
        for j in 0..i {
            let corner = |a: f64, b: f64| moved(&[(i, a), (j, b)]);
            let mixed =
                corner(1.0, 1.0) - corner(1.0, -1.0) - corner(-1.0, 1.0) + corner(-1.0, -1.0);
            let both = -mixed / (4.0 * steps[i] * steps[j]);
            information[(i, j)] = both;
            information[(j, i)] = both;
        }
    }
    information
}

/// Returns where `fall`, which is below `limit` at `from` and does not fall on the way out,
/// reaches it: going out by `stride` and twice as far each time, then by the secant with halved
/// ends (Dowell and Jarratt 1971, BIT 11:168). An infinite value when it has not by some 64
/// strides. `fall` gives `None` where it cannot be computed.
pub(crate) fn reach(
    from: f64,
    stride: f64,
    limit: f64,
    fall: impl Fn(f64) -> Option<f64>,
) -> Option<f64> {
    let mut inside = (from, -limit);
    let mut outside = None;
    let mut step = stride;
    for _ in 0..7 {
        let place = inside.0 + step;
        let excess = fall(place)? - limit;
        if excess > 0.0 {
            outside = Some((place, excess));
            break;
        }
        inside = (place, excess);
        step *= 2.0;
    }
    let Some(mut outside) = outside else {
        return Some(stride.signum() * f64::INFINITY);
    };
    let mut last_side = 0;
    for _ in 0..100 {
        let slope = (outside.1 - inside.1) / (outside.0 - inside.0);
        let place = inside.0 - inside.1 / slope;
        let excess = fall(place)? - limit;
        if excess.abs() < 1e-8 || (outside.0 - inside.0).abs() < 1e-10 * (1.0 + place.abs()) {
            return Some(place);
        }
        let side = if excess > 0.0 { 1 } else { -1 };
        if side > 0 {
            outside = (place, excess);
            inside.1 *= if last_side == side { 0.5 } else { 1.0 };
        } else {
            inside = (place, excess);
            outside.1 *= if last_side == side { 0.5 } else { 1.0 };
        }
        last_side = side;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_maximum_of_a_quadratic_is_found_and_its_fall_measured() {
        // −(x−1)² − 2(y+3)²: analytic. Held at x = 4, the maximum is at y = −3.
        let evaluate = |at: &[f64]| {
            let (x, y) = (at[0] - 1.0, at[1] + 3.0);
            Some(Local {
                value: -x * x - 2.0 * y * y,
                gradient: DVector::from_vec(vec![-2.0 * x, -4.0 * y]),
                information: DMatrix::from_diagonal(&DVector::from_vec(vec![2.0, 4.0])),
            })
        };
        let free = maximize(&[5.0, 5.0], None, evaluate);
        assert!(free.is_some_and(|m| (m.at[0] - 1.0).abs() < 1e-12 && m.converged));
        let held = maximize(&[4.0, 5.0], Some(0), evaluate);
        assert!(
            held.is_some_and(|m| (m.at[0] - 4.0).abs() < 1e-15 && (m.at[1] + 3.0).abs() < 1e-12)
        );
        let value = |at: &[f64]| evaluate(at).map_or(f64::NAN, |l| l.value);
        let by_differences = maximize_by_differences(&[5.0, 5.0], DMatrix::identity(2, 2), value);
        assert!(by_differences.is_some_and(|(at, ..)| (at[1] + 3.0).abs() < 1e-5));
        let information = information_by_differences(&[1.0, -3.0], value);
        assert!((information[(1, 1)] - 4.0).abs() < 1e-6 && information[(0, 1)].abs() < 1e-6);
        let end = reach(1.0, -0.3, 9.0, |x| Some((x - 1.0) * (x - 1.0)));
        assert!(end.is_some_and(|end| (end + 2.0).abs() < 1e-8));
        assert_eq!(reach(0.0, 1.0, 2.0, |_| Some(1.0)), Some(f64::INFINITY));
    }
}
