//! Invented figures of the laboratory over time.

use super::methods::{sampled, words};
use super::{Noise, consistency};
use doughtrace::chart::*;

pub fn control_chart() -> ControlChart {
    let mut noise = Noise(137);
    let n = 40;
    let values: Vec<f64> = (0..n)
        .map(|i| {
            let drift = if i >= 28 { 7.0 } else { 0.0 };
            let spike = if i == 19 { 17.0 } else { 0.0 };
            500.0 + 3.4 * (noise.next() + noise.next()) + drift + spike
        })
        .collect();
    let (lambda, s) = (0.2, 3.9);
    let mut mean = Vec::new();
    let mut last = 500.0;
    for value in &values {
        last += lambda * (value - last);
        mean.push(last);
    }
    let width = |i: usize| {
        let share = 1.0 - (1.0f64 - lambda).powi(2 * (i as i32 + 1));
        2.7 * s * (lambda / (2.0 - lambda) * share).sqrt()
    };
    let (mut up, mut down) = (Vec::new(), Vec::new());
    let (mut high, mut low) = (0.0f64, 0.0f64);
    for value in &values {
        let z = (value - 500.0) / s;
        high = (high + z - 0.5).max(0.0);
        low = (low + z + 0.5).min(0.0);
        up.push(high);
        down.push(low);
    }
    let first = |over: &dyn Fn(usize) -> bool| (20..n).find(|i| over(*i));
    let mut signals = vec![ControlSignal {
        panel: ControlPanel::Individuals,
        index: 19,
        label: "beyond 3 s".into(),
    }];
    if let Some(index) = first(&|i| mean[i] > 500.0 + width(i)) {
        signals.push(ControlSignal {
            panel: ControlPanel::Ewma,
            index,
            label: "mean has moved up".into(),
        });
    }
    if let Some(index) = first(&|i| i > 26 && up[i] > 5.0) {
        signals.push(ControlSignal {
            panel: ControlPanel::Cusum,
            index,
            label: "sum above its limit: shift since 3 March".into(),
        });
    }
    ControlChart {
        words: words(
            "Instrument 2 reads 7 FU high since 3 March",
            "reference flour Saltmarrow R (invented) on mixer 2 · 40 runs from 5 January to 24 March",
            "40 runs of 40 doughs; limits from the first 19 runs, frozen on 2 February; EWMA 0.2, CUSUM k 0.5, h 5; results 1f2e3d4c5b6a … 7a8b9c0d1e2f",
        ),
        x_label: "date of the run".into(),
        y_label: "consistency / FU".into(),
        names: (0..n)
            .map(|i| {
                let day = 5 + 2 * i;
                match day {
                    1..=31 => format!("{day} Jan"),
                    32..=59 => format!("{} Feb", day - 31),
                    _ => format!("{} Mar", day - 59),
                }
            })
            .collect(),
        limits: ControlLimits {
            centre: 500.0,
            lower: vec![500.0 - 3.0 * s; n],
            upper: vec![500.0 + 3.0 * s; n],
        },
        baseline: Some((0, 18)),
        ewma: Some((
            mean,
            ControlLimits {
                centre: 500.0,
                lower: (0..n).map(|i| 500.0 - width(i)).collect(),
                upper: (0..n).map(|i| 500.0 + width(i)).collect(),
            },
        )),
        cusum: Some(Cusum {
            high: up,
            low: down,
            limit: 5.0,
        }),
        values,
        signals,
        lots: vec![(14, "lot R-7, overlap of 3 runs".into())],
    }
}

pub fn small_multiples(count: usize) -> SmallMultiples {
    let mut noise = Noise(139);
    let runs = (0..count)
        .map(|i| {
            let (treatment, peak) = [("spiral", 5.2), ("two-arm", 6.4), ("high-speed", 3.1)][i % 3];
            let peak = peak + 0.6 * noise.next();
            let level = 18.0 * noise.next();
            let mut curve = sampled(0.0, 20.0, 240, |t| {
                consistency(t, peak) + level * (1.0 - (-t).exp())
            });
            curve.y.iter_mut().for_each(|y| *y += 5.0 * noise.next());
            Multiple {
                name: format!("K-{:02}", i + 1),
                treatment: treatment.into(),
                mark: Some((peak, consistency(peak, peak) + level, Bound::Exact)),
                note: if i == 10 {
                    "bowl 32.1 °C".into()
                } else {
                    format!("{peak:.1} min")
                },
                rejected: i == 10,
                curve,
            }
        })
        .collect();
    SmallMultiples {
        words: words(
            "Every mixing run of the day",
            "flour Saltmarrow 40 % wholemeal (invented) · day 2 · development time below each name",
            "runs in the order of the day; results 5d4c3b2a1f0e … 8e7d6c5b4a39",
        ),
        x_label: "time / min".into(),
        y_label: "consistency / FU".into(),
        common: Series {
            name: "mean of the day".into(),
            ..sampled(0.0, 20.0, 120, |t| consistency(t, 5.0))
        },
        runs,
    }
}

pub fn delivery_limits() -> DeliveryLimits {
    let strip = |metric: &str,
                 value,
                 expanded,
                 limits: (Option<f64>, Option<f64>),
                 guard,
                 decision,
                 label: &str| LimitStrip {
        metric: metric.into(),
        sample: "delivery 118".into(),
        value,
        expanded,
        lower: limits.0,
        upper: limits.1,
        guard,
        decision,
        label: label.into(),
        bound: Bound::Exact,
    };
    DeliveryLimits {
        words: words(
            "Delivery 118 against the agreed limits",
            "flour Saltmarrow 40 % wholemeal (invented) · limits set by the bakery's quality lead, edition 3",
            "4 doughs in 2 blocks; guard band = expanded uncertainty (k = 2); results 2b3c4d5e6f70 … 1a2b3c4d5e6f",
        ),
        strips: vec![
            strip(
                "water absorption / %",
                62.4,
                0.4,
                (Some(61.0), Some(64.0)),
                0.4,
                Delivery::Accept,
                "accept: 62.4 % ± 0.4",
            ),
            strip(
                "development time / min",
                6.2,
                0.3,
                (Some(4.5), None),
                0.3,
                Delivery::Accept,
                "accept: 6.2 min ± 0.3",
            ),
            strip(
                "softening, 12 min / FU",
                88.0,
                6.0,
                (None, Some(85.0)),
                6.0,
                Delivery::Between,
                "between: 88 FU ± 6",
            ),
            strip(
                "maximum resistance / EU",
                228.0,
                9.0,
                (Some(250.0), Some(350.0)),
                9.0,
                Delivery::Reject,
                "reject: 228 EU ± 9",
            ),
        ],
    }
}
