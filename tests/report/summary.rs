//! The verdict and the counts, against days whose answer is known by construction.

use super::island::{Island, awkward_day, good_day};
use doughtrace::record::{Day, Finding};
use doughtrace::report::{DaySummary, Verdict};
use doughtrace::schema::{Level, RunId};

fn finding(level: Level, run: Option<&str>) -> Finding {
    Finding {
        rule: "mixing.temperature_off",
        revision: 1,
        level,
        file: run.map_or(String::new(), |run| format!("mixing/{run}.csv")),
        run_id: run.map(|run| RunId::new(run).unwrap()),
        row: None,
        words: "something was found".to_owned(),
        what_to_do: "Do something.".to_owned(),
    }
}

fn verdict_with(levels: &[Level]) -> Verdict {
    let mut island = good_day(2);
    island.findings = levels.iter().map(|l| finding(*l, Some("K-02"))).collect();
    island.report().summary().verdict
}

#[test]
fn the_worst_finding_decides() {
    use Level::{Note, Reject, Warn};
    assert_eq!(verdict_with(&[]), Verdict::Good);
    assert_eq!(verdict_with(&[Note, Note]), Verdict::Good);
    assert_eq!(verdict_with(&[Note, Warn, Note]), Verdict::GoodWithCare);
    assert_eq!(verdict_with(&[Warn, Reject, Note]), Verdict::RedoNeeded);
    let every = [Verdict::Good, Verdict::GoodWithCare, Verdict::RedoNeeded];
    assert!(every.is_sorted());
}

#[test]
fn an_unreadable_file_alone_means_that_something_must_be_redone() {
    let mut island = good_day(2);
    island.day.faults = awkward_day(2).day.faults;
    let summary = island.report().summary();
    assert_eq!(summary.verdict, Verdict::RedoNeeded);
    assert!(summary.redo.is_empty());
    assert_eq!(summary.counts.files_unreadable, 1);
    assert_eq!(
        summary.sentence,
        "The day is not finished: 1 file could not be read."
    );
}

#[test]
fn a_day_without_any_run_is_never_good() {
    let summary = DaySummary::of(&Day::default(), &[], &[]);
    assert_eq!(summary.verdict, Verdict::RedoNeeded);
    assert_eq!(
        summary.sentence,
        "The day is not finished: there was no run to read."
    );
}

#[test]
fn the_awkward_day_is_counted_as_it_was_built() {
    let summary = awkward_day(4).report().summary();
    let c = &summary.counts;
    // 12 run files, one run sheet, one observation sheet.
    assert_eq!(
        (c.files_read, c.files_unreadable, c.files_skipped),
        (14, 1, 3)
    );
    assert_eq!((c.runs, c.observations), (12, 2));
    assert_eq!((c.reject, c.warn, c.note), (2, 2, 12));
    assert_eq!((c.runs_to_redo, c.runs_with_care, c.runs_good), (2, 2, 8));
    assert_eq!(
        summary.sentence,
        "The day is not finished: 2 of 12 runs must be redone, 1 file could not be read."
    );
}

#[test]
fn what_must_be_redone_carries_the_water_for_the_next_run() {
    let summary = awkward_day(4).report().summary();
    let subjects: Vec<String> = summary.redo.iter().map(|item| item.subject()).collect();
    assert_eq!(subjects, ["K-02", "K-06"]);
    assert_eq!(summary.redo[0].next_water_ml, Some(181.25));
    assert_eq!(summary.redo[0].water_ml, Some(183.0));
    assert_eq!(summary.redo[1].next_water_ml, None);
    let next: Vec<(&str, f64)> = summary
        .next_water
        .iter()
        .map(|next| (next.run_id.as_str(), next.next_water_ml))
        .collect();
    assert_eq!(next, [("K-05", 176.4)]);
}

#[test]
fn a_finding_about_a_file_or_the_day_is_mended_and_not_lost() {
    let mut island = good_day(2);
    let about_unknown = finding(Level::Reject, Some("K-77"));
    let about_day = finding(Level::Reject, None);
    island.findings = vec![about_unknown, about_day.clone(), about_day];
    let summary = island.report().summary();
    let subjects: Vec<String> = summary.redo.iter().map(|item| item.subject()).collect();
    assert_eq!(subjects, ["K-77", "the whole day"]);
    assert_eq!(summary.redo[1].why.len(), 2);
    assert_eq!(summary.redo[1].what_to_do, ["Do something."]);
    assert_eq!(
        summary.sentence,
        "The day is not finished: 2 other things must be mended."
    );
}

#[test]
fn the_lines_for_people_say_what_the_data_say() {
    let island: Island = awkward_day(4);
    let lines = island.report().summary().lines();
    assert_eq!(lines[0], island.report().summary().sentence);
    assert_eq!(
        lines[1],
        "14 files read, 12 runs, 1 not readable, 3 skipped; findings: 2 reject, 2 warn, 12 note; 2 observations"
    );
    assert_eq!(
        lines[2],
        "redo K-02 (spiral): the maximum is 438 FU, outside 480 to 520 FU for a final run → Make the next run with the water volume suggested. [next water 181.2 ml]"
    );
    assert!(lines[4].starts_with("not read: mixing/K-99.csv, line 417, column `consistency`"));
    assert_eq!(lines[5], "next water: K-05 → 176.4 ml");
    assert_eq!(lines.len(), 6);
}

#[test]
fn the_summary_serialises_with_the_words_of_the_data() {
    let summary = awkward_day(4).report().summary();
    let json = serde_json::to_value(&summary).unwrap();
    assert_eq!(json["verdict"], "redo-needed");
    assert_eq!(json["counts"]["runs_to_redo"], 2);
    assert_eq!(json["redo"][0]["run_id"], "K-02");
    assert_eq!(json["redo"][0]["next_water_ml"], 181.25);
    assert_eq!(json["unreadable"][0]["line"], 417);
}
