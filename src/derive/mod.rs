//! From records to numbers: one folder per test method, one declared item per metric.
//!
//! A method prepares a run once (smoothing, contours, peak); each metric is then a function of what
//! was prepared. The room knows formulas and their sources, and no file, table or chart.

mod band;
pub mod basis;
mod budget;
mod centre;
mod clock;
pub mod extension;
pub mod firmness;
mod group;
pub mod hardening;
pub mod heating;
pub mod inflation;
mod interval;
pub mod loaf;
pub mod membrane;
pub mod mixer_log;
pub mod mixing;
pub mod pin_mixing;
mod place;
mod signal;
pub mod spread;
pub mod strip;
mod subject;
mod subsamples;
pub mod uptake;

pub use group::{Gathered, derive_groups, runs_by_dough};

use crate::record::{
    Conditions, Grading, MetricResult, Observation, Outcome, ReadCurve, RowRange, Run, RunGroup,
    RunRecord, SignalFacts,
};
use crate::schema::{Field, MethodCard, MetricCard, Test, Unit};
use std::sync::Arc;

/// A metric: its card, and the function that reads it from a prepared run.
pub struct Metric<P: 'static> {
    /// The printable declaration.
    pub card: MetricCard,
    /// Reads the given variant.
    pub read: fn(&P, &'static str) -> Reading,
}

/// What a metric's function returns.
#[derive(Debug, Clone)]
pub struct Reading {
    /// How it came out.
    pub outcome: Outcome,
    /// Stretch of the record it was read from: seconds from water contact, or millimetres.
    pub span: Option<(f64, f64)>,
    /// What the data made of the parameters, such as the noise-dependent tolerance.
    pub remarks: String,
}

impl Reading {
    /// Returns a reading without a place in the record.
    pub fn of(outcome: Outcome) -> Reading {
        Reading {
            outcome,
            span: None,
            remarks: String::new(),
        }
    }

    /// Returns the reading with the stretch of the record that it used.
    pub fn over(mut self, from: f64, to: f64) -> Reading {
        self.span = Some((from.min(to), from.max(to)));
        self
    }

    /// Returns the reading with a remark for its parameters.
    pub fn with_remark(mut self, remark: String) -> Reading {
        self.remarks = remark;
        self
    }
}

/// Everything derivation has to say about one run.
#[derive(Debug, Clone)]
pub struct Derived {
    /// What was seen in the signal.
    pub facts: SignalFacts,
    /// The numbers, in the order of the method.
    pub results: Vec<MetricResult>,
    /// The curve as it was read, for charts.
    pub curve: ReadCurve,
}

/// Declares a metric: its doc comment is the definition that `explain` prints.
macro_rules! metric {
    (
        $(#[doc = $doc:literal])+
        $name:ident for $prepared:ty {
            id: $id:literal, symbol: $symbol:literal, name: $title:literal,
            unit: $unit:expr, decimals: $decimals:literal, revision: $revision:literal,
            source: ($standard:literal, $clause:literal, $evidence:ident),
            variants: [$(($variant:literal, $variant_text:literal)),* $(,)?],
            read: $read:path $(,)?
        }
    ) => {
        $(#[doc = $doc])+
        pub static $name: $crate::derive::Metric<$prepared> = $crate::derive::Metric {
            card: $crate::schema::MetricCard {
                id: $id, symbol: $symbol, name: $title, unit: $unit, decimals: $decimals,
                revision: $revision,
                source: $crate::schema::Source {
                    standard: $standard, clause: $clause,
                    evidence: $crate::schema::Evidence::$evidence,
                },
                definition: concat!($($doc),+).trim_ascii(),
                variants: &[$($crate::schema::Variant { id: $variant, definition: $variant_text }),*],
                address: $crate::schema::Address { file: file!(), line: line!() },
            },
            read: $read,
        };
    };
}
pub(crate) use metric;

/// Unwraps what a metric needs, or ends its function with the outcome that stands for it.
macro_rules! or_outcome {
    ($found:expr) => {
        match $found {
            Ok(found) => found,
            Err(outcome) => return $crate::derive::Reading::of(outcome),
        }
    };
}
pub(crate) use or_outcome;

/// A test method.
pub struct Method {
    /// The test it reads.
    pub test: Test,
    /// Its card.
    pub card: fn() -> MethodCard,
    /// What its metrics are derived from.
    pub reads: Reads,
    /// What several of its runs give together, where they do; given every run of the test that
    /// counts, it forms the groups itself.
    pub groups: Option<FormGroups>,
}

/// Forms groups of the runs of a test that count, and reads what each gives.
pub type FormGroups = fn(&[&RunRecord]) -> Vec<RunGroup>;

/// What a method derives its metrics from.
#[derive(Clone, Copy)]
pub enum Reads {
    /// One run at a time.
    Run(fn(&Run, Arc<Conditions>) -> Derived),
    /// All observations of a day.
    Observations(fn(&[Observation]) -> Grading),
}

/// Every method, in report order.
pub static METHODS: &[Method] = &[
    Method {
        test: Test::Mixing,
        card: mixing::card,
        reads: Reads::Run(mixing::derive),
        groups: None,
    },
    Method {
        test: Test::Extension,
        card: extension::card,
        reads: Reads::Run(extension::derive),
        groups: None,
    },
    Method {
        test: Test::PinMixing,
        card: pin_mixing::card,
        reads: Reads::Run(pin_mixing::derive),
        groups: None,
    },
    Method {
        test: Test::Heating,
        card: heating::card,
        reads: Reads::Run(heating::derive),
        groups: Some(heating::derive_groups),
    },
    Method {
        test: Test::Strip,
        card: strip::card,
        reads: Reads::Run(strip::derive),
        groups: Some(strip::groups),
    },
    Method {
        test: Test::Inflation,
        card: inflation::card,
        reads: Reads::Run(inflation::derive),
        groups: Some(inflation::groups),
    },
    Method {
        test: Test::Membrane,
        card: membrane::card,
        reads: Reads::Observations(membrane::derive),
        groups: None,
    },
    Method {
        test: Test::Uptake,
        card: uptake::card,
        reads: Reads::Run(uptake::derive),
        groups: None,
    },
    Method {
        test: Test::Loaf,
        card: loaf::card,
        reads: Reads::Observations(loaf::derive),
        groups: None,
    },
    Method {
        test: Test::Firmness,
        card: firmness::card,
        reads: Reads::Run(firmness::derive),
        groups: Some(firmness::groups),
    },
    Method {
        test: Test::MixerLog,
        card: mixer_log::card,
        reads: Reads::Run(mixer_log::derive),
        groups: Some(mixer_log::groups),
    },
];

/// Returns the method that reads `test`.
pub fn method(test: Test) -> Option<&'static Method> {
    METHODS.iter().find(|method| method.test == test)
}

/// Derives every metric of `run`; `None` when no method reads runs of its test.
pub fn derive_run(run: &Run, conditions: Arc<Conditions>) -> Option<Derived> {
    match method(run.test)?.reads {
        Reads::Run(derive) => Some(derive(run, conditions)),
        Reads::Observations(_) => None,
    }
}

/// Derives what the observations of a day show: every method that reads observations, in order.
pub fn derive_observations(observations: &[Observation]) -> Grading {
    let mut all = Grading::default();
    for method in METHODS {
        if let Reads::Observations(derive) = method.reads {
            all.append(derive(observations));
        }
    }
    all
}

/// Returns the rejection of a piece that is stated to have slipped or torn at its clamp: its curve
/// does not show the dough (ISO 5530-2; from memory, medium confidence).
fn clamp_failure(run: &Run, piece: &str) -> Option<Outcome> {
    let words = match run.metadata.text(Field::Break)?.trim() {
        "slipped" => "slipped in its clamp",
        "clamp" => "tore at the clamp",
        _ => return None,
    };
    Some(Outcome::Rejected(format!(
        "the {piece} {words}: its curve does not show the dough"
    )))
}

/// Returns the rejection of a piece that the operator left out, with the reason given.
fn left_out(run: &Run) -> Option<Outcome> {
    let reason = run.metadata.text(Field::LeaveOut)?;
    let reason = reason.trim();
    (!reason.is_empty()).then(|| Outcome::Rejected(format!("left out: {reason}")))
}

/// Returns the lines of the raw file that hold the stretch `from..=to` of the increasing
/// abscissa `x` of `run`.
fn lines_of(run: &Run, x: &[f64], from: f64, to: f64) -> Option<RowRange> {
    let last = x.len().checked_sub(1)?;
    let first = x.partition_point(|v| *v < from).min(last);
    let end = x
        .partition_point(|v| *v <= to)
        .saturating_sub(1)
        .clamp(first, last);
    Some(RowRange {
        first: run.line_of(first),
        last: run.line_of(end),
    })
}

/// Reads every metric of `metrics`, in every variant, from what was prepared.
fn readings<P>(
    prepared: &P,
    metrics: &[&'static Metric<P>],
) -> Vec<(MetricCard, &'static str, Reading)> {
    let mut read = Vec::new();
    for metric in metrics {
        let ids = metric.card.variants.iter().map(|variant| variant.id);
        // A metric without variants is read once, under the empty name.
        let only = metric.card.variants.is_empty().then_some("");
        for variant in ids.chain(only) {
            read.push((metric.card, variant, (metric.read)(prepared, variant)));
        }
    }
    read
}

/// Reads every metric of `metrics`, in every variant, and makes results of the readings.
///
/// `lines_of` turns a stretch of the record into lines of the raw file; `unit_of` gives the unit
/// in which a metric is printed for this run.
fn read_all<P>(
    run: &Run,
    conditions: &Arc<Conditions>,
    prepared: &P,
    metrics: &[&'static Metric<P>],
    context: &ReadingContext<'_>,
) -> Vec<MetricResult> {
    let identity = MetricResult::identity_of(run);
    let mut results = Vec::new();
    for (card, variant, reading) in readings(prepared, metrics) {
        let mut parameters = context.settings.to_owned();
        if !reading.remarks.is_empty() {
            parameters.push_str("; ");
            parameters.push_str(&reading.remarks);
        }
        results.push(MetricResult {
            id: MetricResult::identify(&identity, &card, variant, context.settings),
            file: run.file.name.clone(),
            raw_sha256: run.file.sha256.clone(),
            run_id: run.id.clone(),
            test: run.test,
            metric: card,
            unit: (context.unit_of)(card.unit),
            variant,
            conditions: Arc::clone(conditions),
            rows: reading.span.and_then(|span| (context.lines_of)(span)),
            outcome: reading.outcome,
            parameters,
            from: Vec::new(),
        });
    }
    results
}

/// Reads every metric of `metrics`, in every variant, each in its declared unit; `x` is the
/// abscissa that the spans of the readings are counted on.
fn read_in_declared_units<P>(
    run: &Run,
    conditions: &Arc<Conditions>,
    prepared: &P,
    metrics: &[&'static Metric<P>],
    (settings, x): (&str, &[f64]),
) -> Vec<MetricResult> {
    let context = ReadingContext {
        settings,
        unit_of: &|declared| declared,
        lines_of: &|(from, to)| lines_of(run, x, from, to),
    };
    read_all(run, conditions, prepared, metrics, &context)
}

/// What turning readings into results needs to know of the run.
struct ReadingContext<'a> {
    settings: &'a str,
    unit_of: &'a dyn Fn(Unit) -> Unit,
    lines_of: &'a dyn Fn((f64, f64)) -> Option<RowRange>,
}
