//! Invented figures of a study: claims, models, grades, curves, agreement.

use super::methods::{sampled, words};
use super::{Noise, consistency};
use doughtrace::chart::*;
use doughtrace::record::Grade;

fn claim(
    sentence: &str,
    (estimate, low, high): (f64, f64, f64),
    margin: (Option<f64>, Option<f64>),
    verdict: Verdict,
    value_words: &str,
) -> ForestClaim {
    ForestClaim {
        sentence: sentence.into(),
        estimate: Some(estimate),
        interval: Some((low, high)),
        margin,
        verdict,
        verdict_words: match verdict {
            Verdict::Supported => "supported",
            Verdict::Contradicted => "contradicted",
            Verdict::Undecided => "undecided",
        }
        .into(),
        value_words: value_words.into(),
        note: "12 doughs in 4 blocks".into(),
        primary: false,
    }
}

pub fn claims_forest() -> ClaimsForest {
    use Verdict::{Contradicted, Supported, Undecided};
    let ratio = vec![
        ForestClaim {
            primary: true,
            ..claim(
                "Two-arm dough has at least 90 % of spiral's maximum resistance.",
                (0.972, 0.934, 1.011),
                (Some(0.9), None),
                Supported,
                "0.972 (0.934 to 1.011)",
            )
        },
        claim(
            "High-speed dough has the same P/L as spiral, within 15 %.",
            (1.09, 0.98, 1.21),
            (Some(0.87), Some(1.15)),
            Undecided,
            "1.09 (0.98 to 1.21)",
        ),
        claim(
            "Two-arm mixing needs less than 70 % of spiral's energy.",
            (0.78, 0.74, 0.83),
            (None, Some(0.7)),
            Contradicted,
            "0.78 (0.74 to 0.83)",
        ),
    ];
    let water = vec![
        claim(
            "Two-arm takes at least 2 points more water at equal consistency.",
            (2.6, 2.1, 3.1),
            (Some(2.0), None),
            Supported,
            "2.6 % (2.1 to 3.1)",
        ),
        ForestClaim {
            estimate: None,
            interval: None,
            verdict_words: "not judged".into(),
            value_words: "no estimate".into(),
            note: "refused: only one block has high-speed doughs at a second water level".into(),
            ..claim(
                "High-speed takes at least 1 point more water at equal consistency.",
                (0.0, 0.0, 0.0),
                (Some(1.0), None),
                Undecided,
                "",
            )
        },
    ];
    ClaimsForest {
        words: words(
            "What the study shows",
            "two-arm and high-speed against spiral · 40 % wholemeal tin loaf of the Saltmarrow island (invented)",
            "36 doughs in 4 blocks; intervals 95 %, one-sided claims judged at 5 %; results 3d0981aa77c1 … f00c61ab9e42",
        ),
        panels: vec![
            ForestPanel {
                x_label: "ratio to spiral".into(),
                scale: ForestScale::Ratio,
                claims: ratio,
            },
            ForestPanel {
                x_label: "difference to spiral, water on flour of 14 % moisture / %".into(),
                scale: ForestScale::Difference,
                claims: water,
            },
        ],
    }
}

pub fn hydration_lines() -> HydrationLines {
    let mut noise = Noise(107);
    let mut group = |treatment: &str, at500: f64, slope: f64| {
        let line = sampled(58.0, 67.0, 40, |x| 500.0 + slope * (x - at500));
        let half = |x: f64| 4.0 + 1.2 * (x - 62.5f64).abs();
        RateGroup {
            treatment: treatment.into(),
            points: [59.0, 61.0, 63.0, 65.0, 66.5]
                .iter()
                .flat_map(|&x| [x, x + 0.15])
                .map(|x| RatePoint {
                    x,
                    y: 500.0 + slope * (x - at500) + 9.0 * noise.next(),
                    ..RatePoint::default()
                })
                .collect(),
            laws: vec![RateLaw {
                label: String::new(),
                lower: line
                    .x
                    .iter()
                    .zip(&line.y)
                    .map(|(x, y)| y - half(*x))
                    .collect(),
                upper: line
                    .x
                    .iter()
                    .zip(&line.y)
                    .map(|(x, y)| y + half(*x))
                    .collect(),
                line,
            }],
            readings: Vec::new(),
        }
    };
    let groups = vec![group("spiral", 61.4, -21.0), group("two-arm", 64.0, -21.0)];
    HydrationLines {
        words: words(
            "Water at equal consistency",
            "flour Saltmarrow 40 % wholemeal (invented) · parallel lines by treatment",
            "20 doughs in 4 blocks; common slope −21.0 FU per % ± 0.9; results 0fa1b2c3d4e5 … 77aa90bc12de",
        ),
        x_label: "water on flour of 14 % moisture / %".into(),
        y_label: "consistency / FU".into(),
        groups,
        level: (500.0, "500 FU".into()),
        shifts: vec![Shift {
            from: 61.4,
            to: 64.0,
            interval: (63.5, 64.5),
            label: "two-arm takes 2.6 % more water (2.1 to 3.1)".into(),
        }],
        margin: Some(63.4),
        confidence: String::new(),
    }
}

pub fn paired_dots() -> PairedDots {
    let mut noise = Noise(109);
    let treatments = ["spiral", "two-arm", "high-speed"];
    let effect = [412.0, 398.0, 436.0];
    let blocks = (1..=6)
        .map(|block| {
            let level = 28.0 * noise.next();
            PairedBlock {
                name: format!("day {block}"),
                values: (0..3)
                    .map(|i| {
                        (block != 4 || i != 2).then(|| RatePoint {
                            y: effect[i] + level + 7.0 * noise.next(),
                            bound: if block == 5 && i == 2 {
                                Bound::Above
                            } else {
                                Bound::Exact
                            },
                            aside: block == 2 && i == 1,
                            ..RatePoint::default()
                        })
                    })
                    .collect(),
            }
        })
        .collect();
    let mean = |name: &str, mean: f64, half: f64, label: &str| MeanInterval {
        name: name.into(),
        mean,
        interval: (mean - half, mean + half),
        label: label.into(),
    };
    PairedDots {
        words: words(
            "Maximum resistance by block",
            "flour Saltmarrow 40 % wholemeal (invented) · rest 45 min",
            "17 doughs in 6 blocks, one missing, one set aside; results 90ab17c3dd01 … 5ce1f0a94b77",
        ),
        y_label: "maximum resistance / EU".into(),
        treatments: treatments.map(String::from).to_vec(),
        blocks,
        means: vec![
            mean("spiral", 412.0, 9.0, "412"),
            mean("two-arm", 398.0, 9.0, "398"),
            mean("high-speed", 436.0, 10.0, "436"),
        ],
        difference_label: "difference to spiral / EU".into(),
        differences: vec![
            mean("two-arm − spiral", -14.0, 11.0, "−14 (−25 to −3)"),
            mean("high-speed − spiral", 24.0, 12.0, "24 (12 to 36)"),
        ],
        margin: (Some(-41.0), Some(41.0)),
        confidence: String::new(),
    }
}

pub fn residuals() -> Residuals {
    let mut noise = Noise(113);
    let n = 36;
    let mut residuals: Vec<f64> = (0..n)
        .map(|_| (0..6).map(|_| noise.next()).sum::<f64>() / 1.41)
        .collect();
    residuals[7] = 3.4;
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| residuals[*a].total_cmp(&residuals[*b]));
    // Tukey's approximation of the normal quantile is good enough for an invented figure.
    let quantile = |rank: usize| {
        let p = (rank as f64 + 0.5) / n as f64;
        4.91 * (p.powf(0.14) - (1.0 - p).powf(0.14))
    };
    let rank = |i: usize| order.iter().position(|o| *o == i).unwrap();
    Residuals {
        words: words(
            "Are the assumptions of the model met?",
            "maximum resistance, blocks random, treatments fixed (invented)",
            "36 doughs in 4 blocks; results 90ab17c3dd01 … 5ce1f0a94b77",
        ),
        fitted_label: "fitted maximum resistance / EU".into(),
        points: (0..n)
            .map(|i| ResidualPoint {
                treatment: ["spiral", "two-arm", "high-speed"][i % 3].into(),
                fitted: [412.0, 398.0, 436.0][i % 3] + 18.0 * ((i / 3) as f64 - 6.0) / 6.0,
                residual: residuals[i],
                quantile: quantile(rank(i)),
                name: if i == 7 {
                    "dough K-21".into()
                } else {
                    String::new()
                },
            })
            .collect(),
        findings: "variances equal: p = 0.41".into(),
    }
}

pub fn grade_distribution() -> GradeDistribution {
    let panel = |treatment: &str, best: f64, note: &str| GradePanel {
        treatment: treatment.into(),
        bars: [2.0, 4.0, 6.0, 8.0, 10.0, 12.0]
            .iter()
            .map(|&t| {
                let level = 3.6 - 0.5 * f64::abs(t - best);
                let weight = |g: usize| (-(g as f64 - level) * (g as f64 - level) / 1.3).exp();
                let sum: f64 = (0..5).map(weight).sum();
                let over = if t > best + 2.5 {
                    ((t - best) * 1.3) as usize
                } else {
                    0
                };
                GradeBar {
                    name: format!("{t:.0}"),
                    counts: (0..5)
                        .map(|g| ((12 - over.min(12)) as f64 * weight(g) / sum).round() as usize)
                        .collect(),
                    overmixed: over,
                }
            })
            .collect(),
        note: note.into(),
    };
    GradeDistribution {
        words: words(
            "Membrane grades by mixing time",
            "flour Saltmarrow 40 % wholemeal (invented) · codebook 2 · two graders",
            "216 pieces of 18 doughs in 3 blocks; weighted kappa 0.71 (0.62 to 0.79); results c1d2e3f40516 … 98a7b6c5d4e3",
        ),
        x_label: "mixing time / min".into(),
        grades: Grade::ALL
            .iter()
            .map(|grade| format!("{} {}", grade.digit(), grade.words()))
            .collect(),
        panels: vec![
            panel("spiral", 8.0, "reference"),
            panel("two-arm", 10.0, "odds 1.4 (0.8 to 2.4)"),
            panel("high-speed", 5.0, "odds 0.6 (0.3 to 1.0)"),
        ],
    }
}

pub fn curve_difference() -> CurveDifference {
    let mean = |name: &str, peak: f64, end: f64| Series {
        name: name.into(),
        ..sampled(0.0, end, 300, |t| consistency(t, peak))
    };
    let gap = |t: f64| consistency(t, 6.4) - consistency(t, 5.2);
    let mut noise = Noise(127);
    let difference = sampled(0.0, 18.0, 300, gap);
    let half = |t: f64| 9.0 + 10.0 * (-t / 2.0).exp();
    let lower: Vec<f64> = difference.x.iter().map(|t| gap(*t) - half(*t)).collect();
    let upper: Vec<f64> = difference.x.iter().map(|t| gap(*t) + half(*t)).collect();
    let mut regions: Vec<(f64, f64)> = Vec::new();
    for (i, x) in difference.x.iter().enumerate() {
        if lower[i] > 0.0 || upper[i] < 0.0 {
            match regions.last_mut() {
                Some(last) if x - last.1 < 0.1 => last.1 = *x,
                _ => regions.push((*x, *x)),
            }
        }
    }
    CurveDifference {
        words: words(
            "Where the mixing curves differ",
            "two-arm against spiral · flour Saltmarrow 40 % wholemeal (invented)",
            "24 doughs in 6 blocks; simultaneous band by 2000 permutations within blocks, seed 7; results 4e5f60718293 … a4b5c6d7e8f9",
        ),
        x_label: "time / min".into(),
        y_label: "consistency / FU".into(),
        difference_label: "two-arm − spiral / FU".into(),
        means: vec![mean("spiral", 5.2, 18.0), mean("two-arm", 6.4, 18.0)],
        blocks: (0..6)
            .map(|i| {
                let (a, b) = (6.0 * noise.next(), 4.0 * noise.next());
                Series {
                    name: format!("block {i}"),
                    ..sampled(0.0, 18.0, 100, |t| {
                        gap(t) + a * (1.0 - (-t).exp()) + b * (t / 3.0).sin()
                    })
                }
            })
            .collect(),
        difference,
        lower,
        upper,
        margin: Some(15.0),
        regions,
        confidence: String::new(),
    }
}

pub fn agreement() -> Agreement {
    let mut noise = Noise(131);
    let pairs = (0..40)
        .map(|i| {
            let truth = 420.0 + 4.4 * f64::from(i);
            Pair {
                group: ["white", "40 % wholemeal"][i as usize % 2].into(),
                first: truth + 5.0 * noise.next(),
                second: 1.015 * truth - 3.0 + 6.0 * noise.next(),
                aside: i == 11,
            }
        })
        .collect();
    let level = |value: f64, half: f64, label: &str| AgreementLevel {
        value,
        interval: Some((value - half, value + half)),
        label: label.into(),
    };
    let line = sampled(410.0, 605.0, 40, |x| 1.014 * x - 2.6);
    Agreement {
        words: Words {
            palette: Palette::new(["white", "40 % wholemeal"]),
            ..words(
                "Do the two mixers agree?",
                "instrument 2 against instrument 1 · two flours of the Saltmarrow island (invented)",
                "40 doughs measured on both, one set aside; results d1e2f3a4b5c6 … 0718293a4b5c",
            )
        },
        first_label: "instrument 1 / FU".into(),
        second_label: "instrument 2 / FU".into(),
        mean_label: "mean of both / FU".into(),
        difference_label: "instrument 2 − instrument 1 / FU".into(),
        pairs,
        levels: vec![
            level(4.5, 1.4, "bias 4.5 (3.1 to 5.9)"),
            level(13.6, 2.4, "upper limit 13.6"),
            level(-4.6, 2.4, "lower limit −4.6"),
        ],
        margin: Some(20.0),
        fit: Some(MethodLine {
            label: "slope 1.014 (0.996 to 1.033), intercept −2.6 (−12 to 7)".into(),
            lower: line.y.iter().map(|y| y - 4.0).collect(),
            upper: line.y.iter().map(|y| y + 4.0).collect(),
            line,
        }),
    }
}

pub fn survival() -> Survival {
    let group = |treatment: &str,
                 times: &[f64],
                 n: usize,
                 censored: Vec<f64>,
                 median: Option<f64>,
                 label: &str| {
        let mut steps = Vec::new();
        for (i, &time) in times.iter().enumerate() {
            let share = 1.0 - (i as f64 + 1.0) / n as f64;
            let half = 1.96 * (share * (1.0 - share) / n as f64).sqrt();
            steps.push(SurvivalStep {
                time,
                share,
                interval: Some(((share - half).max(0.0), (share + half).min(1.0))),
            });
        }
        SurvivalGroup {
            treatment: treatment.into(),
            steps,
            censored,
            n,
            median,
            median_label: label.into(),
        }
    };
    Survival {
        words: words(
            "Days without mould",
            "40 % wholemeal tin loaf (invented) · sliced, in bags, 21 °C",
            "36 loaves of 9 doughs in 3 blocks, watched for 12 days; results 6a5b4c3d2e1f … 10293847a6b5",
        ),
        x_label: "storage / d".into(),
        y_label: "loaves without mould / %".into(),
        end: 12.0,
        groups: vec![
            group(
                "spiral",
                &[4.0, 4.0, 5.0, 5.0, 6.0, 6.0, 7.0, 7.0, 8.0, 9.0],
                12,
                vec![12.0, 12.0],
                Some(6.0),
                "median 6 d (5 to 8)",
            ),
            group(
                "two-arm",
                &[5.0, 6.0, 6.0, 7.0, 8.0, 8.0, 9.0, 10.0],
                12,
                vec![7.5, 12.0, 12.0, 12.0],
                Some(8.0),
                "median 8 d (6 to 10)",
            ),
            group(
                "high-speed",
                &[7.0, 8.0, 10.0, 11.0],
                12,
                vec![9.5, 12.0, 12.0],
                None,
                "",
            ),
        ],
    }
}
