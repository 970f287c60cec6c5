//! What the results of this method summarise.

use super::agreement::Panel;
use crate::derive::subject::{Subject, dough_conditions};
use crate::record::Observation;
use crate::schema::Test;
use std::sync::Arc;

/// Returns the pieces of one dough at one mixing time.
pub(super) fn dough<'a>(lines: &'a [&'a Observation], settings: String) -> Subject<'a> {
    let first = lines.first();
    let dough = first.map_or(String::new(), |o| o.batch_id.to_string());
    let time = first.and_then(|o| o.mix_time_min);
    let at = time.map_or(String::new(), |t| format!(" at {t} min"));
    Subject {
        test: Test::Membrane,
        name: format!("dough {dough}{at}"),
        lines,
        conditions: Arc::new(dough_conditions(lines)),
        settings: match time {
            Some(t) => format!("{settings};mix_time_min={t}"),
            None => settings,
        },
    }
}

/// Returns the lines of one sheet as some graders graded them.
pub(super) fn sheet<'a>(
    lines: &'a [&'a Observation],
    panel: &Panel,
    settings: String,
) -> Subject<'a> {
    let first = lines.first();
    let file = first.map_or("", |o| o.file.name.as_str());
    let by = match (panel.within_grader, panel.graders.first()) {
        (true, Some(grader)) => format!("by {grader} twice"),
        _ => format!("by {}", panel.graders.join(" and ")),
    };
    // The row names the file in full.
    let file = file.rsplit('/').next().unwrap_or(file);
    Subject {
        test: Test::Membrane,
        name: format!("sheet {file} graded {by}"),
        lines,
        conditions: Arc::default(),
        settings,
    }
}
