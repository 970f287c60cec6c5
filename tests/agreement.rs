//! Agreement coefficients against published and independently computed answers.
//!
//! The data (Krippendorff's example, Fleiss 1971, Shrout and Fleiss 1979, Stuart 1953, Gwet 2014)
//! and the answers lie outside the repository, in `agreement/` of the folder that
//! `DOUGHTRACE_SHARED_DATA` names (default: `../shared/data`), and are not copied into it. Each
//! answer says there whether its source prints it or it was recomputed.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests may stop, and this one says when it has no data"
)]

use doughtrace::numerics::agreement::{
    Difference, Weights, fleiss_kappa, gwet_ac1, intraclass, krippendorff_alpha, percent_agreement,
    scott_pi, weighted_kappa,
};
use std::path::{Path, PathBuf};

fn folder() -> Option<PathBuf> {
    let root = std::env::var_os("DOUGHTRACE_SHARED_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        PathBuf::from,
    );
    let folder = root.join("agreement");
    folder.join("known_answers.csv").is_file().then_some(folder)
}

/// Returns the cells of a file below its header, without its first column where that is a label.
fn cells(folder: &Path, file: &str, labelled: bool) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_path(folder.join(file)).unwrap();
    reader
        .records()
        .map(|record| {
            let record = record.unwrap();
            let cells = record.iter().skip(usize::from(labelled));
            cells.map(|cell| cell.trim().to_owned()).collect()
        })
        .collect()
}

/// Returns the values given to each unit; empty cells are missing.
fn units(folder: &Path, file: &str, labelled: bool) -> Vec<Vec<f64>> {
    cells(folder, file, labelled)
        .iter()
        .map(|row| {
            let given = row.iter().filter(|cell| !cell.is_empty());
            given.map(|cell| cell.parse().unwrap()).collect()
        })
        .collect()
}

/// Returns how often each unit was given each word.
fn counts(rows: &[Vec<String>]) -> Vec<Vec<u32>> {
    let mut words: Vec<&String> = rows.iter().flatten().filter(|w| !w.is_empty()).collect();
    words.sort();
    words.dedup();
    rows.iter()
        .map(|row| {
            let count = |word: &&String| row.iter().filter(|cell| cell == word).count() as u32;
            words.iter().map(count).collect()
        })
        .collect()
}

/// Returns a square table of counts, written as a matrix or as a list of pairs.
fn table(folder: &Path, file: &str) -> Vec<Vec<f64>> {
    if file != "irr_vision_table.csv" {
        return units(folder, file, true);
    }
    let rows = cells(folder, file, false);
    let mut grades: Vec<String> = rows.iter().map(|r| r[0].to_lowercase()).collect();
    grades.sort();
    grades.dedup();
    let place = |cell: &str| {
        let wanted = cell.to_lowercase();
        grades.iter().position(|grade| *grade == wanted).unwrap()
    };
    let mut table = vec![vec![0.0; grades.len()]; grades.len()];
    for row in &rows {
        table[place(&row[0])][place(&row[1])] += row[2].parse::<f64>().unwrap();
    }
    table
}

/// Returns the pairs of a table as counts per unit.
fn counts_of_table(table: &[Vec<f64>]) -> Vec<Vec<u32>> {
    let mut counts = Vec::new();
    for (i, row) in table.iter().enumerate() {
        for (j, count) in row.iter().enumerate() {
            let mut unit = vec![0; table.len()];
            unit[i] += 1;
            unit[j] += 1;
            counts.extend(std::iter::repeat_n(unit, *count as usize));
        }
    }
    counts
}

/// Returns our value of `statistic` for `file`; `None` for a statistic this test does not know.
fn ours(folder: &Path, file: &str, statistic: &str) -> Option<f64> {
    let labelled = matches!(file, "krippendorff_C.csv" | "shrout_fleiss_1979.csv");
    let square = file.starts_with("gwet_cont") || file == "irr_vision_table.csv";
    let counted = || match square {
        true => counts_of_table(&table(folder, file)),
        false => counts(&cells(folder, file, labelled)),
    };
    let alpha = |difference| krippendorff_alpha(&units(folder, file, labelled), difference);
    let kappa = |weights| weighted_kappa(&table(folder, file), weights).map(|k| k.value);
    let icc = || intraclass(&units(folder, file, labelled));
    let name = statistic.split(" (").next().unwrap_or(statistic);
    match name {
        "Krippendorff alpha nominal" => alpha(Difference::Nominal),
        "Krippendorff alpha ordinal" => alpha(Difference::Ordinal),
        "Krippendorff alpha interval" => alpha(Difference::Interval),
        "Krippendorff alpha ratio" => alpha(Difference::Ratio),
        "percent agreement" => percent_agreement(&counted()),
        "Gwet AC1" => gwet_ac1(&counted()),
        "Fleiss generalized kappa, missing allowed" | "Fleiss kappa" => fleiss_kappa(&counted()),
        "Cohen kappa" => kappa(Weights::None),
        "Cohen kappa linear weights" => kappa(Weights::Linear),
        "Cohen kappa quadratic weights" => kappa(Weights::Quadratic),
        "Scott pi" => scott_pi(&table(folder, file)),
        "ICC(1,1)" => icc()?.one_way_single,
        "ICC(2,1)" => icc()?.random_single,
        "ICC(3,1)" => icc()?.fixed_single,
        "ICC(1,4)" => icc()?.one_way_mean,
        "ICC(2,4)" => icc()?.random_mean,
        "ICC(3,4)" => icc()?.fixed_mean,
        _ => None,
    }
}

#[test]
fn every_known_answer_is_found() {
    let Some(folder) = folder() else {
        println!("SKIPPED: no agreement data; name their folder in DOUGHTRACE_SHARED_DATA");
        return;
    };
    let mut reader = csv::Reader::from_path(folder.join("known_answers.csv")).unwrap();
    let mut checked = 0;
    for record in reader.records() {
        let record = record.unwrap();
        let (file, statistic, printed) = (&record[0], &record[1], record[2].trim());
        let wanted: f64 = printed.parse().unwrap();
        let found = ours(&folder, file, statistic)
            .unwrap_or_else(|| panic!("{file}: {statistic} is not computed here"));
        let digits = printed.split('.').nth(1).map_or(0, str::len) as i32;
        // One unit of the last printed digit: sources truncate as often as they round.
        let tolerance = 1.01 * 10.0_f64.powi(-digits);
        assert!(
            (found - wanted).abs() <= tolerance,
            "{file}, {statistic}: found {found}, wanted {wanted}"
        );
        checked += 1;
    }
    println!("{checked} known answers agree");
    assert!(checked >= 20, "only {checked} answers in the list");
}

#[test]
fn standard_errors_of_kappa_are_those_of_the_source() {
    let Some(folder) = folder() else {
        println!("SKIPPED: no agreement data; name their folder in DOUGHTRACE_SHARED_DATA");
        return;
    };
    // Gwet 2014: Cohen's kappa .05891, with quadratic weights .03535 (in known_answers.csv).
    let table = table(&folder, "gwet_cont3x3abstractors.csv");
    for (weights, wanted) in [(Weights::None, 0.05891), (Weights::Quadratic, 0.03535)] {
        let found = weighted_kappa(&table, weights).unwrap().standard_error;
        assert!((found - wanted).abs() < 1e-5, "{weights:?}: {found}");
    }
}
