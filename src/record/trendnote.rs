//! What the control chart of a reference flour says on a day that measured it.

/// One instrument and metric under control.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrendNote {
    /// Instrument.
    pub instrument: String,
    /// Metric.
    pub metric: String,
    /// Whether the latest reading is out of control.
    pub out_now: bool,
    /// What a person must know, the gravest first.
    pub words: Vec<String>,
}
