//! What preparing a signal found out about it: the facts that quality rules judge.

use crate::schema::Axis;

/// A pause in the record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Start, s on the record's clock.
    pub from_s: f64,
    /// End, s on the record's clock.
    pub to_s: f64,
    /// Index of the first point after the pause.
    pub index: usize,
}

/// A single reading far from its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spike {
    /// Index of the reading.
    pub index: usize,
    /// When, s on the record's clock.
    pub at_s: f64,
    /// Distance from the neighbourhood, in the unit of the curve; negative for a drop-out.
    pub height: f64,
}

/// A local maximum of the smoothed centre line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// When, min from water contact.
    pub time_min: f64,
    /// Height of the centre, in the unit of the curve.
    pub height: f64,
}

/// The temperatures of a heating run, as its block showed them.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct TemperatureProgramme {
    /// Mean of the block over the first, constant phase, °C.
    pub start_c: Option<f64>,
    /// Rate over the middle of the heating phase, °C/min.
    pub heating_c_per_min: Option<f64>,
    /// Mean of the block over the hot phase, °C.
    pub hot_c: Option<f64>,
    /// Rate over the middle of the cooling phase, °C/min; negative.
    pub cooling_c_per_min: Option<f64>,
    /// Mean of the block over the last phase, °C.
    pub end_c: Option<f64>,
    /// Whether the temperature of the dough was recorded.
    pub dough_recorded: bool,
}

/// Facts about one recorded signal.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SignalFacts {
    /// Points recorded.
    pub points: usize,
    /// Length of the record, s.
    pub duration_s: f64,
    /// Median time between points, s.
    pub sampling_s: f64,
    /// Indices of points whose time (or extension) steps back from the one before.
    pub time_steps_back: Vec<usize>,
    /// Points whose time equals that of the point before.
    pub repeated_times: usize,
    /// Cells that held a declared missing mark.
    pub missing_cells: u64,
    /// Pauses.
    pub gaps: Vec<Gap>,
    /// Spikes and drop-outs.
    pub spikes: Vec<Spike>,
    /// Points at the recorder's full scale in a flat run.
    pub saturated_points: usize,
    /// Water contact on the record's clock, as stated or inferred, s.
    pub time_zero_s: f64,
    /// Whether time zero had to be inferred.
    pub time_zero_inferred: bool,
    /// Robust scatter of the signal around its smoothed centre, in the unit of the curve.
    pub scatter: Option<f64>,
    /// Maximum of the smoothed centre (the consistency), in the unit of the curve.
    pub maximum: Option<f64>,
    /// Whether the centre is still rising at the end of the record.
    pub rising_at_end: bool,
    /// All counted peaks of the centre, earliest first.
    pub peaks: Vec<Peak>,
    /// Times the upper contour crosses the line, when there is a line and an upper contour.
    pub line_crossings: usize,
    /// Spread of the development-time readings, min.
    pub development_spread_min: Option<f64>,
    /// Whether the file supplied the contours itself.
    pub contours_supplied: bool,
    /// Blade periods over which the contours were read; `None` when sampling is too slow for them.
    pub contour_periods: Option<u32>,
    /// Water to dose in the next run, ml, when this one's maximum was off the line.
    pub next_water_ml: Option<f64>,
    /// Flour to weigh for it, g, where it changes with the water (constant dough mass).
    pub next_flour_g: Option<f64>,
    /// Speed of the mixing tool where it was recorded or stated, 1/min.
    pub tool_speed_per_min: Option<f64>,
    /// What a heating run recorded of its temperatures.
    pub programme: Option<TemperatureProgramme>,
    /// What the abscissa counts, for curves over length.
    pub axis: Option<Axis>,
    /// Abscissa of the record at which the hook first touched the dough, mm.
    pub contact_mm: Option<f64>,
    /// Abscissa of the record at which the piece tore, mm; `None` when the record ends before.
    pub rupture_mm: Option<f64>,
    /// Abscissa of the record at the greatest resistance, mm.
    pub maximum_mm: Option<f64>,
    /// The curve at even steps (abscissa and value), for numbers that several runs give together;
    /// empty where none do.
    pub shape: Vec<(f64, f64)>,
    /// Share of the fitted gain of water to equilibrium that an uptake record shows at its end.
    pub gain_shown: Option<f64>,
    /// A sudden loss of load before rupture: index of the point, and lost share of the maximum.
    pub sudden_loss: Option<(usize, f64)>,
}
