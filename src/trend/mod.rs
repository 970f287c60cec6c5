//! Control of an instrument by a reference flour: what it should read, what it reads, and since
//! when it reads otherwise (HANDBOOK §11.4).
//!
//! One series an instrument and metric. Each lot of the flour has limits of its own: frozen ones
//! from the ledger, else those of its first readings, else the old lot's, moved by what both read
//! on the same days. Ageing of the flour is told from jumps of the instrument.

mod judge;
mod words;

pub use judge::judge;

use crate::numerics::control::{
    ControlLimits, Cusum, CusumPoint, Drift, Ewma, EwmaPoint, LotShift, RunSignal,
};
use crate::schema::{MetricCard, Unit};

/// Readings that set the limits of a lot without frozen ones (HANDBOOK §11.4: at least 20 to 25).
pub const BASE_READINGS: usize = 25;

/// One reading of the reference flour.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Identifier of the result.
    pub result_id: String,
    /// Run.
    pub run: String,
    /// Day, counted from any fixed day.
    pub day: f64,
    /// Day as it is printed.
    pub date: String,
    /// Lot of the reference flour.
    pub lot: String,
    /// Value, in the unit of the series.
    pub value: f64,
}

/// Everything one instrument read of one metric, in the order of time.
#[derive(Debug, Clone)]
pub struct Series {
    /// Instrument.
    pub instrument: String,
    /// Metric.
    pub metric: MetricCard,
    /// Reading of the metric; empty for the only one.
    pub variant: String,
    /// Unit of the values.
    pub unit: Unit,
    /// Readings.
    pub readings: Vec<Reading>,
    /// Limits on record, latest last.
    pub frozen: Vec<FrozenLimits>,
}

/// Limits that somebody froze.
#[derive(Debug, Clone, PartialEq)]
pub struct FrozenLimits {
    /// Lot.
    pub lot: String,
    /// Centre and mean moving range of the base period.
    pub limits: ControlLimits,
    /// Ledger line.
    pub seq: u64,
    /// When.
    pub when: String,
    /// By whom.
    pub who: String,
}

/// Where the limits of a lot come from.
#[derive(Debug, Clone, PartialEq)]
pub enum LimitsFrom {
    /// The ledger.
    Frozen {
        /// Ledger line.
        seq: u64,
        /// When.
        when: String,
        /// By whom.
        who: String,
    },
    /// The lot's own first readings.
    FirstReadings {
        /// How many.
        readings: usize,
        /// Whether they are enough to rely on.
        enough: bool,
    },
    /// The old lot's limits, moved by what both lots read on the same days.
    CarriedOver {
        /// The old lot.
        from: String,
        /// The shift.
        shift: LotShift,
    },
}

/// One lot with its limits.
#[derive(Debug, Clone, PartialEq)]
pub struct LotLimits {
    /// Lot.
    pub lot: String,
    /// Index of its first reading.
    pub first: usize,
    /// Limits.
    pub limits: ControlLimits,
    /// Where they come from.
    pub from: LimitsFrom,
}

/// What the control of one series found.
#[derive(Debug, Clone)]
pub struct Trend {
    /// The readings.
    pub series: Series,
    /// Lots in the order in which they turn up; at least one.
    pub lots: Vec<LotLimits>,
    /// Readings about the centre of their lot, set on the centre of the latest one.
    pub aligned: Vec<f64>,
    /// Moving average of the aligned readings.
    pub ewma: Vec<EwmaPoint>,
    /// Cumulative sums of the aligned readings.
    pub cusum: Vec<CusumPoint>,
    /// Patterns among the readings.
    pub signals: Vec<RunSignal>,
    /// Ageing and jumps, where there are readings enough.
    pub drift: Option<Drift>,
    /// What a person must know, the gravest first.
    pub sentences: Vec<String>,
    /// Whether the latest reading is out of control.
    pub out_now: bool,
}

impl Trend {
    /// Returns the limits of the lot that reading `index` is of.
    pub fn limits_at(&self, index: usize) -> Option<&LotLimits> {
        let lot = &self.series.readings.get(index)?.lot;
        self.lots.iter().find(|known| known.lot == *lot)
    }

    /// Returns the limits of the latest lot.
    pub fn current(&self) -> Option<&LotLimits> {
        self.lots.last()
    }
}

/// Parameters of the averages and sums: λ 0.2 and L 2.7, k 0.5 and h 5 (HANDBOOK §11.4).
pub(crate) fn charts() -> (Ewma, Cusum) {
    (Ewma::default(), Cusum::default())
}
