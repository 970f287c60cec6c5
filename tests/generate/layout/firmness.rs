//! F2: compression curves of one dough's bread, stacked.

use super::super::bread::SliceRun;
use super::super::facts::decimal;
use super::push_fact;

/// Identifier of the import profile that reads the layout.
pub const FIRMNESS_PROFILE: &str = "firmness-stacked";

/// Returns the text of a file that holds `slices` of one dough.
pub fn write_slices(slices: &[SliceRun]) -> String {
    let mut out = String::from("crumb compressions of one dough\n");
    let Some(first) = slices.first() else {
        return out;
    };
    for (key, value) in [
        ("dough", first.batch_id.clone()),
        ("sample", first.sample_id.clone()),
        ("treatment", first.treatment.clone()),
        ("block", first.block.clone()),
        ("replicate", "1".to_owned()),
        ("thickness mm", decimal(first.model.thickness_mm, 1)),
        ("probe mm", "36".to_owned()),
        ("probe mm/s", "1.67".to_owned()),
        ("kept at C", "20".to_owned()),
        ("operator", first.operator.clone()),
    ] {
        push_fact(&mut out, key, ",", &value);
    }
    for slice in slices {
        push_fact(&mut out, "slice of", ",", &slice.run_id);
        push_fact(&mut out, "loaf", ",", &slice.loaf);
        push_fact(&mut out, "age d", ",", &decimal(slice.age_d, 0));
        out.push_str("travel_mm,force_n\n");
        let samples = slice.samples();
        for (travel, force) in &samples {
            out.push_str(&format!("{},{}\n", decimal(*travel, 2), decimal(*force, 3)));
        }
        out.push_str(&format!("end,{} readings\n", samples.len()));
    }
    out
}
