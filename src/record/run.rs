//! A run: one test on one piece, with its curves and everything stated about it.

use super::{Curve, Metadata, ProfileStamp, RawFile, RowRange};
use crate::schema::{
    BatchId, Bowl, Channel, Digest, Field, InstrumentId, Procedure, Purpose, RunId, SampleId, Test,
};

/// One test on one piece.
#[derive(Debug, Clone)]
pub struct Run {
    /// Name of the run; unique within the day.
    pub id: RunId,
    /// Kind of test.
    pub test: Test,
    /// The file it came in.
    pub file: RawFile,
    /// The profile that read it.
    pub profile: ProfileStamp,
    /// Which curve of the file; empty when the file holds one.
    pub selector: String,
    /// Lines of the file that hold the curve.
    pub rows: RowRange,
    /// Everything stated about it.
    pub metadata: Metadata,
    /// Its curves; at least one.
    pub curves: Vec<Curve>,
    /// For each point of the curves, its line in the file; empty when line = rows.first + index.
    pub lines: Vec<u64>,
    /// Cells that held a declared missing mark and were passed over.
    pub missing_cells: u64,
}

impl Run {
    /// Returns the curve of `channel`.
    pub fn curve(&self, channel: Channel) -> Option<&Curve> {
        self.curves.iter().find(|curve| curve.channel() == channel)
    }

    /// Returns the line of the raw file that holds point `index` of the curves.
    pub fn line_of(&self, index: usize) -> u64 {
        match self.lines.get(index) {
            Some(line) => *line,
            None => self.rows.first + index as u64,
        }
    }

    /// Returns the typed conditions that derivation needs.
    pub fn conditions(&self) -> Conditions {
        Conditions::of(&self.metadata)
    }

    /// Returns the digest that identifies the curve: file digest and selector.
    pub fn curve_digest(&self) -> Digest {
        Run::digest_of(&self.file.sha256, &self.selector)
    }

    /// Returns the digest that identifies the curve `selector` of a file.
    pub fn digest_of(file: &Digest, selector: &str) -> Digest {
        Digest::of(format!("{file}\n{selector}").as_bytes())
    }
}

/// What was stated about a run, typed; `None` where nothing (or nothing valid) was stated.
#[derive(Debug, Clone, Default)]
pub struct Conditions {
    /// Flour lot.
    pub sample_id: Option<SampleId>,
    /// Dough.
    pub batch_id: Option<BatchId>,
    /// Mixing method.
    pub treatment: Option<String>,
    /// Block of the design.
    pub block: Option<String>,
    /// Replicate.
    pub replicate: Option<String>,
    /// Instrument.
    pub instrument_id: Option<InstrumentId>,
    /// Why the run was made.
    pub purpose: Option<Purpose>,
    /// Dosing procedure.
    pub procedure: Option<Procedure>,
    /// Bowl.
    pub bowl: Option<Bowl>,
    /// Flour moisture, % as is.
    pub flour_moisture_pct: Option<f64>,
    /// Flour mass weighed, g.
    pub flour_g: Option<f64>,
    /// Water dosed, ml.
    pub water_ml: Option<f64>,
    /// Dough mass, g.
    pub dough_g: Option<f64>,
    /// Thermostat temperature, °C.
    pub thermostat_c: Option<f64>,
    /// Time of water contact on the record's clock, s.
    pub water_contact_s: Option<f64>,
    /// Operator markers on the record's clock, s.
    pub markers_s: Vec<f64>,
    /// Recorder's greatest reading.
    pub full_scale: Option<f64>,
    /// Whether the reference line runs through the peak centre instead of 500 FU.
    pub line_at_peak_centre: bool,
    /// Measured moisture of the dough, % of its mass.
    pub dough_moisture_pct: Option<f64>,
}

impl Conditions {
    /// Returns the conditions stated in `metadata`.
    pub fn of(metadata: &Metadata) -> Conditions {
        let text = |field| metadata.text(field).filter(|t| !t.trim().is_empty());
        let number = |field| metadata.number(field);
        Conditions {
            sample_id: text(Field::SampleId).and_then(|t| SampleId::new(&t).ok()),
            batch_id: text(Field::BatchId).and_then(|t| BatchId::new(&t).ok()),
            treatment: text(Field::Treatment),
            block: text(Field::Block),
            replicate: text(Field::Replicate),
            instrument_id: text(Field::InstrumentId).and_then(|t| InstrumentId::new(&t).ok()),
            purpose: text(Field::Purpose).and_then(|t| Purpose::parse(&t)),
            procedure: text(Field::Procedure).and_then(|t| Procedure::parse(&t)),
            bowl: number(Field::BowlG).and_then(|g| {
                Bowl::ALL
                    .iter()
                    .copied()
                    .find(|bowl| (bowl.flour_g() - g).abs() < 0.5)
            }),
            flour_moisture_pct: number(Field::FlourMoisturePct),
            flour_g: number(Field::FlourG),
            water_ml: number(Field::WaterMl),
            dough_g: number(Field::DoughG),
            thermostat_c: number(Field::ThermostatC),
            water_contact_s: number(Field::WaterContactS),
            markers_s: text(Field::MarkersS)
                .map(|t| {
                    t.split_whitespace()
                        .filter_map(|part| part.parse().ok())
                        .collect()
                })
                .unwrap_or_default(),
            full_scale: number(Field::FullScale),
            line_at_peak_centre: text(Field::LineRule).as_deref() == Some("at-peak-centre"),
            dough_moisture_pct: number(Field::DoughMoisturePct),
        }
    }
}
