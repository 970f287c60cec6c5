//! Treatments are told apart by colour-blind readers and in greyscale print: the pixels of drawn
//! figures are changed as such readers see them.
//!
//! Matrices: Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color
//! vision deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009) 1291, severity 1.0, applied to linear
//! RGB (values from memory). Greyscale: relative luminance of WCAG 2.2.

use super::{pixels, samples};
use doughtrace::chart::*;

type Matrix = [[f64; 3]; 3];

const PROTANOPIA: Matrix = [
    [0.152_286, 1.052_583, -0.204_868],
    [0.114_503, 0.786_281, 0.099_216],
    [-0.003_882, -0.048_116, 1.051_998],
];
const DEUTERANOPIA: Matrix = [
    [0.367_322, 0.860_646, -0.227_968],
    [0.280_085, 0.672_501, 0.047_413],
    [-0.011_820, 0.042_940, 0.968_881],
];
const TRITANOPIA: Matrix = [
    [1.255_528, -0.076_749, -0.178_779],
    [-0.078_411, 0.930_809, 0.147_602],
    [0.004_733, 0.691_367, 0.303_900],
];
const GREY: Matrix = [[0.2126, 0.7152, 0.0722]; 3];
const SIGHT: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

const READERS: [(&str, Matrix); 5] = [
    ("usual sight", SIGHT),
    ("protanopia", PROTANOPIA),
    ("deuteranopia", DEUTERANOPIA),
    ("tritanopia", TRITANOPIA),
    ("greyscale", GREY),
];

/// Linear light of a pixel as a reader sees it.
fn seen(pixel: [u8; 3], reader: &Matrix) -> [f64; 3] {
    let linear = pixel.map(|c| {
        let share = f64::from(c) / 255.0;
        if share <= 0.040_45 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    });
    let row = |r: &[f64; 3]| r.iter().zip(linear).map(|(a, b)| a * b).sum::<f64>();
    [row(&reader[0]), row(&reader[1]), row(&reader[2])].map(|v| v.clamp(0.0, 1.0))
}

/// CIE L*a*b* (CIE 15, D65) of linear sRGB light.
fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
    let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.0891;
    let f = |t: f64| {
        if t > 0.008_856 {
            t.cbrt()
        } else {
            7.787 * t + 16.0 / 116.0
        }
    };
    [
        116.0 * f(y) - 16.0,
        500.0 * (f(x) - f(y)),
        200.0 * (f(y) - f(z)),
    ]
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(a, b)| (a - b) * (a - b))
        .sum::<f64>()
        .sqrt()
}

/// The ink of one treatment: the pixels of a crop that a blank figure does not have.
struct Ink {
    mask: Vec<bool>,
    colour: [u8; 3],
}

impl Ink {
    fn of(with: &pixels::Decoded, without: &pixels::Decoded) -> Ink {
        // The palette of a file gathers near shades: only clear differences are ink.
        let differ = |a: &[u8; 3], b: &[u8; 3]| a.iter().zip(b).any(|(a, b)| a.abs_diff(*b) > 40);
        let pixels = with.rgb.iter().zip(&without.rgb);
        let mask: Vec<bool> = pixels.map(|(a, b)| differ(a, b)).collect();
        // The most frequent colour of the ink is that of the mark; the others smooth its edge.
        let mut counts = std::collections::BTreeMap::new();
        for (pixel, _) in with.rgb.iter().zip(&mask).filter(|(_, inked)| **inked) {
            *counts.entry(*pixel).or_insert(0) += 1;
        }
        let colour = counts.into_iter().max_by_key(|(_, n)| *n).unwrap().0;
        Ink { mask, colour }
    }

    fn size(&self) -> usize {
        self.mask.iter().filter(|inked| **inked).count()
    }
}

/// Distance in L*a*b* from which two neighbouring colours are told apart at a glance (common practice,
/// no source: a just noticeable difference is about 2.3).
const GLANCE: f64 = 15.0;

/// Returns whether `reader` tells two inks apart: by colour, or by shape, when a fifth of the ink of
/// the smaller lies elsewhere.
fn told_apart(a: &Ink, b: &Ink, reader: &Matrix) -> bool {
    let colour = distance(lab(seen(a.colour, reader)), lab(seen(b.colour, reader)));
    let elsewhere = a.mask.iter().zip(&b.mask).filter(|(a, b)| a != b).count();
    colour >= GLANCE || elsewhere * 5 >= a.size().min(b.size())
}

fn names(count: usize) -> Vec<String> {
    (0..count).map(|i| format!("treatment {i}")).collect()
}

/// The mark of `treatment` alone on a day overview.
fn mark(treatment: &str, palette: &Palette) -> Ink {
    let figure = |dots: Vec<Dot>| {
        let mut figure = samples::day_overview();
        figure.palette = palette.clone();
        figure.rows.truncate(1);
        // The name below the panel would count as ink: every treatment is drawn under one name's room.
        figure.rows[0].cells[0].groups = vec![
            DotGroup {
                treatment: treatment.into(),
                dots,
                ..DotGroup::default()
            },
            DotGroup {
                dots: vec![dot(2.0), dot(8.0)],
                ..DotGroup::default()
            },
        ];
        let picture = figure.draw(&Provenance::default()).unwrap();
        cropped(&picture, |l| l.text.starts_with("treatment"))
    };
    Ink::of(&figure(vec![dot(5.0)]), &figure(Vec::new()))
}

fn dot(value: f64) -> Dot {
    Dot {
        value,
        ..Dot::default()
    }
}

/// A picture above the first text that `is` one of those that may differ.
fn cropped(picture: &Picture, is: impl Fn(&LabelBox) -> bool) -> pixels::Decoded {
    let mut decoded = pixels::decode(&picture.png);
    let tops = picture.labels.iter().filter(|l| is(l)).map(|l| l.y0);
    let top = tops.fold(f64::INFINITY, f64::min) * picture.scale();
    let keep = (top as usize).min(decoded.height) * decoded.width;
    decoded.rgb.truncate(keep);
    decoded.height = keep / decoded.width;
    decoded
}

/// The line of `treatment` alone on an overlay.
fn line(treatment: &str, palette: &Palette) -> Ink {
    let figure = |groups: Vec<Group>| {
        let figure = Overlay {
            palette: palette.clone(),
            groups,
            y_label: "consistency / FU".into(),
            ..Overlay::default()
        };
        let mut decoded = pixels::decode(&figure.draw(&Provenance::default()).unwrap().png);
        // The name right of the panel would count as ink.
        let width = decoded.width;
        let left = width * 6 / 10;
        for (i, pixel) in decoded.rgb.iter_mut().enumerate() {
            if i % width > left {
                *pixel = [255; 3];
            }
        }
        decoded
    };
    let group = |y: f64, name: &str| Group {
        treatment: name.into(),
        doughs: 4,
        mean: Series {
            name: name.into(),
            x: vec![0.0, 10.0],
            y: vec![y, y],
        },
        ..Group::default()
    };
    // Names longer than the treatment's settle the room right of the panel.
    let long = "a name that is longer than that";
    let frame = || vec![group(0.0, long), group(600.0, long)];
    let mut with = frame();
    with.push(group(300.0, treatment));
    Ink::of(&figure(with), &figure(frame()))
}

#[test]
fn treatments_are_told_apart_by_every_reader() {
    let names = names(5);
    let palette = Palette::new(names.clone());
    let marks: Vec<Ink> = names.iter().map(|n| mark(n, &palette)).collect();
    // Four dashes: the fifth treatment repeats the first one's, in another colour.
    let lines: Vec<Ink> = names.iter().take(4).map(|n| line(n, &palette)).collect();
    for (reader, matrix) in READERS {
        for inks in [&marks, &lines] {
            for (i, a) in inks.iter().enumerate() {
                assert!(a.size() > 40, "the mark of {i} was not found");
                for (j, b) in inks[..i].iter().enumerate() {
                    assert!(
                        told_apart(a, b, &matrix),
                        "{reader}: {i} and {j}, {:?} and {:?}, {} and {} pixels",
                        a.colour,
                        b.colour,
                        a.size(),
                        b.size()
                    );
                }
            }
        }
    }
}

#[test]
fn the_check_of_readers_can_fail() {
    let palette = Palette::new(names(3));
    let a = mark("treatment 0", &palette);
    let same = mark("treatment 0", &palette);
    assert!(!told_apart(&a, &same, &SIGHT));
    // The same mark in the orange and in a green that are alike without red-green sight.
    let of = |colour| Ink {
        mask: a.mask.clone(),
        colour,
    };
    let (red, green) = (of([160, 60, 0]), of([100, 100, 0]));
    assert!(told_apart(&red, &green, &SIGHT));
    assert!(!told_apart(&red, &green, &DEUTERANOPIA));
}

#[test]
fn lines_and_marks_stand_out_from_paper() {
    // WCAG 2.2, 1.4.11: graphics that are needed to understand have 3:1 against what is next to them.
    let names = names(7);
    let palette = Palette::new(names.clone());
    for name in &names {
        for ink in [line(name, &palette), mark(name, &palette)] {
            let light = seen(ink.colour, &GREY)[0];
            assert!(1.05 / (light + 0.05) >= 3.0, "{name}: {:?}", ink.colour);
        }
    }
}
