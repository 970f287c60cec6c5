//! Figures checked from outside: the PNG is decoded again and its pixels, texts and label boxes are
//! compared with the data.
#![cfg(feature = "chart")]
#![allow(
    missing_docs,
    clippy::unwrap_used,
    clippy::float_cmp,
    reason = "test program"
)]

mod legible;
mod pixels;
mod samples;
mod vector;
mod vision;

use doughtrace::chart::*;

/// Writes all sample figures for the eye: `cargo test --features chart -- --ignored look`; the
/// variable `ONLY` picks some by name.
#[test]
#[ignore = "writes pictures for a person to look at"]
fn look() {
    let folder = std::env::temp_dir().join("doughtrace-charts");
    std::fs::create_dir_all(&folder).unwrap();
    let only = std::env::var("ONLY").unwrap_or_default();
    let from = samples::provenance();
    for (name, figure, page) in figures() {
        if name.contains(&only) {
            let png = figure.draw_on(&from, page).unwrap().png;
            std::fs::write(folder.join(format!("{name}.png")), png).unwrap();
            let svg = figure.draw_svg(&from, page).unwrap().svg;
            std::fs::write(folder.join(format!("{name}.svg")), svg).unwrap();
        }
    }
}

type Sample = (&'static str, Box<dyn Figure>, Page);

/// Every kind of figure at least once.
fn figures() -> Vec<Sample> {
    let mut figures: Vec<(&'static str, Box<dyn Figure>)> = vec![
        ("run", Box::new(samples::run_curve())),
        ("rising", Box::new(samples::rising_curve())),
        ("crowded", Box::new(samples::crowded_curve())),
        ("overlay", Box::new(samples::overlay())),
        ("day", Box::new(samples::day_overview())),
        ("facets", Box::new(samples::faceted_overview())),
        (
            "extension",
            Box::new(samples::extension_curves(&[
                "spiral",
                "two-arm",
                "high-speed",
            ])),
        ),
        ("extension_close", Box::new(samples::extension_close())),
        (
            "extension_one",
            Box::new(samples::extension_curves(&["two-arm"])),
        ),
        (
            "membrane",
            Box::new(samples::membrane_grades(&["Fenn", "Ode"], 6)),
        ),
        (
            "membrane_many",
            Box::new(samples::membrane_grades(&["Fenn", "Ode", "Quill"], 24)),
        ),
    ];
    figures.extend(method_figures());
    figures.extend(study_figures());
    figures.extend(trend_figures());
    let page = Page::default();
    let mut sized: Vec<Sample> = figures
        .into_iter()
        .map(|(name, figure)| (name, figure, page))
        .collect();
    sized.push((
        "run_small",
        Box::new(samples::run_curve()),
        Page { dpi: 96, ..page },
    ));
    sized.push(("facets_tiny", Box::new(samples::faceted_overview()), SMALL));
    sized
}

fn method_figures() -> Vec<(&'static str, Box<dyn Figure>)> {
    use samples::methods;
    vec![
        ("pin_mixing", Box::new(methods::pin_mixing())),
        ("heating", Box::new(methods::heating_curve())),
        ("strain", Box::new(methods::strain_hardening())),
        ("inflation", Box::new(methods::inflation())),
        ("mixer_log", Box::new(methods::mixer_log())),
        ("temperature", Box::new(methods::temperature_balance())),
        ("uptake", Box::new(methods::uptake())),
        ("firmness", Box::new(methods::firmness())),
        ("energy", Box::new(methods::energy_by_source())),
    ]
}

fn study_figures() -> Vec<(&'static str, Box<dyn Figure>)> {
    use samples::claims;
    vec![
        ("forest", Box::new(claims::claims_forest())),
        ("hydration", Box::new(claims::hydration_lines())),
        ("paired", Box::new(claims::paired_dots())),
        ("residuals", Box::new(claims::residuals())),
        ("grades", Box::new(claims::grade_distribution())),
        ("difference", Box::new(claims::curve_difference())),
        ("agreement", Box::new(claims::agreement())),
        ("survival", Box::new(claims::survival())),
    ]
}

fn trend_figures() -> Vec<(&'static str, Box<dyn Figure>)> {
    use samples::trend;
    vec![
        ("control", Box::new(trend::control_chart())),
        ("multiples", Box::new(trend::small_multiples(36))),
        ("multiples_few", Box::new(trend::small_multiples(7))),
        ("delivery", Box::new(trend::delivery_limits())),
    ]
}

fn pictures() -> Vec<(&'static str, Picture)> {
    let from = samples::provenance();
    let drawn = figures().into_iter();
    drawn
        .map(|(name, figure, page)| (name, figure.draw_on(&from, page).unwrap()))
        .collect()
}

/// A page that is quick to draw and decode without optimisation.
const SMALL: Page = Page {
    width: 800,
    height: 500,
    dpi: 96,
};

/// A figure of a noisy signal and nothing else.
fn bare_curve(noise: f64) -> RunCurve {
    let mut source = samples::Noise(23);
    let n = 2400;
    RunCurve {
        title: "t".into(),
        y_label: "consistency / FU".into(),
        time_min: (0..n).map(|i| f64::from(i) / 120.0).collect(),
        signal: (0..n).map(|_| 400.0 + noise * source.next()).collect(),
        ..RunCurve::default()
    }
}

#[test]
fn drawn_extremes_are_those_of_the_data() {
    // The scale is read off the picture itself: tick labels are centred on their grid lines.
    for noise in [20.0, 150.0, 390.0] {
        let figure = bare_curve(noise);
        let picture = figure.draw(&Provenance::default()).unwrap();
        let decoded = pixels::decode(&picture.png);
        let (a, b) = two_ticks(&picture);
        let row = |value: f64| a.1 + (value - a.0) * (b.1 - a.1) / (b.0 - a.0);
        let highest = figure.signal.iter().copied().fold(f64::MIN, f64::max);
        let lowest = figure.signal.iter().copied().fold(f64::MAX, f64::min);
        // The key's swatch has the same colour and lies above the panel: cut it off.
        let panel = crop_top(&decoded, key_bottom(&picture));
        let (top, bottom) = panel.signal_rows().unwrap();
        assert!(
            (top as f64 - row(highest)).abs() <= 1.5,
            "{top} is not {}",
            row(highest)
        );
        assert!(
            (bottom as f64 - row(lowest)).abs() <= 1.5,
            "{bottom} is not {}",
            row(lowest)
        );
    }
}

/// Returns value and device row of the lowest and the highest tick of the ordinate.
fn two_ticks(picture: &Picture) -> ((f64, f64), (f64, f64)) {
    // Ordinate ticks share a right edge; the abscissa's do not.
    let ticks: Vec<&LabelBox> = picture
        .labels
        .iter()
        .filter(|l| l.kind == LabelKind::Tick)
        .collect();
    let edge = ticks[0].x1;
    let read = |l: &LabelBox| {
        // Middle of the capitals: the box reaches 0.82 em above and 0.22 em below a baseline that
        // lies half a capital (0.36 em) below the middle.
        let em = (l.y1 - l.y0) / 1.04;
        let middle = l.y0 + (0.82 - 0.36) * em;
        let value: f64 = l.text.replace('−', "-").parse().unwrap();
        (value, middle * picture.scale())
    };
    let column: Vec<(f64, f64)> = ticks
        .iter()
        .filter(|l| (l.x1 - edge).abs() < 1e-6)
        .map(|l| read(l))
        .collect();
    (column[0], column[column.len() - 1])
}

fn key_bottom(picture: &Picture) -> usize {
    let boxes = picture
        .labels
        .iter()
        .filter(|l| l.kind == LabelKind::Series);
    let bottom = boxes.map(|l| l.y1).fold(0.0, f64::max);
    (bottom * picture.scale()).ceil() as usize
}

/// Returns the picture with its rows above `row` made white.
fn crop_top(decoded: &pixels::Decoded, row: usize) -> pixels::Decoded {
    let mut rgb = decoded.rgb.clone();
    rgb[..row * decoded.width].fill([255; 3]);
    pixels::Decoded {
        rgb,
        texts: Vec::new(),
        ..*decoded
    }
}

#[test]
fn a_pasted_picture_traces_back() {
    let from = samples::provenance();
    let figure = samples::run_curve();
    let picture = figure.draw(&from).unwrap();
    let decoded = pixels::decode(&picture.png);
    assert_eq!(
        (decoded.width, decoded.height),
        (picture.width as usize, picture.height as usize)
    );
    assert_eq!(decoded.text("Title"), Some(figure.title.as_str()));
    assert_eq!(decoded.text("Software"), Some("doughtrace 0.1.0"));
    assert_eq!(decoded.text("Runs"), Some("K-07"));
    assert_eq!(decoded.text("Results"), Some(from.results[0].as_str()));
    assert_eq!(decoded.text("Raw SHA-256"), Some(from.raw[0].as_str()));
    assert_eq!(decoded.text("Description"), Some(picture.alt.as_str()));
    // 192 dots an inch are 192 / 0.0254 = 7559 dots a metre.
    assert_eq!(decoded.pixels_per_metre, Some(7559));
}

#[test]
fn the_same_figure_gives_the_same_bytes() {
    for ((name, first), (_, second)) in pictures().iter().zip(pictures()) {
        assert!(first.png == second.png, "{name}");
    }
    let threads: Vec<_> = (0..4)
        .map(|_| {
            std::thread::spawn(|| {
                samples::run_curve()
                    .draw(&samples::provenance())
                    .unwrap()
                    .png
            })
        })
        .collect();
    let alone = samples::run_curve()
        .draw(&samples::provenance())
        .unwrap()
        .png;
    for thread in threads {
        assert!(thread.join().unwrap() == alone);
    }
}

#[test]
fn a_value_known_to_one_side_looks_unlike_an_exact_one() {
    let shapes = [
        MarkShape::Point {
            x_min: 6.0,
            y: 400.0,
        },
        MarkShape::Time {
            x_min: 6.0,
            y: 400.0,
        },
        MarkShape::Span {
            from_min: 3.0,
            to_min: 9.0,
            y: 400.0,
        },
        MarkShape::Drop {
            x_min: 9.0,
            from: 405.0,
            to: 330.0,
        },
    ];
    for shape in shapes {
        let drawn = |bound| {
            let mut figure = bare_curve(20.0);
            figure.marks = vec![Mark {
                shape,
                label: "development time".into(),
                bound,
            }];
            // The key's line for open marks must not make the difference.
            pixels::decode(&figure.draw_on(&Provenance::default(), SMALL).unwrap().png)
        };
        let exact = drawn(Bound::Exact);
        let (above, below) = (drawn(Bound::Above), drawn(Bound::Below));
        let key = 110;
        let part = |d: &pixels::Decoded| crop_top(d, key);
        for (a, b) in [(&exact, &above), (&exact, &below), (&above, &below)] {
            assert!(part(a).differing(&part(b)) > 30, "{shape:?}");
        }
    }
}

#[test]
fn what_cannot_be_drawn_is_said() {
    let none = Provenance::default();
    let mut figure = bare_curve(10.0);
    figure.signal[5] = f64::NAN;
    assert_eq!(
        figure.draw(&none),
        Err(ChartError::NotFinite {
            series: "signal".into(),
            index: 5
        })
    );
    figure.signal.pop();
    assert!(matches!(
        figure.draw(&none),
        Err(ChartError::Lengths {
            x: 2400,
            y: 2399,
            ..
        })
    ));
    let nothing = RunCurve::default();
    assert!(matches!(nothing.draw(&none), Err(ChartError::NoData(_))));
    let page = Page {
        width: 10,
        height: 10,
        dpi: 192,
    };
    assert!(matches!(
        bare_curve(1.0).draw_on(&none, page),
        Err(ChartError::Page { .. })
    ));
}

#[test]
fn every_graded_piece_is_a_dot_of_its_own() {
    // Blue of the first treatment by name, as published by Okabe and Ito (0, 114, 178); titles are
    // written in the same blue, so that the panel's title is counted letter by letter and taken off.
    let blue = [0, 114, 178];
    for each in [6, 24] {
        let mut figure = samples::membrane_grades(&["Fenn", "Ode"], each);
        for piece in figure.panels.iter_mut().flat_map(|p| &mut p.pieces) {
            piece.overmixed = false;
        }
        let panel = figure
            .panels
            .iter()
            .find(|p| p.treatment == "high-speed")
            .unwrap();
        let pieces = panel.pieces.len();
        let drawn = |figure: &MembraneGrades| {
            let picture = figure.draw(&Provenance::default()).unwrap();
            pixels::decode(&picture.png).patches(blue)
        };
        let whole = drawn(&figure);
        let bare = {
            let mut bare = figure.clone();
            bare.panels.iter_mut().for_each(|p| {
                if p.treatment == "high-speed" {
                    p.pieces.iter_mut().for_each(|piece| piece.grade = None);
                }
            });
            drawn(&bare)
        };
        assert_eq!(whole - bare, pieces, "{each} of each grader");
    }
}

#[test]
fn a_smoothed_line_stays_on_its_data_even_when_it_is_noisy() {
    // A centre that jumps at every point would overshoot by tens of pixels with mitred joins.
    let mut figure = bare_curve(150.0);
    let centre = figure.signal.clone();
    let highest = centre.iter().copied().fold(f64::MIN, f64::max);
    let lowest = centre.iter().copied().fold(f64::MAX, f64::min);
    figure.centre = centre;
    figure.treatment = Some("a".into());
    figure.palette = Palette::new(["a"]);
    let picture = figure.draw(&Provenance::default()).unwrap();
    let decoded = crop_top(&pixels::decode(&picture.png), key_bottom(&picture));
    let (top, bottom) = decoded.signal_rows().unwrap();
    let (a, b) = two_ticks(&picture);
    let row = |value: f64| a.1 + (value - a.0) * (b.1 - a.1) / (b.0 - a.0);
    // Five pixels wide: two on each side of the data, and the rounding to whole pixels.
    assert!(
        (top as f64 - row(highest)).abs() <= 3.5,
        "{top} is not {}",
        row(highest)
    );
    assert!(
        (bottom as f64 - row(lowest)).abs() <= 3.5,
        "{bottom} is not {}",
        row(lowest)
    );
}

#[test]
fn readings_are_printed_with_their_side() {
    let figure = samples::extension_curves(&["spiral", "two-arm", "high-speed"]);
    let picture = figure.draw(&samples::provenance()).unwrap();
    let all: Vec<String> = picture
        .labels
        .iter()
        .map(|l| l.text.replace('\u{a0}', " "))
        .collect();
    let broken = figure.panels[1].curves[0].e.as_ref().unwrap();
    let words = format!("E above {}", broken.label);
    assert!(all.iter().any(|l| l.contains(&words)), "{all:?}");
    assert!(picture.alt.contains(&words));
    for rest in ["45 min", "90 min", "135 min"] {
        let named = picture.labels.iter().filter(|l| l.text == rest).count();
        assert_eq!(named, 3, "{rest} beside each panel's curve");
    }
}

#[test]
fn runs_without_a_value_are_counted_not_drawn() {
    let picture = samples::day_overview()
        .draw(&samples::provenance())
        .unwrap();
    let listed = picture
        .labels
        .iter()
        .filter(|l| l.text == "no value: 2")
        .count();
    assert_eq!(listed, 7, "once in each panel");
    assert!(picture.alt.contains("no value: 2"));
}

#[test]
fn pieces_that_tear_together_are_all_named() {
    let figure = samples::extension_close();
    let picture = figure.draw(&Provenance::default()).unwrap();
    for rest in ["45", "90", "135"] {
        for piece in ["a", "b"] {
            let words = format!("{rest} min, piece {piece}");
            let named = picture.labels.iter().filter(|l| l.text == words).count();
            assert_eq!(named, figure.panels.len(), "{words}");
        }
    }
}

#[test]
fn the_resolution_changes_pixels_and_nothing_else() {
    let figure = samples::methods::heating_curve();
    let from = samples::provenance();
    let at = |dpi| {
        let page = Page {
            width: 800,
            height: 500,
            dpi,
        };
        figure.draw_on(&from, page).unwrap()
    };
    let (screen, print) = (at(96), at(300));
    assert_eq!(screen.labels, print.labels);
    assert_eq!((screen.width, print.width), (800, 2500));
    // 300 dots an inch are 300 / 0.0254 = 11811 dots a metre.
    let decoded = pixels::decode(&print.png);
    assert_eq!(decoded.pixels_per_metre, Some(11811));
    let page = Page {
        dpi: 1200,
        ..Page::default()
    };
    assert!(matches!(
        figure.draw_on(&from, page),
        Err(ChartError::Page { dpi: 1200, .. })
    ));
}

#[test]
fn every_figure_says_what_it_cannot_draw() {
    let empty: Vec<Box<dyn Figure>> = vec![
        Box::new(Agreement::default()),
        Box::new(ClaimsForest::default()),
        Box::new(ControlChart::default()),
        Box::new(CurveDifference::default()),
        Box::new(DeliveryLimits::default()),
        Box::new(EnergyBySource::default()),
        Box::new(GradeDistribution::default()),
        Box::new(HeatingCurve::default()),
        Box::new(HydrationLines::default()),
        Box::new(Inflation::default()),
        Box::new(MixerLog::default()),
        Box::new(PairedDots::default()),
        Box::new(RateFit::default()),
        Box::new(Residuals::default()),
        Box::new(SmallMultiples::default()),
        Box::new(StrainHardening::default()),
        Box::new(Survival::default()),
        Box::new(TemperatureBalance::default()),
    ];
    for figure in empty {
        let drawn = figure.draw(&Provenance::default());
        assert!(matches!(drawn, Err(ChartError::NoData(_))), "{drawn:?}");
    }
    let mut heating = samples::methods::heating_curve();
    heating.torque[3] = f64::NAN;
    assert_eq!(
        heating.draw(&Provenance::default()),
        Err(ChartError::NotFinite {
            series: "torque".into(),
            index: 3
        })
    );
    let mut survival = samples::claims::survival();
    survival.groups[0].steps[0].time = f64::INFINITY;
    assert!(survival.draw(&Provenance::default()).is_err());
}
