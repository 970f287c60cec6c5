//! What is refused, in the words that people read; and that no damage ever stops the program.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

mod sample_files;

use doughtrace::intake::{self, Intake, Records};
use doughtrace::profile::Profile;
use doughtrace::record::Fault;
use sample_files::{builtin, named, read, samples};

/// Profile, content, and the whole message.
type Case = (&'static str, &'static [u8], &'static str);

const REFUSED: &[Case] = &[
    (
        "plain-two-columns",
        b"",
        "day/a.csv: found an empty file; expected a header and data; copy the file from the instrument again",
    ),
    (
        "plain-two-columns",
        b" \n\n",
        "day/a.csv, line 1: found an empty file; expected a header and data; copy the file from the instrument again",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n",
        "day/a.csv, line 1: found a header without data below it; expected at least one line of data; the record is empty: copy the file from the instrument again, or repeat the run",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n0,12.5\n1,12,5\n",
        "day/a.csv, line 3: found 3 cells in `1,12,5`; expected 2 cells as in the header on line 1; compare the line with the header; a decimal comma in a file with commas between cells cuts a number in two",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n0,12.5\n1,\"12,5\"\n",
        "day/a.csv, line 3, column `consistency_fu`: found `12,5`; expected a number with decimal point; if this file uses a decimal comma, write a profile with decimal = \"comma\"; if it groups thousands, with thousands = \"comma\"",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n0,12.5\n1\n",
        "day/a.csv, line 3: found 1 cell in `1`; expected 2 cells as in the header on line 1; compare the line with the header; if it is cut off, copy the file from the instrument again",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n0,nan\n",
        "day/a.csv, line 2, column `consistency_fu`: found `nan`; expected a number with decimal point; if the cell stands for no value, write a profile with it among missing; else copy the file from the instrument again",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n00:01,5\n",
        "day/a.csv, line 2, column `time_s`: found `00:01`; expected a number with decimal point; if the file writes clock times, write a profile with format = \"mm:ss\" or \"hh:mm:ss\"",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n0,1\xb02\n",
        "day/a.csv, line 2: found byte 0xb0, which is no UTF-8; expected UTF-8 text; if the file is in Latin-1, write a profile with encoding = \"latin-1\"; else copy it from the instrument again",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_fu\n0,1\x002\n",
        "day/a.csv, line 2: found a NUL byte; expected text; if the file is in UTF-16, save it with a byte order mark and write a profile with encoding = \"utf-16\"; else it is damaged: copy it from the instrument again",
    ),
    (
        "plain-two-columns",
        b"time_s,consistency_eu\n0,12\n",
        "day/a.csv, line 1: found `time_s,consistency_eu`; expected the header `time_s,consistency_fu`; if the file is cut off, copy it again; another header needs a profile of its own",
    ),
    (
        "mixing-block",
        b"mixing curve, one run\nbowl g: 300\nthermostat C: 30,1\n\ntime_s,consistency_fu\n0,1\n",
        "day/a.csv, line 3, column `thermostat C`: found `30,1`; expected a number with decimal point, in °C; if this file uses a decimal comma, write a profile with decimal = \"comma\"; if it groups thousands, with thousands = \"comma\"",
    ),
    (
        "mixing-block",
        b"mixing curve, one run\npurpose: finale\ntime_s,consistency_fu\n0,1\n",
        "day/a.csv, line 2, column `purpose`: found `finale`; expected one of titration, final, study; correct the word, or write a profile whose words translate it",
    ),
    (
        "mixing-block",
        b"mixing curve, one run\nbowl g: 300\n",
        "day/a.csv, line 2: found no header from line 2 on; expected the header `time_s,consistency_fu`; if the file is cut off, copy it again; another header needs a profile of its own",
    ),
    (
        "mixing-semicolon",
        b"Mixing record\nt (min);M (FU);T (\xb0C)\n0,5;1.234;25\n",
        "day/a.csv, line 3, column `M (FU)`: found `1.234`; expected a number with decimal comma; if this file uses a decimal point, write a profile with decimal = \"point\"; if it groups thousands, with thousands = \"point\"",
    ),
    (
        "mixing-clock",
        b"nr\tclock\ttorque\n-\thh:mm:ss.f\tFU\n1\t00:61:00.0\t5\n",
        "day/a.csv, line 3, column `clock`: found `00:61:00.0`; expected a time as hh:mm:ss, the seconds with decimal point or without; if the time is written otherwise, write a profile with that format",
    ),
    (
        "mixing-clock",
        b"nr\tclock\ttorque\n-\thh:mm:ss.f\tN m\n1\t00:01:00.0\t5\n",
        "day/a.csv, line 2: found `-→hh:mm:ss.f→N m`; expected the units row `-→hh:mm:ss.f→FU`; other units need a profile of their own",
    ),
    (
        "mixing-stacked",
        b"stacked curves\ncurve;A\nseconds;fu\n0;1\nend;1\n1;2\n",
        "day/a.csv, line 6: found `1;2`; expected nothing more behind the summary on line 5; two records may have been joined: copy the file from the instrument again",
    ),
    (
        "mixing-stacked",
        b"stacked curves\ncurve;A\nseconds;fu\n0;1\nend;1\ncurve;A\nseconds;fu\n0;1\nend;1\n",
        "day/a.csv, line 6, column `curve`: found a second curve called `A`; expected a different name for every curve of the file; find out which of the two is meant and have the record written again",
    ),
    (
        "mixing-side-by-side",
        b"curves side by side\nclock_s,A [FU],A [FU]\n0,1,2\n",
        "day/a.csv, line 2, column `A`: found a second column called `A`; expected a different name for every curve of the file; find out which of the two is meant and have the record written again",
    ),
    (
        "mixing-side-by-side",
        b"curves side by side\nclock_s,A [FU],B [FU]\n0,1,x\n",
        "day/a.csv, line 3, column `B`: found `x`; expected a number with decimal point; if the cell stands for no value, write a profile with it among missing; else copy the file from the instrument again",
    ),
    (
        "mixing-thousands",
        b"Long record\n",
        "day/a.csv: found no UTF-16 byte order mark; expected UTF-16 text that starts with one; if the file is in UTF-8, write a profile with encoding = \"utf-8\"",
    ),
    (
        "mixing-thousands",
        b"\xff\xfeL\0o",
        "day/a.csv: found bytes that are no UTF-16, or half a character at the end; expected whole UTF-16 characters; the file is damaged or cut off: copy it from the instrument again",
    ),
    (
        "run-sheet",
        b"file,water\nM-01.csv,12\n",
        "day/a.csv, line 1, column `water`: found `water`; expected the name of a field; the nearest is `water_ml`; rename the column, or remove it",
    ),
];

fn message(id: &str, bytes: &[u8]) -> String {
    match read(&named(id), "day/a.csv", bytes) {
        Ok(intake) => format!("read: {intake:?}"),
        Err(fault) => fault.to_string(),
    }
}

#[test]
fn every_refusal_says_where_what_and_what_to_do() {
    for (id, bytes, words) in REFUSED {
        assert_eq!(&message(id, bytes), words, "{id}");
    }
}

/// Returns the notes of a file that is read all the same.
fn notes(id: &str, bytes: &[u8]) -> (Intake, Vec<String>) {
    let intake = read(&named(id), "day/a.csv", bytes).unwrap();
    let words = intake.notes.iter().map(Fault::to_string).collect();
    (intake, words)
}

#[test]
fn a_bad_cell_of_a_run_sheet_costs_that_fact_and_a_bad_line_costs_that_line() {
    let sheet =
        b"file,water_ml,purpose\nA.csv,18O,final\nB.csv,180\n,170,final\n,,\nC.csv,160,trial\n";
    let (intake, words) = notes("run-sheet", sheet);
    assert_eq!(
        words,
        [
            "day/a.csv, line 2, column `water_ml`: found `18O`; expected a number with decimal \
             point, in ml; if the cell stands for no value, write a profile with it among \
             missing; else copy the file from the instrument again",
            "day/a.csv, line 3: found 2 cells in `B.csv,180`; expected 3 cells as in the header \
             on line 1; compare the line with the header; if it is cut off, copy the file from \
             the instrument again",
            "day/a.csv, line 4, column `file`: found no file name; expected the name of the raw \
             file that the line speaks of; write the file name; the line was left out",
            "day/a.csv, line 6, column `purpose`: found `trial`; expected one of titration, \
             final, study; correct the word, or write a profile whose words translate it",
        ]
    );
    let Records::Sheet(sheet) = intake.records else {
        panic!("no sheet")
    };
    let kept: Vec<_> = sheet
        .lines
        .iter()
        .map(|l| (l.line, l.file.as_str(), l.metadata.iter().count()))
        .collect();
    assert_eq!(kept, [(2, "A.csv", 1), (6, "C.csv", 1)]);
}

#[test]
fn a_bad_line_of_an_observation_sheet_costs_that_line_only() {
    let header = "batch,treatment,block,piece,mix_min,rest_min,grade,overmixed,edge,grader,\
                  blind_code,order,codebook,photo,px_per_mm,note";
    let text = format!(
        "{header}\nD1,,,,,,5,,,,,,,,,\nD1,,,,,,,no,,,,,,,,\n,,,,,,3,,,,,,,,,\n\
         D1,,,,8m,,3,,,,,,,,,\nD1,,,,8,,3,maybe,,,,,,,,\nD1,,,,8,,3,,torn,,,,,,,\n\
         D1,,,,8,,3,,,,,1.5,,,,\nD1,,,,8,,3,,,,,,,,,\n"
    );
    let (intake, words) = notes("window-sheet", text.as_bytes());
    let columns: Vec<&str> = words.iter().map(|w| w.split('`').nth(1).unwrap()).collect();
    assert_eq!(
        columns,
        [
            "grade",
            "grade",
            "batch",
            "mix_min",
            "overmixed",
            "edge",
            "order"
        ]
    );
    assert_eq!(
        words[0],
        "day/a.csv, line 2, column `grade`: found `5`; expected a grade 0 to 4, or X for \
         overmixed; correct the cell, or write a profile whose words translate it; the line was \
         left out"
    );
    let Records::Observations(list) = intake.records else {
        panic!("no observations")
    };
    assert_eq!(list.len(), 1);
    assert_eq!(list[0].rows.first, 9);
}

#[test]
fn curves_that_lack_a_closing_line_or_any_value_are_told() {
    let (_, words) = notes(
        "mixing-stacked",
        b"stacked curves\ncurve;A\nseconds;fu\n0;1\ncurve;B\nseconds;fu\n0;1\nend;1\n",
    );
    assert_eq!(
        words,
        [
            "day/a.csv, line 3: found a curve without its closing line; expected a line that starts \
          with `end` below the data; the record may be cut off: compare it with the instrument"
        ]
    );
    let (intake, words) = notes(
        "wide-unit-unknown",
        b"time_s,one,two,three\n0,1,,2\n1,3,,4\n",
    );
    assert_eq!(
        words,
        [
            "day/a.csv, line 1, column `two`: found a column without any value; expected a curve \
          below every name of the header; nothing to do if the place was not used; else copy the \
          file from the instrument again"
        ]
    );
    let Records::Curves(runs) = intake.records else {
        panic!("no curves")
    };
    assert_eq!(runs.len(), 2);
}

#[test]
fn a_file_of_no_known_layout_is_told_what_was_looked_for() {
    let profiles = builtin();
    let said = |bytes: &[u8]| {
        intake::select(&profiles, "a.csv", bytes)
            .map(|p| p.id.clone())
            .unwrap_err()
            .to_string()
    };
    let known: Vec<&str> = profiles.iter().map(|p| p.id.as_str()).collect();
    assert_eq!(
        said(b"sec;torque\n1;2\n"),
        format!(
            "a.csv, line 1: found `sec;torque`; expected the first line or header of a known \
             layout ({}); see `profile check` for every profile; a layout of your own is read by \
             writing a profile for it",
            known.join(", ")
        )
    );
    assert_eq!(
        said(b"three traces\n#bowl|300\ntime|upper|middle|lower\nmm:ss|N m|N m|N m\n"),
        "a.csv, line 4: found `mm:ss|N m|N m|N m`; expected `mm:ss|FU|FU|FU` for profile \
         `mixing-three-traces`, which comes nearest; see `profile check` for every profile; a \
         layout of your own is read by writing a profile for it"
    );
    assert_eq!(
        said(b"\x89\x01\x02 time_s"),
        "a.csv: found bytes that are no text; expected a text file of a known layout; if it is a \
         record, copy it from the instrument again; else it need not be in the folder"
    );
    assert_eq!(
        said(b""),
        "a.csv: found an empty file; expected a header and data; copy the file from the \
         instrument again"
    );
}

#[test]
fn two_profiles_that_fit_equally_are_both_named_and_the_more_specific_one_wins() {
    let text = std::fs::read_to_string(sample_files::folder(
        "schemas/profiles/plain-two-columns.toml",
    ))
    .unwrap();
    let twin = text.replace("id = \"plain-two-columns\"", "id = \"ours\"");
    let bytes = b"time_s,consistency_fu\n0,1\n";
    let mut profiles = builtin();
    profiles.push(Profile::parse(&twin).unwrap());
    let fault = intake::select(&profiles, "a.csv", bytes).unwrap_err();
    assert_eq!(
        fault.to_string(),
        "a.csv: found profiles `plain-two-columns` and `ours` fitting equally; expected one \
         profile that fits best; name the profile in the run sheet's `profile` column, or make \
         one signature more specific"
    );
    // A repeated column with a literal unit is more specific than one without.
    let wide = std::fs::read_to_string(sample_files::folder(
        "schemas/profiles/wide-unit-unknown.toml",
    ))
    .unwrap();
    let ours = wide
        .replace("id = \"wide-unit-unknown\"", "id = \"ours-wide\"")
        .replace("{curve}", "{curve} (FU)");
    profiles.push(Profile::parse(&ours).unwrap());
    let bytes = b"time_s,A (FU),B (FU)\n0,1,2\n";
    let chosen = intake::select(&profiles, "a.csv", bytes).unwrap();
    assert_eq!(chosen.id, "ours-wide");
}

#[test]
fn the_reasons_for_and_against_a_profile_can_be_read() {
    let bytes = b"three traces\n#bowl|300\ntime|upper|lower\n";
    let words = |id: &str| -> Vec<String> {
        let fit = intake::explain_fit(&named(id), bytes);
        fit.reasons.iter().map(ToString::to_string).collect()
    };
    assert_eq!(
        words("mixing-three-traces"),
        [
            "encoding: utf-8 text, as wanted",
            "first line (line 1): `three traces`, as wanted",
            "header (line 2): found no such line from line 2 on; expected a line \
             `time|upper|middle|lower` below the keys and values",
        ]
    );
    assert_eq!(
        words("wide-unit-unknown"),
        [
            "encoding: utf-8 text, as wanted",
            "header (line 1): found `three traces`; expected `time_s,{curve},…`, with 2 such \
             columns at least",
        ]
    );
    assert_eq!(
        words("mixing-thousands"),
        ["encoding: found other bytes; expected utf-16 text"]
    );
}

/// Reads a damaged file in every way the tool would and checks that a refusal has its place.
fn survive(profiles: &[Profile], own: &Profile, name: &str, bytes: &[u8]) {
    let lines = bytes.iter().filter(|b| **b == b'\n').count() as u64 + 1;
    let located = |fault: &Fault| {
        assert_eq!(fault.file, name);
        assert!(!fault.found.is_empty() && !fault.expected.is_empty() && !fault.remedy.is_empty());
        assert!(fault.line.is_none_or(|line| line >= 1 && line <= lines + 1));
    };
    if let Err(fault) = intake::select(profiles, name, bytes) {
        located(&fault);
    }
    match read(own, name, bytes) {
        Err(fault) => located(&fault),
        Ok(intake) => {
            intake.notes.iter().for_each(located);
            if let Records::Curves(runs) = intake.records {
                assert!(!runs.is_empty());
                for run in runs {
                    assert!(run.rows.first >= 1 && run.rows.last <= lines);
                    let points = run.curves[0].points();
                    assert!(run.lines.is_empty() || run.lines.len() == points);
                    assert_eq!(run.line_of(points - 1), run.rows.last);
                }
            }
        }
    }
}

#[test]
fn a_file_cut_off_anywhere_is_read_or_refused_with_its_place() {
    let profiles = builtin();
    for (id, name, bytes) in samples() {
        let own = named(&id);
        for end in 0..bytes.len() {
            survive(&profiles, &own, &name, &bytes[..end]);
        }
    }
}

#[test]
fn a_file_with_any_one_byte_changed_is_read_or_refused_with_its_place() {
    let profiles = builtin();
    for (id, name, mut bytes) in samples() {
        let own = named(&id);
        for at in 0..bytes.len() {
            let kept = bytes[at];
            for other in [0, 0xff, b'"', b'\n', b',', kept.wrapping_add(1)] {
                bytes[at] = other;
                survive(&profiles, &own, &name, &bytes);
            }
            bytes[at] = kept;
        }
    }
}

#[test]
fn a_file_with_lines_shuffled_and_bytes_scattered_is_read_or_refused_with_its_place() {
    let profiles = builtin();
    // A linear congruential generator (constants of Knuth's MMIX, from memory): the same damage
    // on every machine.
    let mut state: u64 = 7;
    let mut draw = |below: usize| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(state >> 33).unwrap() % below
    };
    for (id, name, bytes) in samples() {
        let own = named(&id);
        for _ in 0..150 {
            let mut damaged = bytes.clone();
            for _ in 0..1 + draw(4) {
                let (a, b) = (draw(damaged.len()), draw(damaged.len()));
                match draw(3) {
                    0 => damaged[a] = damaged[b],
                    1 => damaged.swap(a, b),
                    _ => {
                        let piece = damaged[a.min(b)..a.max(b)].to_vec();
                        let at = draw(damaged.len());
                        damaged.splice(at..at, piece);
                    }
                }
            }
            survive(&profiles, &own, &name, &damaged);
        }
    }
}
