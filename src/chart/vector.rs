//! The vector surface: the same page as SVG 1.1, text as text.

use super::canvas::{Pen, Surface};
use super::font::Weight;
use super::label::Area;
use super::picture::{ChartError, Provenance};
use super::text::{Text, width};
use super::theme::Rgb;
use crate::schema::{Digest, ResultId, RunId};
use std::fmt::Write as _;

/// A drawing under way.
pub(super) struct Vector {
    body: String,
    width: f64,
    height: f64,
}

/// Steps per logical pixel to which curves are rounded.
const SCALE: f64 = 4.0;

/// Family of the embedded font, its upstream family, and a fallback; each text states its measured
/// width, so that another font cannot leave the box that was kept free for it.
const FAMILY: &str = "'Chart Sans', Lato, sans-serif";

/// Name of our elements in the metadata.
const NAMESPACE: &str = "urn:doughtrace:provenance";

impl Vector {
    /// Returns a blank drawing of `width` × `height` logical pixels.
    pub fn new(width: f64, height: f64) -> Vector {
        Vector {
            body: String::with_capacity(64 * 1024),
            width,
            height,
        }
    }

    /// Returns the file with title, description and provenance.
    pub fn finish(self, title: &str, alt: &str, from: &Provenance) -> String {
        let (width, height) = (at(self.width), at(self.height));
        let mut file = String::with_capacity(self.body.len() + 2048 + alt.len());
        file.push_str("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
        add(
            &mut file,
            format_args!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
                 viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"{FAMILY}\">\n\
                 <title>{}</title>\n<desc>{}</desc>\n<metadata>\n\
                 <provenance xmlns=\"{NAMESPACE}\">\n",
                escaped(title),
                escaped(alt)
            ),
        );
        let mut entry = |name: &str, words: &str| {
            add(
                &mut file,
                format_args!("<{name}>{}</{name}>\n", escaped(words)),
            );
        };
        if !from.software.is_empty() {
            entry("software", &from.software);
        }
        from.runs.iter().for_each(|id| entry("run", id.as_str()));
        from.results
            .iter()
            .for_each(|id| entry("result", id.as_str()));
        from.raw.iter().for_each(|id| entry("sha256", id.as_str()));
        file.push_str("</provenance>\n</metadata>\n");
        add(
            &mut file,
            format_args!("<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n"),
        );
        file.push_str(&self.body);
        file.push_str("</svg>\n");
        file
    }

    fn add(&mut self, words: std::fmt::Arguments<'_>) {
        add(&mut self.body, words);
    }

    fn polyline(&mut self, points: &str, pen: Pen) {
        let dash: Vec<String> = pen.dash.pattern().iter().map(|l| at(*l)).collect();
        let dash = match dash.is_empty() {
            true => String::new(),
            false => format!(" stroke-dasharray=\"{}\"", dash.join(" ")),
        };
        self.add(format_args!(
            "<polyline points=\"{points}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" \
             stroke-linejoin=\"round\"{dash}/>\n",
            hex(pen.colour),
            at(f64::from(pen.width) / 2.0),
        ));
    }
}

impl Surface for Vector {
    fn scale(&self) -> f64 {
        SCALE
    }

    fn rect(&mut self, area: Area, colour: Rgb, opacity: f64) -> Result<(), ChartError> {
        self.add(format_args!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{}\"{}/>\n",
            at(area.x0),
            at(area.y0),
            at((area.x1 - area.x0).max(0.0)),
            at((area.y1 - area.y0).max(0.0)),
            hex(colour),
            faint(opacity),
        ));
        Ok(())
    }

    fn columns(
        &mut self,
        columns: &[(i32, i32, i32)],
        colour: Rgb,
        opacity: f64,
    ) -> Result<(), ChartError> {
        // A quarter of the columns: one for each logical pixel, and the last.
        let every = SCALE as usize;
        let last = columns.len().saturating_sub(1);
        let kept = || {
            let some = columns.iter().enumerate();
            some.filter(move |(i, _)| i % every == 0 || *i == last)
                .map(|(_, column)| column)
        };
        let upper = kept().map(|&(x, top, _)| (x, top));
        let lower = kept().rev().map(|&(x, _, bottom)| (x, bottom));
        let points = device_points(upper.chain(lower));
        self.add(format_args!(
            "<polygon points=\"{points}\" fill=\"{}\"{}/>\n",
            hex(colour),
            faint(opacity)
        ));
        Ok(())
    }

    fn line(&mut self, points: &[(f64, f64)], pen: Pen) -> Result<(), ChartError> {
        let points = logical_points(points);
        self.polyline(&points, pen);
        Ok(())
    }

    fn path(&mut self, path: &[(i32, i32)], pen: Pen) -> Result<(), ChartError> {
        let points = device_points(path.iter().copied());
        self.polyline(&points, pen);
        Ok(())
    }

    fn polygon(&mut self, corners: &[(f64, f64)], colour: Rgb) -> Result<(), ChartError> {
        let points = logical_points(corners);
        self.add(format_args!(
            "<polygon points=\"{points}\" fill=\"{}\"/>\n",
            hex(colour)
        ));
        Ok(())
    }

    fn circle(&mut self, (x, y): (f64, f64), radius: f64, colour: Rgb) -> Result<(), ChartError> {
        self.add(format_args!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\"/>\n",
            at(x),
            at(y),
            at(radius),
            hex(colour)
        ));
        Ok(())
    }

    fn text(&mut self, text: Text<'_>, left: f64, baseline: f64) -> Result<(), ChartError> {
        let weight = match text.style.weight {
            Weight::Regular => "",
            Weight::Bold => " font-weight=\"700\"",
        };
        self.add(format_args!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{weight} fill=\"{}\" \
             textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>\n",
            at(left),
            at(baseline),
            at(text.style.size),
            hex(text.style.colour),
            at(width(text.words, text.style)?),
            escaped(text.words)
        ));
        Ok(())
    }
}

fn add(file: &mut String, words: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    let _ = file.write_fmt(words);
}

/// Returns a length with two decimals at most.
fn at(length: f64) -> String {
    let text = format!("{length:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

fn logical_points(points: &[(f64, f64)]) -> String {
    let pairs: Vec<String> = points
        .iter()
        .map(|&(x, y)| format!("{},{}", at(x), at(y)))
        .collect();
    pairs.join(" ")
}

fn device_points(points: impl Iterator<Item = (i32, i32)>) -> String {
    let pairs: Vec<String> = points
        .map(|(x, y)| format!("{},{}", at(f64::from(x) / SCALE), at(f64::from(y) / SCALE)))
        .collect();
    pairs.join(" ")
}

fn hex(colour: Rgb) -> String {
    format!("#{:02x}{:02x}{:02x}", colour.0, colour.1, colour.2)
}

fn faint(opacity: f64) -> String {
    if opacity < 1.0 {
        format!(" fill-opacity=\"{}\"", at(opacity))
    } else {
        String::new()
    }
}

/// Returns `words` as XML character data: markup escaped, characters that XML 1.0 §2.2 forbids
/// replaced.
fn escaped(words: &str) -> String {
    let mut safe = String::with_capacity(words.len());
    for letter in words.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\t' | '\n' => safe.push(letter),
            '\u{0}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}' => safe.push('\u{fffd}'),
            _ => safe.push(letter),
        }
    }
    safe
}

/// Returns where an SVG file of ours says that it came from; all empty for another maker's.
pub(super) fn provenance_of(svg: &str) -> Provenance {
    let ours = svg
        .split_once(&format!("<provenance xmlns=\"{NAMESPACE}\">"))
        .and_then(|(_, rest)| rest.split_once("</provenance>"))
        .map_or("", |(inside, _)| inside);
    let all = |name: &str| {
        let (open, close) = (format!("<{name}>"), format!("</{name}>"));
        ours.lines()
            .filter_map(|line| line.strip_prefix(&open)?.strip_suffix(&close))
            .map(|words| {
                words
                    .replace("&lt;", "<")
                    .replace("&gt;", ">")
                    .replace("&quot;", "\"")
                    .replace("&amp;", "&")
            })
            .collect::<Vec<_>>()
    };
    Provenance {
        software: all("software").into_iter().next().unwrap_or_default(),
        runs: all("run").iter().flat_map(|id| RunId::new(id)).collect(),
        results: all("result")
            .iter()
            .flat_map(|id| ResultId::new(id))
            .collect(),
        raw: all("sha256")
            .iter()
            .flat_map(|d| Digest::parse(d))
            .collect(),
    }
}
