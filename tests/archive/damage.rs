//! Whatever is changed, cut, lost, moved or added is found, and named.

use crate::sim::Sim;
use crate::tell::{clean, commit, event, nothing_lost, on, owner, small_day};
use doughtrace::archive::{
    Action, Archive, ArchiveError, ChainReport, Head, NewFile, Trouble, VerifyOptions, verify_chain,
};
use std::io::Write as _;

fn small() -> Sim {
    let sim = Sim::new();
    small_day(&on(&sim), &mut Vec::new()).unwrap();
    clean(&on(&sim), "before");
    sim
}

fn verify(archive: &Archive) -> ChainReport {
    verify_chain(archive, &VerifyOptions::default()).unwrap()
}

fn troubles(report: &ChainReport) -> Vec<String> {
    let all = report.failures.iter().chain(&report.notices);
    all.map(|f| match f.fault.line {
        Some(line) => format!("{} {}:{line}", f.trouble, f.fault.file),
        None => format!("{} {}", f.trouble, f.fault.file),
    })
    .collect()
}

#[test]
fn every_single_bit_that_flips_is_found() {
    let sim = small();
    let archive = on(&sim);
    let mut flips = 0;
    for (path, bytes) in sim.files() {
        if path == "lock" {
            continue;
        }
        for at in 0..bytes.len() {
            for bit in 0..8 {
                let mut changed = bytes.clone();
                changed[at] ^= 1 << bit;
                sim.tamper(&path, changed);
                let report = verify(&archive);
                let first = report
                    .first()
                    .unwrap_or_else(|| panic!("{path}, byte {at}, bit {bit} is not found"));
                assert!(
                    first.fault.file == path
                        || (path == "HEAD" && first.fault.file == "ledger.jsonl"),
                    "{path}, byte {at}, bit {bit}: {first}"
                );
                flips += 1;
            }
        }
        sim.tamper(&path, bytes);
    }
    assert!(flips > 20_000, "{flips}");
    clean(&archive, "after");
}

#[test]
fn no_writer_adds_to_a_ledger_with_a_changed_byte() {
    let sim = small();
    let ledger = sim.bytes("ledger.jsonl");
    for at in (0..ledger.len()).step_by(13) {
        let mut changed = ledger.clone();
        changed[at] ^= 1;
        sim.tamper("ledger.jsonl", changed.clone());
        let Err(error) = on(&sim).open_or_create(&owner()) else {
            panic!("byte {at}: opened");
        };
        assert!(error.is_unsound(), "byte {at}: {error}");
        assert_eq!(sim.bytes("ledger.jsonl"), changed, "byte {at}");
    }
}

#[test]
fn a_ledger_cut_at_any_byte_is_found() {
    let sim = small();
    let ledger = sim.bytes("ledger.jsonl");
    for length in 0..ledger.len() {
        sim.tamper("ledger.jsonl", ledger[..length].to_vec());
        let report = verify(&on(&sim));
        assert!(!report.verified(), "cut to {length} bytes");
        let first = report.first().unwrap();
        assert_eq!(first.fault.file, "ledger.jsonl", "cut to {length} bytes");
        assert!(on(&sim).open_or_create(&owner()).is_err());
        // What is sound can be read, and the reader is told.
        let reader = on(&sim).read().unwrap();
        assert!(reader.trouble().is_some(), "cut to {length} bytes");
        assert!(reader.events().unwrap().all(|entry| entry.is_ok()));
    }
    sim.tamper("ledger.jsonl", ledger);
    clean(&on(&sim), "restored");
}

#[test]
fn a_last_line_cut_at_any_byte_before_it_was_acknowledged_is_torn_and_set_aside() {
    let whole = small();
    let ledger = whole.bytes("ledger.jsonl");
    let before = ledger[..ledger.len() - 1]
        .iter()
        .rposition(|b| *b == b'\n')
        .unwrap()
        + 1;
    for length in before + 1..ledger.len() {
        let sim = whole.lose_power(crate::sim::Loss::Nothing);
        // As a crash leaves it: HEAD still names the line before.
        sim.tamper("HEAD", head_at(&ledger, 3));
        sim.tamper("ledger.jsonl", ledger[..length].to_vec());
        let report = verify(&on(&sim));
        assert!(
            report.verified(),
            "cut to {length}: {}",
            report.first().unwrap()
        );
        assert_eq!(troubles(&report), ["torn ledger.jsonl:4"]);
        assert_eq!(
            on(&sim).read().unwrap().torn().unwrap().bytes,
            (length - before) as u64
        );
        let mut writer = on(&sim).open_or_create(&owner()).unwrap();
        assert_eq!(writer.set_aside(), Some("ledger.torn-4"));
        assert_eq!(sim.bytes("ledger.torn-4"), &ledger[before..length]);
        assert_eq!(
            writer.commit(event(Action::Check), Vec::new()).unwrap().seq,
            4
        );
        drop(writer);
        clean(&on(&sim), "set aside");
    }
}

fn head_at(ledger: &[u8], seq: usize) -> Vec<u8> {
    let text = std::str::from_utf8(ledger).unwrap();
    let line = text.lines().nth(seq - 1).unwrap();
    let digest = &line[line.len() - 66..line.len() - 2];
    format!("1.0 {seq} {digest}\n").into_bytes()
}

#[test]
fn lines_that_were_removed_moved_doubled_or_forged_are_found() {
    let sim = small();
    let ledger = String::from_utf8(sim.bytes("ledger.jsonl")).unwrap();
    let lines: Vec<&str> = ledger.lines().collect();
    let join = |lines: &[&str]| format!("{}\n", lines.join("\n"));
    let cases = [
        ("removed", join(&[lines[0], lines[2], lines[3]]), 2),
        ("removed first", join(&lines[1..]), 1),
        ("moved", join(&[lines[0], lines[2], lines[1], lines[3]]), 2),
        (
            "doubled",
            join(&[lines[0], lines[0], lines[1], lines[2], lines[3]]),
            2,
        ),
        (
            "empty line",
            join(&[lines[0], "", lines[1], lines[2], lines[3]]),
            2,
        ),
        ("forged", ledger.replace("lid open", "lid shut"), 4),
    ];
    for (what, changed, line) in cases {
        sim.tamper("ledger.jsonl", changed.into_bytes());
        let report = verify(&on(&sim));
        let first = report
            .first()
            .unwrap_or_else(|| panic!("{what}: not found"));
        assert_eq!(
            (first.trouble, first.fault.line),
            (Trouble::Damaged, Some(line)),
            "{what}"
        );
    }
    // A forger who mends one line's digest breaks the link of the next.
    let forged = lines[1].replace("r2", "r3");
    let body = format!("{}}}", &forged[..forged.len() - 77]);
    let digest = doughtrace::schema::Digest::of(body.as_bytes());
    let mended = format!("{},\"digest\":\"{digest}\"}}", &forged[..forged.len() - 77]);
    sim.tamper(
        "ledger.jsonl",
        join(&[lines[0], &mended, lines[2], lines[3]]).into_bytes(),
    );
    assert_eq!(troubles(&verify(&on(&sim))), ["damaged ledger.jsonl:3"]);
}

#[test]
fn a_ledger_written_anew_is_found_by_a_head_that_a_report_states() {
    let sim = small();
    let head = on(&sim).read().unwrap().head().clone();
    let other = Sim::new();
    let mut writer = on(&other).open_or_create(&owner()).unwrap();
    for _ in 0..5 {
        writer.commit(event(Action::Check), Vec::new()).unwrap();
    }
    drop(writer);
    clean(&on(&other), "a sound ledger of its own");
    let options = VerifyOptions {
        stated_heads: vec![head.clone()],
        ..VerifyOptions::default()
    };
    assert!(verify_chain(&on(&sim), &options).unwrap().verified());
    let report = verify_chain(&on(&other), &options).unwrap();
    assert_eq!(troubles(&report), ["cut ledger.jsonl"]);
    // The same for last lines that went together with HEAD.
    let ledger = sim.bytes("ledger.jsonl");
    let end = ledger[..ledger.len() - 1]
        .iter()
        .rposition(|b| *b == b'\n')
        .unwrap()
        + 1;
    sim.tamper("ledger.jsonl", ledger[..end].to_vec());
    sim.tamper("HEAD", head_at(&ledger, 3));
    assert!(verify(&on(&sim)).verified());
    assert!(!verify_chain(&on(&sim), &options).unwrap().verified());
    assert_eq!(
        head,
        Head {
            seq: 4,
            digest: head.digest.clone()
        }
    );
}

#[test]
fn missing_damaged_and_unlisted_files_are_told_apart() {
    use doughtrace::archive::Medium;
    let sim = small();
    let mut raw: Vec<String> = sim
        .files()
        .into_keys()
        .filter(|p| p.starts_with("raw/"))
        .collect();
    raw.sort();
    assert_eq!(raw.len(), 3, "{raw:?}");
    sim.remove(&raw[0]).unwrap();
    sim.tamper(&raw[1], b"else".to_vec());
    sim.tamper("raw/stray.csv", b"stray".to_vec());
    sim.tamper("tables/stray.csv", b"stray".to_vec());
    sim.tamper("stray.csv", b"stray".to_vec());
    let report = verify(&on(&sim));
    let mut found = troubles(&report);
    found.sort();
    let mut expected = vec![
        format!("damaged {}", raw[1]),
        format!("missing {}", raw[0]),
        "unlisted raw/stray.csv".to_owned(),
        "unlisted stray.csv".to_owned(),
        "unlisted tables/stray.csv".to_owned(),
    ];
    expected.sort();
    assert_eq!(found, expected);
    assert_eq!(report.failures.len(), 2);
    for threads in [1, 2, 7] {
        let options = VerifyOptions {
            threads,
            ..VerifyOptions::default()
        };
        assert_eq!(
            verify_chain(&on(&sim), &options).unwrap(),
            report,
            "{threads} threads"
        );
    }
    // Nobody removes what a person put there.
    drop(on(&sim).open_or_create(&owner()).unwrap());
    assert!(sim.files().contains_key("raw/stray.csv"));
    assert!(sim.files().contains_key("stray.csv"));
}

#[test]
fn a_damaged_original_is_never_called_already_there_and_a_missing_one_comes_back() {
    use doughtrace::archive::{Medium, Stored};
    let sim = small();
    let bytes = b"time_s,torque_fu\n0,10\n1,500\n".to_vec();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    let file = NewFile::raw("day/K-01.csv", bytes.clone());
    let stored = writer
        .commit(event(Action::Import), vec![file.clone()])
        .unwrap();
    assert_eq!(stored.files[0].stored, Stored::AlreadyThere);
    let path = stored.files[0].path.clone();
    sim.tamper(&path, b"else".to_vec());
    let error = writer
        .commit(event(Action::Import), vec![file.clone()])
        .unwrap_err();
    assert!(matches!(error, ArchiveError::Damaged(_)), "{error}");
    assert_eq!(sim.bytes(&path), b"else");
    sim.remove(&path).unwrap();
    let stored = writer.commit(event(Action::Import), vec![file]).unwrap();
    assert_eq!(stored.files[0].stored, Stored::Restored);
    drop(writer);
    clean(&on(&sim), "restored");
    assert_eq!(sim.bytes(&path), bytes);
}

#[test]
fn bytes_that_stand_in_place_unlisted_are_taken_in_and_made_to_last() {
    use doughtrace::archive::{Medium, Stored};
    let sim = small();
    let bytes = b"put there by hand".to_vec();
    let digest = doughtrace::schema::Digest::of(&bytes);
    let folder = format!("raw/{}", &digest.as_str()[..2]);
    sim.make_folder(&folder).unwrap();
    let path = format!("{folder}/{digest}.csv");
    sim.create(&path).unwrap().write_all(&bytes).unwrap();
    let mut kept = Vec::new();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    let files = vec![NewFile::raw("hand.csv", bytes.clone())];
    commit(
        &mut writer,
        event(Action::Import),
        files,
        vec![bytes],
        &mut kept,
    )
    .unwrap();
    assert_eq!(kept[0].committed.files[0].stored, Stored::New);
    let after = sim.lose_power(crate::sim::Loss::Everything);
    nothing_lost(&on(&after), &kept, "taken in");
}

#[cfg(unix)]
#[test]
fn a_link_in_place_of_a_kept_file_is_damage() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    small_day(&archive, &mut Vec::new()).unwrap();
    let original = archive.read().unwrap().originals().unwrap().remove(0);
    let path = folder.path().join(&original.path);
    let copy = folder.path().join("copy");
    std::fs::rename(&path, &copy).unwrap();
    std::os::unix::fs::symlink(&copy, &path).unwrap();
    let report = verify(&archive);
    assert_eq!(
        troubles(&report),
        [
            format!("damaged {}", original.path),
            "unlisted copy".to_owned()
        ]
    );
    let bytes = std::fs::read(&copy).unwrap();
    let mut writer = archive.open_or_create(&owner()).unwrap();
    let again = writer.commit(event(Action::Import), vec![NewFile::raw("K", bytes)]);
    assert!(matches!(again, Err(ArchiveError::Damaged(_))));
}

#[test]
fn a_ledger_that_is_gone_is_no_reason_to_begin_another() {
    use doughtrace::archive::Medium;
    let sim = small();
    sim.remove("ledger.jsonl").unwrap();
    assert!(matches!(
        on(&sim).read(),
        Err(ArchiveError::NotAnArchive(_))
    ));
    assert!(matches!(
        on(&sim).open_or_create(&owner()),
        Err(ArchiveError::Foreign { .. })
    ));
    let other = Sim::new();
    other.tamper("holiday.jpg", vec![1]);
    assert!(matches!(
        on(&other).open_or_create(&owner()),
        Err(ArchiveError::Foreign { .. })
    ));
    assert_eq!(
        other.files().len(),
        1,
        "nothing is left in a foreign folder"
    );
}

#[test]
fn a_head_that_is_gone_or_old_is_found() {
    use doughtrace::archive::Medium;
    let sim = small();
    let ledger = sim.bytes("ledger.jsonl");
    sim.tamper("HEAD", head_at(&ledger, 2));
    assert_eq!(troubles(&verify(&on(&sim))), ["damaged HEAD"]);
    sim.tamper("HEAD", head_at(&ledger, 3));
    assert_eq!(troubles(&verify(&on(&sim))), ["head behind HEAD"]);
    sim.remove("HEAD").unwrap();
    assert_eq!(troubles(&verify(&on(&sim))), ["missing HEAD"]);
    sim.tamper("HEAD", head_at(&ledger, 4));
    clean(&on(&sim), "restored");
}

/// Rewrites the only line of a ledger with `change`, with digest and HEAD to match.
fn with_first_line(change: impl Fn(&str) -> String) -> Sim {
    let sim = Sim::new();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    writer.commit(event(Action::Check), Vec::new()).unwrap();
    drop(writer);
    let line = String::from_utf8(sim.bytes("ledger.jsonl")).unwrap();
    let body = format!("{}}}", &line[..line.len() - 78]);
    let body = change(&body);
    let digest = doughtrace::schema::Digest::of(body.as_bytes());
    let line = format!("{},\"digest\":\"{digest}\"}}\n", &body[..body.len() - 1]);
    sim.tamper("ledger.jsonl", line.clone().into_bytes());
    sim.tamper("HEAD", head_at(line.as_bytes(), 1));
    sim
}

#[test]
fn a_newer_minor_format_is_read_and_not_written() {
    let sim = with_first_line(|body| {
        body.replace("\"1.0\"", "\"1.7\"")
            .replace("\"check\"", "\"weigh\",\"balance\":{\"id\":[1]}")
    });
    nothing_lost(&on(&sim), &[], "newer minor");
    let entry = on(&sim).read().unwrap().event(1).unwrap().unwrap();
    assert_eq!(entry.event.action, Action::Other("weigh".to_owned()));
    assert_eq!(entry.format.to_string(), "1.7");
    let Err(error) = on(&sim).open_or_create(&owner()) else {
        panic!("written");
    };
    assert_eq!(
        error.to_string(),
        "the ledger has format 1.7, this version writes 1.0; it can be read, but only a newer version may add to it"
    );
}

#[test]
fn a_newer_major_format_is_not_read() {
    let sim = with_first_line(|body| body.replace("\"1.0\"", "\"2.0\""));
    let report = verify(&on(&sim));
    assert_eq!(troubles(&report)[0], "newer ledger.jsonl:1");
    assert!(on(&sim).open_or_create(&owner()).is_err());
}

#[test]
fn a_ledger_that_points_out_of_the_archive_is_not_followed() {
    let item = format!(
        "{{\"kind\":\"raw\",\"digest\":\"{}\",\"path\":\"../../secret\"}}",
        "a".repeat(64)
    );
    let sim =
        with_first_line(|body| body.replace("\"outputs\":[]", &format!("\"outputs\":[{item}]")));
    assert_eq!(troubles(&verify(&on(&sim))), ["damaged ledger.jsonl:1"]);
    let entry = on(&sim).read().unwrap().event(1).unwrap().unwrap();
    let reader = on(&sim).read().unwrap();
    assert_eq!(reader.bytes_of(&entry.event.outputs[0]).unwrap(), None);
    assert!(!reader.manifest().unwrap().contains("secret"));
}
