//! What is done once per run before any metric is read: time zero, spikes, contours, peak.

use super::contours::{Contour, Contours, read_contours, smooth_line};
use super::settings::{ACCEPTED_FU, BLADE_PERIOD_S, Settings, TARGET_FU};
use crate::derive::band::supplied_traces;
use crate::derive::clock::{time_facts, time_zero, u_time_s, unusable_time};
use crate::derive::signal::{SpikeFilter, bridge_markers, bridge_spikes, count_saturated};
use crate::numerics::{argmax, first_fall_below_for, prominent_maxima, value_at};
use crate::record::{Conditions, Peak, Run, SignalFacts};
use crate::schema::{Channel, Unit};

/// A mixing curve ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// What was stated.
    pub conditions: std::sync::Arc<Conditions>,
    /// Parameters in force.
    pub settings: Settings,
    /// Unit of the ordinate.
    pub unit: Unit,
    /// Water contact on the record's clock, s.
    pub zero_s: f64,
    /// Seconds from water contact.
    pub t: Vec<f64>,
    /// The signal as recorded.
    pub signal: Vec<f64>,
    /// Smoothed centre line.
    pub centre: Contour,
    /// Contours of the band.
    pub contours: Contours,
    /// First index after wetting.
    pub start: usize,
    /// The counted peak, or why there is none.
    pub peak: Result<CountedPeak, String>,
    /// Reason for which nothing may be read at all.
    pub rejected: Option<String>,
    /// What was seen.
    pub facts: SignalFacts,
}

/// The peak that the metrics refer to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountedPeak {
    /// Index of the maximum of the centre.
    pub index: usize,
    /// Height of the centre there.
    pub height: f64,
    /// Tolerance of the plateau.
    pub delta: f64,
    /// Time at which the plateau ends; `None` when the record ends first.
    pub plateau_end_s: Option<f64>,
    /// Interval of that time from the noise of the centre.
    pub plateau_end_interval_s: (f64, f64),
    /// Whether the maximum lies at the end of the record.
    pub rising_at_end: bool,
    /// Whether the maximum lies at the end of wetting: the dough was never less developed.
    pub falling_from_start: bool,
    /// Consistency: mean of the contours' maxima, or of the centre's where there is no band.
    pub consistency: f64,
}

impl Prepared {
    /// Returns the end of the record, s from water contact.
    pub fn end_s(&self) -> f64 {
        self.t.last().copied().unwrap_or(0.0)
    }

    /// Returns the reference line, or why there is none.
    pub fn line(&self) -> Result<f64, String> {
        if self.unit != Unit::Fu {
            return Err(format!(
                "the unit of the record is {}: there is no calibrated 500 FU line",
                self.unit
            ));
        }
        if self.conditions.line_at_peak_centre {
            let peak = self.peak.as_ref().map_err(Clone::clone)?;
            if ACCEPTED_FU.contains(&peak.height) {
                return Ok(peak.height);
            }
            return Err(format!(
                "the line through the peak centre needs a peak in 480–520 FU; it is at {:.0} FU",
                peak.height
            ));
        }
        Ok(TARGET_FU)
    }

    /// Returns the centre line at `t` seconds from water contact, if the record reaches there.
    pub fn centre_at(&self, t: f64) -> Option<f64> {
        value_at(&self.t, &self.centre.y, t)
    }

    /// Returns the standard uncertainty of reading time off the record: half a sampling step
    /// either way, rectangular (JCGM 100, 4.3.7).
    pub fn u_time_s(&self) -> f64 {
        u_time_s(self.facts.sampling_s)
    }
}

/// Returns the prepared curve of `run`.
pub fn prepare(run: &Run, conditions: std::sync::Arc<Conditions>, settings: Settings) -> Prepared {
    let signal = run
        .curve(Channel::Signal)
        .or_else(|| run.curve(Channel::Middle));
    let Some(curve) = signal.or_else(|| run.curves.first()) else {
        return unreadable(conditions, settings, "the run has no curve".to_owned());
    };
    let unit = curve.unit();
    let mut facts = time_facts(curve);
    let zero = time_zero(curve, &conditions, &mut facts);
    facts.time_zero_s = zero;
    if let Some(reason) = unusable_time(run, curve, &facts) {
        let mut blocked = unreadable(conditions, settings, reason);
        blocked.facts = facts;
        blocked.unit = unit;
        return blocked;
    }
    let t: Vec<f64> = curve.x().iter().map(|x| x - zero).collect();
    let scale = curve.y().iter().copied().fold(0.0_f64, f64::max) / TARGET_FU;
    let filter = SpikeFilter {
        half_window_s: 0.5 * f64::from(settings.outlier_periods) * BLADE_PERIOD_S,
        limit: settings.outlier_limit,
        floor: settings.least_scatter_fu * scale.max(f64::MIN_POSITIVE),
        from_s: settings.wetting_s,
    };
    let mut cleaned = bridge_spikes(&t, curve.y(), &filter, zero, &mut facts);
    bridge_markers(
        &t,
        &mut cleaned,
        &conditions,
        (zero, settings.marker_mask_s),
    );
    let (contours, centre) = match supplied(run, &t, &settings) {
        Some(pair) => pair,
        None if curve.channel() == Channel::Middle => {
            let reason = "the file supplies a middle trace without the contours of the band";
            let centre = smooth_line(&t, cleaned.clone(), &settings, facts.sampling_s);
            (Contours::Unknown(reason.to_owned()), centre)
        }
        None => read_contours(&t, &cleaned, facts.sampling_s, &settings),
    };
    facts.contour_periods = match &contours {
        Contours::Read { periods, .. } => Some(*periods),
        _ => None,
    };
    facts.contours_supplied = matches!(contours, Contours::Supplied { .. });
    facts.scatter = Some(centre.noise);
    let mut prepared = Prepared {
        start: t.partition_point(|v| *v < settings.wetting_s),
        signal: curve.y().to_vec(),
        peak: Err(String::new()),
        rejected: None,
        conditions,
        settings,
        unit,
        zero_s: zero,
        t,
        centre,
        contours,
        facts,
    };
    prepared.facts.saturated_points = count_saturated(
        &cleaned[prepared.start.min(cleaned.len())..],
        prepared.conditions.full_scale,
        settings.clipped_readings as usize,
    );
    prepared.peak = find_peak(&mut prepared);
    prepared
}

fn unreadable(
    conditions: std::sync::Arc<Conditions>,
    settings: Settings,
    reason: String,
) -> Prepared {
    Prepared {
        conditions,
        settings,
        unit: Unit::Fu,
        zero_s: 0.0,
        t: Vec::new(),
        signal: Vec::new(),
        centre: Contour::default(),
        contours: Contours::Unknown(reason.clone()),
        start: 0,
        peak: Err(reason.clone()),
        rejected: Some(reason),
        facts: SignalFacts::default(),
    }
}

/// Returns the three traces of a file that supplies them.
fn supplied(run: &Run, t: &[f64], settings: &Settings) -> Option<(Contours, Contour)> {
    let traces = supplied_traces(run, t.len())?;
    // A supplied trace already averages over the instrument's own window, about two blade periods.
    let memory = f64::from(settings.contour_periods) * BLADE_PERIOD_S;
    let contours = Contours::Supplied {
        upper: smooth_line(t, traces.upper.to_vec(), settings, memory),
        lower: smooth_line(t, traces.lower.to_vec(), settings, memory),
    };
    Some((contours, smooth_line(t, traces.middle, settings, memory)))
}

/// Finds the counted peak and notes peaks, spread and rise in the facts.
fn find_peak(p: &mut Prepared) -> Result<CountedPeak, String> {
    let n = p.t.len();
    if p.start + 3 > n {
        return Err(format!(
            "record too short: it ends {:.0} s after water contact, within the {:.0} s of wetting",
            p.end_s(),
            p.settings.wetting_s
        ));
    }
    if let (Some(scale), true) = (p.conditions.full_scale, p.facts.saturated_points > 0) {
        return Err(format!(
            "{} readings at the recorder's full scale of {scale:.0}: the maximum is cut off",
            p.facts.saturated_points
        ));
    }
    let free = |i: usize| {
        p.conditions
            .markers_s
            .iter()
            .all(|m| (p.t[i] + p.zero_s - m).abs() > p.settings.marker_mask_s)
    };
    let y = &p.centre.y;
    let highest = argmax(y, p.start..n, free)
        .ok_or("every reading after wetting lies beside an operator marker")?;
    let relative = if p.unit == Unit::Fu {
        1.0
    } else {
        y[highest] / TARGET_FU
    };
    let valley = (p.settings.valley_fu * relative).max(4.0 * p.centre.u_level);
    let mut tops = prominent_maxima(y, p.start..n, valley);
    tops.retain(|&i| free(i) && y[i] >= p.settings.counted_share * y[highest]);
    tops = thin_out(&p.t, y, tops, p.settings.peaks_apart_s);
    if tops.len() > 1 {
        tops.retain(|&i| i != p.start);
    }
    let index = tops.last().copied().unwrap_or(highest);
    let peaks: Vec<Peak> = tops
        .iter()
        .map(|&i| Peak {
            time_min: p.t[i] / 60.0,
            height: y[i],
        })
        .collect();
    let noise_delta = p.settings.delta_per_noise * p.centre.noise;
    let delta = (p.settings.least_delta_fu * relative).max(noise_delta);
    let (plateau_end_s, interval) = plateau_end(p, index, delta);
    let returned = returns_at_end(p, index, delta);
    let rising = p.t[index] > p.end_s() - p.settings.end_guard_s;
    let from = valley_before(y, &tops, index, p.start);
    let consistency = consistency(p, from, n).unwrap_or(y[index]);
    let counted = CountedPeak {
        index,
        height: y[index],
        delta,
        plateau_end_s: if rising || returned {
            None
        } else {
            plateau_end_s
        },
        plateau_end_interval_s: interval,
        rising_at_end: rising,
        falling_from_start: index == p.start,
        consistency,
    };
    p.facts.peaks = peaks;
    p.facts.rising_at_end = rising;
    p.facts.maximum = p.centre.height_unknown.is_none().then_some(consistency);
    Ok(counted)
}

/// Returns whether the centre ends about as high as its peak: it may go on rising, and the fall
/// between is no proof. "About" is the plateau's tolerance, or what the levels are uncertain by.
fn returns_at_end(p: &Prepared, index: usize, delta: f64) -> bool {
    let y = &p.centre.y;
    let guard =
        p.t.partition_point(|t| *t <= p.end_s() - p.settings.end_guard_s);
    let last = y.len().saturating_sub(1);
    let u = p.centre.u_at(&p.t, index).hypot(p.centre.u_at(&p.t, last));
    let level = y[index] - delta.max(2.0 * u);
    y[guard.min(last)..].iter().any(|v| *v >= level)
}

/// Keeps the higher of two maxima that lie closer together than `apart_s`.
fn thin_out(t: &[f64], y: &[f64], tops: Vec<usize>, apart_s: f64) -> Vec<usize> {
    let mut kept: Vec<usize> = Vec::new();
    for i in tops {
        match kept.last_mut() {
            Some(last) if t[i] - t[*last] < apart_s => {
                if y[i] > y[*last] {
                    *last = i;
                }
            }
            _ => kept.push(i),
        }
    }
    kept
}

/// Index from which the counted peak's hump begins: the valley after the peak before it.
fn valley_before(y: &[f64], tops: &[usize], index: usize, start: usize) -> usize {
    let earlier = tops.iter().copied().rfind(|&i| i < index);
    match earlier {
        Some(before) => argmax(
            &y.iter().map(|v| -v).collect::<Vec<_>>(),
            before..index,
            |_| true,
        )
        .unwrap_or(start),
        None => start,
    }
}

/// Returns when the contiguous run around the peak within `delta` of it ends, and the interval of
/// that time when the level is off by two standard uncertainties of the difference.
fn plateau_end(p: &Prepared, index: usize, delta: f64) -> (Option<f64>, (f64, f64)) {
    let (t, y) = (&p.t, &p.centre.y);
    let level = y[index] - delta;
    let crossing = |at_level: f64| first_fall_below_for(t, y, at_level, index + 1, 0.0);
    let fall = |at_level: f64| crossing(at_level).map(|c| c.at);
    // With no tolerance at all, the last point of the plateau is the end itself.
    let slack = 1e-9 * y[index].abs().max(1.0);
    let Some(found) = crossing(level - slack) else {
        return (None, (p.end_s(), p.end_s()));
    };
    let end = Some(found.at);
    let spread = 2.0 * p.centre.u_at(t, index).hypot(p.centre.u_at(t, found.index));
    let early = fall((level + spread).min(y[index] - slack)).unwrap_or(p.end_s());
    let late = fall(level - spread - slack).unwrap_or(p.end_s());
    (end, (early, late))
}

/// Returns the mean of the contours' maxima from index `from` on (ISO 5530-1: the two need not
/// occur at the same time).
fn consistency(p: &Prepared, from: usize, to: usize) -> Option<f64> {
    let (upper, lower) = p.contours.pair().ok()?;
    let top = argmax(&upper.y, from..to, |_| true)?;
    let bottom = argmax(&lower.y, from..to, |_| true)?;
    Some(0.5 * (upper.y[top] + lower.y[bottom]))
}
