//! What is done once per log before any metric is read: traces, gaps, when the machine worked.

use super::settings::Settings;
use super::signal::{Trace, Work};
use crate::record::{Curve, Gap, Metadata, Outcome, Run, SignalFacts};
use crate::schema::{Axis, Channel, Field, Quantity};
use std::f64::consts::TAU;

/// Part of the process that a log covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// A mixer brings flour and water together.
    Mixing,
    /// A jet of water meets the flour.
    Jet,
    /// Flour, water or dough is moved.
    Conveying,
    /// A mixer works on a dough that is already wet.
    AfterMix,
    /// Heat is taken away.
    Cooling,
}

impl Stage {
    /// Every stage, in the order of the process.
    pub const ALL: [Stage; 5] = [
        Stage::Mixing,
        Stage::Jet,
        Stage::Conveying,
        Stage::AfterMix,
        Stage::Cooling,
    ];

    /// Returns the word of the field `stage`.
    pub fn word(self) -> &'static str {
        match self {
            Stage::Mixing => "mixing",
            Stage::Jet => "jet",
            Stage::Conveying => "conveying",
            Stage::AfterMix => "after-mix",
            Stage::Cooling => "cooling",
        }
    }

    /// Returns the stage that `word` names.
    pub fn parse(word: &str) -> Option<Stage> {
        let bare = word.trim();
        Stage::ALL
            .into_iter()
            .find(|stage| stage.word().eq_ignore_ascii_case(bare))
    }
}

/// What the power of a machine was read from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PowerSource {
    /// A power channel.
    Power,
    /// Torque times speed.
    TorqueSpeed,
}

impl PowerSource {
    /// Returns the words in the parameters of a result.
    pub fn words(self) -> &'static str {
        match self {
            PowerSource::Power => "power",
            PowerSource::TorqueSpeed => "torque-speed",
        }
    }
}

/// The power of a machine over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Power {
    /// What it was read from.
    pub source: PowerSource,
    /// Power as recorded, W.
    pub gross: Trace,
    /// Power above the empty run at the same speed, W, 0 while the drive stands still; `None` where
    /// no empty run is stated.
    pub net: Option<Trace>,
    /// Power of the empty run while the drive turned, W; 0 where none is stated.
    pub idle: Trace,
    /// When the tool worked on the dough.
    pub work: Option<Work>,
}

/// A jet of water over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Jet {
    /// Pressure before the nozzle, kPa.
    pub pressure: Trace,
    /// Flow of water, l/min.
    pub flow: Option<Trace>,
    /// Flow of flour, kg/min.
    pub flour_flow: Option<Trace>,
    /// Speed of the jet, m/s.
    pub speed: Option<Trace>,
    /// Pressure above which the jet is taken to work, kPa.
    pub level: f64,
    /// When it worked.
    pub work: Option<Work>,
}

/// A process log ready to be read.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// Parameters in force.
    pub settings: Settings,
    /// Part of the process.
    pub stage: Stage,
    /// Whether the stage is stated; else a log with a pressure is a jet, and any other mixing.
    pub stage_stated: bool,
    /// Everything stated.
    pub metadata: Metadata,
    /// The power, or the outcome that stands for what would be read from it.
    pub power: Result<Power, Outcome>,
    /// The jet, likewise.
    pub jet: Result<Jet, Outcome>,
    /// Whether the log has a pressure before a nozzle.
    pub is_jet: bool,
    /// Last temperature that a probe in the log shows, °C.
    pub probe_c: Option<f64>,
    /// Times of the main trace, s.
    pub t: Vec<f64>,
    /// The main trace as recorded.
    pub y: Vec<f64>,
    /// What was seen.
    pub facts: SignalFacts,
}

impl Prepared {
    /// Returns the number stated for `field`.
    pub fn stated(&self, field: Field) -> Option<f64> {
        self.metadata.number(field)
    }
}

/// Returns the prepared log of `run`.
pub fn prepare(run: &Run, settings: Settings) -> Prepared {
    let main = run.curves.iter().find(|c| !c.channel().goes_beside());
    let facts = main.map_or_else(SignalFacts::default, |curve| {
        facts_of(run, curve, &settings)
    });
    let is_jet = run.curve(Channel::PumpPressure).is_some();
    let stated = run
        .metadata
        .text(Field::Stage)
        .and_then(|t| Stage::parse(&t));
    let inferred = if is_jet { Stage::Jet } else { Stage::Mixing };
    let blocked = blocked(run, main, &facts);
    let refuse = |outcome: &Option<Outcome>| outcome.clone().map_or(Ok(()), Err);
    let probe = run.curve(Channel::Temperature);
    Prepared {
        stage: stated.unwrap_or(inferred),
        stage_stated: stated.is_some(),
        is_jet,
        power: refuse(&blocked).and_then(|()| power_of(run, &settings)),
        jet: refuse(&blocked).and_then(|()| jet_of(run, &settings)),
        probe_c: probe.and_then(|c| c.y().last().copied()),
        metadata: run.metadata.clone(),
        t: main.map_or_else(Vec::new, |c| c.x().to_vec()),
        y: main.map_or_else(Vec::new, |c| c.y().to_vec()),
        settings,
        facts,
    }
}

fn trace_of(curve: &Curve) -> Trace {
    Trace {
        t: curve.x().to_vec(),
        y: curve.y().to_vec(),
    }
}

fn facts_of(run: &Run, curve: &Curve, settings: &Settings) -> SignalFacts {
    let trace = trace_of(curve);
    let t = curve.x();
    let pairs = || t.windows(2).enumerate();
    let steps_back: Vec<usize> = pairs()
        .filter(|(_, w)| w[1] < w[0])
        .map(|(i, _)| i + 1)
        .collect();
    let gaps = trace.gaps(settings).into_iter().map(|index| Gap {
        from_s: t[index - 1],
        to_s: t[index],
        index,
    });
    SignalFacts {
        points: curve.points(),
        duration_s: t.last().copied().unwrap_or(0.0) - t.first().copied().unwrap_or(0.0),
        sampling_s: trace.period(),
        repeated_times: pairs().filter(|(_, w)| w[1] - w[0] == 0.0).count(),
        gaps: if steps_back.is_empty() {
            gaps.collect()
        } else {
            Vec::new()
        },
        time_steps_back: steps_back,
        missing_cells: run.missing_cells,
        axis: Some(curve.axis()),
        maximum: curve.y().iter().copied().reduce(f64::max),
        ..SignalFacts::default()
    }
}

/// Returns what stands for every number that would be read from the traces of a record that cannot
/// be read.
fn blocked(run: &Run, main: Option<&Curve>, facts: &SignalFacts) -> Option<Outcome> {
    let Some(curve) = main else {
        return Some(Outcome::NotComputable("the log has no trace".into()));
    };
    if curve.axis() != Axis::Time {
        let reason = format!("the abscissa is {}, not time", curve.axis().word());
        return Some(Outcome::NotComputable(reason));
    }
    facts.time_steps_back.first().map(|index| {
        let line = run.line_of(*index);
        Outcome::Rejected(format!("the time steps back at line {line} of the file"))
    })
}

/// Returns the trace of `channel`, or of a signal that is recorded in a unit of the same quantity.
fn channel_trace(run: &Run, channel: Channel, quantity: Quantity) -> Option<Trace> {
    let signal = || {
        let curve = run.curve(Channel::Signal)?;
        (curve.unit().quantity() == quantity).then_some(curve)
    };
    run.curve(channel).or_else(signal).map(trace_of)
}

fn power_of(run: &Run, settings: &Settings) -> Result<Power, Outcome> {
    let power = channel_trace(run, Channel::Power, Quantity::Power);
    let torque = channel_trace(run, Channel::Torque, Quantity::Torque);
    let (source, gross, empty) = match (power, torque) {
        (Some(gross), _) => {
            let idle = run.metadata.number(Field::IdlePowerW);
            let empty = idle.map(|watt| gross.map(|_| watt));
            (PowerSource::Power, gross, empty)
        }
        (None, Some(torque)) => {
            let speed = speed_of(run, &torque)?;
            let omega = speed.map(|per_min| TAU * per_min / 60.0);
            let idle = run.metadata.number(Field::IdleTorqueNm);
            let empty = idle.map(|nm| omega.map(|w| nm * w));
            (PowerSource::TorqueSpeed, torque.times(&omega), empty)
        }
        (None, None) => {
            return Err(Outcome::NotComputable(
                "the log has neither a power nor a torque".into(),
            ));
        }
    };
    let share = settings.standstill_share;
    let turning = |gross: f64, empty: f64| gross > share * empty;
    let idle = Trace {
        t: gross.t.clone(),
        y: match &empty {
            None => vec![0.0; gross.y.len()],
            Some(empty) => {
                let pairs = gross.y.iter().zip(&empty.y);
                pairs
                    .map(|(p, e)| if turning(*p, *e) { *e } else { 0.0 })
                    .collect()
            }
        },
    };
    let net = empty.map(|empty| {
        let pairs = gross.y.iter().zip(&empty.y);
        let above = pairs.map(|(p, e)| if turning(*p, *e) { p - e } else { 0.0 });
        Trace {
            t: gross.t.clone(),
            y: above.collect(),
        }
    });
    let load = net.as_ref().unwrap_or(&gross);
    let work = load.work_above(settings.working_share * load.top(), settings);
    Ok(Power {
        source,
        net,
        idle,
        work,
        gross,
    })
}

/// Returns the speed beside a torque: the recorded one, or the stated constant.
fn speed_of(run: &Run, torque: &Trace) -> Result<Trace, Outcome> {
    if let Some(curve) = run.curve(Channel::Speed) {
        if curve.points() == torque.y.len() {
            return Ok(trace_of(curve));
        }
        return Err(Outcome::NotComputable(
            "torque and speed have different numbers of readings".into(),
        ));
    }
    match run.metadata.number(Field::SpeedPerMin) {
        Some(per_min) => Ok(torque.map(|_| per_min)),
        None => Err(Outcome::NotComputable(
            "the log has a torque but no speed: record it or state speed_per_min".into(),
        )),
    }
}

fn jet_of(run: &Run, settings: &Settings) -> Result<Jet, Outcome> {
    let Some(curve) = run.curve(Channel::PumpPressure) else {
        return Err(Outcome::NotComputable(
            "the log has no pressure before a nozzle".into(),
        ));
    };
    let pressure = trace_of(curve);
    let beside = |channel: Channel| {
        let curve = run.curve(channel)?;
        (curve.points() == pressure.y.len()).then(|| trace_of(curve))
    };
    let level = settings.working_share * pressure.top();
    Ok(Jet {
        flow: beside(Channel::WaterFlow),
        flour_flow: beside(Channel::FlourFlow),
        speed: beside(Channel::JetSpeed),
        work: pressure.work_above(level, settings),
        level,
        pressure,
    })
}
