//! Every built-in layout: one profile fits, and it reads what stands in the file.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

mod sample_files;

use doughtrace::intake::{self, Records};
use doughtrace::profile::BUILTIN_TEXTS;
use doughtrace::record::{Fault, Grade, Observation, RawFile, TearEdge};
use doughtrace::schema::{Axis, Channel, Digest, Field, Test, Unit};
use sample_files::{builtin, folder, named, read, runs, runs_of, sample, samples};

const X: [f64; 7] = [0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0];
const Y: [f64; 7] = [12.5, 210.25, 388.0, 471.5, 498.75, 503.0, 1203.5];

#[test]
fn every_profile_text_is_listed_and_named_after_its_id() {
    let mut files: Vec<String> = std::fs::read_dir(folder("schemas/profiles"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    files.sort();
    let mut listed: Vec<String> = BUILTIN_TEXTS.iter().map(|(n, _)| n.to_string()).collect();
    listed.sort();
    assert_eq!(files, listed);
    for (profile, (name, text)) in builtin().iter().zip(BUILTIN_TEXTS) {
        assert_eq!(profile.id, *name);
        assert_eq!(profile.digest, Digest::of(text.as_bytes()));
    }
}

#[test]
fn every_profile_has_a_sample_that_it_alone_fits() {
    let profiles = builtin();
    let samples = samples();
    assert_eq!(samples.len(), profiles.len());
    for (id, name, bytes) in &samples {
        let fitting: Vec<&str> = profiles
            .iter()
            .filter(|p| intake::explain_fit(p, bytes).fits())
            .map(|p| p.id.as_str())
            .collect();
        assert_eq!(fitting, [id.as_str()], "{name}");
        assert_eq!(&intake::select(&profiles, name, bytes).unwrap().id, id);
    }
}

#[test]
fn a_block_states_facts_with_their_lines_and_keeps_unknown_keys_as_notes() {
    let (name, bytes) = sample("mixing-block");
    let intake = read(&named("mixing-block"), &name, &bytes).unwrap();
    let notes: Vec<String> = intake.notes.iter().map(Fault::to_string).collect();
    assert_eq!(
        notes,
        [
            "mixing-block.csv, line 22, column `weather`: found key `weather` with value `fog over \
          the harbour`; expected a key that profile `mixing-block` knows; nothing to do, unless \
          the fact matters: then write a profile that has the key"
        ]
    );
    let run = runs(intake).remove(0);
    assert_eq!(run.id.as_str(), "M-01");
    assert_eq!(run.selector, "");
    assert_eq!(run.curves[0].x(), X);
    assert_eq!(run.curves[0].y(), Y);
    assert_eq!((run.rows.first, run.rows.last), (25, 31));
    assert!(run.lines.is_empty());
    assert_eq!(run.missing_cells, 0);
    assert_eq!(run.metadata.number(Field::WaterMl), Some(183.4));
    let at = run.metadata.statement(Field::WaterMl).unwrap();
    assert_eq!(at.origin.to_string(), "line 13 of the file");
    let conditions = run.conditions();
    assert_eq!(conditions.markers_s, [12.5, 240.0]);
    assert_eq!(conditions.full_scale, Some(1000.0));
    assert_eq!(conditions.bowl.map(|b| b.word()), Some("300"));
    assert_eq!(conditions.purpose.map(|p| p.word()), Some("final"));
}

#[test]
fn side_by_side_curves_end_where_their_column_ends_and_count_what_is_missing() {
    let runs = runs_of("mixing-side-by-side");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(ids, ["M-01", "M-02", "M-03"]);
    assert_eq!(runs[0].curves[0].x(), X);
    assert_eq!(runs[0].curves[0].y(), Y);
    assert_eq!(runs[0].curves[0].unit(), Unit::Fu);
    assert_eq!(runs[1].curves[0].points(), 5);
    assert_eq!((runs[1].rows.first, runs[1].rows.last), (5, 9));
    assert_eq!((runs[1].missing_cells, runs[1].lines.len()), (0, 0));
    assert_eq!(runs[2].curves[0].x(), [0.0, 30.0, 45.0, 60.0, 75.0]);
    assert_eq!(runs[2].curves[0].y(), [11.0, 205.5, 391.0, 468.0, 488.0]);
    assert_eq!(runs[2].lines, [5, 7, 8, 9, 10]);
    assert_eq!(runs[2].missing_cells, 1);
    assert_eq!(runs[2].selector, "M-03");
    assert_eq!(runs[2].metadata.number(Field::BowlG), Some(300.0));
    let stated = runs[2].metadata.statement(Field::RunId).unwrap();
    assert_eq!(stated.origin.to_string(), "line 4 of the file");
}

#[test]
fn plain_columns_take_their_name_from_the_file() {
    let run = runs_of("plain-two-columns").remove(0);
    assert_eq!(run.id.as_str(), "plain-two-columns");
    assert_eq!(run.curves[0].x(), X);
    assert_eq!(run.curves[0].y(), Y);
    assert_eq!((run.rows.first, run.rows.last), (2, 8));
    assert_eq!(run.metadata.iter().count(), 0);
}

#[test]
fn curves_of_unknown_unit_are_named_after_file_and_column() {
    let runs = runs_of("wide-unit-unknown");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(
        ids,
        ["wide-unit-unknown:flour one", "wide-unit-unknown:flour two"]
    );
    assert_eq!(runs[1].selector, "flour two");
    let curve = runs[1].curve(Channel::Signal).unwrap();
    assert_eq!(curve.unit(), Unit::ArbitraryUnit);
    assert_eq!(curve.y(), [226.5, 276.0, 338.0, 394.0]);
    assert_ne!(runs[0].curve_digest(), runs[1].curve_digest());
}

#[test]
fn a_run_sheet_links_files_to_doughs() {
    let (name, bytes) = sample("run-sheet");
    let intake = read(&named("run-sheet"), &name, &bytes).unwrap();
    assert!(intake.notes.is_empty());
    let Records::Sheet(sheet) = intake.records else {
        panic!("no sheet")
    };
    assert_eq!(sheet.lines.len(), 2);
    let first = &sheet.lines[0];
    assert_eq!((first.line, first.file.as_str()), (2, "M-01.csv"));
    assert_eq!(
        first.metadata.text(Field::Note).as_deref(),
        Some("rest of the bag, \"last\" dough")
    );
    assert_eq!(first.metadata.number(Field::WaterMl), Some(183.4));
    let second = &sheet.lines[1];
    assert_eq!((second.line, second.curve.as_str()), (3, "M-02"));
    assert_eq!(
        second.metadata.text(Field::Purpose).as_deref(),
        Some("titration")
    );
    let origin = &second.metadata.statement(Field::WaterMl).unwrap().origin;
    assert_eq!(origin.to_string(), "run-sheet.csv, line 3");
}

#[test]
fn a_latin_1_file_with_decimal_comma_gives_a_temperature_with_a_hole_of_its_own() {
    let run = runs_of("mixing-semicolon").remove(0);
    assert_eq!(run.id.as_str(), "M-01");
    assert_eq!(run.metadata.number(Field::ThermostatC), Some(30.1));
    assert_eq!(run.metadata.number(Field::HydrationPct), Some(61.1));
    assert_eq!(run.curves[0].y(), Y);
    assert_eq!(run.missing_cells, 1);
    assert!(run.lines.is_empty());
    let temperature = run.curve(Channel::Temperature).unwrap();
    assert_eq!(temperature.unit(), Unit::Celsius);
    assert_eq!(temperature.x(), [0.0, 15.0, 30.0, 60.0, 75.0, 90.0]);
    assert_eq!(temperature.y(), [24.0, 24.25, 24.5, 25.0, 25.25, 25.5]);
}

#[test]
fn three_supplied_traces_are_three_channels_over_one_abscissa() {
    let run = runs_of("mixing-three-traces").remove(0);
    assert_eq!(run.metadata.number(Field::FlourG), Some(294.9));
    for (channel, shift) in [
        (Channel::Upper, 8.5),
        (Channel::Middle, 0.0),
        (Channel::Lower, -8.5),
    ] {
        let curve = run.curve(channel).unwrap();
        assert_eq!(curve.x(), X);
        assert_eq!(curve.y(), Y.map(|y| y + shift));
    }
    assert!(run.curve(Channel::Signal).is_none());
}

#[test]
fn stacked_curves_have_each_their_own_facts_and_lines() {
    let runs = runs_of("mixing-stacked");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(ids, ["M-01", "M-02"]);
    assert_eq!(runs[0].curves[0].y(), Y);
    assert_eq!((runs[0].rows.first, runs[0].rows.last), (15, 21));
    assert_eq!((runs[1].rows.first, runs[1].rows.last), (35, 39));
    assert_eq!(runs[1].selector, "M-02");
    assert_eq!(runs[1].curves[0].points(), 5);
    assert_eq!(
        runs[0].metadata.text(Field::Purpose).as_deref(),
        Some("final")
    );
    assert_eq!(runs[1].metadata.text(Field::Purpose), None);
}

#[test]
fn extension_curves_say_which_length_they_run_over() {
    for (id, axis) in [
        ("extension-block", Axis::ChartMm),
        ("extension-hook", Axis::HookTravelMm),
    ] {
        let run = runs_of(id).remove(0);
        assert_eq!(run.id.as_str(), "E-01");
        let curve = run.curve(Channel::Signal).unwrap();
        assert_eq!((curve.axis(), curve.unit()), (axis, Unit::Eu));
        assert_eq!(
            curve.x(),
            [0.0, 2.5, 5.0, 10.0, 20.0, 40.0, 60.0, 80.0, 82.0]
        );
        assert_eq!(
            curve.y(),
            [0.0, 41.5, 80.0, 140.25, 230.0, 310.0, 335.5, 290.0, 0.0]
        );
        assert_eq!(run.metadata.number(Field::EuPerCm), Some(50.0));
        assert_eq!(run.metadata.number(Field::RestMin), Some(45.0));
        assert_eq!(run.metadata.text(Field::Break).as_deref(), Some("middle"));
        assert_eq!(run.metadata.text(Field::BatchId).as_deref(), Some("D-01"));
    }
    let run = runs_of("extension-hook").remove(0);
    let note = run.metadata.text(Field::Note);
    assert_eq!(note.as_deref(), Some("piece was short, slightly"));
}

#[test]
fn pin_mixer_curves_are_the_same_curve_in_both_layouts() {
    for id in ["pin-mixing-preamble", "pin-mixing-stacked"] {
        let run = runs_of(id).remove(0);
        assert_eq!((run.id.as_str(), run.test), ("PM-01", Test::PinMixing));
        let curve = run.curve(Channel::Signal).unwrap();
        assert_eq!((curve.axis(), curve.unit()), (Axis::Time, Unit::Percent));
        assert_eq!(curve.x(), [0.0, 0.1, 0.2, 0.3, 0.4], "{id}");
        assert_eq!(curve.y(), [2.5, 8.1, 14.25, 21.0, 30.5], "{id}");
        let text = |field| run.metadata.text(field);
        assert_eq!(text(Field::SpringSetting).as_deref(), Some("8"), "{id}");
        assert_eq!(text(Field::ProteinBasis).as_deref(), Some("14 %"), "{id}");
        let torque = run.metadata.number(Field::TorquePerPercentNm);
        assert_eq!(torque, Some(0.008), "{id}");
        assert_eq!(run.metadata.number(Field::BowlG), Some(10.0), "{id}");
        assert_eq!(run.metadata.number(Field::DoughG), Some(15.93), "{id}");
    }
    let recorded = runs_of("pin-mixing-preamble").remove(0);
    let speed = recorded.curve(Channel::Speed).unwrap();
    assert_eq!(speed.unit(), Unit::PerMinute);
    assert_eq!(speed.y(), [0.0, 88.2, 88.1, 88.0, 87.9]);
    let stacked = runs_of("pin-mixing-stacked");
    assert_eq!(stacked.len(), 2);
    assert_eq!(stacked[0].metadata.number(Field::SpeedPerMin), Some(88.0));
    assert_eq!(stacked[1].curves[0].y(), [3.0, 9.5]);
    assert_eq!(stacked[1].metadata.number(Field::SpeedPerMin), None);
}

#[test]
fn heating_curves_keep_dough_and_block_temperature_apart() {
    for id in ["heating-units-row", "heating-clock"] {
        let run = runs_of(id).remove(0);
        assert_eq!((run.id.as_str(), run.test), ("HT-01", Test::Heating));
        let torque = run.curve(Channel::Signal).unwrap();
        assert_eq!(torque.unit(), Unit::NewtonMetre);
        assert_eq!(torque.x(), [0.0, 30.0, 60.0, 90.0, 120.0], "{id}");
        assert_eq!(torque.y(), [0.012, 0.65, 1.025, 1.1, 1.105], "{id}");
        let dough = run.curve(Channel::Temperature).unwrap();
        assert_eq!(dough.x(), [0.0, 30.0, 60.0, 120.0], "{id}");
        assert_eq!(dough.y(), [28.4, 28.9, 29.25, 29.9], "{id}");
        assert_eq!(run.missing_cells, 1, "{id}");
        let hydration = run.metadata.number(Field::HydrationPct);
        assert_eq!(hydration, Some(58.0), "{id}");
        assert_eq!(run.metadata.number(Field::WaterMl), Some(28.34), "{id}");
        let basis = run.metadata.text(Field::HydrationBasis);
        assert_eq!(basis.as_deref(), Some("14 %"), "{id}");
    }
    let both = runs_of("heating-units-row").remove(0);
    let block = both.curve(Channel::BlockTemperature).unwrap();
    assert_eq!(block.y(), [30.1, 30.0, 30.05, 30.0, 29.95]);
    let one = runs_of("heating-clock").remove(0);
    assert!(one.curve(Channel::BlockTemperature).is_none());
}

#[test]
fn a_strip_states_its_size_and_counts_from_touch() {
    let run = runs_of("strip-hook").remove(0);
    assert_eq!((run.id.as_str(), run.test.word()), ("ST-01", "strip"));
    let curve = run.curve(Channel::Signal).unwrap();
    assert_eq!(
        (curve.axis(), curve.unit()),
        (Axis::HookTravelMm, Unit::Newton)
    );
    assert_eq!(curve.x(), [-1.0, 0.0, 5.0, 10.0, 20.0, 30.0, 32.5]);
    assert_eq!(
        curve.y(),
        [0.004, 0.0042, 0.0415, 0.08, 0.14025, 0.23, 0.0041]
    );
    assert_eq!(run.metadata.number(Field::HalfGapMm), Some(9.0));
    assert_eq!(run.metadata.number(Field::SagMm), Some(1.5));
    assert_eq!(run.metadata.number(Field::StripAreaMm2), Some(12.25));
    assert_eq!(run.metadata.number(Field::HookSpeedMmS), Some(3.3));
    assert_eq!(run.metadata.text(Field::LeaveOut), None);
}

#[test]
fn stacked_strips_share_what_stands_above_the_first() {
    let runs = runs_of("strip-stacked");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(ids, ["ST-01", "ST-02"]);
    for run in &runs {
        assert_eq!(run.metadata.number(Field::HalfGapMm), Some(9.0));
        assert_eq!(run.metadata.text(Field::BatchId).as_deref(), Some("D-01"));
        assert_eq!(run.metadata.number(Field::ThermostatC), Some(25.1));
        assert_eq!(run.curves[0].axis(), Axis::Time);
        assert_eq!(run.curves[0].unit(), Unit::Newton);
    }
    assert_eq!(runs[0].curves[0].x(), [-0.5, 0.0, 1.5, 3.0, 6.0, 9.0, 9.75]);
    // 23.50 gf are 0.23046 N (1 gf = 9.80665 mN by definition).
    assert!((runs[0].curves[0].y()[5] - 0.230_456_275).abs() < 1e-12);
    assert_eq!((runs[0].rows.first, runs[0].rows.last), (17, 23));
    assert_eq!(
        runs[1].metadata.text(Field::Break).as_deref(),
        Some("slipped")
    );
    assert_eq!(runs[1].metadata.number(Field::StripAreaMm2), Some(11.75));
    assert_eq!(
        runs[1].metadata.text(Field::LeaveOut).as_deref(),
        Some("slipped at once")
    );
}

#[test]
fn the_discs_of_a_dough_stand_side_by_side_over_the_chart() {
    let runs = runs_of("inflation-discs");
    let ids: Vec<&str> = runs.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(ids, ["BU-01", "BU-02", "BU-03"]);
    let first = runs[0].curve(Channel::Signal).unwrap();
    assert_eq!(
        (first.axis(), first.unit()),
        (Axis::ChartMm, Unit::Millimetre)
    );
    assert_eq!(first.x(), [0.0, 7.5, 15.0, 40.0, 60.0, 100.0, 101.0]);
    assert_eq!(first.y(), [0.0, 35.5, 70.0, 55.25, 43.5, 20.0, 0.0]);
    assert_eq!((runs[1].curves[0].points(), runs[1].missing_cells), (5, 0));
    assert_eq!((runs[2].curves[0].points(), runs[2].missing_cells), (5, 1));
    for run in &runs {
        assert_eq!(run.test.word(), "inflation");
        assert_eq!(run.conditions().water_ml, Some(134.7));
        assert_eq!(run.metadata.number(Field::DiscThicknessMm), Some(2.67));
        assert_eq!(run.metadata.number(Field::MixTimeMin), Some(8.0));
    }
}

#[test]
fn a_bubble_over_time_states_its_air() {
    let run = runs_of("inflation-pressure").remove(0);
    let curve = run.curve(Channel::Signal).unwrap();
    assert_eq!((curve.axis(), curve.unit()), (Axis::Time, Unit::Kilopascal));
    assert_eq!(curve.x(), [0.0, 1.5, 3.0, 7.5, 11.0, 18.25, 18.5]);
    assert!((curve.y()[3] - 0.596_25).abs() < 1e-12);
    assert_eq!(run.metadata.number(Field::AirFlowLH), Some(96.0));
    assert_eq!(run.metadata.number(Field::DeadVolumeMl), Some(30.0));
    assert_eq!(run.metadata.number(Field::FlourMoisturePct), Some(12.8));
    assert_eq!(
        run.metadata.text(Field::LeaveOut).as_deref(),
        Some("burst at the rim")
    );
}

#[test]
fn a_run_sheet_in_other_words_reads_the_same_facts() {
    let (name, bytes) = sample("run-sheet-semicolon");
    let intake = read(&named("run-sheet-semicolon"), &name, &bytes).unwrap();
    assert!(intake.notes.is_empty());
    let Records::Sheet(sheet) = intake.records else {
        panic!("no sheet")
    };
    let first = &sheet.lines[0].metadata;
    assert_eq!(first.number(Field::FlourG), Some(294.9));
    assert_eq!(
        first.text(Field::Note).as_deref(),
        Some("two lines\nof a note")
    );
    // The note of the first line spans two lines of the file.
    assert_eq!(sheet.lines[1].line, 4);
    assert_eq!(sheet.lines[1].metadata.number(Field::FlourG), None);
    assert_eq!(
        sheet.lines[1].metadata.text(Field::BatchId).as_deref(),
        Some("D-02")
    );
}

fn observations_of(id: &str) -> Vec<Observation> {
    let (name, bytes) = sample(id);
    match read(&named(id), &name, &bytes).unwrap().records {
        Records::Observations(list) => list,
        other => panic!("no observations but {other:?}"),
    }
}

#[test]
fn observation_sheets_keep_grade_and_overmixed_apart() {
    for (id, first_line) in [("window-sheet", 2), ("window-sheet-tab", 3)] {
        let list = observations_of(id);
        let grades: Vec<_> = list.iter().map(|o| (o.grade, o.overmixed)).collect();
        assert_eq!(
            grades,
            [
                (Some(Grade::MostlyEven), false),
                (Some(Grade::FullWindow), false),
                (None, true),
                (Some(Grade::Patchy), true),
            ]
        );
        assert_eq!(list[0].rows.first, first_line);
        assert_eq!(list[0].mix_time_min, Some(8.5));
        assert_eq!(list[0].rest_min, Some(10.0));
        assert_eq!(list[0].px_per_mm, Some(12.25));
        assert_eq!(list[0].edge, Some(TearEdge::Clean));
        assert_eq!(list[0].order, Some(1));
        assert_eq!(list[1].photo, None);
        assert_eq!(list[2].batch_id.as_str(), "D-02");
        assert_eq!(list[2].note.as_deref(), Some("flows off the hand"));
    }
}

const SAME_RUN: [&str; 8] = [
    "mixing-block",
    "mixing-side-by-side",
    "plain-two-columns",
    "mixing-semicolon",
    "mixing-clock",
    "mixing-three-traces",
    "mixing-stacked",
    "mixing-thousands",
];

#[test]
fn the_same_run_in_every_mixing_layout_is_the_same_curve() {
    for id in SAME_RUN {
        let run = runs_of(id).remove(0);
        let curve = run
            .curve(Channel::Signal)
            .or_else(|| run.curve(Channel::Middle))
            .unwrap();
        assert_eq!(curve.x(), X, "{id}");
        assert_eq!(curve.y(), Y, "{id}");
        assert_eq!((curve.axis(), curve.unit()), (Axis::Time, Unit::Fu), "{id}");
    }
}

/// What a file reads to, under one digest, so that only the content tells.
fn content(id: &str, name: &str, bytes: &[u8]) -> String {
    let file = RawFile {
        name: name.to_owned(),
        sha256: Digest::of(b""),
        bytes: 0,
    };
    let intake = intake::read(file, bytes, &named(id)).unwrap();
    format!("{:?} {:?}", intake.records, intake.notes)
}

#[test]
fn line_ends_byte_order_mark_and_last_line_end_do_not_matter() {
    for (id, name, bytes) in samples() {
        if id == "mixing-thousands" {
            continue;
        }
        let plain = content(&id, &name, &bytes);
        // A line end inside a quoted note belongs to the note.
        if id != "run-sheet-semicolon" {
            let crlf: Vec<u8> = bytes
                .iter()
                .flat_map(|b| {
                    if *b == b'\n' {
                        vec![b'\r', b'\n']
                    } else {
                        vec![*b]
                    }
                })
                .collect();
            assert_eq!(content(&id, &name, &crlf), plain, "{id} with CRLF");
        }
        let unended = bytes.strip_suffix(b"\n").unwrap();
        assert_eq!(
            content(&id, &name, unended),
            plain,
            "{id} without last line end"
        );
        if !["mixing-semicolon", "heating-clock"].contains(&id.as_str()) {
            let mark = b"\xef\xbb\xbf";
            let other = match bytes.strip_prefix(mark) {
                Some(bare) => bare.to_vec(),
                None => [&mark[..], &bytes].concat(),
            };
            assert_eq!(
                content(&id, &name, &other),
                plain,
                "{id} with or without mark"
            );
        }
    }
}

#[test]
fn utf_16_reads_alike_in_both_byte_orders() {
    let (name, bytes) = sample("mixing-thousands");
    let swapped: Vec<u8> = bytes
        .chunks(2)
        .flat_map(|pair| [pair[1], pair[0]])
        .collect();
    let (a, b) = (
        content("mixing-thousands", &name, &bytes),
        content("mixing-thousands", &name, &swapped),
    );
    assert_eq!(a, b);
}

#[test]
fn a_quoted_cell_is_the_same_cell() {
    let plain = runs_of("plain-two-columns").remove(0);
    let (name, bytes) = sample("plain-two-columns");
    let text = String::from_utf8(bytes).unwrap();
    let quoted: String = text
        .lines()
        .map(|line| {
            let cells: Vec<String> = line.split(',').map(|c| format!("\"{c}\"")).collect();
            format!("{}\n", cells.join(","))
        })
        .collect();
    let profiles = builtin();
    let chosen = intake::select(&profiles, &name, quoted.as_bytes()).unwrap();
    assert_eq!(chosen.id, "plain-two-columns");
    let run = runs(read(chosen, &name, quoted.as_bytes()).unwrap()).remove(0);
    assert_eq!(run.curves, plain.curves);
    assert_eq!(run.rows, plain.rows);
}

#[test]
fn empty_lines_and_missing_cells_are_passed_over_with_the_lines_kept() {
    let text = "time_s,consistency_fu\n0,12.5\n\n1,\n2,14\n";
    let run = runs(read(&named("plain-two-columns"), "a.csv", text.as_bytes()).unwrap()).remove(0);
    assert_eq!(run.curves[0].x(), [0.0, 2.0]);
    assert_eq!(run.lines, [2, 5]);
    assert_eq!((run.line_of(0), run.line_of(1)), (2, 5));
    assert_eq!(run.missing_cells, 1);
}

/// Files of the sample runs that are unreadable on purpose.
const UNREADABLE: [&str; 3] = ["SM-217.csv", "SM-218.csv", "SM-331.csv"];

#[test]
fn every_sample_run_is_read_without_a_note_by_the_one_profile_that_fits() {
    let profiles = builtin();
    let mut refused = Vec::new();
    let mut read_count = 0;
    for day in ["clean-day", "awkward-day", "full-day"] {
        let folder = folder("sample-runs").join(day);
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            let bytes = std::fs::read(&path).unwrap();
            let outcome =
                intake::select(&profiles, &name, &bytes).and_then(|p| read(p, &name, &bytes));
            match outcome {
                Ok(intake) => {
                    let fits = profiles
                        .iter()
                        .filter(|p| intake::explain_fit(p, &bytes).fits());
                    assert_eq!(fits.count(), 1, "{name}");
                    assert!(intake.notes.is_empty(), "{:?}", intake.notes);
                    read_count += 1;
                }
                Err(_) => refused.push(name),
            }
        }
    }
    refused.sort();
    assert_eq!(refused, UNREADABLE);
    assert!(read_count > 90, "{read_count} files");
}
