//! Work of a mixer on its dough: specific energy, power, mixing time.

use super::amounts::{DoughMass, dough_mass, energy, gain, own, reading, remark};
use super::prepare::{Power, PowerSource, Prepared};
use super::settings::{Settings, source};
use super::signal::{Integral, Trace, Work};
use crate::derive::{Metric, Reading, metric, or_outcome};
use crate::numerics::{Input, Propagated, argmax, propagate, reading_scatter, rolling_mean};
use crate::record::Outcome;
use crate::schema::{Field, Unit};

/// Which power a number is read from.
pub(super) const NET: &str = "net";
/// See [`NET`].
pub(super) const GROSS: &str = "gross";

metric! {
    /// Work done on the dough per kg of dough: the integral of power over the real times of the log
    /// (trapezoid), divided by the mass of the dough, not of the flour. Power is the power channel,
    /// or torque times 2π times speed. A gap of more than two sampling periods counts with the line
    /// across it; the interval holds the least and the greatest neighbouring power. A log that
    /// begins or ends under load gives a lower bound, unless the stated mixing time confirms that
    /// it covers the mixing.
    SPECIFIC_ENERGY for Prepared {
        id: "mixer-log.specific_energy", symbol: "e", name: "specific energy (per kg of dough)",
        unit: Unit::KilojoulePerKilogram, decimals: 2, revision: 1,
        source: ("mechanics (work = torque × angle)", "specific mechanical energy", Derived),
        variants: [
            ("net", "above the empty run at the same speed (idle_power_w or idle_torque_nm); the drive counts as standing still below half of it"),
            ("gross", "power as recorded, the losses of drive and gear included"),
        ],
        read: read_specific_energy,
    }
}

fn read_specific_energy(p: &Prepared, variant: &'static str) -> Reading {
    let power = or_outcome!(p.power.as_ref().map_err(Outcome::clone));
    let mass = or_outcome!(dough_mass(p));
    let work = or_outcome!(work_done(p, power, variant));
    let per_gram = |joule: f64| joule / mass.grams.value;
    let found = work.per(mass.grams);
    let mut reading = reading(
        found,
        per_gram(work.integral.less),
        per_gram(work.integral.more),
    );
    if let Some(reason) = cut_short(p, power.work.as_ref()) {
        reading.outcome = Outcome::Above(found.value - 2.0 * found.u());
        reading = remark(reading, &reason);
    }
    describe(energy(reading), p, power, &mass, variant)
}

/// Work in J with what it is made of, for the propagation of its uncertainty.
pub(super) struct WorkDone {
    /// Integral of the power asked for, J, with the gaps.
    pub integral: Integral,
    /// By how much the work of the empty run may be wrong, J: 0 with an uncertainty.
    idle: Input,
    /// Gains of the instruments.
    gains: [Input; 2],
}

/// Returns the work on the dough in J.
pub(super) fn work_done(
    p: &Prepared,
    power: &Power,
    variant: &'static str,
) -> Result<WorkDone, Outcome> {
    let s = &p.settings;
    let net = variant == NET;
    let trace = match (&power.net, net) {
        (Some(net), true) => net,
        (None, true) => return Err(no_idle(power.source)),
        (_, false) => &power.gross,
    };
    let load = trace.integral(s);
    let idle = if net {
        power.idle.integral(s).value
    } else {
        0.0
    };
    Ok(WorkDone {
        integral: load,
        idle: Input {
            shared: idle * gain(s.idle_tolerance_pct, source::IDLE).shared,
            source: source::IDLE,
            ..Input::known(0.0)
        },
        gains: gains_of(s, power.source),
    })
}

impl WorkDone {
    /// Returns the work divided by `mass`: kJ/kg for a mass in g, kJ for 1000.
    pub fn per(&self, mass: Input) -> Propagated {
        let inputs = [
            own(self.integral),
            self.idle,
            self.gains[0],
            self.gains[1],
            mass,
        ];
        propagate(&inputs, |v| (v[0] - v[1]) * v[2] * v[3] / v[4])
    }
}

fn no_idle(source: PowerSource) -> Outcome {
    let field = match source {
        PowerSource::Power => Field::IdlePowerW,
        PowerSource::TorqueSpeed => Field::IdleTorqueNm,
    };
    Outcome::NotComputable(format!(
        "{} not stated: only the gross_power is known; run the mixer empty at the same speed and state it",
        field.name()
    ))
}

fn describe(
    reading: Reading,
    p: &Prepared,
    power: &Power,
    mass: &DoughMass,
    variant: &str,
) -> Reading {
    let mut text = format!("from={}; dough_mass={}", power.source.words(), mass.from);
    if variant == GROSS {
        text.push_str("; gross_power");
    }
    if !p.stage_stated {
        text.push_str("; stage=inferred");
    }
    let gaps = p.facts.gaps.len();
    if gaps > 0 {
        text.push_str(&format!("; gaps={gaps}, bounded"));
    }
    over(remark(reading, &text), &power.gross.t)
}

fn over(reading: Reading, t: &[f64]) -> Reading {
    match (t.first(), t.last()) {
        (Some(from), Some(to)) => reading.over(*from, *to),
        _ => reading,
    }
}

/// Returns why a log may not hold the whole of the work: it begins or ends at work, and no stated
/// mixing time agrees with what it covers to within two sampling periods or 1 %.
pub(super) fn cut_short(p: &Prepared, work: Option<&Work>) -> Option<String> {
    let work = work.filter(|work| work.begins || work.ends)?;
    let allowed = (2.0 * p.facts.sampling_s).max(0.01 * work.duration);
    let confirmed = p
        .stated(Field::MixTimeMin)
        .is_some_and(|minutes| (60.0 * minutes - work.duration).abs() <= allowed + 1e-9);
    if confirmed {
        return None;
    }
    let which = match (work.begins, work.ends) {
        (true, true) => "begins and ends",
        (true, false) => "begins",
        _ => "ends",
    };
    Some(format!("log {which} under load"))
}

metric! {
    /// Greatest mean of the recorded power over 5 s, idle power included: what the drive must give.
    PEAK_POWER for Prepared {
        id: "mixer-log.peak_power", symbol: "P_max", name: "peak power",
        unit: Unit::Watt, decimals: 0, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        variants: [], read: read_peak_power,
    }
}

fn read_peak_power(p: &Prepared, _: &'static str) -> Reading {
    let power = or_outcome!(p.power.as_ref().map_err(Outcome::clone));
    let half = 0.5 * p.settings.peak_window_s;
    let Trace { t, y } = &power.gross;
    let (Some(&first), Some(&last)) = (t.first(), t.last()) else {
        return Reading::of(Outcome::NotComputable("the log has no reading".into()));
    };
    if last - first < 2.0 * half {
        return Reading::of(Outcome::NotComputable(format!(
            "the log is shorter than the {} s over which the peak is a mean",
            p.settings.peak_window_s
        )));
    }
    let means = rolling_mean(t, y, half);
    let whole = |i: usize| t[i] - half >= first - 1e-9 && t[i] + half <= last + 1e-9;
    let Some(at) = argmax(&means, 0..means.len(), whole) else {
        return Reading::of(Outcome::NotComputable("the log is too sparse".into()));
    };
    let near = |time: f64| (time - t[at]).abs() <= half;
    let count = t.iter().filter(|time| near(**time)).count().max(1);
    let noise = reading_scatter(t, y) / (count as f64).sqrt();
    // The greatest of many noisy means lies above the mean of the greatest: by less than the
    // expected maximum of as many normal numbers as there are windows (sqrt(2 ln n), from memory).
    let near_top = means.iter().filter(|m| means[at] - **m <= 3.0 * noise);
    let windows = (near_top.count() as f64 / count as f64).max(1.0);
    let chosen = noise * (2.0 * windows.ln()).sqrt();
    let level = Input {
        own: noise,
        ..Input::known(means[at])
    };
    let gains = gains_of(&p.settings, power.source);
    let found = propagate(&[level, gains[0], gains[1]], |v| v[0] * v[1] * v[2]);
    let text = format!("from={}; window_s={}", power.source.words(), 2.0 * half);
    remark(reading(found, chosen, 0.0), &text).over(t[at] - half, t[at] + half)
}

fn gains_of(s: &Settings, source: PowerSource) -> [Input; 2] {
    match source {
        PowerSource::Power => [
            gain(s.power_tolerance_pct, source::POWER),
            Input::known(1.0),
        ],
        PowerSource::TorqueSpeed => [
            gain(s.torque_tolerance_pct, source::TORQUE),
            gain(s.speed_tolerance_pct, source::SPEED),
        ],
    }
}

metric! {
    /// Mean of the recorded power while the tool worked on the dough, idle power included.
    MEAN_POWER for Prepared {
        id: "mixer-log.mean_power", symbol: "P_mean", name: "mean power while mixing",
        unit: Unit::Watt, decimals: 0, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        variants: [], read: read_mean_power,
    }
}

fn read_mean_power(p: &Prepared, _: &'static str) -> Reading {
    let power = or_outcome!(p.power.as_ref().map_err(Outcome::clone));
    let Some(work) = power.work else {
        return Reading::of(idle_throughout());
    };
    let part = power.gross.between(work.from, work.to);
    let integral = part.integral(&p.settings);
    let (Some(first), Some(last)) = (part.t.first(), part.t.last()) else {
        return Reading::of(idle_throughout());
    };
    let span = last - first;
    if span <= 0.0 {
        return Reading::of(Outcome::NotComputable(
            "the tool worked for less than two readings".into(),
        ));
    }
    let gains = gains_of(&p.settings, power.source);
    let mean = own(integral.scaled(1.0 / span));
    let found = propagate(&[mean, gains[0], gains[1]], |v| v[0] * v[1] * v[2]);
    let text = format!("from={}", power.source.words());
    let (less, more) = (integral.less / span, integral.more / span);
    remark(reading(found, less, more), &text).over(*first, *last)
}

fn idle_throughout() -> Outcome {
    Outcome::NotReached("the power never rises above its idle level".into())
}

metric! {
    /// Time for which the tool (or the jet) worked: while the power above idle (the pressure)
    /// exceeds a tenth of its greatest value. A switch lies in the middle between the readings
    /// around it. A log that begins or ends at work gives a lower bound, unless the stated mixing
    /// time confirms it.
    MIXING_TIME for Prepared {
        id: "mixer-log.mixing_time", symbol: "t_mix", name: "mixing time",
        unit: Unit::Minute, decimals: 2, revision: 1,
        source: ("choice of this project", "", ProjectChoice),
        variants: [], read: read_mixing_time,
    }
}

fn read_mixing_time(p: &Prepared, _: &'static str) -> Reading {
    let work = match (&p.power, &p.jet) {
        (Ok(power), _) => power.work,
        (_, Ok(jet)) => jet.work,
        (Err(outcome), _) => return Reading::of(outcome.clone()),
    };
    let Some(work) = work else {
        return Reading::of(idle_throughout());
    };
    // Each switch may be half a period off; an end of the record at work, a whole one.
    let open = usize::from(work.begins) + usize::from(work.ends);
    let periods = work.edges as f64 / 12.0 + open as f64 / 3.0;
    let own = p.facts.sampling_s * periods.sqrt() / 60.0;
    let found = Propagated {
        value: work.duration / 60.0,
        own,
        shared: 0.0,
    };
    let mut reading = reading(found, work.less / 60.0, work.more / 60.0);
    if let Some(reason) = cut_short(p, Some(&work)) {
        reading.outcome = Outcome::Above(found.value);
        reading = remark(reading, &reason);
    }
    reading.over(work.from, work.to)
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Prepared>] = &[&SPECIFIC_ENERGY, &PEAK_POWER, &MEAN_POWER];

/// Time at work: of a mixer or of a jet.
pub(super) static TIME_METRICS: &[&Metric<Prepared>] = &[&MIXING_TIME];
