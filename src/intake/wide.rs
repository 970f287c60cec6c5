//! Files of several runs side by side: one abscissa, one column per run.

use super::curves::run_id;
use super::desk::{Complaint, Desk, clip};
use super::lines::{Line, Lines, Splitter};
use super::preamble::{Preamble, pass_first_line, pass_to_data, state_constants, stated_run};
use super::traces::{Abscissa, LineTrack, Scale, bad_cell};
use super::{Intake, Records};
use crate::profile::{CurveContent, CurveForm, Gives};
use crate::record::{Curve, Fault, FieldValue, Origin, Run};
use crate::schema::{Channel, Field, Unit};

/// One column while it is being read.
#[derive(Default)]
struct Column {
    name: String,
    y: Vec<f64>,
    /// Row of each value, kept only once a hole was met; else value i stands in row i.
    rows: Vec<usize>,
    /// Empty cells since the last value: missing if another value follows, the end if not.
    pending: u64,
    missing: u64,
}

impl Column {
    #[inline]
    fn push(&mut self, row: usize, value: f64) {
        if self.rows.is_empty() && row != self.y.len() {
            self.rows = (0..self.y.len()).collect();
        }
        if !self.rows.is_empty() || row != self.y.len() {
            self.rows.push(row);
        }
        if !self.y.is_empty() {
            self.missing += self.pending;
        }
        self.pending = 0;
        self.y.push(value);
    }
}

/// All columns, and the rows read so far.
struct Wide {
    abscissa: Abscissa,
    fixed: Vec<CurveContent>,
    scale: Scale,
    x: Vec<f64>,
    track: LineTrack,
    columns: Vec<Column>,
}

/// Returns the runs of a file that has one column per run.
pub(super) fn read_wide(desk: &Desk<'_>, form: &CurveForm, text: &str) -> Result<Intake, Fault> {
    let mut lines = Lines::of(text);
    let mut splitter = Splitter::new(desk.delimiter, text.as_bytes());
    pass_first_line(desk, &mut lines)?;
    let mut preamble = Preamble::default();
    let header = pass_to_data(desk, &mut lines, &mut splitter, &mut preamble)?;
    let header_line = header.line.number;
    let columns = name_columns(desk, header.line, &mut splitter)?;
    let (fixed, unit) = split_contents(form);
    let abscissa = fixed.iter().find_map(|c| Abscissa::of(*c));
    let (Some(abscissa), Some(unit)) = (abscissa, unit) else {
        return Err(desk.no_data(header_line));
    };
    let mut wide = Wide {
        abscissa,
        fixed,
        scale: Scale::of(unit),
        x: Vec::new(),
        track: LineTrack::default(),
        columns,
    };
    for line in lines {
        if !line.is_empty() {
            wide.take(desk, line, &mut splitter, header_line)?;
        }
    }
    if wide.columns.iter().all(|column| column.y.is_empty()) {
        return Err(desk.no_data(header_line));
    }
    let mut notes = std::mem::take(&mut preamble.notes);
    let mut runs = Vec::new();
    for column in std::mem::take(&mut wide.columns) {
        if column.y.is_empty() {
            notes.push(empty_column(desk, header_line, &column.name));
            continue;
        }
        let named = Named {
            test: form.test,
            unit: unit.canonical(),
            header_line,
        };
        runs.push(make_run(desk, &named, &preamble, &wide, column)?);
    }
    Ok(Intake {
        records: Records::Curves(runs),
        notes,
    })
}

fn split_contents(form: &CurveForm) -> (Vec<CurveContent>, Option<Unit>) {
    match form.columns.split_last() {
        Some((CurveContent::Ordinate(_, unit), fixed)) => (fixed.to_vec(), Some(*unit)),
        _ => (Vec::new(), None),
    }
}

fn name_columns(
    desk: &Desk<'_>,
    header: Line<'_>,
    splitter: &mut Splitter,
) -> Result<Vec<Column>, Fault> {
    let fixed = desk.profile.header.exact.len();
    let Some(rest) = &desk.profile.header.rest else {
        return Ok(Vec::new());
    };
    let mut columns: Vec<Column> = Vec::new();
    let mut seen = std::collections::HashSet::new();
    for cell in splitter.split(header.bytes).skip(fixed) {
        let name = rest.name_in(cell).unwrap_or(cell);
        let name = String::from_utf8_lossy(name).into_owned();
        if !seen.insert(name.clone()) {
            return Err(desk.fault(
                Some(header.number),
                Some(&name),
                Complaint::new(
                    &format!("a second column called `{}`", clip(&name)),
                    "a different name for every curve of the file",
                    "find out which of the two is meant and have the record written again",
                ),
            ));
        }
        columns.push(Column {
            name,
            ..Column::default()
        });
    }
    Ok(columns)
}

impl Wide {
    fn take(
        &mut self,
        desk: &Desk<'_>,
        line: Line<'_>,
        splitter: &mut Splitter,
        header_line: u64,
    ) -> Result<(), Fault> {
        let expected = self.fixed.len() + self.columns.len();
        let row = self.x.len();
        let mut x = None;
        let mut count = 0;
        let mut cells = splitter.split(line.bytes);
        for (index, content) in self.fixed.iter().enumerate() {
            let Some(cell) = cells.next() else { break };
            count += 1;
            if Abscissa::of(*content).is_none() || desk.numbers.is_missing(cell) {
                continue;
            }
            x = self.abscissa.parse(cell, &desk.numbers);
            if x.is_none() {
                return Err(bad_cell(desk, line, index, cell, Some(self.abscissa)));
            }
        }
        for (column, cell) in self.columns.iter_mut().zip(&mut cells) {
            count += 1;
            if x.is_none() || desk.numbers.is_missing(cell) {
                column.pending += 1;
                continue;
            }
            match desk.numbers.parse(cell) {
                Some(value) => column.push(row, self.scale.apply(value)),
                None => {
                    let complaint = desk.numbers.complain(cell);
                    return Err(desk.fault(Some(line.number), Some(&column.name), complaint));
                }
            }
        }
        let count = count + cells.count();
        if count != expected {
            return Err(desk.wrong_cells(line.number, line.text(), count, (expected, header_line)));
        }
        if let Some(x) = x {
            self.x.push(x);
            self.track.push(line.number);
        }
        Ok(())
    }
}

fn empty_column(desk: &Desk<'_>, header_line: u64, name: &str) -> Fault {
    desk.fault(
        Some(header_line),
        Some(name),
        Complaint::new(
            "a column without any value",
            "a curve below every name of the header",
            "nothing to do if the place was not used; else copy the file from the instrument again",
        ),
    )
}

/// What all columns of a file have in common.
struct Named {
    test: crate::schema::Test,
    unit: Unit,
    header_line: u64,
}

fn make_run(
    desk: &Desk<'_>,
    named: &Named,
    preamble: &Preamble,
    wide: &Wide,
    column: Column,
) -> Result<Run, Fault> {
    let rows: Vec<usize> = match column.rows.is_empty() {
        true => (0..column.y.len()).collect(),
        false => column.rows,
    };
    let mut track = LineTrack::default();
    let mut x = Vec::with_capacity(rows.len());
    for row in &rows {
        track.push(wide.track.line(*row));
        x.extend(wide.x.get(*row));
    }
    let axis = wide.abscissa.axis();
    let curve = Curve::new(Channel::Signal, axis, named.unit, x, column.y)
        .map_err(|_| desk.no_data(named.header_line))?;
    let gives = desk.profile.header.rest.as_ref().map(|rest| rest.gives);
    let mut metadata = crate::record::Metadata::default();
    let line = named.header_line;
    let id = match (gives, stated_run(&preamble.metadata)) {
        (Some(Gives::Run), _) => {
            let value = FieldValue::Text(column.name.clone());
            metadata.state(Field::RunId, value, Origin::File { line });
            run_id(desk, Some((column.name.clone(), Some(line))), "")?
        }
        (_, Some((stated, at))) => {
            let name = format!("{stated}:{}", column.name);
            run_id(desk, Some((name, at)), "")?
        }
        (_, None) => run_id(desk, None, &column.name)?,
    };
    metadata.append(&preamble.metadata);
    state_constants(desk, &mut metadata);
    Ok(Run {
        id,
        test: named.test,
        file: desk.file.clone(),
        profile: desk.stamp(),
        selector: column.name,
        rows: track.rows(),
        metadata,
        curves: vec![curve],
        lines: track.into_lines(),
        missing_cells: column.missing,
    })
}
