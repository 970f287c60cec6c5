//! Maxima: the highest point, and every maximum that stands out from its surroundings.

/// Returns the index of the largest value within `range` for which `allowed` holds; the earliest
/// when several are equal.
pub fn argmax(
    y: &[f64],
    range: std::ops::Range<usize>,
    allowed: impl Fn(usize) -> bool,
) -> Option<usize> {
    let mut best: Option<usize> = None;
    for i in range.start..range.end.min(y.len()) {
        if allowed(i) && best.is_none_or(|b| y[i] > y[b]) {
            best = Some(i);
        }
    }
    best
}

/// Returns the indices of all maxima in `range` that are separated from every other returned
/// maximum by a valley at least `depth` below the lower of the two, earliest first.
///
/// One pass with a running maximum and minimum: a maximum is confirmed once the curve has fallen
/// `depth` below it, and the next can only begin once the curve has risen `depth` from the valley
/// (the turning-point rule of range counting, ASTM E1049, with a threshold; from memory).
pub fn prominent_maxima(y: &[f64], range: std::ops::Range<usize>, depth: f64) -> Vec<usize> {
    let end = range.end.min(y.len());
    let mut found = Vec::new();
    if range.start >= end {
        return found;
    }
    let (mut top, mut bottom) = (range.start, range.start);
    let mut rising = true;
    for i in range.start..end {
        if rising {
            if y[i] > y[top] {
                top = i;
            }
            if y[top] - y[i] >= depth {
                found.push(top);
                rising = false;
                bottom = i;
            }
        } else {
            if y[i] < y[bottom] {
                bottom = i;
            }
            if y[i] - y[bottom] >= depth {
                rising = true;
                top = i;
            }
        }
    }
    // A last rise that the data end before confirming still holds a maximum.
    if rising && (found.is_empty() || y[top] - y[bottom] >= depth) {
        found.push(top);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_humps_count_only_with_a_deep_valley() {
        let y = [0.0, 50.0, 60.0, 45.0, 58.0, 30.0, 10.0];
        assert_eq!(prominent_maxima(&y, 0..7, 10.0), vec![2, 4]);
        assert_eq!(prominent_maxima(&y, 0..7, 20.0), vec![2]);
    }

    #[test]
    fn a_curve_that_rises_to_its_end_has_its_maximum_there() {
        assert_eq!(prominent_maxima(&[1.0, 2.0, 3.0], 0..3, 10.0), vec![2]);
        assert_eq!(prominent_maxima(&[], 0..0, 1.0), Vec::<usize>::new());
    }

    #[test]
    fn argmax_takes_the_earliest_allowed() {
        assert_eq!(argmax(&[1.0, 5.0, 5.0, 9.0], 0..4, |i| i != 3), Some(1));
        assert_eq!(argmax(&[1.0], 0..1, |_| false), None);
    }
}
