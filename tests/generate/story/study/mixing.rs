//! The blends of the study in the recording dough mixer: every dough's blend on two instruments,
//! and each method's blend at three waters in each block.

use super::super::super::file::{GeneratedRun, RunSpec};
use super::super::super::layout::Layout;
use super::super::super::truth::Rules;
use super::super::Plan;
use super::super::full::with_water;
use super::{StudyDough, StudyFile};

/// Interval of the records, s.
const STEP_S: f64 = 0.5;
/// How much more the second instrument reads, FU; invented.
const SECOND_READS_MORE_FU: f64 = 3.0;
/// Water added to or taken from the volume at the line in the water series, ml.
const SERIES_ML: [f64; 3] = [-6.0, 0.0, 6.0];

/// Returns two files of each block: final runs of its three doughs on both instruments, and its
/// water series.
pub fn files(doughs: &[StudyDough]) -> Vec<StudyFile> {
    doughs
        .chunks(3)
        .flat_map(|block| [finals(block), series(block)])
        .collect()
}

fn plan(dough: &StudyDough, number: u32) -> Plan {
    Plan {
        number,
        blend: dough.blend,
        method: dough.method,
        block: dough.half,
        replicate: 1,
        bowl_g: 300.0,
        step_s: STEP_S,
    }
}

fn finals(block: &[StudyDough]) -> StudyFile {
    let mut runs = Vec::new();
    let mut owners = Vec::new();
    for (offset, instrument, more_fu) in
        [(0, "mixer-1", 0.0), (20, "mixer-2", SECOND_READS_MORE_FU)]
    {
        for dough in block {
            let mut spec = plan(dough, dough.number() + offset).final_run();
            spec.model.peak_fu += more_fu;
            set_whole_steps(&mut spec);
            runs.push(GeneratedRun::selected(spec));
            owners.push((*dough, dough.batch_id(), instrument));
        }
    }
    file_of("blends", block, runs, &owners)
}

/// Records of the water series are stopped some minutes after the blend is developed: a maximum is
/// all that is asked of them, and doughs at another water shall not count where softening is
/// compared.
fn series(block: &[StudyDough]) -> StudyFile {
    let mut runs = Vec::new();
    let mut owners = Vec::new();
    for (level, added_ml) in SERIES_ML.iter().enumerate() {
        for dough in block {
            let number = 841 + 12 * level as u32 + dough.place;
            let mut spec = with_water(plan(dough, number).final_run(), *added_ml);
            spec.facts.purpose = "study".to_owned();
            spec.recorder.sampling.last_s = 60.0 * (dough.blend.peak_min + 4.1);
            set_whole_steps(&mut spec);
            runs.push(GeneratedRun::selected(spec));
            owners.push((*dough, format!("MW-{number}"), "mixer-1"));
        }
    }
    file_of("waters", block, runs, &owners)
}

/// Ends the record on a reading.
fn set_whole_steps(spec: &mut RunSpec) {
    let sampling = &mut spec.recorder.sampling;
    sampling.last_s = STEP_S * (sampling.last_s / STEP_S).floor();
}

fn file_of(
    kind: &str,
    block: &[StudyDough],
    runs: Vec<GeneratedRun>,
    owners: &[(StudyDough, String, &str)],
) -> StudyFile {
    let name = format!(
        "{kind}-{}.csv",
        block.first().map(StudyDough::block).unwrap_or_default()
    );
    let layout = Layout::SideBySide;
    let mut file = StudyFile::new(&name, layout.profile(), layout.write(&runs));
    for (place, (run, (dough, batch, instrument))) in runs.iter().zip(owners).enumerate() {
        let facts = &run.spec.facts;
        let number = |value: Option<f64>, digits: usize| match value {
            Some(value) => format!("{value:.digits$}"),
            None => String::new(),
        };
        let flour_g = facts.flour_g.unwrap_or(300.0);
        let water_pct = facts.water_ml.map(|water| 100.0 * water / flour_g);
        file.lines.push(
            dough
                .line(&name, &run.run_id)
                .with("batch_id", batch)
                .with("flour_moisture_pct", &number(facts.moisture_pct, 1))
                .with("hydration_pct", &number(water_pct, 2))
                .with("hydration_basis", "as is")
                .with("purpose", &facts.purpose)
                .with("procedure", "constant-flour")
                .with("flour_g", &number(facts.flour_g, 1))
                .with("water_ml", &number(facts.water_ml, 1))
                .with("water_contact_s", "0")
                .with("instrument_id", instrument)
                .with(
                    "started_at",
                    &dough.clock(dough.day(), 20 + 10 * place as u32),
                ),
        );
        file.truths
            .push((run.run_id.clone(), run.truth(Rules::default())));
    }
    file
}
