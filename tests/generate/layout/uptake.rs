//! U2: water uptake side by side.

use super::super::facts::decimal;
use super::super::uptake::UptakeRun;

/// Identifier of the import profile that reads the layout.
pub const UPTAKE_PROFILE: &str = "uptake-side-by-side";

/// Returns the text of a file of `runs` read at `minutes`; `facts` are the lines of its block.
pub fn write_uptake(facts: &[(&str, String)], minutes: &[f64], runs: &[UptakeRun]) -> String {
    let mut out = String::from("water uptake side by side\n");
    for (key, value) in facts {
        out.push_str(&format!("{key},{value}\n"));
    }
    out.push_str("minutes");
    for run in runs {
        out.push_str(&format!(",{} [% db]", run.run_id));
    }
    out.push('\n');
    let columns: Vec<Vec<f64>> = runs.iter().map(|run| run.samples(minutes)).collect();
    for (row, time) in minutes.iter().enumerate() {
        out.push_str(&decimal(*time, 0));
        for column in &columns {
            out.push_str(&format!(",{}", decimal(column[row], 1)));
        }
        out.push('\n');
    }
    out
}
