//! No text is clipped, covered or lost, whatever the figure.

use super::{SMALL, figures, pictures, samples};
use doughtrace::chart::*;

/// Asserts that no text leaves the page or covers another.
fn assert_legible(name: &str, picture: &Picture) {
    let (width, height) = (
        f64::from(picture.width) / picture.scale(),
        f64::from(picture.height) / picture.scale(),
    );
    for (i, a) in picture.labels.iter().enumerate() {
        let inside = a.x0 >= 0.0 && a.y0 >= 0.0 && a.x1 <= width && a.y1 <= height;
        assert!(inside, "{name}: clipped {a:?}");
        for b in &picture.labels[..i] {
            assert!(!a.overlaps(b), "{name}: {a:?} covers {b:?}");
        }
    }
}

#[test]
fn no_text_is_clipped_or_covered_by_another() {
    for (name, picture) in pictures() {
        assert_legible(name, &picture);
    }
}

#[test]
fn small_pages_hold_every_text_too() {
    let from = samples::provenance();
    for (width, height) in [(640, 400), (900, 500), (1600, 900)] {
        let page = Page {
            width,
            height,
            dpi: 48,
        };
        for (name, figure, _) in figures() {
            assert_legible(name, &figure.draw_on(&from, page).unwrap());
        }
    }
}

#[test]
fn long_names_and_many_treatments_stay_legible() {
    let names: Vec<String> = (0..10)
        .map(|i| format!("treatment {i} with a name that no label could hold on one line"))
        .collect();
    let rename = |i: usize| names[i % names.len()].clone();
    let mut overlay = samples::overlay();
    overlay.groups = (0..10)
        .map(|i| Group {
            treatment: rename(i),
            ..overlay.groups[i % 3].clone()
        })
        .collect();
    overlay.palette = Palette::new(names.clone());
    overlay.reference = Some(Reference {
        value: 500.0,
        label: rename(0),
    });
    let mut day = samples::day_overview();
    for cell in day.rows.iter_mut().flat_map(|r| &mut r.cells) {
        cell.groups = (0..10)
            .map(|i| DotGroup {
                treatment: rename(i),
                ..cell.groups[i % 3].clone()
            })
            .collect();
    }
    let mut run = samples::run_curve();
    run.treatment = Some(names.concat());
    run.reference = Some(Reference {
        value: 500.0,
        label: names.concat(),
    });
    run.subtitle = "x".repeat(400);
    run.marks[0].label = names.concat();
    run.marks[4].label = names.concat();
    let mut membrane = samples::membrane_grades(&[&names.concat(), "Ode"], 6);
    membrane.panels[1].treatment = names.concat();
    let mut extension = samples::extension_curves(&["spiral", "two-arm", "high-speed"]);
    extension.panels[1].title = names.concat();
    extension.panels[1].curves[1].piece = names.concat();
    let from = Provenance::default();
    for page in [
        SMALL,
        Page {
            dpi: 96,
            ..Page::default()
        },
    ] {
        let pictures = [
            ("overlay", overlay.draw_on(&from, page).unwrap()),
            ("day", day.draw_on(&from, page).unwrap()),
            ("run", run.draw_on(&from, page).unwrap()),
            ("membrane", membrane.draw_on(&from, page).unwrap()),
            ("extension", extension.draw_on(&from, page).unwrap()),
        ];
        for (name, picture) in pictures {
            assert_legible(name, &picture);
        }
    }
}

#[test]
fn long_words_stay_legible_on_every_new_figure() {
    use samples::{claims, methods, trend};
    let long = "a name or sentence so long that no label, title, tick or table cell could hold it";
    let mut figures: Vec<(&str, Box<dyn Figure>)> = Vec::new();
    let mut heating = methods::heating_curve();
    heating.treatment = Some(long.into());
    heating.torque_label = long.into();
    heating.phases.iter_mut().for_each(|p| p.name = long.into());
    heating
        .stages
        .iter_mut()
        .for_each(|s| s.label = long.into());
    figures.push(("heating", Box::new(heating)));
    let mut strain = methods::strain_hardening();
    strain.groups[0].treatment = long.into();
    strain.groups[0].fits[0].label = long.into();
    figures.push(("strain", Box::new(strain)));
    let mut log = methods::mixer_log();
    log.panels[0].y_label = long.into();
    log.panels[3].readings[0].label = long.into();
    figures.push(("log", Box::new(log)));
    let mut balance = methods::temperature_balance();
    balance.steps.iter_mut().for_each(|s| s.name = long.into());
    figures.push(("balance", Box::new(balance)));
    let mut fit = methods::firmness();
    fit.groups
        .iter_mut()
        .for_each(|g| g.treatment = long.into());
    figures.push(("fit", Box::new(fit)));
    let mut energy = methods::energy_by_source();
    energy
        .groups
        .iter_mut()
        .for_each(|g| g.treatment = long.into());
    energy.sources.iter_mut().for_each(|s| *s = long.into());
    figures.push(("energy", Box::new(energy)));
    let mut forest = claims::claims_forest();
    for claim in forest.panels.iter_mut().flat_map(|p| &mut p.claims) {
        claim.sentence = long.repeat(3);
        claim.value_words = long.into();
        claim.verdict_words = long.replace(' ', "");
    }
    figures.push(("forest", Box::new(forest)));
    let mut paired = claims::paired_dots();
    paired.treatments.iter_mut().for_each(|t| *t = long.into());
    paired
        .differences
        .iter_mut()
        .for_each(|d| d.name = long.into());
    figures.push(("paired", Box::new(paired)));
    let mut grades = claims::grade_distribution();
    grades.panels.iter_mut().for_each(|p| p.note = long.into());
    grades.grades.iter_mut().for_each(|g| *g = long.into());
    figures.push(("grades", Box::new(grades)));
    let mut agreement = claims::agreement();
    agreement
        .levels
        .iter_mut()
        .for_each(|l| l.label = long.into());
    figures.push(("agreement", Box::new(agreement)));
    let mut survival = claims::survival();
    survival
        .groups
        .iter_mut()
        .for_each(|g| g.treatment = long.into());
    figures.push(("survival", Box::new(survival)));
    let mut control = trend::control_chart();
    control.lots = (0..6).map(|i| (4 + i, long.to_owned())).collect();
    control.names.iter_mut().for_each(|n| *n = long.into());
    control
        .signals
        .iter_mut()
        .for_each(|s| s.label = long.into());
    figures.push(("control", Box::new(control)));
    let mut multiples = trend::small_multiples(40);
    multiples.runs.iter_mut().for_each(|r| r.note = long.into());
    multiples.runs.iter_mut().for_each(|r| r.name = long.into());
    figures.push(("multiples", Box::new(multiples)));
    let mut delivery = trend::delivery_limits();
    delivery
        .strips
        .iter_mut()
        .for_each(|s| s.label = long.into());
    delivery
        .strips
        .iter_mut()
        .for_each(|s| s.metric = long.into());
    figures.push(("delivery", Box::new(delivery)));
    for (width, height) in [(480, 320), (640, 400), (1200, 760)] {
        let page = Page {
            width,
            height,
            dpi: 48,
        };
        for (name, figure) in &figures {
            let drawn = figure.draw_on(&Provenance::default(), page);
            assert_legible(name, &drawn.unwrap());
        }
    }
}

#[test]
fn every_mark_is_printed_and_spoken() {
    let figure = samples::crowded_curve();
    let picture = figure.draw(&samples::provenance()).unwrap();
    let all: String = picture.labels.iter().map(|l| l.text.as_str()).collect();
    let all = all.replace([' ', '\u{a0}'], "");
    for mark in &figure.marks {
        // Listed labels may be broken over lines, with no-break spaces inside.
        let printed = all.contains(&mark.label.replace(' ', ""));
        assert!(printed, "{} is not on the picture", mark.label);
        assert!(picture.alt.contains(&mark.label));
    }
}
