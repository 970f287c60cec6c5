//! Interval of a share.

/// 97.5 % point of the standard normal distribution.
const NORMAL_975: f64 = 1.959_963_984_540_054;

/// Returns the 95 % score interval of a share `share` seen in `count` independent trials
/// (Wilson 1927, J. Am. Stat. Assoc. 22:209). Stays within 0 and 1, and is not empty at either
/// end. `None` unless `count` is positive and the share lies in 0..=1.
pub fn wilson_interval(share: f64, count: usize) -> Option<(f64, f64)> {
    if count == 0 || !(0.0..=1.0).contains(&share) {
        return None;
    }
    let n = count as f64;
    let z2 = NORMAL_975 * NORMAL_975;
    let centre = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let spread = share * (1.0 - share) / n + z2 / (4.0 * n * n);
    let half = NORMAL_975 * spread.sqrt() / (1.0 + z2 / n);
    // Rounding must not push the share itself out of its interval.
    Some((
        (centre - half).clamp(0.0, share),
        (centre + half).clamp(share, 1.0),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_published_intervals() {
        // Newcombe 1998, Stat. Med. 17:857, table I, score method (from memory): 81/263 gives
        // 0.2553–0.3662, 15/148 0.0624–0.1605, 0/20 0–0.1611, 1/29 0.0061–0.1718.
        for (seen, n, low, high) in [
            (81.0, 263, 0.2553, 0.3662),
            (15.0, 148, 0.0624, 0.1605),
            (0.0, 20, 0.0, 0.1611),
            (1.0, 29, 0.0061, 0.1718),
        ] {
            let (l, h) = wilson_interval(seen / f64::from(n), n as usize).unwrap_or((9.0, 9.0));
            assert!(
                (l - low).abs() < 5e-5 && (h - high).abs() < 5e-5,
                "{seen}/{n}: {l} {h}"
            );
        }
        assert_eq!(wilson_interval(0.5, 0), None);
        assert_eq!(wilson_interval(1.5, 4), None);
    }
}
