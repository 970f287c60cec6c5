//! From rows to doughs: what counts, what is left out and why, and one value per dough.
//!
//! Pieces, discs, slices and strips are averaged within their dough here, once and for all kinds:
//! no later step ever sees more values than doughs, so that sub-samples cannot pass for replicates.

use super::evidence::{Evidence, Origin, ResultRow};
use crate::record::LeftOut;
use crate::schema::{Status, Unit};
use crate::study::{Blocking, Excluded, PlannedClaim, Scale, Study};
use std::collections::{BTreeMap, BTreeSet};

/// One dough with its value.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dough<'e> {
    pub batch: &'e str,
    pub treatment: &'e str,
    /// Level of the study's blocking; empty where there is none.
    pub block: &'e str,
    pub sample: Option<&'e str>,
    pub hydration_pct: Option<f64>,
    /// Mean of its sub-samples, of their logarithms on a scale of ratios.
    pub value: f64,
    /// Sub-samples behind the value.
    pub pieces: usize,
    /// Shared (type B) standard uncertainty, on the scale of `value`.
    pub shared_u: f64,
    pub instruments: BTreeSet<&'e str>,
    pub machine: Option<&'e str>,
}

impl<'e> Dough<'e> {
    /// Returns a dough of which only the design matters: its grades or curves are no number.
    pub fn without_value(batch: &'e str, block: &'e str, origin: &'e Origin) -> Self {
        Self {
            batch,
            block,
            treatment: origin.treatment.as_deref().unwrap_or(""),
            sample: origin.sample.as_deref(),
            hydration_pct: origin.hydration_pct,
            value: 0.0,
            pieces: 0,
            shared_u: 0.0,
            instruments: BTreeSet::new(),
            machine: origin.machine.as_deref(),
        }
    }
}

/// Returns the doughs behind pieces that are no numbers: `pieces` gives dough, block and origin of
/// each.
///
/// # Errors
/// The reason where the records of one dough contradict one another.
pub(super) fn doughs_without_value<'e>(
    pieces: impl Iterator<Item = (&'e str, &'e str, &'e Origin)>,
    left_out: Vec<LeftOut>,
) -> Result<Gathered<'e>, String> {
    let mut doughs: BTreeMap<&str, Dough<'e>> = BTreeMap::new();
    for (batch, block, origin) in pieces {
        let fresh = || Dough::without_value(batch, block, origin);
        let dough = doughs.entry(batch).or_insert_with(fresh);
        let treatment = origin.treatment.as_deref().unwrap_or("");
        if (dough.treatment, dough.block) != (treatment, block) {
            return Err(format!(
                "dough `{batch}` stands with two methods or blocks: correct the sheet or amend"
            ));
        }
        dough.pieces += 1;
    }
    Ok(Gathered {
        unit: Unit::One,
        variant: "",
        doughs: doughs.into_values().collect(),
        rows: Vec::new(),
        censored: Vec::new(),
        left_out,
    })
}

/// The doughs of a metric, and everything that is not among them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Gathered<'e> {
    pub unit: Unit,
    pub variant: &'e str,
    /// In the order of their identifiers.
    pub doughs: Vec<Dough<'e>>,
    /// Rows behind them, in the order of the result identifiers.
    pub rows: Vec<&'e ResultRow>,
    /// Rows known to one side only; those of doughs that a kind for censored values needs.
    pub censored: Vec<&'e ResultRow>,
    pub left_out: Vec<LeftOut>,
}

/// Which rows a question is about.
pub(super) struct Wanted<'a> {
    pub metric: &'a str,
    pub variant: Option<&'a str>,
    pub age_d: Option<f64>,
    pub rest_min: Option<f64>,
}

impl<'a> Wanted<'a> {
    /// The rows of the claim's own metric.
    pub fn of(claim: &'a PlannedClaim) -> Self {
        Self {
            metric: &claim.metric,
            variant: claim.variant.as_deref(),
            age_d: claim.age_d,
            rest_min: claim.rest_min,
        }
    }

    fn takes(&self, row: &ResultRow) -> bool {
        let same = |wanted: Option<f64>, found: Option<f64>| match wanted {
            None => true,
            Some(wanted) => found.is_some_and(|found| (found - wanted).abs() < 1e-6),
        };
        row.metric == self.metric
            && self.variant.is_none_or(|v| v == row.variant)
            && same(self.age_d, row.age_d)
            && same(self.rest_min, row.rest_min)
    }
}

/// Returns why the study leaves a row out, if it does.
pub(super) fn excluded_by(
    study: &Study,
    origin: &Origin,
    run: &str,
    result: &str,
) -> Option<String> {
    let hit = |what: &Excluded| match what {
        Excluded::Dough(id) => origin.batch.as_ref() == Some(id),
        Excluded::Run(id) => run == id,
        Excluded::Result(id) => result == id,
    };
    let found = study.exclusions.iter().find(|e| hit(&e.what))?;
    Some(format!("excluded by the study: {}", found.reason))
}

/// Returns the name of the block a dough stands in; `None` where the study has blocks and the
/// dough names none.
pub(super) fn block_of(blocking: Blocking, origin: &Origin) -> Option<&str> {
    match blocking {
        Blocking::Block => origin.block.as_deref(),
        Blocking::Flour => origin.sample.as_deref(),
        Blocking::Unblocked => Some(""),
    }
}

/// Returns the doughs of all the study's treatments that have a value of the wanted metric.
///
/// # Errors
/// The reason, in words, why these rows cannot be compared at all.
pub(super) fn gather<'e>(
    study: &Study,
    evidence: &'e Evidence,
    wanted: &Wanted<'_>,
    scale: Scale,
) -> Result<Gathered<'e>, String> {
    let mut rows: BTreeMap<&str, &ResultRow> = BTreeMap::new();
    for row in evidence.results.iter().filter(|row| wanted.takes(row)) {
        // The same result out of two archives is one result.
        rows.insert(&row.result_id, row);
    }
    if rows.is_empty() {
        return Err(nothing_found(evidence, wanted));
    }
    let variant = one_variant(rows.values().copied(), wanted)?;
    rows.retain(|_, row| row.variant == variant);
    let mut sorted = Sorted::default();
    for row in rows.into_values() {
        match reason_against(study, row, scale) {
            Some(reason) => sorted.leave_out(row, reason),
            None if row.status == Status::Exact => sorted.kept.push(row),
            None => sorted.censored.push(row),
        }
    }
    let all = sorted.kept.iter().chain(&sorted.censored);
    let unit = one_unit(all, wanted)?;
    let doughs = doughs_of(study, &sorted.kept, scale)?;
    Ok(Gathered {
        unit,
        variant,
        doughs,
        rows: sorted.kept,
        censored: sorted.censored,
        left_out: sorted.left_out,
    })
}

#[derive(Default)]
struct Sorted<'e> {
    kept: Vec<&'e ResultRow>,
    censored: Vec<&'e ResultRow>,
    left_out: Vec<LeftOut>,
}

impl<'e> Sorted<'e> {
    fn leave_out(&mut self, row: &'e ResultRow, reason: String) {
        // Rows of treatments that the study does not name are none of its business.
        if reason.is_empty() {
            return;
        }
        self.left_out.push(LeftOut {
            what: row.result_id.clone(),
            reason,
        });
    }
}

/// Returns why `row` is left out; an empty text where it belongs to no treatment of the study.
fn reason_against(study: &Study, row: &ResultRow, scale: Scale) -> Option<String> {
    let origin = &row.origin;
    let named = origin
        .treatment
        .as_ref()
        .is_some_and(|t| study.factors.treatments.contains(t));
    if !named {
        return Some(String::new());
    }
    if let Some(reason) = &row.excluded {
        return Some(reason.clone());
    }
    if let Some(reason) = excluded_by(study, origin, &row.run_id, &row.result_id) {
        return Some(reason);
    }
    if !matches!(row.status, Status::Exact | Status::Above | Status::Below) {
        return Some(format!("{}: it gave no value", row.status));
    }
    let flours = &study.factors.flours;
    if let Some(sample) = origin.sample.as_ref().filter(|_| !flours.is_empty())
        && !flours.contains(sample)
    {
        return Some(format!("flour `{sample}` is not in the study"));
    }
    if origin.batch.is_none() {
        return Some("no dough is named: the run sheet must link the file to a batch".to_owned());
    }
    if block_of(study.block, origin).is_none() {
        return Some("no block is named: the run sheet must say it".to_owned());
    }
    match row.value {
        Some(value) if value.is_finite() && (scale == Scale::Linear || value > 0.0) => None,
        Some(value) if value.is_finite() => Some(format!(
            "{value} has no logarithm; ratios need positive values"
        )),
        _ => Some("it has no value".to_owned()),
    }
}

fn nothing_found(evidence: &Evidence, wanted: &Wanted<'_>) -> String {
    let metrics: BTreeSet<&str> = evidence.results.iter().map(|r| r.metric.as_str()).collect();
    if metrics.contains(wanted.metric) {
        return format!(
            "the results hold `{}`, but not in the reading, age or rest that the claim names",
            wanted.metric
        );
    }
    let family = wanted.metric.split('.').next().unwrap_or("");
    let near: Vec<&str> = metrics
        .into_iter()
        .filter(|m| m.split('.').next() == Some(family))
        .collect();
    let hint = match near.is_empty() {
        true => String::new(),
        false => format!("; they hold {}", near.join(", ")),
    };
    format!("the results hold no `{}`{hint}", wanted.metric)
}

fn one_variant<'e>(
    rows: impl Iterator<Item = &'e ResultRow>,
    wanted: &Wanted<'_>,
) -> Result<&'e str, String> {
    let variants: BTreeSet<&str> = rows.map(|row| row.variant.as_str()).collect();
    let first = variants.first().copied().unwrap_or("");
    if variants.len() > 1 && !first.is_empty() {
        let words: Vec<&str> = variants.into_iter().collect();
        return Err(format!(
            "`{}` has several readings: {}; say which with `variant`",
            wanted.metric,
            words.join(", ")
        ));
    }
    Ok(first)
}

fn one_unit<'r, 'e: 'r>(
    rows: impl Iterator<Item = &'r &'e ResultRow>,
    wanted: &Wanted<'_>,
) -> Result<Unit, String> {
    let mut found: Option<Unit> = None;
    for row in rows {
        match found {
            Some(unit) if unit != row.unit => {
                return Err(format!(
                    "results of `{}` come in different units: {unit} and {}",
                    wanted.metric, row.unit
                ));
            }
            _ => found = Some(row.unit),
        }
    }
    found.ok_or_else(|| {
        format!(
            "no result of `{}` can be used; what was left out says why",
            wanted.metric
        )
    })
}

/// Returns one dough per batch.
pub(super) fn doughs_of<'e>(
    study: &Study,
    rows: &[&'e ResultRow],
    scale: Scale,
) -> Result<Vec<Dough<'e>>, String> {
    let mut batches: BTreeMap<&str, Vec<&'e ResultRow>> = BTreeMap::new();
    for row in rows {
        if let Some(batch) = row.origin.batch.as_deref() {
            batches.entry(batch).or_default().push(row);
        }
    }
    let mut conditions: Option<BTreeSet<Condition>> = None;
    let mut doughs = Vec::with_capacity(batches.len());
    for (batch, rows) in batches {
        let own: BTreeSet<Condition> = rows.iter().map(|row| condition(row)).collect();
        if *conditions.get_or_insert_with(|| own.clone()) != own {
            return Err(
                "doughs were measured at different ages or after different rests: say which with \
                 `age_d` or `rest_min`"
                    .to_owned(),
            );
        }
        doughs.push(dough_of(study, batch, &rows, scale)?);
    }
    Ok(doughs)
}

/// Age and rest of a row, in a form that can be a key.
type Condition = (Option<u64>, Option<u64>);

fn condition(row: &ResultRow) -> Condition {
    (row.age_d.map(f64::to_bits), row.rest_min.map(f64::to_bits))
}

fn dough_of<'e>(
    study: &Study,
    batch: &'e str,
    rows: &[&'e ResultRow],
    scale: Scale,
) -> Result<Dough<'e>, String> {
    let treatment = one_of(batch, "treatment", rows, |o| o.treatment.as_deref())?;
    let block = one_of(batch, "block", rows, |o| block_of(study.block, o))?;
    let sample = one_of(batch, "flour", rows, |o| o.sample.as_deref())?;
    let mut cells: BTreeMap<Condition, (f64, usize)> = BTreeMap::new();
    let (mut shared, mut water, mut waters) = (0.0, 0.0, 0_usize);
    for row in rows {
        let value = row.value.unwrap_or(f64::NAN);
        let (own, shared_u) = match scale {
            Scale::Linear => (value, row.shared_uncertainty()),
            Scale::Log => (libm::log(value), row.shared_uncertainty() / value),
        };
        let cell = cells.entry(condition(row)).or_insert((0.0, 0));
        *cell = (cell.0 + own, cell.1 + 1);
        shared += shared_u;
        if let Some(hydration) = row.origin.hydration_pct {
            water += hydration;
            waters += 1;
        }
    }
    let means = cells.values().map(|(sum, count)| sum / *count as f64);
    Ok(Dough {
        batch,
        treatment: treatment.unwrap_or(""),
        block: block.unwrap_or(""),
        sample,
        hydration_pct: (waters > 0).then(|| water / waters as f64),
        value: means.sum::<f64>() / cells.len() as f64,
        pieces: rows.len(),
        shared_u: shared / rows.len() as f64,
        instruments: rows
            .iter()
            .filter_map(|row| row.origin.instrument.as_deref())
            .collect(),
        machine: one_of(batch, "machine", rows, |o| o.machine.as_deref())?,
    })
}

/// Returns what all rows of a dough say about `fact`; rows that say nothing do not count.
pub(super) fn one_of<'e>(
    batch: &str,
    fact: &str,
    rows: &[&'e ResultRow],
    get: impl Fn(&'e Origin) -> Option<&'e str>,
) -> Result<Option<&'e str>, String> {
    let words: BTreeSet<&str> = rows.iter().filter_map(|row| get(&row.origin)).collect();
    let mut list = words.into_iter();
    match (list.next(), list.next()) {
        (Some(one), Some(other)) => Err(format!(
            "dough `{batch}` stands with two different words for its {fact}, `{one}` and \
             `{other}`: correct the run sheet or amend"
        )),
        (first, _) => Ok(first),
    }
}
