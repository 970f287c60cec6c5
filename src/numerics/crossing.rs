//! Where a curve passes a level, by linear interpolation between points.

/// A passage of a level: when, and the index of the first point on the far side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// Interpolated abscissa.
    pub at: f64,
    /// Index of the first point past the level.
    pub index: usize,
}

fn between(x: &[f64], y: &[f64], index: usize, level: f64) -> f64 {
    let (x0, x1, y0, y1) = (x[index - 1], x[index], y[index - 1], y[index]);
    let rise = y1 - y0;
    if rise.abs() <= f64::MIN_POSITIVE {
        x1
    } else {
        x0 + (x1 - x0) * ((level - y0) / rise)
    }
}

/// Returns whether `y`, from `index` on, keeps to one side of the level for `hold` of abscissa;
/// `None` when the data end before that.
fn holds(
    x: &[f64],
    y: &[f64],
    index: usize,
    hold: f64,
    keeps: impl Fn(f64) -> bool,
) -> Option<bool> {
    for j in index..x.len() {
        if x[j] - x[index] >= hold {
            return Some(true);
        }
        if !keeps(y[j]) {
            return Some(false);
        }
    }
    if hold <= 0.0 { Some(true) } else { None }
}

/// Returns the first time from index `from` on that `y` rises to `level` or above and stays there
/// for at least `hold`.
pub fn first_rise_above_for(
    x: &[f64],
    y: &[f64],
    level: f64,
    from: usize,
    hold: f64,
) -> Option<Crossing> {
    (from.max(1)..x.len())
        .filter(|&i| y[i - 1] < level && y[i] >= level)
        .find(|&i| holds(x, y, i, hold, |v| v >= level) == Some(true))
        .map(|index| Crossing {
            at: between(x, y, index, level),
            index,
        })
}

/// Returns the first time from index `from` on that `y` falls below `level` and stays there for at
/// least `hold`. A fall that the data end too early to confirm is not returned.
pub fn first_fall_below_for(
    x: &[f64],
    y: &[f64],
    level: f64,
    from: usize,
    hold: f64,
) -> Option<Crossing> {
    (from.max(1)..x.len())
        .filter(|&i| y[i - 1] >= level && y[i] < level)
        .find(|&i| holds(x, y, i, hold, |v| v < level) == Some(true))
        .map(|index| Crossing {
            at: between(x, y, index, level),
            index,
        })
}

/// Returns the last time from index `from` on that `y` falls below `level`, never to return.
/// `None` when the last point is not below, or no point from `from` on was above.
pub fn last_fall_below(x: &[f64], y: &[f64], level: f64, from: usize) -> Option<Crossing> {
    if y.last().is_none_or(|&last| last >= level) {
        return None;
    }
    (from.max(1)..x.len())
        .rev()
        .find(|&i| y[i - 1] >= level && y[i] < level)
        .map(|index| Crossing {
            at: between(x, y, index, level),
            index,
        })
}

/// Returns `y` at abscissa `at` by linear interpolation; `None` outside the data.
pub fn value_at(x: &[f64], y: &[f64], at: f64) -> Option<f64> {
    let (first, last) = (*x.first()?, *x.last()?);
    if at < first || at > last {
        return None;
    }
    let index = x.partition_point(|&v| v < at);
    if index == 0 {
        return y.first().copied();
    }
    let (x0, x1, y0, y1) = (x[index - 1], x[index], y[index - 1], y[index]);
    let span = x1 - x0;
    Some(if span <= 0.0 {
        y1
    } else {
        y0 + (y1 - y0) * ((at - x0) / span)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const X: [f64; 7] = [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0];

    #[test]
    fn crossings_are_interpolated() {
        let y = [0.0, 4.0, 8.0, 8.0, 6.0, 2.0, 0.0];
        let rise = first_rise_above_for(&X, &y, 5.0, 0, 10.0);
        assert_eq!(rise, Some(Crossing { at: 12.5, index: 2 }));
        let fall = last_fall_below(&X, &y, 5.0, 0);
        assert_eq!(fall, Some(Crossing { at: 42.5, index: 5 }));
    }

    #[test]
    fn a_short_excursion_does_not_count() {
        let y = [0.0, 6.0, 0.0, 0.0, 6.0, 6.0, 6.0];
        assert_eq!(
            first_rise_above_for(&X, &y, 5.0, 0, 11.0).map(|c| c.index),
            Some(4)
        );
        let y = [6.0, 4.0, 6.0, 6.0, 4.0, 4.0, 4.0];
        assert_eq!(
            first_fall_below_for(&X, &y, 5.0, 0, 11.0).map(|c| c.index),
            Some(4)
        );
    }

    #[test]
    fn a_fall_the_record_cannot_confirm_is_not_reported() {
        let y = [6.0, 6.0, 6.0, 6.0, 6.0, 6.0, 4.0];
        assert_eq!(first_fall_below_for(&X, &y, 5.0, 0, 10.0), None);
        assert_eq!(last_fall_below(&X, &y, 5.0, 0).map(|c| c.index), Some(6));
    }

    #[test]
    fn value_between_points_and_outside() {
        let y = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        assert_eq!(value_at(&X, &y, 25.0), Some(2.5));
        assert_eq!(value_at(&X, &y, 0.0), Some(0.0));
        assert_eq!(value_at(&X, &y, 60.1), None);
    }
}
