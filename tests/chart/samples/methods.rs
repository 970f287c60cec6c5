//! Invented figures of the single test methods.

use super::{Noise, run_curve};
use doughtrace::chart::*;

/// Texts around a figure of the three treatments.
pub fn words(title: &str, subtitle: &str, caption: &str) -> Words {
    Words {
        title: title.into(),
        subtitle: subtitle.into(),
        palette: Palette::new(["spiral", "two-arm", "high-speed"]),
        notes: Vec::new(),
        caption: caption.into(),
    }
}

fn reading(x: f64, y: f64, label: &str, bound: Bound) -> Reading {
    Reading {
        x,
        y,
        label: label.into(),
        bound,
    }
}

/// Values of `f` at `n + 1` even places from `from` to `to`.
pub fn sampled(from: f64, to: f64, n: usize, f: impl Fn(f64) -> f64) -> Series {
    let x: Vec<f64> = (0..=n)
        .map(|i| from + (to - from) * i as f64 / n as f64)
        .collect();
    Series {
        name: String::new(),
        y: x.iter().map(|x| f(*x)).collect(),
        x,
    }
}

/// A pin mixer's run: peaks, contour, slopes before and after, width at two times.
pub fn pin_mixing() -> RunCurve {
    let mut noise = Noise(67);
    let n = 2000;
    let time_min: Vec<f64> = (0..n).map(|i| f64::from(i) / 200.0).collect();
    let height =
        |t: f64| 58.0 * (t / 3.6) * (1.0 - t / 3.6).exp() * (1.0 + 0.02 * (t - 3.6).max(0.0));
    let half = |t: f64| 3.0 + 9.0 * (-(t - 2.8) * (t - 2.8) / 6.0).exp();
    let centre: Vec<f64> = time_min.iter().map(|t| height(*t)).collect();
    let signal = time_min
        .iter()
        .map(|t| height(*t) + half(*t) * noise.next())
        .collect();
    let slope = |x_min: f64, label: &str| Mark {
        shape: MarkShape::Slope {
            x_min,
            y: height(x_min),
            per_min: (height(x_min + 0.25) - height(x_min - 0.25)) / 0.5,
            half_min: 0.75,
        },
        label: label.into(),
        bound: Bound::Exact,
    };
    let mark = |shape, label: &str| Mark {
        shape,
        label: label.into(),
        bound: Bound::Exact,
    };
    RunCurve {
        title: "Pin-mixing curve of run P-03".into(),
        subtitle: "p03.csv · flour Saltmarrow 40 % wholemeal (invented) · 35 g · 63.0 % water · 25.0 °C".into(),
        y_label: "torque / % of scale".into(),
        lower: time_min.iter().map(|t| height(*t) - 0.85 * half(*t)).collect(),
        upper: time_min.iter().map(|t| height(*t) + 0.85 * half(*t)).collect(),
        centre,
        signal,
        time_min,
        excluded: Vec::new(),
        reference: None,
        marks: vec![
            mark(MarkShape::Time { x_min: 3.6, y: height(3.6) }, "centre peak time 3.60 min ± 0.08"),
            mark(MarkShape::Time { x_min: 3.1, y: height(3.1) + 0.85 * half(3.1) }, "upper-edge peak time 3.10 min ± 0.10"),
            mark(MarkShape::Point { x_min: 3.6, y: height(3.6) }, "centre peak 58.0 % ± 0.6"),
            mark(MarkShape::Point { x_min: 3.1, y: height(3.1) + 0.85 * half(3.1) }, "upper-edge peak 67.2 % ± 0.8"),
            slope(1.9, "slope before the peak 12.6 %/min ± 0.5"),
            slope(5.6, "slope after the peak −1.2 %/min ± 0.3"),
            mark(MarkShape::Width { x_min: 3.6, lower: height(3.6) - 0.85 * half(3.6), upper: height(3.6) + 0.85 * half(3.6) }, "width at the peak 19.1 % ± 0.9"),
            mark(MarkShape::Width { x_min: 8.0, lower: height(8.0) - 0.85 * half(8.0), upper: height(8.0) + 0.85 * half(8.0) }, "width at 8 min 5.3 % ± 0.4"),
        ],
        caption: "2000 points every 0.3 s; work to the peak 152 % min ± 2; result ids 77c1e0aa … 0d9f3b52".into(),
        notes: Vec::new(),
        ..run_curve()
    }
}

pub fn heating_curve() -> HeatingCurve {
    let mut noise = Noise(71);
    let knots = [
        (0.0, 0.0),
        (1.2, 1.09),
        (5.0, 1.05),
        (8.0, 1.02),
        (17.5, 0.46),
        (20.0, 0.6),
        (25.5, 1.92),
        (31.0, 1.66),
        (33.0, 1.62),
        (45.0, 2.62),
    ];
    let at = |t: f64| {
        let i = knots.iter().position(|k| k.0 >= t).unwrap_or(9).max(1);
        let ((a, b), (c, d)) = (knots[i - 1], knots[i]);
        let s = (t - a) / (c - a);
        b + (d - b) * s * s * (3.0 - 2.0 * s)
    };
    let bowl = |t: f64| match t {
        t if t < 8.0 => 30.0,
        t if t < 23.0 => 30.0 + 4.0 * (t - 8.0),
        t if t < 30.0 => 90.0,
        t if t < 40.0 => 90.0 - 4.0 * (t - 30.0),
        _ => 50.0,
    };
    let dough = |t: f64| 0.93 * bowl((t - 1.6).max(0.0)) + 2.4 * (1.0 - (-t / 3.0).exp());
    let time_min: Vec<f64> = (0..2700).map(|i| f64::from(i) / 60.0).collect();
    let phase = |from_min, to_min, name: &str| Phase {
        from_min,
        to_min,
        name: name.into(),
    };
    HeatingCurve {
        words: words(
            "Mixing under heating and cooling, run T-02",
            "t02.csv · flour Saltmarrow 40 % wholemeal (invented) · spiral · dough 75 g · 61.3 % water",
            "2700 points every 1 s; result ids 50aa19c4 … b0316ff8",
        ),
        treatment: Some("spiral".into()),
        torque_label: "torque / N m".into(),
        signal: time_min
            .iter()
            .map(|t| at(*t) + 0.05 * noise.next())
            .collect(),
        torque: time_min.iter().map(|t| at(*t)).collect(),
        dough_c: time_min.iter().map(|t| dough(*t)).collect(),
        bowl_c: time_min.iter().map(|t| bowl(*t)).collect(),
        time_min,
        stages: vec![
            reading(
                1.2,
                1.09,
                "C1 1.09 N m ± 0.01, 1.2 min, 27.9 °C",
                Bound::Exact,
            ),
            reading(
                17.5,
                0.46,
                "C2 0.46 N m ± 0.01, 17.5 min, 59.9 °C",
                Bound::Exact,
            ),
            reading(
                25.5,
                1.92,
                "C3 1.92 N m ± 0.02, 25.5 min, 86.1 °C",
                Bound::Exact,
            ),
            reading(33.0, 1.62, "C4 1.62 N m ± 0.02, 33.0 min", Bound::Exact),
            reading(45.0, 2.62, "C5 2.62 N m ± 0.03", Bound::Above),
        ],
        slopes: vec![
            SlopeLine {
                from: (10.5, at(10.5)),
                to: (14.5, at(14.5)),
                label: "α −0.083 N m/min".into(),
            },
            SlopeLine {
                from: (21.2, at(21.2)),
                to: (24.0, at(24.0)),
                label: "β 0.34 N m/min".into(),
            },
            SlopeLine {
                from: (26.5, at(26.5)),
                to: (29.0, at(29.0)),
                label: "γ −0.06 N m/min".into(),
            },
        ],
        phases: vec![
            phase(0.0, 8.0, "30 °C"),
            phase(8.0, 23.0, "heating 4 °C/min"),
            phase(23.0, 30.0, "90 °C"),
            phase(30.0, 40.0, "cooling 4 °C/min"),
            phase(40.0, 45.0, "50 °C"),
        ],
    }
}

pub fn strain_hardening() -> StrainHardening {
    let mut noise = Noise(73);
    let group = |treatment: &str, k: f64, n: f64, noise: &mut Noise| {
        let stress = move |e: f64| k * (n * e).exp();
        let mut piece = |end: f64, level: f64| {
            let mut series = sampled(0.1, end, 120, |e| {
                level * stress(e) * (1.0 - (-9.0 * e).exp())
            });
            series.y.iter_mut().for_each(|y| *y += 0.12 * noise.next());
            series.name = "piece".into();
            series
        };
        let pieces: Vec<Series> = [
            (1.82, 1.0),
            (1.9, 1.06),
            (1.74, 0.95),
            (1.86, 1.02),
            (1.78, 0.98),
        ]
        .map(|(end, level)| piece(end, level))
        .to_vec();
        let slipped = piece(0.9, 0.7);
        StressGroup {
            treatment: treatment.into(),
            failures: pieces
                .iter()
                .map(|p| (*p.x.last().unwrap(), *p.y.last().unwrap()))
                .collect(),
            pieces,
            excluded: vec![slipped],
            fits: vec![
                StressFit {
                    label: format!("n_exp {n:.2} ± 0.05"),
                    line: sampled(0.3, 2.1, 60, stress),
                    window: (0.6, 1.6),
                },
                StressFit {
                    label: format!("n_pow {:.2} ± 0.06", n * 1.05),
                    line: sampled(0.1, 2.1, 60, move |e| {
                        stress(1.1) * (e / 1.1).powf(n * 1.05)
                    }),
                    window: (0.6, 1.6),
                },
            ],
            limit: Some(reading(
                1.7,
                stress(1.7),
                "stable up to strain 1.70 ± 0.04",
                Bound::Exact,
            )),
        }
    };
    StrainHardening {
        words: words(
            "Strain hardening of dough strips",
            "flour Saltmarrow 40 % wholemeal (invented) · strain rate 0.02 to 0.05 per s · rest 20 min",
            "15 strips of 3 doughs in 1 block; 3 strips slipped and are set aside; result ids 1b5f77d0 … 4c02aa91",
        ),
        stress_label: "true stress / kPa".into(),
        groups: vec![
            group("spiral", 1.3, 1.55, &mut noise),
            group("two-arm", 1.5, 1.68, &mut noise),
            group("high-speed", 1.2, 1.42, &mut noise),
        ],
    }
}

pub fn inflation() -> Inflation {
    let mut noise = Noise(79);
    let pressure = |p: f64, l: f64| {
        move |x: f64| {
            let s = x / l;
            p * (s / 0.16).min(1.0).sqrt() * (1.0 - 0.55 * ((s - 0.16).max(0.0) / 0.84).powf(0.8))
        }
    };
    let disc = |p: f64, l: f64, name: &str, noise: &mut Noise| {
        let mut series = sampled(0.0, l, 150, pressure(p, l));
        series
            .y
            .iter_mut()
            .skip(4)
            .for_each(|y| *y += 0.6 * noise.next());
        series.x.push(l + 0.8);
        series.y.push(2.0);
        series.name = name.into();
        series
    };
    let discs: Vec<Series> = [(84.0, 92.0), (80.0, 97.0), (86.0, 88.0), (82.0, 99.0)]
        .map(|(p, l)| disc(p, l, "disc", &mut noise))
        .to_vec();
    let mean = pressure(83.0, 94.0);
    Inflation {
        words: Words {
            notes: vec!["disc 3 set aside by the operator: fold in the disc".into()],
            ..words(
                "Inflation of dough K-12",
                "k12-inflation.csv · flour Saltmarrow 40 % wholemeal (invented) · two-arm · 50 % hydration",
                "5 discs of 1 dough, 4 count; result ids 60b1e9d5 … aa34c710",
            )
        },
        treatment: Some("two-arm".into()),
        x_label: "length / mm".into(),
        y_label: "pressure / mm H₂O".into(),
        discs,
        excluded: vec![disc(71.0, 52.0, "disc 3", &mut noise)],
        mean: sampled(0.0, 94.0, 150, mean),
        p: Some(reading(15.0, 83.0, "P 83 mm H₂O ± 2", Bound::Exact)),
        l: Some(reading(94.0, mean(94.0), "L 94 mm ± 5", Bound::Exact)),
        w_label: "W 212 · 10⁻⁴ J ± 9".into(),
        nominal: Some(NominalCurve {
            stress_label: "nominal stress / kPa".into(),
            strain_label: "nominal Hencky strain".into(),
            curve: sampled(0.05, 1.75, 100, |e| {
                1.8 * (1.62 * e).exp() * (1.0 - (-8.0 * e).exp())
            }),
            fits: vec![Series {
                name: "nominal hardening 1.62 ± 0.04".into(),
                ..sampled(0.3, 1.75, 60, |e| 1.8 * (1.62 * e).exp())
            }],
        }),
    }
}

pub fn mixer_log() -> MixerLog {
    let mut noise = Noise(83);
    let power = |t: f64| match t {
        t if t < 2.0 => 0.9 + 0.1 * t,
        t if t < 5.0 => 2.2 + 0.25 * (t - 2.0),
        t if t < 5.6 => 0.4,
        t => 3.4 - 0.08 * (t - 5.6),
    };
    let mut trace = |f: &dyn Fn(f64) -> f64, spread: f64| {
        let mut series = sampled(0.0, 10.0, 600, f);
        series
            .y
            .iter_mut()
            .for_each(|y| *y += spread * noise.next());
        let keep: Vec<usize> = (0..series.x.len())
            .filter(|i| !(7.0..7.5).contains(&series.x[*i]))
            .collect();
        Series {
            name: String::new(),
            x: keep.iter().map(|i| series.x[*i]).collect(),
            y: keep.iter().map(|i| series.y[*i]).collect(),
        }
    };
    let energy = |t: f64| {
        let n = 400;
        (0..n)
            .map(|i| (power(t * (f64::from(i) + 0.5) / 400.0) - 0.4).max(0.0) * t / 400.0)
            .sum::<f64>()
            * 60.0
            / 42.0
    };
    let panel = |y_label: &str, series: Series| LogPanel {
        y_label: y_label.into(),
        series: vec![series],
        ..LogPanel::default()
    };
    MixerLog {
        words: words(
            "Mixer log of dough J-04",
            "j04-jet.csv · flour Saltmarrow 40 % wholemeal (invented) · high-speed · dough 42.0 kg",
            "1 dough; rows every 1 s, 30 s missing; idle power measured on the empty mixer; result ids 2e90bb17 … f3a8020c",
        ),
        treatment: Some("high-speed".into()),
        x_label: "time / min".into(),
        panels: vec![
            LogPanel {
                level: Some((0.4, "idle 0.40 kW".into())),
                filled: true,
                ..panel("power / kW", trace(&power, 0.12))
            },
            panel(
                "pressure / MPa",
                trace(&|t| if t < 5.0 { 12.0 + 0.2 * t } else { 0.0 }, 0.15),
            ),
            panel(
                "flow / (l/min)",
                trace(&|t| if t < 5.0 { 4.8 - 0.05 * t } else { 0.0 }, 0.05),
            ),
            LogPanel {
                readings: vec![reading(
                    10.0,
                    energy(10.0),
                    "29.8 kJ/kg ± 0.6 (gap bounded: 1.4 to 2.0)",
                    Bound::Exact,
                )],
                ..panel("energy / (kJ/kg)", trace(&energy, 0.0))
            },
        ],
        phases: vec![
            Phase {
                from_min: 0.0,
                to_min: 2.0,
                name: "slow".into(),
            },
            Phase {
                from_min: 2.0,
                to_min: 5.0,
                name: "fast".into(),
            },
            Phase {
                from_min: 5.0,
                to_min: 5.6,
                name: "pause".into(),
            },
            Phase {
                from_min: 5.6,
                to_min: 10.0,
                name: "after-mix".into(),
            },
        ],
        gaps: vec![(7.0, 7.5)],
    }
}

pub fn temperature_balance() -> TemperatureBalance {
    let step = |name: &str, change_k, uncertainty_k| HeatStep {
        name: name.into(),
        change_k,
        uncertainty_k: Some(uncertainty_k),
    };
    TemperatureBalance {
        words: words(
            "Temperature balance of dough J-04",
            "flour Saltmarrow 40 % wholemeal (invented) · high-speed · water 9.0 °C, no ice",
            "1 dough; heat of hydration 15.1 kJ per kg flour (assumed, basis stated); result ids 8c0d41fe … 91bb73a2",
        ),
        start_name: "flour".into(),
        start_c: 21.5,
        steps: vec![
            step("water", -7.4, 0.2),
            step("other ingredients", -0.3, 0.1),
            step("heat of hydration", 3.1, 0.5),
            step("mixing work", 10.9, 0.4),
            step("loss to bowl and air", -1.7, 0.4),
        ],
        predicted: Temperature {
            value_c: 26.1,
            interval_c: Some((24.6, 27.6)),
        },
        measured: Some(Temperature {
            value_c: 26.8,
            interval_c: Some((26.5, 27.1)),
        }),
        target_c: Some(26.0),
    }
}

/// Water uptake of bran and whole kernels with two laws.
pub fn uptake() -> RateFit {
    let mut noise = Noise(89);
    let group = |treatment: &str, m0: f64, k1: f64, k2: f64, noise: &mut Noise| {
        let law = move |t: f64| m0 + t / (k1 + k2 * t);
        let line = sampled(0.0, 48.0, 96, law);
        let around = |f: f64| {
            line.y
                .iter()
                .map(|y| y + f * (0.4 + 0.015 * (y - m0)))
                .collect()
        };
        RateGroup {
            treatment: treatment.into(),
            points: [0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 12.0, 24.0, 36.0, 48.0]
                .iter()
                .enumerate()
                .map(|(i, &x)| {
                    let y = law(x) + 0.7 * noise.next() + if i == 6 { 6.0 } else { 0.0 };
                    RatePoint {
                        x,
                        y,
                        interval: Some((y - 0.6, y + 0.6)),
                        bound: Bound::Exact,
                        aside: i == 6,
                    }
                })
                .collect(),
            laws: vec![
                RateLaw {
                    label: format!("Peleg, k₁ {k1:.3} ± 0.010 h/%, k₂ {k2:.4} ± 0.0006 per %"),
                    lower: around(-1.0),
                    upper: around(1.0),
                    line,
                },
                RateLaw {
                    label: "sphere, D 4.1 ± 0.4 ·\u{a0}10⁻¹¹\u{a0}m²/s".into(),
                    line: sampled(0.0, 48.0, 96, move |t| {
                        m0 + (1.0 / k2)
                            * 0.94
                            * (1.0 - (-(t / (k1 / k2 * 1.6)).sqrt() * 1.25).exp())
                    }),
                    lower: Vec::new(),
                    upper: Vec::new(),
                },
            ],
            readings: vec![reading(
                (40.0 - m0) * k1 / (1.0 - (40.0 - m0) * k2),
                40.0,
                &format!(
                    "40 % after {:.1} h ± 0.4",
                    (40.0 - m0) * k1 / (1.0 - (40.0 - m0) * k2)
                ),
                Bound::Exact,
            )],
        }
    };
    RateFit {
        words: Words {
            palette: Palette::new(["whole kernels", "cracked kernels"]),
            ..words(
                "Water uptake of kernels at 20 °C",
                "wheat of the Saltmarrow island, harvest 4 (invented)",
                "20 weighings of 2 samples, one set aside (dripping basket); result ids 0be3f618 … 59d0c7e4",
            )
        },
        x_label: "soaking time / h".into(),
        y_label: "moisture, dry basis / %".into(),
        groups: vec![
            group("whole kernels", 12.5, 0.148, 0.0167, &mut noise),
            group("cracked kernels", 12.5, 0.062, 0.0152, &mut noise),
        ],
        level: Some((40.0, "target 40 %".into())),
        apart: true,
    }
}

/// Firmness over a week with Avrami fits.
pub fn firmness() -> RateFit {
    let mut noise = Noise(97);
    let group = |treatment: &str, k: f64, n: f64, half: f64, noise: &mut Noise| {
        let law = move |t: f64| 3.2 + 8.6 * (1.0 - (-k * t.powf(n)).exp());
        let line = sampled(0.0, 8.0, 80, law);
        RateGroup {
            treatment: treatment.into(),
            points: [0.2, 1.0, 2.0, 3.0, 5.0, 7.0]
                .iter()
                .map(|&x| {
                    let y = law(x) + 0.35 * noise.next();
                    let bound = if x > 6.0 && treatment == "spiral" {
                        Bound::Above
                    } else {
                        Bound::Exact
                    };
                    RatePoint {
                        x,
                        y,
                        interval: Some((y - 0.5, y + 0.5)),
                        bound,
                        aside: false,
                    }
                })
                .collect(),
            laws: vec![RateLaw {
                label: format!("n {n:.2} ± 0.12"),
                lower: line.y.iter().map(|y| y - 0.35).collect(),
                upper: line.y.iter().map(|y| y + 0.35).collect(),
                line,
            }],
            readings: vec![reading(
                half,
                law(half),
                &format!("half time {half:.1} d ± 0.2"),
                Bound::Exact,
            )],
        }
    };
    RateFit {
        words: words(
            "Firmness of tin loaves over a week",
            "40 % wholemeal tin loaf (invented) · 25 % compression, 36 mm probe · slices of 25 mm · 21 °C",
            "54 slices of 9 doughs in 3 blocks; Avrami fit with common plateau; result ids c0de7741 … 33f1a08b",
        ),
        x_label: "storage / d".into(),
        y_label: "firmness / N".into(),
        groups: vec![
            group(
                "spiral",
                0.42,
                1.05,
                (2.0f64.ln() / 0.42).powf(1.0 / 1.05),
                &mut noise,
            ),
            group(
                "two-arm",
                0.31,
                1.02,
                (2.0f64.ln() / 0.31).powf(1.0 / 1.02),
                &mut noise,
            ),
            group(
                "high-speed",
                0.24,
                1.1,
                (2.0f64.ln() / 0.24).powf(1.0 / 1.1),
                &mut noise,
            ),
        ],
        level: None,
        apart: false,
    }
}

pub fn energy_by_source() -> EnergyBySource {
    let mut noise = Noise(101);
    let group = |treatment: &str, parts: &[f64], slope: f64, centre: f64, noise: &mut Noise| {
        let total: f64 = parts.iter().sum();
        EnergyGroup {
            treatment: treatment.into(),
            parts_kj_per_kg: parts.to_vec(),
            total_interval: Some((total - 2.1, total + 2.1)),
            note: "n = 4 doughs".into(),
            doughs: (0..4)
                .map(|i| {
                    let x = centre + 0.5 * (f64::from(i) - 1.5);
                    RatePoint {
                        x,
                        y: total + slope * (x - centre) + 1.5 * noise.next(),
                        ..RatePoint::default()
                    }
                })
                .collect(),
            line: sampled(centre - 1.0, centre + 1.0, 10, |x| {
                total + slope * (x - centre)
            }),
        }
    };
    EnergyBySource {
        words: words(
            "Energy by source, and what it buys",
            "flour Saltmarrow 40 % wholemeal (invented) · boundary: mixer shaft and jet, no cooling",
            "12 doughs in 4 blocks; efficiency of the pump 0.82 as stated; result ids 7ab10394 … de51c6f0",
        ),
        sources: vec!["electric".into(), "hydraulic".into(), "after-mix".into()],
        groups: vec![
            group("spiral", &[31.5, 0.0, 4.2], 4.0, 6.2, &mut noise),
            group("two-arm", &[24.8, 0.0, 3.1], 3.4, 6.6, &mut noise),
            group("high-speed", &[8.2, 14.6, 2.4], 5.5, 5.4, &mut noise),
        ],
        development_label: "development time / min".into(),
        equal_development: Some((6.0, "equal development".into())),
    }
}
