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
