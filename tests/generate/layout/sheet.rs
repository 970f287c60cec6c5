//! S1 and S2: run sheets.

use super::super::facts::{Facts, stated};
use super::super::file::GeneratedFile;

/// One line of a run sheet: which curve of which file, and what is stated about it.
#[derive(Debug, Clone)]
pub struct SheetEntry {
    /// Name of the file.
    pub file: String,
    /// Which curve of it; empty where it holds one.
    pub curve: String,
    /// What the line states.
    pub facts: Facts,
}

/// Returns the sheet entries of every run of `files`, in order.
pub fn entries_of(files: &[GeneratedFile]) -> Vec<SheetEntry> {
    files
        .iter()
        .flat_map(|file| {
            file.runs.iter().map(|run| SheetEntry {
                file: file.name().to_owned(),
                curve: run.selector.clone(),
                facts: run.spec.sheet.clone(),
            })
        })
        .collect()
}

/// Returns the sheet entries of every extension run of `files`, in order.
pub fn entries_of_pieces(files: &[GeneratedFile]) -> Vec<SheetEntry> {
    files
        .iter()
        .flat_map(|file| {
            file.pieces.iter().map(|run| SheetEntry {
                file: file.name().to_owned(),
                curve: String::new(),
                facts: Facts {
                    run_id: run.facts.run_id.clone(),
                    sample_id: run.facts.sample_id.clone(),
                    batch_id: run.facts.batch_id.clone(),
                    treatment: run.facts.treatment.clone(),
                    block: run.facts.block.clone(),
                    replicate: run.facts.replicate.clone(),
                    purpose: "study".to_owned(),
                    thermostat_c: Some(run.facts.thermostat_c),
                    operator: run.facts.operator.clone(),
                    note: run.facts.note.clone(),
                    ..Facts::default()
                },
            })
        })
        .collect()
}

/// Returns the text of run-sheet layout S1.
pub fn write_s1(entries: &[SheetEntry]) -> String {
    let mut out = String::from(
        "file,curve,run_id,test,sample_id,flour_name,flour_kind,flour_moisture_pct,batch_id,\
         treatment,block,replicate,purpose,procedure,bowl_g,flour_g,water_ml,thermostat_c,\
         instrument_id,water_contact_s,hydration_pct,hydration_basis,operator,started_at,note\n",
    );
    for entry in entries {
        let facts = &entry.facts;
        let cells = [
            entry.file.clone(),
            entry.curve.clone(),
            facts.run_id.clone(),
            "mixing".to_owned(),
            facts.sample_id.clone(),
            facts.flour_name.clone(),
            facts.flour_kind.clone(),
            stated(facts.moisture_pct, 1),
            facts.batch_id.clone(),
            facts.treatment.clone(),
            facts.block.clone(),
            facts.replicate.clone(),
            facts.purpose.clone(),
            facts.procedure.clone(),
            stated(facts.bowl_g, 0),
            stated(facts.flour_g, 1),
            stated(facts.water_ml, 1),
            stated(facts.thermostat_c, 1),
            facts.instrument_id.clone(),
            stated(facts.water_contact_s, 1),
            stated(facts.hydration_pct, 1),
            facts.hydration_pct.map_or("", |_| "as is").to_owned(),
            facts.operator.clone(),
            facts.started_at.clone(),
            facts.note.clone(),
        ];
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

/// Returns the text of run-sheet layout S2.
pub fn write_s2(entries: &[SheetEntry]) -> String {
    let mut out = String::from(
        "File;Curve;Flour lot;Dough;Mixing method;Block;Replicate;Purpose;Bowl g;Moisture %;\
         Flour g;Water ml;Thermostat °C;Operator;Note\n",
    );
    let comma = |value: Option<f64>, digits| stated(value, digits).replace('.', ",");
    for entry in entries {
        let facts = &entry.facts;
        let cells = [
            entry.file.clone(),
            entry.curve.clone(),
            facts.sample_id.clone(),
            facts.batch_id.clone(),
            facts.treatment.clone(),
            facts.block.clone(),
            facts.replicate.clone(),
            facts.purpose.clone(),
            comma(facts.bowl_g, 0),
            comma(facts.moisture_pct, 1),
            comma(facts.flour_g, 1),
            comma(facts.water_ml, 1),
            comma(facts.thermostat_c, 1),
            facts.operator.clone(),
            facts.note.clone(),
        ];
        out.push_str(&cells.join(";"));
        out.push('\n');
    }
    out
}
