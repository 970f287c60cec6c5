//! Energies of a dough over all its logs, on one stated boundary.

use super::amounts::{energy, remark};
use super::prepare::Stage;
use super::settings::Settings;
use crate::derive::{Gathered, Metric, Reading, metric, runs_by_dough};
use crate::record::{Estimate, MetricResult, Outcome, RunGroup, RunRecord};
use crate::schema::{Field, RunId, Test, Unit};

/// What the energies of a dough are compared on: a name, and the stages that count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Boundary {
    /// Name: what stands before the colon, else the list of stages.
    pub name: String,
    /// Stages that count.
    pub stages: Vec<Stage>,
}

impl Boundary {
    /// Returns the boundary that `text` states: `jet + after-mix`, or with a name of its own,
    /// `flour to dough: jet + conveying + after-mix`, so that processes of unlike stages can be
    /// compared from the same beginning to the same end.
    ///
    /// # Errors
    /// The word that names no stage, or an empty text where there is none.
    pub fn parse(text: &str) -> Result<Boundary, String> {
        let (name, list) = match text.split_once(':') {
            Some((name, list)) => (name.trim(), list),
            None => ("", text),
        };
        let words = list.split(|c: char| c == '+' || c == ',' || c.is_whitespace());
        let mut stages = Vec::new();
        for word in words.filter(|word| !word.is_empty()) {
            let stage = Stage::parse(word).ok_or_else(|| word.to_owned())?;
            if !stages.contains(&stage) {
                stages.push(stage);
            }
        }
        if stages.is_empty() {
            return Err(String::new());
        }
        stages.sort();
        let named = match name {
            "" => list_of(&stages),
            given => given.to_owned(),
        };
        Ok(Boundary {
            name: named,
            stages,
        })
    }
}

fn list_of(stages: &[Stage]) -> String {
    let words: Vec<&str> = stages.iter().map(|stage| stage.word()).collect();
    words.join(" + ")
}

/// The logs of one dough ready for its totals.
pub struct DoughLogs {
    boundary: Result<Boundary, String>,
    logs: Vec<Log>,
}

/// What a log of a dough gives to its totals.
struct Log {
    stage: Stage,
    run: RunId,
    energies: Vec<MetricResult>,
}

/// Forms one group for every dough that has a log.
pub fn groups(runs: &[&RunRecord]) -> Vec<RunGroup> {
    let settings = Settings::default().name();
    let doughs = runs_by_dough(runs);
    let groups = doughs.into_iter().map(|(batch, members)| {
        let logs = DoughLogs::of(&members);
        let used = members.iter().flat_map(|run| &run.results);
        let from = used.filter(|r| is_energy(r)).map(|r| r.id.clone());
        let gathered = Gathered {
            test: Test::MixerLog,
            name: format!("dough {batch}, process logs"),
            from: from.collect(),
            left_out: Vec::new(),
            settings: settings.clone(),
            members: members.clone(),
        };
        gathered.read(&logs, METRICS)
    });
    groups.collect()
}

fn is_energy(result: &MetricResult) -> bool {
    let id = result.metric.id;
    ENERGIES.contains(&id) && result.outcome.value().is_some()
}

const WORK: &str = "mixer-log.specific_energy";
const HYDRAULIC: &str = "mixer-log.hydraulic_energy";
const ELECTRIC: &str = "mixer-log.electric_energy";
const ENERGIES: [&str; 3] = [WORK, HYDRAULIC, ELECTRIC];

impl DoughLogs {
    fn of(members: &[&RunRecord]) -> DoughLogs {
        let logs = members.iter().map(|run| Log {
            stage: stage_of(run),
            run: run.id.clone(),
            energies: run
                .results
                .iter()
                .filter(|r| ENERGIES.contains(&r.metric.id))
                .cloned()
                .collect(),
        });
        DoughLogs {
            boundary: common_boundary(members),
            logs: logs.collect(),
        }
    }

    fn of_stage(&self, stage: Stage) -> impl Iterator<Item = &Log> {
        self.logs.iter().filter(move |log| log.stage == stage)
    }

    /// Returns the boundary, if it can be used.
    fn boundary(&self) -> Result<&Boundary, Outcome> {
        match &self.boundary {
            Ok(boundary) => Ok(boundary),
            Err(reason) => Err(Outcome::NotComputable(reason.clone())),
        }
    }

    /// Returns the boundary, if every stage of it has a log; else what is missing.
    fn complete(&self) -> Result<&Boundary, Outcome> {
        let boundary = self.boundary()?;
        let has_no_log = |stage: &&Stage| self.of_stage(**stage).next().is_none();
        let missing: Vec<Stage> = boundary.stages.iter().filter(has_no_log).copied().collect();
        if missing.is_empty() {
            return Ok(boundary);
        }
        Err(Outcome::NotComputable(format!(
            "boundary `{}`: no log of {}",
            boundary.name,
            list_of(&missing)
        )))
    }

    /// Returns the sum of what `read` finds for every log of the stages, or what is missing of it.
    fn sum(&self, stages: &[Stage], read: Read) -> Result<Sum, Outcome> {
        let (mut sum, mut missing) = (Sum::default(), Vec::new());
        for stage in stages {
            for log in self.of_stage(*stage) {
                match read(log).and_then(part_of) {
                    Ok(part) => sum.add(part),
                    Err(why) => missing.push(format!("{} log {}: {why}", stage.word(), log.run)),
                }
            }
        }
        match missing.is_empty() {
            true => Ok(sum),
            false => Err(Outcome::NotComputable(missing.join("; "))),
        }
    }

    /// Returns the reading of a sum over the stages, or what stands for it.
    fn reading(&self, stages: &[Stage], read: Read) -> Reading {
        let found = self.complete().and_then(|boundary| {
            let counted = |stage: &&Stage| boundary.stages.contains(stage);
            let counted: Vec<Stage> = stages.iter().filter(counted).copied().collect();
            if counted.is_empty() {
                return Err(Outcome::NotComputable(format!(
                    "boundary `{}` has no {}",
                    boundary.name,
                    list_of(stages)
                )));
            }
            Ok((boundary, self.sum(&counted, read)?))
        });
        let (boundary, sum) = match found {
            Ok(found) => found,
            Err(outcome) => return Reading::of(outcome),
        };
        let text = format!(
            "shared_u={}; boundary={}; stages={}",
            sum.shared,
            boundary.name,
            list_of(&boundary.stages)
        );
        let mut reading = energy(Reading::of(sum.outcome()).with_remark(text));
        let stages = self.logs.iter().map(|log| log.stage);
        let mut outside: Vec<Stage> = stages.filter(|s| !boundary.stages.contains(s)).collect();
        outside.sort();
        outside.dedup();
        if !outside.is_empty() {
            reading = remark(reading, &format!("outside={}", list_of(&outside)));
        }
        reading
    }
}

/// Finds the energy of a log, or says why there is none.
type Read = fn(&Log) -> Result<&MetricResult, String>;

fn stage_of(run: &RunRecord) -> Stage {
    let stated = run
        .metadata
        .text(Field::Stage)
        .and_then(|t| Stage::parse(&t));
    // Only logs with a pressure have a hydraulic energy among their results.
    let is_jet = run.results.iter().any(|r| r.metric.id == HYDRAULIC);
    stated.unwrap_or(if is_jet { Stage::Jet } else { Stage::Mixing })
}

/// Returns the boundary that the logs state, if they state one alike.
fn common_boundary(members: &[&RunRecord]) -> Result<Boundary, String> {
    let mut found: Option<Boundary> = None;
    for run in members {
        let Some(text) = run.metadata.text(Field::EnergyBoundary) else {
            continue;
        };
        let boundary = Boundary::parse(&text).map_err(|word| match word.is_empty() {
            true => format!("energy_boundary `{text}` names no stage"),
            false => format!("energy_boundary `{text}`: `{word}` is no stage"),
        })?;
        match &found {
            Some(first) if *first != boundary => {
                return Err(format!(
                    "the logs state unlike boundaries: `{}` ({}) and `{}` ({})",
                    first.name,
                    list_of(&first.stages),
                    boundary.name,
                    list_of(&boundary.stages)
                ));
            }
            _ => found = Some(boundary),
        }
    }
    found.ok_or_else(|| {
        "energy_boundary not stated: say which stages count, such as `jet + after-mix`".to_owned()
    })
}

/// A sum of specific energies: what is of each log alone adds as squares, what the instruments
/// share adds plainly.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    value: f64,
    variance: f64,
    shared: f64,
    /// Squares of the parts of the interval below and above that are of each log alone.
    below: f64,
    above: f64,
    /// Whether one of them is a lower bound.
    open: bool,
}

fn part_of(result: &MetricResult) -> Result<Sum, String> {
    let square = |x: f64| x * x;
    match &result.outcome {
        Outcome::Exact(e) => {
            let shared = result.shared_u().unwrap_or(0.0);
            let own = |reach: f64| (square(reach) - square(2.0 * shared)).max(0.0);
            Ok(Sum {
                value: e.value(),
                variance: (square(e.std_uncertainty()) - square(shared)).max(0.0),
                shared,
                below: own(e.value() - e.low()),
                above: own(e.high() - e.value()),
                open: false,
            })
        }
        Outcome::Above(bound) => Ok(Sum {
            value: *bound,
            open: true,
            ..Sum::default()
        }),
        other => Err(other.reason().unwrap_or("no value").to_owned()),
    }
}

impl Sum {
    fn add(&mut self, part: Sum) {
        self.value += part.value;
        self.variance += part.variance;
        self.shared += part.shared;
        self.below += part.below;
        self.above += part.above;
        self.open |= part.open;
    }

    fn outcome(&self) -> Outcome {
        let shared = 2.0 * self.shared;
        let low = self.value - shared.hypot(self.below.sqrt());
        if self.open {
            return Outcome::Above(low);
        }
        let high = self.value + shared.hypot(self.above.sqrt());
        let u = self.shared.hypot(self.variance.sqrt());
        match Estimate::with_interval(self.value, low, high, u) {
            Ok(estimate) => Outcome::Exact(estimate),
            Err(error) => Outcome::NotComputable(error.to_string()),
        }
    }
}

/// Returns the first of the variants of a metric that has a value, else the first there is.
fn result<'l>(log: &'l Log, metric: &str, variants: &[&str]) -> Result<&'l MetricResult, String> {
    let of = |variant: &&str| {
        let wanted = |r: &&MetricResult| r.metric.id == metric && r.variant == *variant;
        log.energies.iter().find(wanted)
    };
    let found: Vec<&MetricResult> = variants.iter().filter_map(of).collect();
    let usable = found.iter().find(|r| r.outcome.value_or_bound().is_some());
    let best = usable.or(found.first()).copied();
    best.ok_or_else(|| format!("its log has no {metric}"))
}

fn hydraulic(log: &Log) -> Result<&MetricResult, String> {
    result(log, HYDRAULIC, &["flow", "ratio"])
}

fn electric(log: &Log) -> Result<&MetricResult, String> {
    result(log, ELECTRIC, &[""])
}

fn net_work(log: &Log) -> Result<&MetricResult, String> {
    result(log, WORK, &["net"])
}

fn delivered(log: &Log) -> Result<&MetricResult, String> {
    match log.stage {
        Stage::Jet => hydraulic(log),
        _ => net_work(log),
    }
}

fn drawn(log: &Log) -> Result<&MetricResult, String> {
    if log.stage == Stage::Jet {
        return electric(log);
    }
    let found = result(log, WORK, &["gross"])?;
    match found.parameter("from") {
        Some("torque-speed") => {
            Err("a torque does not tell what the motor drew; record the power".into())
        }
        _ => Ok(found),
    }
}

metric! {
    /// Hydraulic energy of the jets of one dough, per kg of dough: the sum over its jet logs, by
    /// recorded flow, else by the stated ratio. Only when every stage of the stated boundary has a
    /// log.
    DOUGH_HYDRAULIC for DoughLogs {
        id: "mixer-log.dough_hydraulic_energy", symbol: "e_hyd", name: "hydraulic energy of a dough",
        unit: Unit::KilojoulePerKilogram, decimals: 3, revision: 1,
        source: ("energy balance", "one boundary for all", Derived),
        variants: [], read: read_hydraulic,
    }
}

fn read_hydraulic(logs: &DoughLogs, _: &'static str) -> Reading {
    logs.reading(&[Stage::Jet], hydraulic)
}

metric! {
    /// Electric energy that the jets of one dough drew, per kg of dough: hydraulic energy over the
    /// stated efficiency of pump and motor. Only when every stage of the stated boundary has a log.
    DOUGH_ELECTRIC for DoughLogs {
        id: "mixer-log.dough_electric_energy", symbol: "e_el", name: "electric energy of the jets of a dough",
        unit: Unit::KilojoulePerKilogram, decimals: 3, revision: 1,
        source: ("energy balance", "one boundary for all", Derived),
        variants: [], read: read_electric,
    }
}

fn read_electric(logs: &DoughLogs, _: &'static str) -> Reading {
    logs.reading(&[Stage::Jet], electric)
}

metric! {
    /// Work of mixing after the jet on one dough, above the empty run, per kg of dough. Only when
    /// every stage of the stated boundary has a log.
    DOUGH_AFTER_MIX for DoughLogs {
        id: "mixer-log.dough_after_mix_energy", symbol: "e_after", name: "after-mix energy of a dough",
        unit: Unit::KilojoulePerKilogram, decimals: 2, revision: 1,
        source: ("energy balance", "one boundary for all", Derived),
        variants: [], read: read_after_mix,
    }
}

fn read_after_mix(logs: &DoughLogs, _: &'static str) -> Reading {
    logs.reading(&[Stage::AfterMix], net_work)
}

metric! {
    /// Energy of one dough over every stage of its stated boundary, per kg of dough. Without a log
    /// of every stage, or with logs that state unlike boundaries, there is no total. Totals of two
    /// doughs compare only when their boundaries have the same name. What the logs of a dough read
    /// with the same instruments adds plainly in the uncertainty.
    DOUGH_TOTAL for DoughLogs {
        id: "mixer-log.dough_total_energy", symbol: "e_tot", name: "total energy of a dough",
        unit: Unit::KilojoulePerKilogram, decimals: 2, revision: 1,
        source: ("energy balance", "one boundary for all", Derived),
        variants: [
            ("delivered", "what reached the dough: hydraulic energy of jets, work of tools above their empty run; cooling gives none"),
            ("drawn", "what was drawn from the mains: electric energy of jets, recorded gross power of every other stage"),
        ],
        read: read_total,
    }
}

fn read_total(logs: &DoughLogs, variant: &'static str) -> Reading {
    const WORKING: [Stage; 4] = [Stage::Mixing, Stage::Jet, Stage::Conveying, Stage::AfterMix];
    match variant {
        "drawn" => logs.reading(&Stage::ALL, drawn),
        _ => logs.reading(&WORKING, delivered),
    }
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<DoughLogs>] = &[
    &DOUGH_HYDRAULIC,
    &DOUGH_ELECTRIC,
    &DOUGH_AFTER_MIX,
    &DOUGH_TOTAL,
];
