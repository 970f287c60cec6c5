//! What is done once per run before any metric is read: start, spikes, centre, band, the five
//! points, noise, temperatures.

use super::items::{ITEMS, Item, Lines, Point};
use super::settings::{BLADES, LEAST_STEP_S, Settings};
use crate::derive::band::{Ripple, median_width, raw_contours, supplied_traces, u_side};
use crate::derive::basis::Basis;
use crate::derive::clock::{time_facts, time_zero, u_time_s, unusable_time};
use crate::derive::signal::{
    SpikeFilter, bridge_markers, bridge_spikes, count_saturated, u_resolution,
};
use crate::derive::spread::{NoisyLines, Spread};
use crate::numerics::{fit_line, local_linear, rolling_mean, scatter_of_some};
use crate::record::{Conditions, Peak, Run, SignalFacts};
use crate::schema::{Channel, Field, Unit};
use std::sync::Arc;

/// What was stated beyond the typed conditions.
#[derive(Debug, Clone, Default)]
pub struct Stated {
    /// Hydration, %.
    pub hydration_pct: Option<f64>,
    /// Its basis, as written.
    pub hydration_basis: Option<String>,
}

impl Stated {
    /// Returns the hydration with the basis it is stated on.
    ///
    /// # Errors
    /// The reason, where either is not stated or the basis is not one that is known.
    pub fn hydration(&self) -> Result<(f64, Basis), String> {
        let Some(hydration) = self.hydration_pct.filter(|h| *h > 0.0) else {
            return Err("hydration not stated: state hydration_pct and hydration_basis".into());
        };
        let written = self.hydration_basis.as_deref().unwrap_or("");
        match Basis::parse(written) {
            Some(basis) => Ok((hydration, basis)),
            None if written.is_empty() => Err(
                "the basis of the hydration is not stated (hydration_basis: `14 %` or `as is`)"
                    .into(),
            ),
            None => Err(format!(
                "the basis of the hydration is `{written}`; known are `14 %`, `as is` and `dry`"
            )),
        }
    }
}

/// A temperature over time.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Temperature {
    /// Seconds from the start.
    pub t: Vec<f64>,
    /// Temperature, °C.
    pub c: Vec<f64>,
}

/// The band of the curve.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Band {
    /// Smoothed upper contour.
    pub upper: Vec<f64>,
    /// Smoothed lower contour.
    pub lower: Vec<f64>,
    /// Standard uncertainty of the level of either contour from noise that widens the band and
    /// sampling that misses its crests, N m.
    pub u_side: f64,
}

/// A heating curve ready to be read.
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
    /// Seconds from the start of mixing.
    pub t: Vec<f64>,
    /// The torque as recorded.
    pub signal: Vec<f64>,
    /// Smoothed centre.
    pub centre: Vec<f64>,
    /// The band, or why it is not known.
    pub band: Result<Band, String>,
    /// Temperature of the dough, where recorded.
    pub dough: Option<Temperature>,
    /// Temperature of the block, where recorded.
    pub block: Option<Temperature>,
    /// Numbers read, in the order of [`ITEMS`].
    pub values: Vec<Option<f64>>,
    /// Their spread when the noise is drawn anew.
    pub spreads: Vec<Option<Spread>>,
    /// Factor by which noise counts more at the very end of the record than the draws show.
    pub end_factor: f64,
    /// Whether C1 lies at the end of the constant phase.
    pub rising_at_constant_end: bool,
    /// Whether C3 lies at the end of the hot phase.
    pub third_at_hot_end: bool,
    /// Standard uncertainty of one reading from the step in which the record writes its values.
    pub u_reading: f64,
    /// Reason for which nothing may be read at all.
    pub rejected: Option<String>,
    /// What was seen.
    pub facts: SignalFacts,
}

impl Prepared {
    /// Returns the end of the record, s from the start.
    pub fn end_s(&self) -> f64 {
        self.t.last().copied().unwrap_or(0.0)
    }

    /// Returns the value of an item, where the lines show it.
    pub fn value(&self, item: Item) -> Option<f64> {
        self.values.get(item.place()?).copied().flatten()
    }

    /// Returns the standard uncertainty of an item from the noise of the record; infinite where
    /// other noise would mostly have hidden it.
    pub fn u_noise(&self, item: Item) -> f64 {
        let spread = item
            .place()
            .and_then(|place| self.spreads.get(place).copied());
        spread.flatten().map_or(f64::INFINITY, |spread| spread.u())
    }

    /// Returns the standard uncertainty of reading a time off the record, s.
    pub fn u_time_s(&self) -> f64 {
        u_time_s(self.facts.sampling_s.max(LEAST_STEP_S))
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
    let blocked = unusable_time(run, curve, &facts).or_else(|| {
        (curve.unit() != Unit::NewtonMetre).then(|| {
            format!(
                "the unit of the record is {}; a heating curve is a torque in N m",
                curve.unit()
            )
        })
    });
    if let Some(reason) = blocked {
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
        from_s: settings.outlier_window_s,
    };
    let mut cleaned = bridge_spikes(&t, curve.y(), &filter, zero, &mut facts);
    let mask = (zero, settings.marker_mask_s);
    bridge_markers(&t, &mut cleaned, &conditions, mask);
    facts.saturated_points = count_saturated(
        &cleaned,
        conditions.full_scale,
        settings.clipped_readings as usize,
    );
    facts.tool_speed_per_min = mean_speed(run).or(run.metadata.number(Field::SpeedPerMin));
    let raw = raw_lines(run, &t, &cleaned, &settings, &mut facts);
    let temperature = |channel| {
        run.curve(channel).map(|curve| Temperature {
            t: curve.x().iter().map(|x| x - zero).collect(),
            c: curve.y().to_vec(),
        })
    };
    let prepared = Prepared {
        stated: Stated {
            hydration_pct: run.metadata.number(Field::HydrationPct),
            hydration_basis: run.metadata.text(Field::HydrationBasis),
        },
        unit: curve.unit(),
        signal: curve.y().to_vec(),
        dough: temperature(Channel::Temperature),
        block: temperature(Channel::BlockTemperature),
        u_reading: u_resolution(curve.y()),
        rejected: None,
        facts,
        t,
        ..unreadable(conditions, settings, String::new())
    };
    read_lines(prepared, &raw)
}

fn unreadable(conditions: Arc<Conditions>, settings: Settings, reason: String) -> Prepared {
    Prepared {
        conditions,
        stated: Stated::default(),
        settings,
        unit: Unit::NewtonMetre,
        t: Vec::new(),
        signal: Vec::new(),
        centre: Vec::new(),
        band: Err(reason.clone()),
        dough: None,
        block: None,
        values: vec![None; ITEMS.len()],
        spreads: vec![None; ITEMS.len()],
        end_factor: 1.0,
        rising_at_constant_end: false,
        third_at_hot_end: false,
        u_reading: 0.0,
        rejected: Some(reason),
        facts: SignalFacts::default(),
    }
}

fn mean_speed(run: &Run) -> Option<f64> {
    let curve = run.curve(Channel::Speed)?;
    let turning: Vec<f64> = curve.y().iter().copied().filter(|v| *v > 0.0).collect();
    (!turning.is_empty()).then(|| turning.iter().sum::<f64>() / turning.len() as f64)
}

/// The lines of a record before smoothing.
struct RawLines {
    centre: Vec<f64>,
    /// Time over which the centre was averaged, s.
    memory_s: f64,
    /// Upper and lower contour and the uncertainty of either's level, or why they are not known.
    band: Result<(Vec<f64>, Vec<f64>, f64), String>,
}

/// Returns the centre (a mean over whole turns of the blades, which takes their ripple out) and the
/// contours as supplied, or as the extremes of the signal.
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
            memory_s: settings.least_mean_s(),
            band: Ok((traces.upper.to_vec(), traces.lower.to_vec(), 0.0)),
        };
    }
    let dt = facts.sampling_s;
    let blades = Ripple {
        period_s: facts
            .tool_speed_per_min
            .filter(|speed| *speed > 0.0)
            .map_or(BLADES.period_s, |speed| 60.0 / speed),
        ..BLADES
    };
    let half = blades.quiet_half_s(dt, settings.least_mean_s());
    let centre = mean_over_turns(t, y, half, settings.smoothing_half_width_s);
    let memory_s = 2.0 * half + dt;
    let unknown = |reason: String| RawLines {
        centre: centre.clone(),
        memory_s,
        band: Err(reason),
    };
    if run.curve(Channel::Signal).is_none() {
        return unknown("the file supplies a middle trace without the contours".into());
    }
    let range = settings.contour_turns..=settings.most_contour_turns;
    let Some((turns, missed)) = blades.periods_for(dt, range, settings.tolerated_miss) else {
        return unknown(format!(
            "sampled every {dt:.2} s, too slow for the blades at {:.2} s a turn or in step with \
             them: the width of the band cannot be known",
            blades.period_s
        ));
    };
    let half_band = 0.5 * f64::from(turns) * blades.period_s;
    let (upper, lower) = raw_contours(t, y, half_band);
    let width = median_width(&upper, &lower);
    let first = t.partition_point(|at| *at <= 60.0 * settings.constant_end_min);
    let top = y[..first].iter().copied().fold(0.0_f64, f64::max);
    if width < settings.least_band_share * top {
        return unknown("the record holds one smoothed trace: the band is not in it".into());
    }
    facts.contour_periods = Some(turns);
    let u_side = u_side(t, y, half_band, (width, missed));
    RawLines {
        centre,
        memory_s,
        band: Ok((upper, lower, u_side)),
    }
}

/// Returns the mean of `y` over `2 half_s`. Where the record ends, less than that lies around a
/// point, and the ripple of the blades would stay in: there the line through what comes before is
/// carried on.
fn mean_over_turns(t: &[f64], y: &[f64], half_s: f64, line_s: f64) -> Vec<f64> {
    let mut mean = rolling_mean(t, y, half_s);
    let Some(end) = t.last() else { return mean };
    let whole = t.partition_point(|at| *at <= end - half_s);
    let from = t.partition_point(|at| *at < end - half_s - line_s);
    if let Some(line) = fit_line(&t[from..whole], &mean[from..whole]) {
        for (at, slot) in t[whole..].iter().zip(&mut mean[whole..]) {
            *slot = line.at(*at);
        }
    }
    mean
}

/// Smooths the lines, finds the points, and reads every item with its spread.
fn read_lines(mut p: Prepared, raw: &RawLines) -> Prepared {
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
    let mut noisy = NoisyLines {
        t: &p.t,
        raw: vec![&raw.centre],
        smooth: vec![&p.centre],
    };
    if let (Some(band), Ok((upper, lower, _))) = (band, &raw.band) {
        noisy.raw.extend([upper.as_slice(), lower]);
        noisy.smooth.extend([band.upper.as_slice(), &band.lower]);
    }
    let draws = settings.draws(raw.memory_s);
    p.spreads = noisy.spreads(&draws, |t, noisy, lines| {
        read_again(t, noisy, lines, &settings)
    });
    let pair = band.map(|b| (b.upper.as_slice(), b.lower.as_slice()));
    let lines = Lines::of(&p.t, (&p.centre, &raw.centre), pair, &settings);
    let time = |point| lines.index_of(point).map(|i| p.t[i]);
    let guard = settings.end_guard_s;
    let late = |point, end_min: f64| time(point).is_some_and(|t| t > 60.0 * end_min - guard);
    let (rising, at_hot_end) = (
        late(Point::C1, settings.constant_end_min),
        late(Point::C3, settings.hot_end_min),
    );
    p.values = lines.read();
    // The centre is carried on over the last half of an averaging window: a line through a stretch
    // L carried on by d has 1 + 3(1 + 2d/L)² times the variance of its middle, 4 times for d = 0
    // (least squares; derived).
    let beyond = 0.5 * raw.memory_s / settings.smoothing_half_width_s.max(raw.memory_s);
    p.end_factor = ((1.0 + 3.0 * (1.0 + 2.0 * beyond) * (1.0 + 2.0 * beyond)) / 4.0).sqrt();
    p.rising_at_constant_end = rising;
    p.third_at_hot_end = at_hot_end;
    note_points(&mut p);
    p
}

fn read_again(
    t: &[f64],
    noisy: &[Vec<f64>],
    lines: &[Vec<f64>],
    settings: &Settings,
) -> Vec<Option<f64>> {
    let (Some(unsmoothed), Some(centre)) = (noisy.first(), lines.first()) else {
        return vec![None; ITEMS.len()];
    };
    let band = lines.get(1).zip(lines.get(2));
    let band = band.map(|(upper, lower)| (upper.as_slice(), lower.as_slice()));
    Lines::of(t, (centre, unsmoothed), band, settings).read()
}

/// Notes the first maximum and the gelatinisation's in the facts, for charts and rules.
fn note_points(p: &mut Prepared) {
    p.facts.maximum = p.value(Item::Height(Point::C1));
    p.facts.rising_at_end = p.rising_at_constant_end;
    let peak = |point| {
        Some(Peak {
            time_min: p.value(Item::Time(point))? / 60.0,
            height: p.value(Item::Height(point))?,
        })
    };
    p.facts.peaks = Point::ALL.iter().filter_map(|point| peak(*point)).collect();
}
