//! A day of the Saltmarrow island bakery, invented from end to end: three mixing methods, every
//! status, an unreadable file, and findings of every level. Built by hand, so that the report is
//! tested without the rooms that compute.

use super::cards::{METHODS, MIXING, RULES};
use doughtrace::record::{
    Conditions, Day, Fault, FieldValue, Finding, Grade, LineMap, Metadata, MetricResult,
    Observation, Origin, Outcome, ProfileStamp, RawFile, RowRange, RunRecord, RunSheet,
    SignalFacts, TearEdge,
};
use doughtrace::report::{ChartSet, DayReport, Picture, Provenance, Skipped};
use doughtrace::schema::{BatchId, Digest, Field, Level, MetricCard, ResultId, RunId, Test, Unit};
use std::sync::Arc;

pub const TREATMENTS: [&str; 3] = ["spiral", "two-arm", "high-speed"];

/// Everything a report borrows.
pub struct Island {
    pub title: String,
    pub day: Day,
    pub findings: Vec<Finding>,
    pub charts: ChartSet,
    pub provenance: Provenance,
}

impl Island {
    pub fn report(&self) -> DayReport<'_> {
        DayReport {
            title: &self.title,
            day: &self.day,
            findings: &self.findings,
            methods: &METHODS[..],
            rules: &RULES,
            headline: &[],
            charts: &self.charts,
            provenance: &self.provenance,
        }
    }

    pub fn page(&self) -> String {
        self.report().render().unwrap()
    }
}

/// A good day of `doughs` doughs for each method: no finding, every file read.
pub fn good_day(doughs: usize) -> Island {
    let mut day = Day::default();
    for (t, treatment) in TREATMENTS.into_iter().enumerate() {
        for dough in 0..doughs {
            let id = format!("K-{:02}", t * doughs + dough + 1);
            day.runs.push(run(&id, treatment, t, dough));
        }
    }
    day.sheets.push(RunSheet {
        file: raw_file("run-sheet.csv"),
        lines: Vec::new(),
    });
    Island {
        title: "Saltmarrow island bakery, 12 March 2031".to_owned(),
        day,
        findings: Vec::new(),
        charts: ChartSet::default(),
        provenance: Provenance {
            tool_version: "0.1.0".to_owned(),
            generated_at: "2031-03-12 17:40 UTC".to_owned(),
            inputs: vec!["saltmarrow/2031-03-12".to_owned()],
            plan: "{\n  \"threads\": 2,\n  \"charts\": true\n}".to_owned(),
            skipped: vec![Skipped {
                reason: "no data by its ending (.jpg, .pdf)".to_owned(),
                files: 3,
            }],
            data_label: Some(
                "Invented demo data: no bakery, flour or instrument of this page exists."
                    .to_owned(),
            ),
            ledger_head: None,
            ..Provenance::default()
        },
    }
}

/// The same day with everything that can go wrong.
pub fn awkward_day(doughs: usize) -> Island {
    let mut island = good_day(doughs);
    let runs = &mut island.day.runs;
    runs[1].facts.next_water_ml = Some(181.25);
    runs[doughs].facts.next_water_ml = Some(176.4);
    set(&mut runs[2], "mixing.stability", Outcome::Above(15.25));
    set(&mut runs[2], "mixing.breakdown", Outcome::Above(20.0));
    set(&mut runs[2], "mixing.arrival", Outcome::Below(0.12));
    let unreached = "the upper contour never reached 500 FU; it came to 438 FU";
    for metric in ["mixing.arrival", "mixing.departure", "mixing.stability"] {
        set(&mut runs[1], metric, Outcome::NotReached(unreached.into()));
    }
    let short = "the record ends 9.4 min after the development time; 12 min are needed";
    set(
        &mut runs[3],
        "mixing.softening_12",
        Outcome::NotComputable(short.into()),
    );
    let torn = "rejected by the analyst: lid opened at minute 3";
    for result in &mut runs[doughs + 1].results {
        result.outcome = Outcome::Rejected(torn.into());
    }
    runs[2].unit = Unit::ArbitraryUnit;
    for result in &mut runs[2].results {
        if result.unit == Unit::Fu {
            result.unit = Unit::ArbitraryUnit;
        }
    }
    island.day.faults.push(Fault {
        file: "mixing/K-99.csv".into(),
        line: Some(417),
        column: Some("consistency".into()),
        found: "`1,234` with a decimal comma".into(),
        expected: "a number with a decimal point, as the profile declares".into(),
        remedy: "name a profile with a decimal comma in the run sheet, or export the file again"
            .into(),
    });
    island.day.observations = observations();
    island.findings = findings(&island.day, doughs);
    island
}

fn findings(day: &Day, doughs: usize) -> Vec<Finding> {
    let run = |index: usize| &day.runs[index];
    let mut list = vec![
        finding(
            0,
            Level::Reject,
            run(1),
            "the maximum is 438 FU, outside 480 to 520 FU for a final run",
        ),
        finding(
            1,
            Level::Reject,
            run(doughs + 1),
            "7 points of time step back, the first at line 233",
        ),
        finding(
            2,
            Level::Warn,
            run(0),
            "the thermostat was at 30.6 °C; 30.0 ± 0.2 °C is asked for",
        ),
        finding(
            2,
            Level::Warn,
            run(doughs),
            "the thermostat was at 29.5 °C; 30.0 ± 0.2 °C is asked for",
        ),
    ];
    for index in 0..day.runs.len() {
        list.push(finding(
            3,
            Level::Note,
            run(index),
            &format!("time zero was inferred at {}.0 s", index + 1),
        ));
    }
    list
}

fn finding(rule: usize, level: Level, run: &RunRecord, words: &str) -> Finding {
    Finding {
        rule: RULES[rule].id,
        revision: 1,
        level,
        file: run.file.name.clone(),
        run_id: Some(run.id.clone()),
        row: (rule == 1).then_some(233),
        words: words.to_owned(),
        what_to_do: match rule {
            2 => format!("Check the thermostat before {} is repeated.", run.id),
            _ => RULES[rule].what_to_do.to_owned(),
        },
    }
}

fn observations() -> Vec<Observation> {
    let of = |dough: &str, treatment: &str, grade, overmixed, line| Observation {
        file: raw_file("window.csv"),
        rows: RowRange {
            first: line,
            last: line,
        },
        batch_id: BatchId::new(dough).unwrap(),
        treatment: Some(treatment.to_owned()),
        block: None,
        mix_time_min: Some(6.5),
        rest_min: Some(10.0),
        piece: Some("a".to_owned()),
        grade,
        overmixed,
        edge: Some(TearEdge::Clean),
        grader: Some("grader 2".to_owned()),
        blind_code: None,
        order: Some(1),
        codebook: None,
        photo: None,
        px_per_mm: None,
        sample_id: None,
        replicate: None,
        age_d: None,
        quantity: None,
        value: None,
        unit: None,
        note: None,
    };
    vec![
        of("B-1-1", "spiral", Some(Grade::MostlyEven), false, 2),
        of("B-3-1", "high-speed", None, true, 3),
    ]
}

/// Returns pictures for the day and for each run: placeholders of the right shape.
pub fn charts(day: &Day) -> ChartSet {
    let overview = placeholder(1200, 560);
    let single = placeholder(900, 560);
    ChartSet {
        overview: vec![
            Picture::embedded(
                "Consistency of all runs over mixing time",
                "Placeholder for the overlay of all runs by mixing method",
                &overview,
            )
            .unwrap(),
        ],
        runs: day
            .runs
            .iter()
            .map(|run| {
                let title = format!("Mixing curve of {}", run.id);
                let alt = format!("Placeholder for the mixing curve of {}", run.id);
                Picture::embedded(&title, &alt, &single)
                    .unwrap()
                    .of_run(&run.id)
            })
            .collect(),
    }
}

/// Returns a grey PNG with a lighter diagonal band.
pub fn placeholder(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Grayscale);
    let mut writer = encoder.write_header().unwrap();
    let pixels: Vec<u8> = (0..width * height)
        .map(|i| {
            if (i % width + i / width) % 97 < 48 {
                226
            } else {
                240
            }
        })
        .collect();
    writer.write_image_data(&pixels).unwrap();
    writer.finish().unwrap();
    bytes
}

pub fn raw_file(name: &str) -> RawFile {
    RawFile {
        name: name.to_owned(),
        sha256: Digest::of(name.as_bytes()),
        bytes: 41_812,
    }
}

pub fn run(id: &str, treatment: &str, t: usize, dough: usize) -> RunRecord {
    let file = raw_file(&format!("mixing/{id}.csv"));
    let sheet = || Origin::RunSheet {
        file: "run-sheet.csv".to_owned(),
        line: 2,
    };
    let mut metadata = Metadata::default();
    let batch = format!("B-{}-{}", t + 1, dough + 1);
    let text = |value: &str| FieldValue::Text(value.to_owned());
    metadata.state(
        Field::FlourMoisturePct,
        FieldValue::Number(13.4),
        Origin::File { line: 4 },
    );
    metadata.state(Field::FlourMoisturePct, FieldValue::Number(13.1), sheet());
    metadata.state(Field::BatchId, text(&batch), sheet());
    metadata.state(Field::Treatment, text(treatment), sheet());
    metadata.state(Field::Purpose, text("final"), sheet());
    metadata.state(Field::WaterMl, FieldValue::Number(183.0), sheet());
    let conditions = Arc::new(Conditions::of(&metadata));
    let run_id = RunId::new(id).unwrap();
    let step = (t * 3 + dough) as f64;
    let values = [
        62.4 + 0.13 * step,
        504.0 - step,
        0.9 + 0.07 * step,
        5.16 + 0.31 * step,
        10.6 + 0.55 * step,
        9.7 + 0.48 * step,
        34.0 + 2.0 * step,
        61.0 + 3.0 * step,
        9.9 + 0.4 * step,
        99.0 + 4.0 * step,
        72.0 - step,
    ];
    let mut results = Vec::new();
    for (card, value) in MIXING.iter().zip(values) {
        for (v, variant) in card.variants.iter().enumerate() {
            let outcome = Outcome::exact(value + 0.2 * v as f64, 0.011 * value.sqrt());
            results.push(result(
                card,
                variant.id,
                outcome,
                &file,
                (&run_id, &conditions),
            ));
        }
        if card.variants.is_empty() {
            let outcome = Outcome::exact(value, 0.011 * value.sqrt());
            results.push(result(card, "", outcome, &file, (&run_id, &conditions)));
        }
    }
    RunRecord {
        id: run_id,
        test: Test::Mixing,
        file,
        profile: ProfileStamp {
            id: "island-comma-point".to_owned(),
            sha256: Digest::of(b"profile"),
        },
        selector: String::new(),
        rows: RowRange {
            first: 12,
            last: 2411,
        },
        metadata,
        conditions,
        in_run_sheet: true,
        unit: Unit::Fu,
        facts: SignalFacts {
            points: 2400,
            ..SignalFacts::default()
        },
        lines: LineMap::default(),
        results,
        excluded: None,
    }
}

fn result(
    card: &MetricCard,
    variant: &'static str,
    outcome: Outcome,
    file: &RawFile,
    (run_id, conditions): (&RunId, &Arc<Conditions>),
) -> MetricResult {
    let key = format!("{} {} {variant}", file.name, card.id);
    MetricResult {
        id: ResultId::from_digest(&Digest::of(key.as_bytes())),
        file: file.name.clone(),
        raw_sha256: file.sha256.clone(),
        run_id: run_id.clone(),
        test: Test::Mixing,
        metric: *card,
        unit: card.unit,
        variant,
        conditions: Arc::clone(conditions),
        outcome,
        rows: Some(RowRange {
            first: 61,
            last: 1903,
        }),
        parameters: "smoothing_s=15".to_owned(),
        from: Vec::new(),
    }
}

pub fn set(run: &mut RunRecord, metric: &str, outcome: Outcome) {
    let found = run.results.iter_mut().find(|r| r.metric.id == metric);
    found.unwrap().outcome = outcome;
}

/// Gives `run` further metrics, `extra` in number, for a table wider than any page.
pub fn widen(run: &mut RunRecord, extra: usize) {
    let names = [
        "extra.a", "extra.b", "extra.c", "extra.d", "extra.e", "extra.f", "extra.g", "extra.h",
        "extra.i", "extra.j",
    ];
    for (position, id) in names.into_iter().take(extra).enumerate() {
        let mut copy = run.results[position % MIXING.len()].clone();
        copy.metric.id = id;
        copy.metric.variants = &[];
        copy.variant = "";
        run.results.push(copy);
    }
}
