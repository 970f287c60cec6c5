//! Invented figures: doughs of the Saltmarrow island bakery that never existed.

pub mod claims;
pub mod methods;
pub mod trend;

use doughtrace::chart::*;
use doughtrace::record::Grade;
use doughtrace::schema::{Digest, ResultId, RunId};

/// Deterministic noise in ±1 (a 64-bit linear congruential generator, constants of Knuth's MMIX).
pub struct Noise(pub u64);

impl Noise {
    pub fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

pub fn provenance() -> Provenance {
    let digest = Digest::of(b"invented");
    Provenance {
        software: "doughtrace 0.1.0".into(),
        runs: vec![RunId::new("K-07").unwrap()],
        results: vec![ResultId::from_digest(&digest)],
        raw: vec![digest],
    }
}

/// Consistency at `t` min of a dough that develops at `peak` min.
pub fn consistency(t: f64, peak: f64) -> f64 {
    let rise = 1.0 - (-3.2 * t / peak).exp();
    let fall = if t > peak { (t - peak) * 7.5 } else { 0.0 };
    525.0 * rise / (1.0 - (-3.2f64).exp()) - fall
}

pub fn run_curve() -> RunCurve {
    let mut noise = Noise(7);
    let n = 2400;
    let time_min: Vec<f64> = (0..n).map(|i| f64::from(i) * 0.5 / 60.0).collect();
    let centre: Vec<f64> = time_min.iter().map(|&t| consistency(t, 6.2)).collect();
    let half: Vec<f64> = time_min
        .iter()
        .map(|t| 18.0 + 22.0 * (-t / 9.0).exp())
        .collect();
    let mut signal: Vec<f64> = centre
        .iter()
        .zip(&half)
        .map(|(c, h)| c + h * noise.next())
        .collect();
    let excluded = vec![700, 1500, 1501, 1900];
    signal[700] = 640.0;
    signal[1500] = 1830.0;
    signal[1501] = 300.0;
    signal[1900] = -40.0;
    let mark = |shape, label: &str, bound| Mark {
        shape,
        label: label.into(),
        bound,
    };
    let at = |t: f64| consistency(t, 6.2);
    let cross = |rising: bool| {
        (1..2400)
            .map(|i| f64::from(i) / 120.0)
            .find(|&t| {
                if rising {
                    at(t) >= 500.0
                } else {
                    t > 6.2 && at(t) <= 500.0
                }
            })
            .unwrap()
    };
    let (arrival, departure) = (cross(true), cross(false));
    RunCurve {
        title: "Mixing curve of run K-07".into(),
        subtitle: "k07-two-arm.csv · flour Saltmarrow 40 % wholemeal (invented) · two-arm · 62.4 % water · 30.0 °C".into(),
        treatment: Some("two-arm".into()),
        palette: Palette::new(["spiral", "two-arm", "high-speed"]),
        y_label: "consistency / FU".into(),
        lower: centre.iter().zip(&half).map(|(c, h)| c - 0.8 * h).collect(),
        upper: centre.iter().zip(&half).map(|(c, h)| c + 0.8 * h).collect(),
        centre,
        time_min,
        signal,
        excluded,
        reference: Some(Reference { value: 500.0, label: "500 FU".into() }),
        marks: vec![
            mark(MarkShape::Time { x_min: 6.2, y: at(6.2) }, "development time 6.2 min ± 0.1", Bound::Exact),
            mark(MarkShape::Time { x_min: arrival, y: 500.0 }, &format!("arrival {arrival:.1} min ± 0.2"), Bound::Exact),
            mark(MarkShape::Span { from_min: arrival, to_min: departure, y: 500.0 }, &format!("stability {:.1} min ± 0.3", departure - arrival), Bound::Exact),
            mark(MarkShape::Time { x_min: departure, y: 500.0 }, &format!("departure {departure:.1} min ± 0.2"), Bound::Exact),
            mark(MarkShape::Drop { x_min: 11.2, from: at(6.2), to: at(11.2) }, "tolerance index 38 FU ± 4", Bound::Exact),
            mark(MarkShape::Drop { x_min: 18.2, from: at(6.2), to: at(18.2) }, "softening, 12 min: 90 FU ± 5", Bound::Exact),
            mark(MarkShape::Point { x_min: 6.2, y: at(6.2) }, "maximum 525 FU ± 3", Bound::Exact),
        ],
        notes: vec!["no value: quality number (not reached: the record ends at 20.0 min)".into()],
        caption: "2400 points every 0.5 s; centre and envelope over 2 blade periods (3.81 s); result ids 3f2a91c0 … 9be07d14".into(),
        ..RunCurve::default()
    }
}

/// A run still rising at its end: nothing after the peak can be read.
pub fn rising_curve() -> RunCurve {
    let mut figure = run_curve();
    let n = figure.time_min.len();
    let mut noise = Noise(11);
    figure.title = "Mixing curve of run K-11".into();
    figure.treatment = Some("spiral".into());
    figure.centre = (0..n)
        .map(|i| 300.0 + 190.0 * i as f64 / n as f64)
        .collect();
    figure.signal = figure
        .centre
        .iter()
        .map(|c| c + 25.0 * noise.next())
        .collect();
    figure.lower = Vec::new();
    figure.upper = Vec::new();
    figure.excluded = Vec::new();
    figure.marks = vec![
        Mark {
            shape: MarkShape::Time {
                x_min: 20.0,
                y: 490.0,
            },
            label: "development time above 20.0 min".into(),
            bound: Bound::Above,
        },
        Mark {
            shape: MarkShape::Point {
                x_min: 20.0,
                y: 490.0,
            },
            label: "maximum above 490 FU".into(),
            bound: Bound::Above,
        },
    ];
    figure.notes = vec![
        "no value: stability, softening (not reached: the curve still rises at its end)".into(),
    ];
    figure
}

/// More marks in one place than any run has.
pub fn crowded_curve() -> RunCurve {
    let mut figure = run_curve();
    for i in 0..14 {
        let t = 6.0 + 0.05 * f64::from(i);
        figure.marks.push(Mark {
            shape: MarkShape::Point {
                x_min: t,
                y: consistency(t, 6.2),
            },
            label: format!("variant {i} of the development time {t:.2} min ± 0.10"),
            bound: if i % 5 == 0 {
                Bound::Below
            } else {
                Bound::Exact
            },
        });
    }
    figure
}

pub fn overlay() -> Overlay {
    let mut noise = Noise(3);
    let x: Vec<f64> = (0..600).map(|i| f64::from(i) / 30.0).collect();
    let mut groups = Vec::new();
    for (treatment, peak, shift) in [
        ("spiral", 5.2, 0.0),
        ("two-arm", 6.4, 6.0),
        ("high-speed", 3.1, -4.0),
    ] {
        let runs: Vec<Series> = (0..4)
            .map(|i| {
                let (p, s) = (peak + 0.5 * noise.next(), shift + 12.0 * noise.next());
                Series {
                    name: format!("{treatment} {i}"),
                    x: x.clone(),
                    y: x.iter()
                        .map(|&t| consistency(t, p) + s * (1.0 - (-t).exp()))
                        .collect(),
                }
            })
            .collect();
        let over = |f: fn(f64, f64) -> f64, start: f64| -> Vec<f64> {
            (0..x.len())
                .map(|i| runs.iter().map(|r| r.y[i]).fold(start, f))
                .collect()
        };
        let mean = (0..x.len())
            .map(|i| runs.iter().map(|r| r.y[i]).sum::<f64>() / 4.0)
            .collect();
        groups.push(Group {
            treatment: treatment.into(),
            doughs: 4,
            lower: over(f64::min, f64::INFINITY),
            upper: over(f64::max, f64::NEG_INFINITY),
            mean: Series {
                name: format!("{treatment} mean"),
                x: x.clone(),
                y: mean,
            },
            runs,
        });
    }
    Overlay {
        title: "Mixing curves by treatment".into(),
        subtitle: "flour Saltmarrow 40 % wholemeal (invented) · 62.4 % water · day 2".into(),
        palette: Palette::new(["spiral", "two-arm", "high-speed"]),
        x_label: "time / min".into(),
        y_label: "consistency / FU".into(),
        groups,
        reference: Some(Reference {
            value: 500.0,
            label: "500 FU".into(),
        }),
        notes: Vec::new(),
        caption: "12 doughs in 2 blocks; one run each; result ids in the picture's text chunk"
            .into(),
    }
}

pub fn day_overview() -> DayOverview {
    let mut noise = Noise(5);
    let mut group = |treatment: &str, centre: f64, spread: f64, i: usize| {
        let dots: Vec<Dot> = (0..8)
            .map(|k| {
                let value = centre + spread * noise.next();
                Dot {
                    value,
                    interval: Some((value - 0.2 * spread, value + 0.2 * spread)),
                    bound: if k == 7 && i == 0 {
                        Bound::Above
                    } else {
                        Bound::Exact
                    },
                    state: match (k, i) {
                        (2, 1) => DotState::Flagged,
                        (5, 2) => DotState::Rejected,
                        _ => DotState::Kept,
                    },
                }
            })
            .collect();
        DotGroup {
            treatment: treatment.into(),
            dots,
            centre: Some(centre),
            no_value: if i == 1 { 2 } else { 0 },
        }
    };
    let metrics = [
        ("development time / min", 6.0, 0.8),
        ("stability / min", 8.0, 2.0),
        ("softening, 12 min / FU", 70.0, 25.0),
        ("water absorption, 14 % basis / %", 62.4, 0.8),
        ("tolerance index / FU", 38.0, 10.0),
        ("band width / FU", 62.0, 8.0),
        ("maximum / FU", 502.0, 14.0),
    ];
    let rows = metrics
        .iter()
        .map(|(title, centre, spread)| MetricRow {
            title: (*title).into(),
            cells: vec![Cell {
                facet: String::new(),
                groups: vec![
                    group("spiral", *centre, *spread, 0),
                    group("two-arm", centre + spread, *spread, 1),
                    group("high-speed", centre - spread, *spread, 2),
                ],
            }],
        })
        .collect();
    DayOverview {
        title: "Mixing runs of the day".into(),
        subtitle: "24 runs, 3 treatments, 2 blocks (invented)".into(),
        palette: Palette::new(["spiral", "two-arm", "high-speed"]),
        centre_name: "mean of the runs".into(),
        rows,
        notes: Vec::new(),
        caption: "each dot is one run; intervals are value ± 2 standard uncertainties".into(),
    }
}

/// Three flours side by side.
pub fn faceted_overview() -> DayOverview {
    let mut figure = day_overview();
    figure.rows.truncate(3);
    for row in &mut figure.rows {
        let groups = row.cells[0].groups.clone();
        row.cells = [
            "Saltmarrow white",
            "Saltmarrow 40 % wholemeal",
            "Saltmarrow kernel",
        ]
        .map(|facet| Cell {
            facet: facet.into(),
            groups: groups.clone(),
        })
        .to_vec();
    }
    figure
}

/// Resistance at `x` mm of a piece that breaks at `end` mm: a power-law rise and a late fall.
fn resistance(x: f64, top: f64, end: f64) -> f64 {
    let share = x / end;
    top * (share / 0.72).powf(0.55).min(1.0)
        * (1.0 - ((share - 0.72).max(0.0) / 0.28).powi(3) * 0.55)
}

pub fn extension_curves(treatments: &[&str]) -> ExtensionCurves {
    let mut noise = Noise(31);
    let panels = treatments
        .iter()
        .enumerate()
        .map(|(t, treatment)| ExtensionPanel {
            title: format!("{treatment}, dough {}", t + 3),
            treatment: (*treatment).into(),
            curves: [
                (45.0, 330.0, 168.0),
                (90.0, 410.0, 152.0),
                (135.0, 455.0, 139.0),
            ]
            .iter()
            .map(|&(rest_min, top, end)| {
                let (top, end) = (top + 25.0 * t as f64, end - 9.0 * t as f64);
                let x: Vec<f64> = (0..=400).map(|i| end * f64::from(i) / 400.0).collect();
                let y: Vec<f64> = x
                    .iter()
                    .map(|&x| (resistance(x, top, end) + 3.0 * noise.next()).max(0.0))
                    .collect();
                let peak = y.iter().copied().fold(0.0, f64::max);
                let at_peak = x[y.iter().position(|v| *v == peak).unwrap()];
                let reading =
                    |x: f64, y: f64, label: String, bound| Some(Reading { x, y, label, bound });
                let broke = !(t == 1 && rest_min < 50.0);
                ExtensionCurve {
                    rest_min,
                    piece: String::new(),
                    r50: reading(
                        50.0,
                        resistance(50.0, top, end),
                        format!("{:.0} EU ± 5", resistance(50.0, top, end)),
                        Bound::Exact,
                    ),
                    rm: reading(at_peak, peak, format!("{peak:.0} EU ± 4"), Bound::Exact),
                    e: reading(
                        end,
                        y[400],
                        format!("{end:.0} mm"),
                        if broke { Bound::Exact } else { Bound::Above },
                    ),
                    x,
                    y,
                }
            })
            .collect(),
        })
        .collect();
    ExtensionCurves {
        title: "Extension curves by rest time".into(),
        subtitle: "flour Saltmarrow 40 % wholemeal (invented) · mean of two pieces".into(),
        palette: Palette::new(["spiral", "two-arm", "high-speed"]),
        x_label: "extension / mm".into(),
        y_label: "resistance / EU".into(),
        panels,
        notes: vec!["dough 4, 45 min: piece slipped at 159 mm; E is a lower bound".into()],
        caption: "3 doughs, 3 rest times, 2 pieces each; result ids in the picture's text chunk"
            .into(),
    }
}

/// Six pieces of one dough that tear within 10 mm: their names must not cover each other.
pub fn extension_close() -> ExtensionCurves {
    let mut figure = extension_curves(&["spiral", "two-arm"]);
    for panel in &mut figure.panels {
        let pieces = panel.curves.clone();
        panel.curves = pieces
            .iter()
            .flat_map(|curve| [(curve, "a"), (curve, "b")])
            .enumerate()
            .map(|(i, (curve, piece))| {
                let end = 140.0 + 1.8 * i as f64;
                let stretch = end / curve.x.last().unwrap();
                let mut near = curve.clone();
                near.piece = format!("piece {piece}");
                near.x.iter_mut().for_each(|x| *x *= stretch);
                near.y.iter_mut().for_each(|y| *y *= 1.0 + 0.01 * i as f64);
                let reading = near.e.as_mut().unwrap();
                (reading.x, reading.y) = (end, near.y[400]);
                reading.label = format!("{end:.0} mm");
                let reading = near.rm.as_mut().unwrap();
                (reading.x, reading.y) = (reading.x * stretch, reading.y * (1.0 + 0.01 * i as f64));
                near.r50 = None;
                near
            })
            .collect();
    }
    figure
}

pub fn membrane_grades(graders: &[&str], each: usize) -> MembraneGrades {
    let mut noise = Noise(41);
    let panels = [("spiral", 8.0), ("two-arm", 10.0), ("high-speed", 5.0)]
        .iter()
        .map(|&(treatment, best)| {
            let mut pieces = Vec::new();
            for mix_time_min in [2.0, 4.0, 6.0, 8.0, 10.0, 12.0] {
                for grader in graders {
                    for _ in 0..each {
                        let level = 4.4 - 0.55 * f64::abs(mix_time_min - best) + 0.9 * noise.next();
                        let rank = level.round().clamp(0.0, 4.0) as usize;
                        pieces.push(GradedPiece {
                            mix_time_min,
                            grade: Some(Grade::ALL[rank]),
                            overmixed: mix_time_min > best + 3.0 && noise.next() > -0.2,
                            grader: (*grader).into(),
                        });
                    }
                }
            }
            MembranePanel {
                treatment: treatment.into(),
                pieces,
            }
        })
        .collect();
    MembraneGrades {
        title: "Membrane grades by mixing time".into(),
        subtitle: "flour Saltmarrow 40 % wholemeal (invented) · rest 10 min · codebook 2".into(),
        palette: Palette::new(["spiral", "two-arm", "high-speed"]),
        panels,
        notes: vec!["weighted kappa (quadratic weights) of the two graders 0.71 (0.62 to 0.79)".into()],
        caption: "each dot is one piece graded by one grader; 18 doughs; result ids in the picture's text chunk".into(),
        ..MembraneGrades::default()
    }
}
