//! Observation sheets: one line per graded piece or scalar record.

use super::desk::{Complaint, Desk, clip, quoted};
use super::sheet::SheetRows;
use super::{Intake, Records};
use crate::profile::{ItemReading, ObservationItem};
use crate::record::{Fault, Grade, Observation, RowRange, TearEdge};
use crate::schema::{BatchId, Unit};

/// Returns the observations in `text`. A line with a faulty cell is left out and told in a note.
pub(super) fn read_observations(
    desk: &Desk<'_>,
    columns: &[Option<ItemReading>],
    text: &str,
) -> Result<Intake, Fault> {
    let mut rows = SheetRows::open(desk, text)?;
    let mut notes = std::mem::take(&mut rows.notes);
    let mut observations = Vec::new();
    let mut any = false;
    while let Some((line, cells)) = rows.next_row() {
        any = true;
        let read = cells.map_err(|fault| *fault).and_then(|cells| {
            let row = ObservationRow {
                desk,
                columns,
                names: &rows.names,
                line,
                cells: &cells,
            };
            row.read()
        });
        match read {
            Ok(observation) => observations.push(observation),
            Err(fault) => notes.push(fault),
        }
    }
    if !any {
        return Err(desk.no_data(rows.header_line));
    }
    Ok(Intake {
        records: Records::Observations(observations),
        notes,
    })
}

/// One line of the sheet.
struct ObservationRow<'a> {
    desk: &'a Desk<'a>,
    columns: &'a [Option<ItemReading>],
    names: &'a [String],
    line: u64,
    cells: &'a [String],
}

impl ObservationRow<'_> {
    fn read(&self) -> Result<Observation, Fault> {
        use ObservationItem as Item;
        let (grade, overmixed_mark) = self.grade()?;
        let overmixed = overmixed_mark || self.flag(Item::Overmixed)?;
        let value = self.number(Item::Value)?;
        if grade.is_none() && !overmixed && value.is_none() {
            return Err(self.fault(
                Item::Grade,
                Complaint::new(
                    "neither grade nor value",
                    "a grade 0 to 4, X for overmixed, or a value",
                    "complete the line; it was left out",
                ),
            ));
        }
        Ok(Observation {
            file: self.desk.file.clone(),
            rows: RowRange {
                first: self.line,
                last: self.line,
            },
            batch_id: self.batch()?,
            treatment: self.text(Item::Treatment),
            block: self.text(Item::Block),
            mix_time_min: self.number(Item::MixTimeMin)?,
            rest_min: self.number(Item::RestMin)?,
            piece: self.text(Item::Piece),
            grade,
            overmixed,
            edge: self.edge()?,
            grader: self.text(Item::Grader),
            blind_code: self.text(Item::BlindCode),
            order: self.order()?,
            codebook: self.text(Item::Codebook),
            photo: self.text(Item::Photo),
            px_per_mm: self.number(Item::PxPerMm)?,
            sample_id: self.text(Item::SampleId),
            replicate: self.text(Item::Replicate),
            age_d: self.number(Item::AgeD)?,
            quantity: self.text(Item::Quantity),
            value,
            unit: self.unit()?,
            note: self.text(Item::Note),
        })
    }

    fn find(&self, item: ObservationItem) -> Option<(usize, &ItemReading)> {
        self.columns
            .iter()
            .enumerate()
            .find_map(|(index, reading)| {
                let reading = reading.as_ref().filter(|r| r.item == item)?;
                Some((index, reading))
            })
    }

    /// Returns the word in the cell of `item`, translated where the profile says so.
    fn word(&self, item: ObservationItem) -> Option<&str> {
        let (index, reading) = self.find(item)?;
        let cell = self.cells.get(index)?.trim();
        if cell.is_empty() || self.desk.numbers.is_missing(cell.as_bytes()) {
            return None;
        }
        Some(reading.words.get(cell).map_or(cell, String::as_str))
    }

    fn text(&self, item: ObservationItem) -> Option<String> {
        self.word(item).map(str::to_owned)
    }

    fn number(&self, item: ObservationItem) -> Result<Option<f64>, Fault> {
        let Some(word) = self.word(item) else {
            return Ok(None);
        };
        let value = self
            .desk
            .numbers
            .parse(word.as_bytes())
            .ok_or_else(|| self.fault(item, self.desk.numbers.complain(word.as_bytes())))?;
        let written = self.find(item).and_then(|(_, reading)| reading.unit);
        Ok(Some(match written {
            // Only times of an observation sheet have a unit of their own, and theirs is minutes.
            Some(unit) => Unit::Minute.from_canonical(unit.to_canonical(value)),
            None => value,
        }))
    }

    fn batch(&self) -> Result<BatchId, Fault> {
        let text = self.word(ObservationItem::BatchId).unwrap_or("");
        BatchId::new(text).map_err(|error| {
            self.fault(
                ObservationItem::BatchId,
                Complaint::new(
                    &format!("`{}`: {error}", clip(text)),
                    "the name of the dough",
                    "complete the line; it was left out",
                ),
            )
        })
    }

    fn grade(&self) -> Result<(Option<Grade>, bool), Fault> {
        let Some(word) = self.word(ObservationItem::Grade) else {
            return Ok((None, false));
        };
        if word.eq_ignore_ascii_case("x") {
            return Ok((None, true));
        }
        match Grade::parse(word) {
            Some(grade) => Ok((Some(grade), false)),
            None => Err(self.not_one_of(
                ObservationItem::Grade,
                word,
                "a grade 0 to 4, or X for overmixed",
            )),
        }
    }

    fn flag(&self, item: ObservationItem) -> Result<bool, Fault> {
        match self.word(item) {
            None => Ok(false),
            Some(word) if word.eq_ignore_ascii_case("yes") => Ok(true),
            Some(word) if word.eq_ignore_ascii_case("no") => Ok(false),
            Some(word) => Err(self.not_one_of(item, word, "yes or no, or an empty cell")),
        }
    }

    fn edge(&self) -> Result<Option<TearEdge>, Fault> {
        let Some(word) = self.word(ObservationItem::Edge) else {
            return Ok(None);
        };
        let edges = [TearEdge::Clean, TearEdge::Rough];
        match edges
            .into_iter()
            .find(|e| e.word().eq_ignore_ascii_case(word))
        {
            Some(edge) => Ok(Some(edge)),
            None => Err(self.not_one_of(
                ObservationItem::Edge,
                word,
                "clean or rough, or an empty cell",
            )),
        }
    }

    fn order(&self) -> Result<Option<u32>, Fault> {
        let Some(word) = self.word(ObservationItem::Order) else {
            return Ok(None);
        };
        word.parse::<u32>()
            .map(Some)
            .map_err(|_| self.not_one_of(ObservationItem::Order, word, "a whole number"))
    }

    fn unit(&self) -> Result<Option<Unit>, Fault> {
        let Some(word) = self.word(ObservationItem::Unit) else {
            return Ok(None);
        };
        Unit::parse(word).map(Some).map_err(|error| {
            self.fault(
                ObservationItem::Unit,
                Complaint::new(&quoted(word.as_bytes()), "a known unit", &error.to_string()),
            )
        })
    }

    fn not_one_of(&self, item: ObservationItem, word: &str, expected: &str) -> Fault {
        self.fault(
            item,
            Complaint::new(
                &quoted(word.as_bytes()),
                expected,
                "correct the cell, or write a profile whose words translate it; the line was left \
                 out",
            ),
        )
    }

    fn fault(&self, item: ObservationItem, complaint: Complaint) -> Fault {
        let name = self.find(item).and_then(|(index, _)| self.names.get(index));
        let name = name.map_or(item.name(), String::as_str);
        self.desk.fault(Some(self.line), Some(name), complaint)
    }
}
