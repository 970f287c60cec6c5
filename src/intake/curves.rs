//! Files of one run, or of runs stacked one below the other.

use super::desk::{Complaint, Desk, clip};
use super::lines::{Line, Lines, Splitter};
use super::preamble::{
    Preamble, pass_first_line, pass_to_data, state_constants, state_line, stated_run,
};
use super::traces::Traces;
use super::{Intake, Records};
use crate::profile::CurveForm;
use crate::record::{Fault, Run};
use crate::schema::{RunId, Test};

/// Returns the one run of a file.
pub(super) fn read_one(desk: &Desk<'_>, form: &CurveForm, text: &str) -> Result<Intake, Fault> {
    let mut lines = Lines::of(text);
    let mut splitter = Splitter::new(desk.delimiter, text.as_bytes());
    pass_first_line(desk, &mut lines)?;
    let mut preamble = Preamble::default();
    let mut reader = CurveReader {
        desk,
        form,
        starts_with: None,
        splitter: &mut splitter,
    };
    let read = reader.read_curve(&mut lines, &mut preamble)?;
    let run = make_run(desk, form.test, String::new(), preamble.clone(), read)?;
    Ok(Intake {
        records: Records::Curves(vec![run]),
        notes: preamble.notes,
    })
}

/// Returns the runs stacked in a file; a line with key `starts_with` opens each.
pub(super) fn read_stacked(
    desk: &Desk<'_>,
    form: &CurveForm,
    starts_with: &str,
    text: &str,
) -> Result<Intake, Fault> {
    let mut lines = Lines::of(text);
    let mut splitter = Splitter::new(desk.delimiter, text.as_bytes());
    pass_first_line(desk, &mut lines)?;
    let mut shared = Preamble::default();
    let mut opening = open_first(desk, starts_with, &mut lines, &mut shared)?;
    let (mut runs, mut notes): (Vec<Run>, Vec<Fault>) = (Vec::new(), Vec::new());
    notes.append(&mut shared.notes);
    while let Some(line) = opening {
        let mut preamble = Preamble::default();
        state_line(desk, line, &mut preamble)?;
        preamble.metadata.append(&shared.metadata);
        let mut reader = CurveReader {
            desk,
            form,
            starts_with: Some(starts_with),
            splitter: &mut splitter,
        };
        let read = reader.read_curve(&mut lines, &mut preamble)?;
        opening = read.next_opening;
        let selector = match stated_run(&preamble.metadata) {
            Some((id, _)) => id,
            None => (runs.len() + 1).to_string(),
        };
        if runs.iter().any(|run| run.selector == selector) {
            return Err(desk.fault(
                Some(line.number),
                Some(starts_with),
                Complaint::new(
                    &format!("a second curve called `{}`", clip(&selector)),
                    "a different name for every curve of the file",
                    "find out which of the two is meant and have the record written again",
                ),
            ));
        }
        notes.append(&mut preamble.notes);
        runs.push(make_run(desk, form.test, selector, preamble, read)?);
    }
    Ok(Intake {
        records: Records::Curves(runs),
        notes,
    })
}

/// Reads what stands above the first curve and returns its opening line.
fn open_first<'a>(
    desk: &Desk<'_>,
    starts_with: &str,
    lines: &mut Lines<'a>,
    shared: &mut Preamble,
) -> Result<Option<Line<'a>>, Fault> {
    let first = lines.next_number();
    for line in lines.by_ref() {
        if opens(desk, line, starts_with) {
            return Ok(Some(line));
        }
        state_line(desk, line, shared)?;
    }
    Err(desk.fault(
        Some(first),
        None,
        Complaint::new(
            &format!("no line that opens a curve from line {first} on"),
            &format!("a line that starts with `{}`", clip(starts_with)),
            "compare the file with the profile; if it is cut off, copy it again",
        ),
    ))
}

fn opens(desk: &Desk<'_>, line: Line<'_>, starts_with: &str) -> bool {
    let separator = desk.profile.block.as_ref().map(|b| b.separator.as_str());
    line.bytes.starts_with(starts_with.as_bytes())
        && line
            .text()
            .split_once(separator.unwrap_or(""))
            .is_some_and(|(key, _)| key.trim() == starts_with)
}

/// A curve that was read, before it becomes a run.
struct ReadCurve<'a> {
    traces: Traces,
    header_line: u64,
    next_opening: Option<Line<'a>>,
}

struct CurveReader<'d, 's> {
    desk: &'d Desk<'d>,
    form: &'d CurveForm,
    starts_with: Option<&'d str>,
    splitter: &'s mut Splitter,
}

impl CurveReader<'_, '_> {
    fn read_curve<'a>(
        &mut self,
        lines: &mut Lines<'a>,
        preamble: &mut Preamble,
    ) -> Result<ReadCurve<'a>, Fault> {
        let header = pass_to_data(self.desk, lines, self.splitter, preamble)?;
        let header_line = header.line.number;
        let mut traces =
            Traces::new(&self.form.columns).ok_or_else(|| self.desk.no_data(header_line))?;
        traces.reserve(estimate_points(*lines));
        let mut next_opening = None;
        let mut closed_by = None;
        for line in lines.by_ref() {
            if self
                .starts_with
                .is_some_and(|key| opens(self.desk, line, key))
            {
                next_opening = Some(line);
                break;
            }
            if self.is_summary(line) {
                closed_by = Some(line.number);
            } else if line.is_empty() {
                continue;
            } else if let Some(summary) = closed_by {
                return Err(self.behind_summary(line, summary));
            } else {
                traces.take(self.desk, line, self.splitter, header_line)?;
            }
        }
        if closed_by.is_none() && !self.form.summary.is_empty() {
            preamble.notes.push(self.not_closed(header_line));
        }
        Ok(ReadCurve {
            traces,
            header_line,
            next_opening,
        })
    }

    #[inline]
    fn is_summary(&mut self, line: Line<'_>) -> bool {
        if self.form.summary.is_empty() {
            return false;
        }
        let first = self.splitter.split(line.bytes).next().unwrap_or(b"");
        self.form
            .summary
            .iter()
            .any(|word| word.as_bytes() == first)
    }

    fn not_closed(&self, header_line: u64) -> Fault {
        let word = self.form.summary.first().map_or("", String::as_str);
        self.desk.fault(
            Some(header_line),
            None,
            Complaint::new(
                "a curve without its closing line",
                &format!("a line that starts with `{}` below the data", clip(word)),
                "the record may be cut off: compare it with the instrument",
            ),
        )
    }

    fn behind_summary(&self, line: Line<'_>, summary: u64) -> Fault {
        self.desk.fault(
            Some(line.number),
            None,
            Complaint::new(
                &format!("`{}`", clip(line.text())),
                &format!("nothing more behind the summary on line {summary}"),
                "two records may have been joined: copy the file from the instrument again",
            ),
        )
    }
}

/// Returns about how many lines follow, judged by the length of the next one.
fn estimate_points(mut lines: Lines<'_>) -> usize {
    let left = lines.rest().len();
    lines
        .next()
        .map_or(0, |line| left / (line.bytes.len() + 1) + 1)
}

fn make_run(
    desk: &Desk<'_>,
    test: Test,
    selector: String,
    preamble: Preamble,
    read: ReadCurve<'_>,
) -> Result<Run, Fault> {
    if read.traces.is_empty() {
        return Err(desk.no_data(read.header_line));
    }
    let (curves, track, missing_cells) = read
        .traces
        .finish()
        .map_err(|_| desk.no_data(read.header_line))?;
    let mut metadata = preamble.metadata;
    let id = run_id(desk, stated_run(&metadata), &selector)?;
    state_constants(desk, &mut metadata);
    Ok(Run {
        id,
        test,
        file: desk.file.clone(),
        profile: desk.stamp(),
        selector,
        rows: track.rows(),
        metadata,
        curves,
        lines: track.into_lines(),
        missing_cells,
    })
}

/// Returns the run's name: as stated, else the file's name, with the selector where the file
/// holds several curves.
pub(super) fn run_id(
    desk: &Desk<'_>,
    stated: Option<(String, Option<u64>)>,
    selector: &str,
) -> Result<RunId, Fault> {
    let (name, line) = match stated {
        Some(stated) => stated,
        None if selector.is_empty() => (desk.stem().to_owned(), None),
        None => (format!("{}:{selector}", desk.stem()), None),
    };
    RunId::new(&name).map_err(|error| {
        desk.fault(
            line,
            Some("run_id"),
            Complaint::new(
                &format!("`{}`: {error}", clip(&name)),
                "a name of at most 200 bytes without control characters",
                "give the file a plain name, or state the run in it",
            ),
        )
    })
}
