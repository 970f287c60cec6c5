//! Which profile reads a file: by what stands in it, never by its name.

use super::desk::{Complaint, clip, locate};
use super::head::{Head, head};
use super::lines::{Line, Lines, Splitter};
use super::preamble::{LONGEST_PREAMBLE, is_row};
use super::text::empty_file;
use crate::profile::Profile;
use crate::record::Fault;

/// A point of a content signature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Point {
    /// Character encoding.
    Encoding,
    /// Literal first line.
    FirstLine,
    /// Header line.
    Header,
    /// Units row below the header.
    UnitsRow,
}

impl Point {
    /// Returns the point in words.
    pub fn words(self) -> &'static str {
        match self {
            Point::Encoding => "encoding",
            Point::FirstLine => "first line",
            Point::Header => "header",
            Point::UnitsRow => "units row",
        }
    }
}

/// Whether one point of a signature holds, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FitReason {
    /// The point.
    pub point: Point,
    /// Whether the file shows what the profile wants.
    pub holds: bool,
    /// Line looked at.
    pub line: Option<u64>,
    /// What was found.
    pub found: String,
    /// What the profile wants.
    pub expected: String,
}

impl std::fmt::Display for FitReason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.point.words())?;
        if let Some(line) = self.line {
            write!(f, " (line {line})")?;
        }
        match self.holds {
            true => write!(f, ": {}, as wanted", self.found),
            false => write!(f, ": found {}; expected {}", self.found, self.expected),
        }
    }
}

/// Why a profile does or does not fit a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fit {
    /// Identifier of the profile.
    pub profile: String,
    /// How specific its signature is.
    pub specificity: usize,
    /// The points looked at, in order; looking stops at the first that does not hold.
    pub reasons: Vec<FitReason>,
}

impl Fit {
    /// Returns whether the profile fits.
    pub fn fits(&self) -> bool {
        self.reasons.iter().all(|reason| reason.holds)
    }
}

/// Returns why `profile` does or does not fit the content `bytes`.
pub fn explain_fit(profile: &Profile, bytes: &[u8]) -> Fit {
    explain(profile, &head(bytes))
}

fn explain(profile: &Profile, head: &Head<'_>) -> Fit {
    let mut reasons = Vec::new();
    examine(profile, head, &mut |point, line, holds| {
        reasons.push(reason(profile, head, (point, line, holds)));
    });
    Fit {
        profile: profile.id.clone(),
        specificity: profile.specificity(),
        reasons,
    }
}

/// Returns the profile whose content signature `bytes` shows; of several the most specific one,
/// which is the one with the most literal cells.
///
/// # Errors
/// A [`Fault`] about `file` when no profile fits, or when the two most specific ones fit equally.
pub fn select<'p>(profiles: &'p [Profile], file: &str, bytes: &[u8]) -> Result<&'p Profile, Fault> {
    let head = head(bytes);
    let mut best: Option<&Profile> = None;
    let mut equal: Option<&Profile> = None;
    for profile in profiles {
        if !examine(profile, &head, &mut |_, _, _| {}) {
            continue;
        }
        let score = profile.specificity();
        match best.map(Profile::specificity) {
            Some(top) if score < top => {}
            Some(top) if score == top => equal = Some(profile),
            _ => (best, equal) = (Some(profile), None),
        }
    }
    match (best, equal) {
        (Some(best), None) => Ok(best),
        (Some(one), Some(other)) => Err(locate(
            file,
            None,
            None,
            Complaint::new(
                &format!("profiles `{}` and `{}` fitting equally", one.id, other.id),
                "one profile that fits best",
                "name the profile in the run sheet's `profile` column, or make one signature more \
             specific",
            ),
        )),
        (None, _) => Err(none_fits(profiles, file, &head)),
    }
}

fn none_fits(profiles: &[Profile], file: &str, head: &Head<'_>) -> Fault {
    if head.is_blank() {
        return locate(file, None, None, empty_file());
    }
    if !head.is_text() {
        return locate(
            file,
            None,
            None,
            Complaint::new(
                "bytes that are no text",
                "a text file of a known layout",
                "if it is a record, copy it from the instrument again; else it need not be in the \
                 folder",
            ),
        );
    }
    let held = |fit: &Fit| fit.reasons.iter().filter(|r| r.holds).count();
    let nearest = profiles
        .iter()
        .map(|profile| explain(profile, head))
        // Of equals the first is kept, so that the message does not depend on chance.
        .rev()
        .max_by_key(held)
        .filter(|fit| held(fit) > 1);
    let miss = nearest.as_ref().and_then(|fit| {
        let reason = fit.reasons.iter().find(|r| !r.holds)?;
        Some((fit, reason))
    });
    match miss {
        Some((fit, reason)) => locate(
            file,
            reason.line,
            None,
            Complaint::new(
                &reason.found,
                &format!(
                    "{} for profile `{}`, which comes nearest",
                    reason.expected, fit.profile
                ),
                "see `profile check` for every profile; a layout of your own is read by writing a \
             profile for it",
            ),
        ),
        None => locate(
            file,
            Some(1),
            None,
            Complaint::new(
                &format!("`{}`", clip(&head.first_line())),
                &format!(
                    "the first line or header of a known layout ({})",
                    profiles
                        .iter()
                        .map(|p| p.id.as_str())
                        .collect::<Vec<_>>()
                        .join(", ")
                ),
                "see `profile check` for every profile; a layout of your own is read by writing a \
             profile for it",
            ),
        ),
    }
}

/// Looks at the points of the signature in order, tells each, stops at the first that does not
/// hold, and returns whether all hold.
fn examine(
    profile: &Profile,
    head: &Head<'_>,
    tell: &mut dyn FnMut(Point, Option<Line<'_>>, bool),
) -> bool {
    let text = head.text(profile.text.encoding);
    tell(Point::Encoding, None, text.is_some());
    let Some(text) = text else { return false };
    let mut lines = Lines::of(text);
    if let Some(wanted) = &profile.first_line {
        let first = lines.next();
        let holds = first.as_ref().is_some_and(|line| line.text() == wanted);
        tell(Point::FirstLine, first, holds);
        if !holds {
            return false;
        }
    }
    let delimiter = profile.text.delimiter.byte();
    let mut splitter = Splitter::new(delimiter, text.as_bytes());
    let start = lines;
    let header = find_header(profile, &mut lines, &mut splitter);
    // What stands where a header without preamble should be is the useful thing to show.
    let shown = header.or_else(|| start.clone().find(|line| !line.is_empty()));
    tell(Point::Header, shown, header.is_some());
    if header.is_none() {
        return false;
    }
    if profile.units_row.is_empty() {
        return true;
    }
    let row = lines.next();
    let holds = row.is_some_and(|row| is_row(&profile.units_row, row, &mut splitter));
    tell(Point::UnitsRow, row, holds);
    holds
}

fn find_header<'t>(
    profile: &Profile,
    lines: &mut Lines<'t>,
    splitter: &mut Splitter,
) -> Option<Line<'t>> {
    let delimiter = profile.text.delimiter.byte();
    for _ in 0..LONGEST_PREAMBLE {
        let line = lines.next()?;
        if profile.header.matches(splitter.split(line.bytes)) {
            return Some(line);
        }
        let blank = line.is_blank(delimiter) && profile.first_line.is_some();
        if profile.block.is_none() && !blank {
            return None;
        }
    }
    None
}

fn reason(
    profile: &Profile,
    head: &Head<'_>,
    (point, line, holds): (Point, Option<Line<'_>>, bool),
) -> FitReason {
    let delimiter = profile.delimiter();
    let expected = match point {
        Point::Encoding => format!("{} text", profile.text.encoding.word()),
        Point::FirstLine => format!("`{}`", profile.first_line.as_deref().unwrap_or("")),
        Point::Header => {
            let words = clip(&profile.header.words(delimiter));
            match (&profile.block, &profile.header.rest) {
                (Some(_), _) => format!("a line `{words}` below the keys and values"),
                (None, Some(rest)) if rest.at_least > 1 => {
                    format!("`{words}`, with {} such columns at least", rest.at_least)
                }
                _ => format!("`{words}`"),
            }
        }
        Point::UnitsRow => format!(
            "`{}`",
            clip(&profile.units_row.join(&delimiter.to_string()))
        ),
    };
    let found = match (point, line) {
        (Point::Encoding, _) => match (holds, head.text(crate::profile::Encoding::Utf16)) {
            (true, _) => expected.clone(),
            (false, Some(_)) => "a UTF-16 byte order mark".to_owned(),
            (false, None) => "other bytes".to_owned(),
        },
        (Point::Header, Some(line)) if !holds && profile.block.is_some() => {
            format!("no such line from line {} on", line.number)
        }
        (_, Some(line)) => format!("`{}`", clip(line.text())),
        (_, None) => "the end of the file".to_owned(),
    };
    FitReason {
        point,
        holds,
        line: line.map(|line| line.number),
        found,
        expected,
    }
}
