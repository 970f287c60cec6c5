//! Dots side by side: where values coincide, dots step aside so that each stays visible.

/// Returns a horizontal offset for each dot at height `heights[i]` (page pixels), such that dots of
/// `radius` stay apart within ±`half_room` where they can. Deterministic: no random jitter.
pub(super) fn offsets(heights: &[f64], radius: f64, half_room: f64) -> Vec<f64> {
    let apart = 2.0 * radius + 2.0;
    let mut order: Vec<usize> = (0..heights.len()).collect();
    order.sort_by(|a, b| heights[*a].total_cmp(&heights[*b]).then(a.cmp(b)));
    let steps = ((half_room - radius) / apart).floor().max(0.0) as i32;
    let mut placed: Vec<(f64, f64)> = Vec::with_capacity(heights.len());
    let mut offsets = vec![0.0; heights.len()];
    for index in order {
        let height = heights[index];
        let tries = (0..=steps).flat_map(|step| [step, -step]);
        let clear = |x: f64| {
            placed
                .iter()
                .rev()
                .all(|&(px, py)| (px - x).abs() >= apart - 1e-9 || (py - height).abs() >= apart)
        };
        let crowd = |x: f64| {
            let near = |p: &&(f64, f64)| (p.0 - x).abs() < apart && (p.1 - height).abs() < apart;
            placed.iter().filter(near).count()
        };
        let x = tries
            .clone()
            .map(|step| f64::from(step) * apart)
            .find(|x| clear(*x))
            .or_else(|| {
                tries
                    .map(|s| f64::from(s) * apart)
                    .min_by_key(|x| crowd(*x))
            })
            .unwrap_or(0.0);
        placed.push((x, height));
        offsets[index] = x;
    }
    offsets
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_lie_side_by_side() {
        let mut found = offsets(&[10.0; 5], 4.0, 40.0);
        found.sort_by(f64::total_cmp);
        assert_eq!(found, [-20.0, -10.0, 0.0, 10.0, 20.0]);
        assert_eq!(offsets(&[10.0, 50.0], 4.0, 40.0), [0.0, 0.0]);
    }
}
