//! The page: everything is there, nothing leaves it, and no text can break out of its place.

use super::cards::{MIXING, RULES};
use super::island::{Island, TREATMENTS, awkward_day, charts, good_day, run, set, widen};
use doughtrace::record::Outcome;
use doughtrace::report::{ChartSet, Picture};
use doughtrace::schema::{RunId, Status};

/// Returns the words of `page`: no tags, entities read, white space folded.
pub fn words(page: &str) -> String {
    let mut spaced = page.to_owned();
    for end in ["</th>", "</td>", "</dt>", "</p>", "<br>"] {
        spaced = spaced.replace(end, " ");
    }
    let mut text = String::new();
    let mut depth = 0_usize;
    for c in spaced.chars() {
        match c {
            '<' => depth += 1,
            '>' => depth = depth.saturating_sub(1),
            _ if depth == 0 => text.push(c),
            _ => {}
        }
    }
    let read = text
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#x27;", "'")
        .replace("&#x2f;", "/")
        .replace("&amp;", "&");
    read.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Returns the part of `page` from the heading with `id` to the next heading of the same rank.
pub fn part<'a>(page: &'a str, id: &str) -> &'a str {
    let start = page.find(&format!("<h2 id=\"{id}\">")).unwrap();
    let rest = &page[start..];
    let end = rest[4..].find("<h2 id=").map_or(rest.len(), |end| end + 4);
    &rest[..end]
}

/// Returns the cells of the row of `run` in `table`, as words.
fn row(table: &str, run: &str) -> Vec<String> {
    let name = table.find(&format!(">{run}</a>")).unwrap();
    let rest = &table[name..];
    let line = &rest[..rest.find("</tr>").unwrap()];
    line.split("<td")
        .skip(1)
        .map(|c| words(&format!("<td{c}")))
        .collect()
}

#[test]
fn page_one_says_whether_the_day_is_good_and_what_must_be_redone() {
    let page = awkward_day(4).page();
    let text = words(&page);
    assert!(text.contains("The day is not finished: 2 of 12 runs must be redone"));
    let redo = row(part(&page, "redo"), "K-02");
    assert_eq!(
        redo,
        [
            "the maximum is 438 FU, outside 480 to 520 FU for a final run",
            "Make the next run with the water volume suggested.",
            "181.2 ml this run 183.0 ml",
        ]
    );
    assert_eq!(row(part(&page, "redo"), "K-06")[2], "–");
    let unreadable = words(part(&page, "unreadable"));
    for said in [
        "mixing/K-99.csv line 417, column consistency",
        "1,234 with a decimal comma",
        "a number with a decimal point, as the profile declares",
        "name a profile with a decimal comma in the run sheet",
    ] {
        assert!(unreadable.contains(said), "{said}");
    }
    assert!(words(part(&page, "next-water")).contains("K-05 two-arm final 183.0 ml 176.4 ml"));
}

#[test]
fn a_good_day_has_nothing_to_redo() {
    let page = good_day(4).page();
    let text = words(&page);
    assert!(text.contains("The day is good: 12 runs from 13 files, and nothing to redo."));
    assert!(text.contains("Nothing. No finding asks for a run to be redone."));
    assert!(!page.contains("id=\"unreadable\""));
    assert!(!page.contains("id=\"next-water\""));
}

#[test]
fn every_run_and_every_finding_with_its_next_action_is_there() {
    let island = awkward_day(4);
    let page = island.page();
    let metrics = part(&page, "metrics");
    let findings = words(part(&page, "findings"));
    for run in &island.day.runs {
        assert!(metrics.contains(&format!(">{}</a>", run.id)), "{}", run.id);
    }
    for treatment in TREATMENTS {
        assert!(words(metrics).contains(&format!("{treatment} 4 runs")));
    }
    for finding in &island.findings {
        assert!(findings.contains(&finding.words), "{}", finding.words);
        assert!(findings.contains(&finding.what_to_do), "{finding:?}");
    }
    let levels = [
        "Reject: redo or mend 2",
        "Warn: use with care 2",
        "Note: worth knowing 12",
    ];
    let places: Vec<usize> = levels.iter().map(|l| findings.find(l).unwrap()).collect();
    assert!(places.is_sorted());
}

#[test]
fn a_cell_shows_value_uncertainty_bound_or_reason() {
    let page = awkward_day(4).page();
    let metrics = part(&page, "metrics");
    // The fourth metric is the development time: 5.16 min + 0.31 min, u = 0.011 √5.47 = 0.0257 min,
    // so U = 0.05 min; computed by hand from how the day is built.
    assert_eq!(row(metrics, "K-02")[3], "5.5 ± 0.1");
    assert_eq!(row(metrics, "K-02")[2], "not reached reason 1");
    assert_eq!(row(metrics, "K-03")[2], "< 0.1");
    assert_eq!(row(metrics, "K-03")[5], "> 15.2");
    assert_eq!(row(metrics, "K-03")[1], "502 a.u. ± <1");
    assert_eq!(row(metrics, "K-04")[7], "not computable reason 2");
    assert_eq!(row(metrics, "K-06")[0], "rejected reason 3");
    let reasons = words(metrics);
    assert!(
        reasons.contains(
            "the upper contour never reached 500 FU; it came to 438 FU (K-02: ta, td, S)"
        )
    );
    assert!(metrics.contains("title=\"the record ends 9.4 min after"));
    assert!(metrics.contains("id=\"mixing-reason-2\""));
}

#[test]
fn an_uneven_interval_is_printed_as_such() {
    let mut island = good_day(1);
    let estimate = doughtrace::record::Estimate::with_interval(9.0, 8.5, 11.0, 0.6).unwrap();
    set(
        &mut island.day.runs[0],
        "mixing.stability",
        Outcome::Exact(estimate),
    );
    set(
        &mut island.day.runs[1],
        "mixing.stability",
        Outcome::exact(9.0, 0.0),
    );
    let page = island.page();
    assert_eq!(row(part(&page, "metrics"), "K-01")[5], "9.0 (8.5 to 11.0)");
    assert_eq!(row(part(&page, "metrics"), "K-02")[5], "9.0");
}

#[test]
fn readings_that_disagree_stand_side_by_side() {
    let page = good_day(2).page();
    let metrics = part(&page, "metrics");
    let readings = &metrics[metrics.find("mixing-readings-caption").unwrap()..];
    let cells = row(readings, "K-01");
    assert_eq!(
        cells.len(),
        5,
        "three of the development time, two of the departure time"
    );
    // 5.16, 5.36 and 5.56 min, as the day is built.
    let starts: Vec<&str> = cells.iter().map(|c| &c[..3]).collect();
    assert_eq!(starts[..3], ["5.2", "5.4", "5.6"]);
    for word in ["iso", "maximum", "flat", "last", "first"] {
        assert!(words(readings).contains(word), "{word}");
    }
}

#[test]
fn definitions_say_where_they_come_from() {
    let text = words(part(&awkward_day(2).page(), "definitions"));
    for card in &MIXING {
        assert!(text.contains(card.name), "{}", card.name);
        assert!(text.contains(&format!("{}, revision 1", card.id)));
    }
    assert!(text.contains(
        "modelled on ISO 5530-1, determination (from memory, high confidence); check against the standard's text"
    ));
    assert!(text.contains("src/derive/mixing/metrics.rs:120"));
    assert!(text.contains("smoothing_half_width_s 15 Half width"));
    for status in Status::ALL {
        assert!(text.contains(status.meaning()), "{status}");
    }
    for rule in &RULES {
        assert!(text.contains(rule.title) && text.contains(rule.what_to_do));
    }
    assert!(!text.contains("Time to full window"), "a test without runs");
}

#[test]
fn provenance_names_files_digests_rows_results_and_conflicts() {
    let island = awkward_day(2);
    let page = island.page();
    let text = words(part(&page, "origin"));
    for run in &island.day.runs {
        assert!(text.contains(run.file.sha256.as_str()));
        for result in &run.results {
            assert!(text.contains(result.id.as_str()), "{}", result.metric.id);
        }
    }
    assert!(text.contains("flour_moisture_pct 13.4 line 4 of the file"));
    assert!(text.contains("flour_moisture_pct 13.1 run-sheet.csv, line 2 (not in force)"));
    assert!(text.contains("61–1903"));
    assert!(text.contains("3 files: no data by its ending (.jpg, .pdf)"));
    assert!(text.contains("{ \"threads\": 2, \"charts\": true }"));
    assert!(words(&page).contains("Invented demo data"));
}

#[test]
fn nothing_outside_is_named_and_every_link_has_its_target() {
    let mut island = awkward_day(4);
    island.charts = charts(&island.day);
    let page = island.page();
    for outside in [
        "http:", "https:", "src=\"//", "url(", "@import", "<link", "<iframe",
    ] {
        assert!(!page.contains(outside), "{outside}");
    }
    let ids: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .map(|rest| &rest[..rest.find('"').unwrap()])
        .collect();
    let unique: std::collections::BTreeSet<&&str> = ids.iter().collect();
    assert_eq!(unique.len(), ids.len(), "an id is given twice");
    for target in page.split("href=\"").skip(1) {
        let target = &target[..target.find('"').unwrap()];
        let id = target.strip_prefix('#').unwrap();
        assert!(ids.contains(&id), "{target} leads nowhere");
    }
}

#[test]
fn hostile_text_stays_text_wherever_it_comes_from() {
    let bad = "<script>alert(1)</script>\" onload='x'";
    let mut island: Island = awkward_day(2);
    let mut hostile = run("K-98", bad, 0, 9);
    hostile.id = RunId::new(bad).unwrap();
    hostile.file.name = bad.to_owned();
    hostile.selector = bad.to_owned();
    hostile.profile.id = bad.to_owned();
    for result in &mut hostile.results {
        result.run_id = hostile.id.clone();
        result.parameters = bad.to_owned();
        result.outcome = Outcome::NotComputable(bad.to_owned());
    }
    island.day.runs.push(hostile);
    island.day.observations[0].note = Some(bad.to_owned());
    let (fault, found) = (&mut island.day.faults[0], &mut island.findings[0]);
    for text in [
        &mut fault.file,
        &mut fault.found,
        &mut found.words,
        &mut found.what_to_do,
        &mut island.title,
        &mut island.provenance.plan,
        &mut island.provenance.inputs[0],
        &mut island.provenance.skipped[0].reason,
    ] {
        bad.clone_into(text);
    }
    island.provenance.data_label = Some(bad.to_owned());
    island.charts.runs = vec![
        Picture::beside(bad, bad, "charts/a.png")
            .unwrap()
            .of_run(&island.day.runs[0].id),
    ];
    let page = island.page();
    assert_eq!(page.matches("<script>").count(), 1, "only our own");
    assert!(!page.contains("<script>alert"));
    assert!(!page.contains("onload='"));
    assert!(page.contains("&lt;script&gt;alert(1)"));
}

#[test]
fn the_policy_allows_no_script_but_our_own() {
    use base64::Engine as _;
    use sha2::Digest as _;
    let page = good_day(1).page();
    for (open, close, rule) in [
        ("<script>", "</script>", "script-src"),
        ("<style>", "</style>", "style-src"),
    ] {
        let start = page.find(open).unwrap() + open.len();
        let inside = &page[start..start + page[start..].find(close).unwrap()];
        let digest = base64::engine::general_purpose::STANDARD
            .encode(sha2::Sha256::digest(inside.as_bytes()));
        let policy = format!("{rule} 'sha256-{digest}'");
        let head = page[..start].replace("&#x27;", "'").replace("&#x2f;", "/");
        assert!(head.contains(&policy), "{policy}");
    }
    assert!(!page.contains(" style=\"") && !page.contains(" onclick"));
}

#[test]
fn pictures_travel_inside_with_size_and_words() {
    let mut island = good_day(1);
    let without = island.page();
    assert!(!without.contains("id=\"charts\""));
    island.charts = charts(&island.day);
    let page = island.page();
    let pictures = part(&page, "charts");
    assert_eq!(
        pictures
            .matches("<img src=\"data:image/png;base64,iVBOR")
            .count(),
        4
    );
    assert!(
        pictures.contains(
            "alt=\"Placeholder for the mixing curve of K-02\" width=\"900\" height=\"560\""
        )
    );
    assert!(pictures.find("The day at a glance").unwrap() < pictures.find("Each run").unwrap());
    island.charts = ChartSet {
        overview: Vec::new(),
        runs: vec![Picture::beside("K-01", "Its curve", "charts/K-01.png").unwrap()],
    };
    assert!(
        island
            .page()
            .contains("<img src=\"charts/K-01.png\" alt=\"Its curve\"")
    );
}

#[test]
fn tables_are_marked_up_for_those_who_hear_them() {
    let mut island = awkward_day(4);
    island.charts = charts(&island.day);
    let page = island.page();
    assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"));
    let tables = page.matches("<table").count();
    assert_eq!(page.matches("<caption").count(), tables);
    assert_eq!(
        page.matches("class=\"scroll\" role=\"region\"").count(),
        tables
    );
    assert!(
        !page.contains("<th>") && !page.contains("<th class"),
        "a head without scope"
    );
    assert_eq!(page.matches("<h1>").count(), 1);
    assert_eq!(
        page.matches("<img ").count(),
        page.matches(" alt=\"").count()
    );
    assert!(!page.contains(" alt=\"\""));
}

#[test]
fn the_jet_caution_is_there_when_a_method_mixes_with_a_jet_and_only_then() {
    let quiet = good_day(1).page();
    let text = words(part(&quiet, "safety"));
    for said in [
        "A valid flag is no safety statement.",
        "Moving arms and hooks catch hands",
        "Flour in air can explode",
        "Do not taste raw dough",
        "Local codes and licensed practice come first.",
    ] {
        assert!(text.contains(said), "{said}");
    }
    assert!(!text.contains("nozzle"));
    let mut island = good_day(1);
    island.day.runs.push(run("K-50", "water jet", 0, 4));
    assert!(
        words(part(&island.page(), "safety")).contains("Never put a hand in front of a nozzle")
    );
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let page = || {
        let mut island = awkward_day(4);
        island.charts = charts(&island.day);
        island.page()
    };
    assert_eq!(page(), page());
}

#[test]
fn a_metric_that_no_method_lists_still_gets_its_column() {
    let mut island = good_day(1);
    for run in &mut island.day.runs {
        widen(run, 10);
    }
    let page = island.page();
    assert_eq!(row(part(&page, "metrics"), "K-01").len(), MIXING.len() + 10);
}

#[test]
fn the_caller_chooses_the_main_numbers() {
    let island = good_day(1);
    let mut report = island.report();
    report.headline = &["mixing.stability", "mixing.absorption"];
    let page = report.render().unwrap();
    // Dough, standing and the two metrics, in the order of the method.
    let cells = row(part(&page, "main-numbers"), "K-01");
    assert_eq!(cells, ["B-1-1", "good", "62.4 ± 0.2", "9.7 ± 0.1"]);
}

#[test]
fn an_empty_day_still_has_a_page() {
    let mut island = good_day(0);
    island.day.sheets.clear();
    let text = words(&island.page());
    assert!(text.contains("there was no run to read"));
    assert!(text.contains("No run, so no numbers."));
}

#[test]
fn a_month_of_runs_leaves_the_traces_to_the_table() {
    let island = good_day(67);
    let page = island.page();
    assert!(words(&page).contains("The 201 runs of this report are too many to list here"));
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
}

#[test]
fn the_same_finding_about_several_runs_is_told_once_and_names_them_all() {
    let mut island = awkward_day(2);
    for finding in &mut island.findings {
        if finding.rule == RULES[3].id {
            finding.words = "time zero was inferred".to_owned();
        }
    }
    let page = island.page();
    let findings = part(&page, "findings");
    assert_eq!(findings.matches("time zero was inferred").count(), 1);
    let text = words(findings);
    assert!(text.contains("6 runs time zero was inferred (K-01, K-02, K-03, K-04, K-05, K-06)"));
}

#[test]
fn parameters_that_all_results_of_a_run_share_are_told_once() {
    let mut island = good_day(1);
    let results = &mut island.day.runs[0].results;
    for result in results.iter_mut() {
        result.parameters = "smoothing_s=15; window_s=3.81".to_owned();
    }
    results[3].parameters.push_str("; delta=2.5");
    let page = island.page();
    let origin = part(&page, "origin");
    let run = &origin[..origin.find("id=\"run-2\"").unwrap()];
    assert!(words(run).contains("Parameters of all results: smoothing_s=15; window_s=3.81."));
    assert_eq!(run.matches("window_s=3.81").count(), 1);
    assert!(run.contains("<td>delta=2.5</td>"));
}
