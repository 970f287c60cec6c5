//! What is done once per run before any metric is read: time zero, spikes, contours, peaks, noise.

use super::items::{ITEMS, Item, Lines};
use super::settings::{PINS, Settings};
use crate::derive::band::{median_width, raw_contours, supplied_traces, u_side};
use crate::derive::clock::{time_facts, time_zero, u_time_s, unusable_time};
use crate::derive::signal::{
    SpikeFilter, bridge_markers, bridge_spikes, count_saturated, u_resolution,
};
use crate::derive::spread::{NoisyLines, Spread};
use crate::numerics::{area_between, local_linear, rolling_mean, scatter_of_some};
use crate::record::{Conditions, Peak, Run, SignalFacts};
use crate::schema::{Channel, Field, Unit};
use std::sync::Arc;

/// What was stated beyond the typed conditions.
#[derive(Debug, Clone, Default)]
pub struct Stated {
    /// Torque of one percent of full scale, N m.
    pub torque_per_percent_nm: Option<f64>,
    /// Speed of the head, 1/min: the mean of a recorded speed, else as stated.
    pub speed_per_min: Option<f64>,
    /// Protein of the flour, %.
    pub protein_pct: Option<f64>,
    /// Moisture basis of the protein, as written.
    pub protein_basis: Option<String>,
}

/// The band of the curve.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Band {
    /// Smoothed upper contour.
    pub upper: Vec<f64>,
    /// Smoothed lower contour.
    pub lower: Vec<f64>,
    /// Standard uncertainty of the level of either contour from noise that widens the band and
    /// sampling that misses its crests.
    pub u_side: f64,
}

/// A maximum of a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoundPeak {
    /// Time, s from water contact.
    pub at_s: f64,
    /// Height.
    pub height: f64,
    /// Whether it was passed.
    pub state: PeakState,
}

/// Whether the record shows a peak's fall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PeakState {
    /// The curve lies clearly below it at its end.
    Passed,
    /// The curve ends before it falls clearly.
    NotPassed,
    /// The curve falls from the end of wetting on.
    BeforeStart,
}

/// A pin-mixer curve ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// What was stated, typed.
    pub conditions: Arc<Conditions>,
    /// What was stated beyond.
    pub stated: Stated,
    /// Parameters in force.
    pub settings: Settings,
    /// Unit of the ordinate.
    pub unit: Unit,
    /// Seconds from water contact.
    pub t: Vec<f64>,
    /// The signal as recorded.
    pub signal: Vec<f64>,
    /// Smoothed centre.
    pub centre: Vec<f64>,
    /// The band, or why it is not known.
    pub band: Result<Band, String>,
    /// Peak of the centre, or why there is none.
    pub centre_peak: Result<FoundPeak, String>,
    /// Peak of the upper contour, or why there is none.
    pub edge_peak: Result<FoundPeak, String>,
    /// Numbers read, in the order of [`Item`].
    pub values: Vec<Option<f64>>,
    /// Their spread when the noise is drawn anew.
    pub spreads: Vec<Option<Spread>>,
    /// Standard uncertainty of one reading from the step in which the record writes its values.
    pub u_reading: f64,
    /// Reason for which nothing may be read at all.
    pub rejected: Option<String>,
    /// What was seen.
    pub facts: SignalFacts,
}

impl Prepared {
    /// Returns the end of the record, s from water contact.
    pub fn end_s(&self) -> f64 {
        self.t.last().copied().unwrap_or(0.0)
    }

    /// Returns the value of an item, where the lines show it.
    pub fn value(&self, item: Item) -> Option<f64> {
        self.values.get(item as usize).copied().flatten()
    }

    /// Returns the standard uncertainty of an item from the noise of the record; infinite where
    /// other noise would mostly have hidden it.
    pub fn u_noise(&self, item: Item) -> f64 {
        let spread = self.spreads.get(item as usize).copied().flatten();
        spread.map_or(f64::INFINITY, |spread| spread.u())
    }

    /// Returns the standard uncertainty of reading a time off the record, s.
    pub fn u_time_s(&self) -> f64 {
        u_time_s(
            self.facts
                .sampling_s
                .max(self.settings.draws().least_step_s),
        )
    }

    /// Returns the torque of the unit of the ordinate in N m, where it is known.
    pub fn torque_per_unit_nm(&self) -> Option<f64> {
        match self.unit {
            Unit::NewtonMetre => Some(1.0),
            Unit::Percent => self.stated.torque_per_percent_nm.filter(|t| *t > 0.0),
            _ => None,
        }
    }
}

/// Returns the prepared curve of `run`.
pub fn prepare(run: &Run, conditions: Arc<Conditions>, settings: Settings) -> Prepared {
    let signal = run
        .curve(Channel::Signal)
        .or_else(|| run.curve(Channel::Middle));
    let Some(curve) = signal.or_else(|| run.curves.first()) else {
        return unreadable(conditions, settings, "the run has no curve".to_owned());
    };
    let mut facts = time_facts(curve);
    let zero = time_zero(curve, &conditions, &mut facts);
    facts.time_zero_s = zero;
    facts.missing_cells = run.missing_cells;
    if let Some(reason) = unusable_time(run, curve, &facts) {
        return Prepared {
            facts,
            unit: curve.unit(),
            ..unreadable(conditions, settings, reason)
        };
    }
    let t: Vec<f64> = curve.x().iter().map(|x| x - zero).collect();
    let top = curve.y().iter().copied().fold(0.0_f64, f64::max);
    let filter = SpikeFilter {
        half_window_s: 0.5 * settings.outlier_window_s,
        limit: settings.outlier_limit,
        floor: settings.least_scatter_share * top.max(f64::MIN_POSITIVE),
        from_s: settings.wetting_s,
    };
    let mut cleaned = bridge_spikes(&t, curve.y(), &filter, zero, &mut facts);
    bridge_markers(
        &t,
        &mut cleaned,
        &conditions,
        (zero, settings.marker_mask_s),
    );
    let start = t.partition_point(|v| *v < settings.wetting_s);
    // Percent of full scale cannot exceed a hundred.
    let hundred = (curve.unit() == Unit::Percent).then_some(100.0);
    facts.saturated_points = count_saturated(
        &cleaned[start.min(cleaned.len())..],
        conditions.full_scale.or(hundred),
        settings.clipped_readings as usize,
    );
    let raw = raw_lines(run, &t, &cleaned, &settings, &mut facts);
    let stated = stated_facts(run);
    facts.tool_speed_per_min = stated.speed_per_min;
    let prepared = Prepared {
        u_reading: u_resolution(curve.y()),
        unit: curve.unit(),
        signal: curve.y().to_vec(),
        rejected: None,
        stated,
        facts,
        t,
        ..unreadable(conditions, settings, String::new())
    };
    read_lines(prepared, raw, start)
}

fn unreadable(conditions: Arc<Conditions>, settings: Settings, reason: String) -> Prepared {
    Prepared {
        conditions,
        stated: Stated::default(),
        settings,
        unit: Unit::Percent,
        t: Vec::new(),
        signal: Vec::new(),
        centre: Vec::new(),
        band: Err(reason.clone()),
        centre_peak: Err(reason.clone()),
        edge_peak: Err(reason.clone()),
        values: vec![None; ITEMS],
        spreads: vec![None; ITEMS],
        u_reading: 0.0,
        rejected: Some(reason),
        facts: SignalFacts::default(),
    }
}

fn stated_facts(run: &Run) -> Stated {
    let number = |field| run.metadata.number(field);
    let recorded = run.curve(Channel::Speed).map(|curve| {
        let turning: Vec<f64> = curve.y().iter().copied().filter(|v| *v > 0.0).collect();
        turning.iter().sum::<f64>() / turning.len().max(1) as f64
    });
    Stated {
        torque_per_percent_nm: number(Field::TorquePerPercentNm),
        speed_per_min: recorded
            .filter(|speed| *speed > 0.0)
            .or_else(|| number(Field::SpeedPerMin)),
        protein_pct: number(Field::ProteinPct),
        protein_basis: run.metadata.text(Field::ProteinBasis),
    }
}

/// The lines of a record before smoothing.
struct RawLines {
    centre: Vec<f64>,
    /// Upper and lower contour and the uncertainty of either's level, or why they are not known.
    band: Result<(Vec<f64>, Vec<f64>, f64), String>,
}

/// Returns the centre and the contours as supplied, or as the extremes of the signal.
fn raw_lines(
    run: &Run,
    t: &[f64],
    y: &[f64],
    settings: &Settings,
    facts: &mut SignalFacts,
) -> RawLines {
    if let Some(traces) = supplied_traces(run, t.len()) {
        facts.contours_supplied = true;
        return RawLines {
            centre: traces.middle,
            band: Ok((traces.upper.to_vec(), traces.lower.to_vec(), 0.0)),
        };
    }
    let half = 0.5 * settings.contour_window_s;
    let averaged = |reason: String| RawLines {
        centre: rolling_mean(t, y, half.max(facts.sampling_s)),
        band: Err(reason),
    };
    if run.curve(Channel::Signal).is_none() {
        return averaged("the file supplies a middle trace without the contours".into());
    }
    let turns = (settings.contour_window_s / PINS.period_s).floor().max(1.0) as u32;
    let missed = PINS.missed_share(facts.sampling_s, settings.contour_window_s);
    if missed > settings.tolerated_miss {
        return averaged(format!(
            "sampled every {:.2} s, too slow for the pins at {:.2} s a turn: the width of the band \
             cannot be known; record at five readings a second or faster",
            facts.sampling_s, PINS.period_s
        ));
    }
    let (upper, lower) = raw_contours(t, y, half);
    let width = median_width(&upper, &lower);
    let top = y.iter().copied().fold(0.0_f64, f64::max);
    if width < settings.least_band_share * top {
        return averaged("the record holds one smoothed trace: the band is not in it".into());
    }
    facts.contour_periods = Some(turns);
    let u_side = u_side(t, y, half, (width, missed));
    RawLines {
        centre: upper
            .iter()
            .zip(&lower)
            .map(|(a, b)| 0.5 * (a + b))
            .collect(),
        band: Ok((upper, lower, u_side)),
    }
}

/// Smooths the lines, finds the peaks, and reads every item with its spread.
fn read_lines(mut p: Prepared, raw: RawLines, start: usize) -> Prepared {
    let settings = p.settings;
    let smooth = |line: &[f64]| local_linear(&p.t, line, settings.smoothing_half_width_s);
    p.centre = smooth(&raw.centre);
    p.band = match &raw.band {
        Ok((upper, lower, u_side)) => Ok(Band {
            upper: smooth(upper),
            lower: smooth(lower),
            u_side: *u_side,
        }),
        Err(reason) => Err(reason.clone()),
    };
    let residuals: Vec<f64> = raw
        .centre
        .iter()
        .zip(&p.centre)
        .map(|(a, b)| a - b)
        .collect();
    p.facts.scatter = scatter_of_some(&residuals);
    let band = p.band.as_ref().ok();
    let lines = Lines {
        t: &p.t,
        centre: &p.centre,
        band: band.map(|b| (b.upper.as_slice(), b.lower.as_slice())),
    };
    p.values = lines.read(&settings);
    read_areas(&mut p.values, &p.t, &raw.centre);
    let mut noisy = NoisyLines {
        t: &p.t,
        raw: vec![&raw.centre],
        smooth: vec![&p.centre],
    };
    if let (Some(band), Ok((upper, lower, _))) = (band, &raw.band) {
        noisy.raw.extend([upper.as_slice(), lower]);
        noisy.smooth.extend([band.upper.as_slice(), &band.lower]);
    }
    p.spreads = noisy.spreads(&settings.draws(), |t, _, lines| {
        read_again(t, lines, &settings)
    });
    p.centre_peak = find_peak(&p, &p.centre, start);
    p.edge_peak = match &p.band {
        Ok(band) => find_peak(&p, &band.upper, start),
        Err(reason) => Err(reason.clone()),
    };
    note_peak(&mut p);
    p
}

/// Reads the areas from the centre before smoothing: smoothing rounds its rise, an area needs none.
fn read_areas(values: &mut [Option<f64>], t: &[f64], raw: &[f64]) {
    let area = |to: f64| area_between(t, raw, 0.0, to) / 60.0;
    let peak = values[Item::CentreTime as usize];
    values[Item::AreaToPeak as usize] = peak.map(area);
    values[Item::AreaToEnd as usize] = t.last().map(|end| area(*end));
}

fn read_again(t: &[f64], lines: &[Vec<f64>], settings: &Settings) -> Vec<Option<f64>> {
    let Some(centre) = lines.first() else {
        return vec![None; ITEMS];
    };
    let band = lines.get(1).zip(lines.get(2));
    Lines {
        t,
        centre,
        band: band.map(|(upper, lower)| (upper.as_slice(), lower.as_slice())),
    }
    .read(settings)
}

fn note_peak(p: &mut Prepared) {
    let Ok(peak) = p.centre_peak else { return };
    p.facts.maximum = Some(peak.height);
    p.facts.rising_at_end = peak.state == PeakState::NotPassed;
    p.facts.peaks = vec![Peak {
        time_min: peak.at_s / 60.0,
        height: peak.height,
    }];
}

/// Returns the maximum of `line` after wetting, and whether the record shows that it was passed.
fn find_peak(p: &Prepared, line: &[f64], start: usize) -> Result<FoundPeak, String> {
    let end = p.end_s();
    if start + 3 > p.t.len() {
        return Err(format!(
            "record too short: it ends {end:.0} s after the start, within the {:.0} s of wetting",
            p.settings.wetting_s
        ));
    }
    if p.facts.saturated_points > 0 {
        return Err(format!(
            "{} readings at the recorder's full scale: the maximum is cut off",
            p.facts.saturated_points
        ));
    }
    let lines = Lines {
        t: &p.t,
        centre: line,
        band: None,
    };
    let index = lines
        .peak_of(line, &p.settings)
        .ok_or("no reading after wetting")?;
    let (at_s, height) = (p.t[index], line[index]);
    let guard = end - p.settings.end_guard_s;
    let level = height - p.settings.least_fall_share * height.abs();
    let from = p.t.partition_point(|t| *t <= guard);
    let returns = line[from.min(line.len() - 1)..].iter().any(|v| *v > level);
    let state = if at_s > guard || returns {
        PeakState::NotPassed
    } else if index == start {
        PeakState::BeforeStart
    } else {
        PeakState::Passed
    };
    Ok(FoundPeak {
        at_s,
        height,
        state,
    })
}
