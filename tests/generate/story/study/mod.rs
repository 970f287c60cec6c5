//! The mixing study: twelve bakery doughs, each followed from the mixer's log to bread of a week.
//!
//! Three methods in four blocks (two flour lots, morning and afternoon), one dough each. What is
//! measured on each dough: power while it was mixed, its blend in the recording mixer (on two
//! instruments, and at three waters), pieces under the hook, strips, bubbles, graded membranes,
//! loaf volume, crumb firmness over seven days, crumb moisture and mould. Everything is invented.

mod bread;
mod grain;
mod mixing;
mod reference;
mod sheet;
mod stretched;

use super::super::mixer_log::MixerLogRun;
use super::super::noise::Noise;
use super::super::truth::Truth;
use super::{Blend, HIGH_SPEED, LOWMARSH, METHODS, Method, NORTHDYKE, SPIRAL, TWO_ARM, logs};

pub use bread::MOULD_LOOKS_D;
pub use reference::{JUMP_FU, JUMPED, RUNS as REFERENCE_RUNS, reference_flour};
pub use sheet::SheetLine;

/// Folder of the study below the sample runs.
pub const FOLDER: &str = "mixing-study";

/// A generated file of the study.
#[derive(Debug, Clone)]
pub struct StudyFile {
    /// Path below the folder of sample runs.
    pub path: String,
    /// Identifier of the import profile that reads it.
    pub profile: &'static str,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// What the run sheet says of it.
    pub lines: Vec<SheetLine>,
    /// Truth of the runs in it, by name; of a whole dough by its own name.
    pub truths: Vec<(String, Truth)>,
}

impl StudyFile {
    fn new(name: &str, profile: &'static str, bytes: Vec<u8>) -> StudyFile {
        StudyFile {
            path: format!("{FOLDER}/{name}"),
            profile,
            bytes,
            lines: Vec::new(),
            truths: Vec::new(),
        }
    }

    /// Returns the last part of the path.
    pub fn name(&self) -> &str {
        self.path.rsplit('/').next().unwrap_or(&self.path)
    }
}

/// A bakery dough of the study.
#[derive(Debug, Clone, Copy)]
pub struct StudyDough {
    /// Place in the study, from 0.
    pub place: u32,
    /// How it was mixed.
    pub method: Method,
    /// Flour lot.
    pub blend: Blend,
    /// Half of the day.
    pub half: &'static str,
}

impl StudyDough {
    /// Returns the name of the dough.
    pub fn batch_id(&self) -> String {
        format!("MD-{:02}", self.place + 1)
    }

    /// Returns the block: flour lot and half of the day.
    pub fn block(&self) -> String {
        let lot = self.blend.sample_id.trim_end_matches("-40");
        format!("{lot}-{}", self.half)
    }

    /// Returns the number of the dough, from 801 on: seed and part of the names of its runs.
    pub fn number(&self) -> u32 {
        801 + self.place
    }

    /// Returns the machine that mixed it.
    pub fn mixer_id(&self) -> String {
        format!("{}-mixer", self.method.word)
    }

    /// Returns the number of the dough's person.
    fn operator(&self) -> String {
        format!("operator {}", 1 + self.place % 2)
    }

    /// Returns a time of the day so many minutes after the dough's start.
    fn clock(&self, day: u32, after_min: u32) -> String {
        let begin = if self.half == "morning" {
            6 * 60
        } else {
            12 * 60
        };
        let minute = begin + 30 * (self.place % 3) + after_min;
        format!("2026-05-{day:02} {:02}:{:02}", minute / 60, minute % 60)
    }

    /// Returns the first day of the dough in May: a day for each flour lot.
    fn day(&self) -> u32 {
        if self.blend.sample_id == LOWMARSH.sample_id {
            11
        } else {
            12
        }
    }

    /// Returns the value that the dough truly has: that of its method times what the lot makes of
    /// it, with the scatter of doughs (a share), drawn anew for every `property`.
    fn own(&self, of_method: [f64; 3], northdyke: f64, scatter: f64, property: u64) -> f64 {
        let seed = 80_000_000 + 1_000 * property + u64::from(self.place);
        let mut draw = Noise::new(seed);
        let place = METHODS.iter().position(|m| m.word == self.method.word);
        let lot = match self.blend.sample_id == NORTHDYKE.sample_id {
            true => northdyke,
            false => 1.0,
        };
        of_method[place.unwrap_or(0)] * lot * (1.0 + scatter * draw.normal_within(2.0))
    }

    /// Returns a line of the run sheet with what holds for every run of the dough.
    fn line(&self, file: &str, curve: &str) -> SheetLine {
        SheetLine::new(file, curve)
            .with("sample_id", self.blend.sample_id)
            .with("flour_name", self.blend.name)
            .with("flour_kind", "blend")
            .with(
                "flour_grade",
                &format!("40 % wholemeal {}", self.method.grind),
            )
            .with("batch_id", &self.batch_id())
            .with("mixer_id", &self.mixer_id())
            .with("treatment", self.method.word)
            .with("block", &self.block())
            .with("replicate", "1")
            .with("operator", &self.operator())
    }
}

/// Returns the doughs of the study; the order of the methods is another one in each block.
pub fn doughs() -> Vec<StudyDough> {
    let orders = [
        [TWO_ARM, SPIRAL, HIGH_SPEED],
        [HIGH_SPEED, TWO_ARM, SPIRAL],
        [SPIRAL, HIGH_SPEED, TWO_ARM],
        [TWO_ARM, HIGH_SPEED, SPIRAL],
    ];
    let blocks = [
        (LOWMARSH, "morning"),
        (LOWMARSH, "afternoon"),
        (NORTHDYKE, "morning"),
        (NORTHDYKE, "afternoon"),
    ];
    let mut doughs = Vec::new();
    for (order, (blend, half)) in orders.iter().zip(blocks) {
        for method in order {
            doughs.push(StudyDough {
                place: doughs.len() as u32,
                method: *method,
                blend,
                half,
            });
        }
    }
    doughs
}

/// Returns every file of the study that the tool reads, run sheet last.
pub fn mixing_study() -> Vec<StudyFile> {
    let doughs = doughs();
    let mut files: Vec<StudyFile> = doughs.iter().map(log_file).collect();
    files.extend(mixing::files(&doughs));
    files.extend(stretched::files(&doughs));
    files.extend(bread::files(&doughs));
    files.extend(grain::files());
    let sheet = sheet::write(files.iter().flat_map(|file| &file.lines));
    let path = "run-sheet.csv";
    files.push(StudyFile::new(path, "run-sheet", sheet.into_bytes()));
    files
}

/// Returns the log of a dough's mixing. The gentle mixer has a lighter arm by now and needs less
/// power than in the log of March.
fn log_file(dough: &StudyDough) -> StudyFile {
    let share = match dough.method.word {
        "two-arm" => 0.84,
        _ => 1.0,
    };
    let of = (dough.method, dough.blend);
    let mut run: MixerLogRun = logs::log_of_blend(dough.number(), of, &dough.block(), share);
    run.facts.batch_id = dough.batch_id();
    run.facts.operator = dough.operator();
    run.recorder.step_s = 1.0;
    let layout = logs::layout_of(&run);
    let name = format!("{}.{}", run.facts.run_id, layout.extension());
    let mut file = StudyFile::new(&name, layout.profile(), layout.write(&run));
    let water = logs::bakery_water_pct(dough.method, dough.blend);
    let line = dough.line(&name, "");
    file.lines = vec![
        line.with("hydration_pct", &format!("{water:.1}"))
            .with("hydration_basis", "as is")
            .with("instrument_id", &run.facts.instrument_id)
            .with("started_at", &dough.clock(dough.day(), 0)),
    ];
    file.truths = vec![(run.facts.run_id.clone(), run.truth())];
    file
}
