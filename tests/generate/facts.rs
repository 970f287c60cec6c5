//! What files and run sheets of the story state about a run.

/// Facts about one run; an empty text or `None` is not stated.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Name of the run.
    pub run_id: String,
    /// Flour lot.
    pub sample_id: String,
    /// Name of the flour for people.
    pub flour_name: String,
    /// Kind of flour.
    pub flour_kind: String,
    /// Dough.
    pub batch_id: String,
    /// Mixing method.
    pub treatment: String,
    /// Block of the design.
    pub block: String,
    /// Replicate.
    pub replicate: String,
    /// `titration`, `final` or `study`.
    pub purpose: String,
    /// `constant-flour` or `constant-dough`.
    pub procedure: String,
    /// Bowl size, g.
    pub bowl_g: Option<f64>,
    /// Flour moisture, % as is.
    pub moisture_pct: Option<f64>,
    /// Flour weighed, g.
    pub flour_g: Option<f64>,
    /// Water dosed, ml.
    pub water_ml: Option<f64>,
    /// Thermostat, °C.
    pub thermostat_c: Option<f64>,
    /// Hydration, % of flour as is.
    pub hydration_pct: Option<f64>,
    /// Water contact on the clock of the record, s.
    pub water_contact_s: Option<f64>,
    /// Operator markers on the clock of the record, s.
    pub markers_s: Vec<f64>,
    /// Greatest reading of the recorder, FU.
    pub full_scale_fu: Option<f64>,
    /// Instrument.
    pub instrument_id: String,
    /// Person who ran the test (invented numbers, no names).
    pub operator: String,
    /// Start of the test.
    pub started_at: String,
    /// Anything else.
    pub note: String,
}

/// Returns `value` with `decimals` digits and never a negative zero.
pub fn decimal(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let zero = text
        .chars()
        .all(|c| c == '-' || c == '0' || c == '.' || c == ',');
    match text.strip_prefix('-') {
        Some(bare) if zero => bare.to_owned(),
        _ => text,
    }
}

/// Returns `value` with `decimals` digits and a decimal comma.
pub fn decimal_comma(value: f64, decimals: usize) -> String {
    decimal(value, decimals).replace('.', ",")
}

/// Returns a stated number with `decimals` digits, or nothing.
pub fn stated(value: Option<f64>, decimals: usize) -> String {
    value.map(|v| decimal(v, decimals)).unwrap_or_default()
}

/// Returns operator markers as the layouts write them: seconds separated by a blank.
pub fn marker_list(markers_s: &[f64]) -> String {
    let parts: Vec<String> = markers_s.iter().map(|s| decimal(*s, 1)).collect();
    parts.join(" ")
}
