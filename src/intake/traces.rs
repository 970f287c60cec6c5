//! The points of one run while they are being read: any number of channels over one abscissa.

use super::desk::Desk;
use super::lines::{Line, Splitter};
use super::number::Numbers;
use crate::profile::{CurveContent, TimeFormat};
use crate::record::{Curve, CurveError, Fault, RowRange};
use crate::schema::{Axis, Channel, Unit};

/// How the value of a cell becomes canonical.
#[derive(Debug, Clone, Copy)]
pub(super) enum Scale {
    Neutral,
    Of(Unit),
}

impl Scale {
    pub fn of(unit: Unit) -> Scale {
        match unit == unit.canonical() {
            true => Scale::Neutral,
            false => Scale::Of(unit),
        }
    }

    #[inline]
    pub fn apply(self, value: f64) -> f64 {
        match self {
            Scale::Neutral => value,
            Scale::Of(unit) => unit.to_canonical(value),
        }
    }
}

/// How the cells of an abscissa are read.
#[derive(Debug, Clone, Copy)]
pub(super) enum Abscissa {
    Time(TimeFormat),
    Length(Axis, Scale),
}

impl Abscissa {
    /// Returns how `content` is read, if it is an abscissa.
    pub fn of(content: CurveContent) -> Option<Abscissa> {
        match content {
            CurveContent::Time(format) => Some(Abscissa::Time(format)),
            CurveContent::Length(axis, unit) => Some(Abscissa::Length(axis, Scale::of(unit))),
            _ => None,
        }
    }

    pub fn axis(self) -> Axis {
        match self {
            Abscissa::Time(_) => Axis::Time,
            Abscissa::Length(axis, _) => axis,
        }
    }

    #[inline]
    pub fn parse(self, cell: &[u8], numbers: &Numbers<'_>) -> Option<f64> {
        match self {
            Abscissa::Time(format) => numbers.parse_time(cell, format),
            Abscissa::Length(_, scale) => numbers.parse(cell).map(|v| scale.apply(v)),
        }
    }
}

/// The lines of a series of points; a list is kept only once they are not consecutive.
#[derive(Debug, Clone, Default)]
pub(super) struct LineTrack {
    first: u64,
    last: u64,
    count: u64,
    lines: Vec<u64>,
}

impl LineTrack {
    #[inline]
    pub fn push(&mut self, line: u64) {
        if self.count == 0 {
            self.first = line;
        } else if !self.lines.is_empty() {
            self.lines.push(line);
        } else if line != self.first + self.count {
            self.lines = (self.first..self.first + self.count).collect();
            self.lines.push(line);
        }
        self.last = line;
        self.count += 1;
    }

    pub fn rows(&self) -> RowRange {
        RowRange {
            first: self.first,
            last: self.last,
        }
    }

    /// Returns the line of point `index`.
    pub fn line(&self, index: usize) -> u64 {
        match self.lines.get(index) {
            Some(line) => *line,
            None => self.first + index as u64,
        }
    }

    pub fn into_lines(self) -> Vec<u64> {
        self.lines
    }
}

struct Trace {
    channel: Channel,
    unit: Unit,
    scale: Scale,
    /// Own abscissa of a temperature, which may miss points that the torque has.
    x: Vec<f64>,
    y: Vec<f64>,
}

#[derive(Debug, Clone, Copy)]
enum Role {
    Abscissa,
    Trace(usize),
    Passed,
}

/// The columns of one file of one run, and the points read so far.
pub(super) struct Traces {
    roles: Vec<Role>,
    abscissa: Abscissa,
    traces: Vec<Trace>,
    x: Vec<f64>,
    track: LineTrack,
    missing: u64,
    row: Vec<Option<f64>>,
}

impl Traces {
    /// Returns empty traces for the columns, or `None` if there is no abscissa among them.
    pub fn new(columns: &[CurveContent]) -> Option<Traces> {
        let abscissa = columns.iter().find_map(|c| Abscissa::of(*c))?;
        let mut traces = Vec::new();
        let roles = columns
            .iter()
            .map(|content| match content {
                CurveContent::Time(_) | CurveContent::Length(..) => Role::Abscissa,
                CurveContent::Ordinate(channel, unit) => {
                    traces.push(Trace {
                        channel: *channel,
                        unit: unit.canonical(),
                        scale: Scale::of(*unit),
                        x: Vec::new(),
                        y: Vec::new(),
                    });
                    Role::Trace(traces.len() - 1)
                }
                CurveContent::Passed => Role::Passed,
            })
            .collect();
        Some(Traces {
            roles,
            abscissa,
            row: vec![None; traces.len()],
            traces,
            x: Vec::new(),
            track: LineTrack::default(),
            missing: 0,
        })
    }

    /// Makes room for `points` points.
    pub fn reserve(&mut self, points: usize) {
        self.x.reserve(points);
        for trace in &mut self.traces {
            trace.y.reserve(points);
        }
    }

    /// Takes one line of data.
    ///
    /// A line whose abscissa or any torque or force is missing gives no point to those channels,
    /// so that upper, middle and lower keep the same abscissa; a missing temperature leaves a hole
    /// in the temperature only.
    #[inline]
    pub fn take(
        &mut self,
        desk: &Desk<'_>,
        line: Line<'_>,
        splitter: &mut Splitter,
        header_line: u64,
    ) -> Result<(), Fault> {
        let (mut x, mut missing, mut cells) = (None, 0, 0);
        self.row.fill(None);
        for cell in splitter.split(line.bytes) {
            let Some(role) = self.roles.get(cells) else {
                let all = splitter.split(line.bytes).count();
                return Err(desk.wrong_cells(
                    line.number,
                    line.text(),
                    all,
                    (self.roles.len(), header_line),
                ));
            };
            cells += 1;
            if matches!(role, Role::Passed) {
                continue;
            }
            if desk.numbers.is_missing(cell) {
                missing += 1;
                continue;
            }
            let good = match role {
                Role::Abscissa => {
                    x = self.abscissa.parse(cell, &desk.numbers);
                    x.is_some()
                }
                Role::Trace(index) => match (self.traces.get(*index), self.row.get_mut(*index)) {
                    (Some(trace), Some(slot)) => {
                        *slot = desk.numbers.parse(cell).map(|v| trace.scale.apply(v));
                        slot.is_some()
                    }
                    _ => true,
                },
                Role::Passed => true,
            };
            if !good {
                return Err(bad_cell(
                    desk,
                    line,
                    cells - 1,
                    cell,
                    self.abscissa_at(cells - 1),
                ));
            }
        }
        if cells != self.roles.len() {
            return Err(desk.wrong_cells(
                line.number,
                line.text(),
                cells,
                (self.roles.len(), header_line),
            ));
        }
        self.missing += missing;
        self.keep(line.number, x);
        Ok(())
    }

    fn abscissa_at(&self, column: usize) -> Option<Abscissa> {
        match self.roles.get(column) {
            Some(Role::Abscissa) => Some(self.abscissa),
            _ => None,
        }
    }

    #[inline]
    fn keep(&mut self, line: u64, x: Option<f64>) {
        let Some(x) = x else { return };
        let whole = self
            .traces
            .iter()
            .zip(&self.row)
            .all(|(trace, value)| value.is_some() || trace.channel.goes_beside());
        if whole {
            self.x.push(x);
            self.track.push(line);
        }
        for (trace, value) in self.traces.iter_mut().zip(&self.row) {
            match value {
                Some(value) if trace.channel.goes_beside() => {
                    trace.x.push(x);
                    trace.y.push(*value);
                }
                Some(value) if whole => trace.y.push(*value),
                _ => {}
            }
        }
    }

    /// Returns whether no point of the main channel was read.
    pub fn is_empty(&self) -> bool {
        self.x.is_empty()
    }

    /// Returns curves (a temperature without any value is left out), lines and the number of
    /// missing cells.
    pub fn finish(self) -> Result<(Vec<Curve>, LineTrack, u64), CurveError> {
        let axis = self.abscissa.axis();
        let mut curves = Vec::new();
        for trace in self.traces {
            let beside = trace.channel.goes_beside();
            if beside && trace.y.is_empty() {
                continue;
            }
            let x = match beside {
                true => trace.x,
                false => self.x.clone(),
            };
            curves.push(Curve::new(trace.channel, axis, trace.unit, x, trace.y)?);
        }
        Ok((curves, self.track, self.missing))
    }
}

/// Returns the fault of a cell that is no number or time.
pub(super) fn bad_cell(
    desk: &Desk<'_>,
    line: Line<'_>,
    column: usize,
    cell: &[u8],
    abscissa: Option<Abscissa>,
) -> Fault {
    let complaint = match abscissa {
        Some(Abscissa::Time(format)) => desk.numbers.complain_time(cell, format),
        _ => desk.numbers.complain(cell),
    };
    let name = match desk.profile.header.exact.get(column) {
        Some(name) if !name.is_empty() => name.clone(),
        _ => (column + 1).to_string(),
    };
    desk.fault(Some(line.number), Some(&name), complaint)
}
