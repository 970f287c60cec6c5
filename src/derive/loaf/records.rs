//! Scalar records of a sheet, in canonical units and sorted by what they belong to.

use crate::record::Observation;
use crate::schema::{ScalarQuantity, Unit};
use std::collections::BTreeMap;

/// What a scalar record says.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Entry {
    /// What it measures.
    pub quantity: ScalarQuantity,
    /// Value in the canonical unit; ages in d.
    pub value: f64,
    /// Loaf, tube or other piece it belongs to.
    pub piece: Option<String>,
}

/// One scalar record whose quantity and unit are known.
#[derive(Clone)]
pub(super) struct Record<'a> {
    /// Its line.
    pub line: &'a Observation,
    /// What it says.
    pub entry: Entry,
}

/// Returns what records say.
pub(super) fn entries(records: &[Record<'_>]) -> Vec<Entry> {
    records.iter().map(|r| r.entry.clone()).collect()
}

/// Returns the records among the observations; lines without a known quantity, a value and a unit
/// of that quantity are none (a rule names them).
pub(super) fn records_of(observations: &[Observation]) -> Vec<Record<'_>> {
    let read = |line| {
        let o: &Observation = line;
        let quantity = ScalarQuantity::parse(o.quantity.as_deref()?)?;
        let value = quantity.to_canonical(o.value?, o.unit?)?;
        let value = match quantity {
            ScalarQuantity::MouldFreeUntil | ScalarQuantity::MouldSeenAt => {
                Unit::Day.from_canonical(value)
            }
            _ => value,
        };
        value.is_finite().then_some(Record {
            line: o,
            entry: Entry {
                quantity,
                value,
                piece: o.piece.clone(),
            },
        })
    };
    observations.iter().filter_map(read).collect()
}

/// The box of a sheet: what it holds, and how far it errs on the block.
#[derive(Clone, Default)]
pub(super) struct SeedBox<'a> {
    /// Readings of the full box, ml.
    pub full: Vec<f64>,
    /// Displaced less known volume of the calibration block, ml; `None` without a check.
    pub bias_ml: Option<f64>,
    /// The lines that say so.
    pub lines: Vec<&'a Observation>,
}

impl<'a> SeedBox<'a> {
    /// Returns the box of the records of one sheet.
    pub fn of(records: &[Record<'a>]) -> SeedBox<'a> {
        use ScalarQuantity as Q;
        let said = entries(records);
        let all = |wanted: Q| values(&said, wanted);
        let (full, known, around) = (
            all(Q::BoxFullVolume),
            all(Q::BlockVolume),
            all(Q::SeedsAroundBlock),
        );
        let bias_ml = match (mean(&full), mean(&known), mean(&around)) {
            (Some(full), Some(known), Some(around)) => Some(full - around - known),
            _ => None,
        };
        let of_box = records.iter().filter(|r| is_of_box(r));
        SeedBox {
            full,
            bias_ml,
            lines: of_box.map(|r| r.line).collect(),
        }
    }
}

/// Returns whether a record speaks of the box of its sheet, not of a dough.
pub(super) fn is_of_box(record: &Record<'_>) -> bool {
    use ScalarQuantity as Q;
    matches!(
        record.entry.quantity,
        Q::BoxFullVolume | Q::BlockVolume | Q::SeedsAroundBlock
    )
}

/// Returns the values of one quantity, in the order of their lines.
pub(super) fn values(entries: &[Entry], wanted: ScalarQuantity) -> Vec<f64> {
    let of_it = entries.iter().filter(|r| r.quantity == wanted);
    of_it.map(|r| r.value).collect()
}

/// Returns the mean; `None` of no values.
pub(super) fn mean(values: &[f64]) -> Option<f64> {
    let count = values.len() as f64;
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / count)
}

/// Returns records grouped by a key, in the order of the keys.
pub(super) fn by<'a, K: Ord>(
    records: &[Record<'a>],
    key: impl Fn(&Record<'a>) -> K,
) -> BTreeMap<K, Vec<Record<'a>>> {
    let mut groups: BTreeMap<K, Vec<Record<'a>>> = BTreeMap::new();
    for record in records {
        groups.entry(key(record)).or_default().push(record.clone());
    }
    groups
}
