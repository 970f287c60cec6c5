//! SVG files are read as XML by rules of their own here, and compared with what was drawn.

use super::{figures, samples};
use doughtrace::chart::*;

/// Checks that `file` is well-formed XML 1.0 as far as our files use it: one root, balanced tags,
/// quoted attributes that occur once, no bare markup in text. Returns the elements' names in order.
fn elements(file: &str) -> Result<Vec<String>, String> {
    let body = file
        .strip_prefix("<?xml version=\"1.0\" encoding=\"UTF-8\"?>")
        .ok_or("no declaration")?;
    let (mut open, mut names): (Vec<&str>, Vec<String>) = (Vec::new(), Vec::new());
    let mut rest = body;
    while let Some(start) = rest.find('<') {
        let text = &rest[..start];
        check_text(text)?;
        if open.is_empty() && !text.trim().is_empty() {
            return Err(format!("text outside the root: {text}"));
        }
        let end = rest[start..].find('>').ok_or("unclosed tag")? + start;
        let tag = &rest[start + 1..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let expected = open.pop();
            if expected != Some(name) {
                return Err(format!("</{name}> closes {expected:?}"));
            }
            continue;
        }
        let (inside, alone) = match tag.strip_suffix('/') {
            Some(inside) => (inside, true),
            None => (tag, false),
        };
        let name = inside.split_whitespace().next().ok_or("empty tag")?;
        if open.is_empty() && !names.is_empty() {
            return Err("two roots".into());
        }
        check_attributes(inside[name.len()..].trim())?;
        names.push(name.to_owned());
        if !alone {
            open.push(name);
        }
    }
    match open.is_empty() && rest.trim().is_empty() {
        true => Ok(names),
        false => Err(format!("left open: {open:?}")),
    }
}

fn check_text(text: &str) -> Result<(), String> {
    for part in text.split('&').skip(1) {
        let entity = part.split(';').next().unwrap_or_default();
        if !["amp", "lt", "gt", "quot", "apos"].contains(&entity) {
            return Err(format!("bare & in {text}"));
        }
    }
    let allowed = |c: char| c >= ' ' || c == '\t' || c == '\n';
    match text.chars().all(allowed) {
        true => Ok(()),
        false => Err(format!("control character in {text:?}")),
    }
}

fn check_attributes(mut rest: &str) -> Result<(), String> {
    let mut seen = Vec::new();
    while !rest.is_empty() {
        let (name, after) = rest.split_once("=\"").ok_or(format!("attribute {rest}"))?;
        let (value, after) = after.split_once('"').ok_or(format!("unquoted {rest}"))?;
        check_text(value)?;
        if seen.contains(&name) || name.contains(char::is_whitespace) {
            return Err(format!("attribute {name}"));
        }
        seen.push(name);
        rest = after.trim_start();
    }
    Ok(())
}

#[test]
fn the_reader_of_these_tests_sees_bad_files() {
    let head = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>";
    for bad in [
        "<a><b></a></b>",
        "<a>x & y</a>",
        "<a b=1/>",
        "<a/><b/>",
        "<a b=\"1\" b=\"2\"/>",
        "<a>\u{1}</a>",
    ] {
        assert!(elements(&format!("{head}{bad}")).is_err(), "{bad}");
    }
    assert_eq!(
        elements(&format!("{head}<a b=\"1\"><c/>x &amp; y</a>")),
        Ok(vec!["a".into(), "c".into()])
    );
}

#[test]
fn every_figure_is_a_well_formed_drawing_with_its_words() {
    let from = samples::provenance();
    for (name, figure, page) in figures() {
        let drawing = figure.draw_svg(&from, page).unwrap();
        let names = elements(&drawing.svg)
            .map_err(|e| format!("{name}: {e}"))
            .unwrap();
        assert_eq!(names[..4], ["svg", "title", "desc", "metadata"], "{name}");
        let texts = names.iter().filter(|n| *n == "text").count();
        assert_eq!(texts, drawing.labels.len(), "{name}");
        let picture = figure.draw_on(&from, page).unwrap();
        assert_eq!(drawing.labels, picture.labels, "{name}: both say the same");
        assert_eq!(drawing.alt, picture.alt);
        assert!(
            !drawing.svg.contains("NaN") && !drawing.svg.contains("inf\""),
            "{name}"
        );
        let again = figure.draw_svg(&from, page).unwrap();
        assert!(drawing.svg == again.svg, "{name}");
    }
}

#[test]
fn a_drawing_traces_back_too() {
    let mut from = samples::provenance();
    from.software = "doughtrace <0.1> & \"friends\"".into();
    let mut figure = samples::run_curve();
    figure.title = "a < b & \u{1}c".into();
    let drawing = figure.draw_svg(&from, Page::default()).unwrap();
    elements(&drawing.svg).unwrap();
    assert_eq!(provenance_in(drawing.svg.as_bytes()), Ok(from.clone()));
    let picture = figure.draw(&from).unwrap();
    assert_eq!(provenance_in(&picture.png), Ok(from));
    let foreign = b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>";
    assert_eq!(provenance_in(foreign), Ok(Provenance::default()));
}
