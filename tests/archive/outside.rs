//! Checked by programs that are not ours: `sha256sum` and `sed` (GNU coreutils and GNU sed).
#![cfg(target_os = "linux")]

use crate::tell::{event, owner, small_day};
use doughtrace::archive::{Action, Archive, Stored};
use doughtrace::schema::Digest;
use std::path::Path;
use std::process::{Command, Output};

fn shell(folder: &Path, script: &str) -> Output {
    Command::new("sh")
        .args(["-c", script])
        .current_dir(folder)
        .output()
        .unwrap()
}

#[test]
fn the_manifest_is_checked_by_sha256sum_alone() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    small_day(&archive, &mut Vec::new()).unwrap();
    let manifest = archive.read().unwrap().manifest().unwrap();
    assert_eq!(manifest.lines().count(), 6, "{manifest}");
    let list = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(list.path(), &manifest).unwrap();
    let check = format!("sha256sum --strict -c {}", list.path().display());
    let good = shell(folder.path(), &check);
    assert!(good.status.success(), "{good:?}");
    let path = manifest.lines().find(|l| l.contains("raw/")).unwrap()[66..].to_owned();
    let mut bytes = std::fs::read(folder.path().join(&path)).unwrap();
    bytes[3] ^= 4;
    std::fs::write(folder.path().join(&path), bytes).unwrap();
    assert!(!shell(folder.path(), &check).status.success());
}

#[test]
fn a_line_is_checked_by_the_commands_in_the_documentation() {
    let folder = tempfile::tempdir().unwrap();
    small_day(&Archive::at(folder.path()), &mut Vec::new()).unwrap();
    let entries: Vec<_> = Archive::at(folder.path())
        .read()
        .unwrap()
        .events()
        .unwrap()
        .map(Result::unwrap)
        .collect();
    for entry in entries {
        let script = format!(
            r#"sed -n {}p ledger.jsonl | sed -E 's/,"digest":"[0-9a-f]{{64}}"\}}$/}}/' | tr -d '\n' | sha256sum"#,
            entry.seq
        );
        let out = String::from_utf8(shell(folder.path(), &script).stdout).unwrap();
        assert_eq!(out.split(' ').next(), Some(entry.digest.as_str()));
    }
}

#[test]
fn the_canonical_form_is_what_the_documentation_says() {
    let folder = tempfile::tempdir().unwrap();
    small_day(&Archive::at(folder.path()), &mut Vec::new()).unwrap();
    let text = std::fs::read_to_string(folder.path().join("ledger.jsonl")).unwrap();
    let second = text.lines().nth(1).unwrap();
    let previous = Archive::at(folder.path())
        .read()
        .unwrap()
        .event(1)
        .unwrap()
        .unwrap()
        .digest;
    let raw = Digest::of(b"time_s,torque_fu\n0,10\n1,500\n");
    let table = Digest::of(b"PAR1 stands for a table");
    let body = format!(
        concat!(
            r#"{{"format":"1.0","seq":2,"previous":"{previous}","when":"2031-05-14T08:05:00Z","#,
            r#""who":"Analyst (invented)","tool":"doughtrace 0.1.0","action":"derive","#,
            r#""inputs":[{{"kind":"raw","id":"K-01","digest":"{raw}"}}],"#,
            r#""parameters":{{"a":"{e}\n","b":{{"a":[0.1,2],"z":1}},"window_s":1.905}},"#,
            r#""profiles":[],"metrics":["mixing.stability r2"],"outputs":[{{"kind":"segment","#,
            r#""name":"results/day=2031-05-14/part.parquet","digest":"{table}","bytes":23,"#,
            r#""path":"tables/results/day=2031-05-14/{table}.parquet"}}]}}"#,
        ),
        previous = previous,
        raw = raw,
        table = table,
        e = "\u{e9}",
    );
    let digest = Digest::of(body.as_bytes());
    assert_eq!(
        second,
        format!("{},\"digest\":\"{digest}\"}}", &body[..body.len() - 1])
    );
}

#[test]
fn the_same_work_gives_the_same_bytes_in_memory_and_on_disk() {
    let folder = tempfile::tempdir().unwrap();
    small_day(&Archive::at(folder.path()), &mut Vec::new()).unwrap();
    let sim = crate::sim::Sim::new();
    small_day(&crate::tell::on(&sim), &mut Vec::new()).unwrap();
    for (path, bytes) in sim.files() {
        assert_eq!(
            std::fs::read(folder.path().join(&path)).unwrap(),
            bytes,
            "{path}"
        );
    }
}

#[test]
fn same_bytes_are_said_and_a_changed_file_is_a_new_version() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    let mut kept = Vec::new();
    small_day(&archive, &mut kept).unwrap();
    let third = &kept[2].committed.files;
    assert_eq!(third[0].stored, Stored::New);
    assert_eq!(
        third[0].earlier.as_ref(),
        Some(&kept[0].committed.files[0].digest)
    );
    assert_eq!(third[1].stored, Stored::AlreadyThere);
    assert_eq!(third[1].path, kept[0].committed.files[1].path);
    assert_eq!(third[1].earlier, None);
    let reader = archive.read().unwrap();
    let originals = reader.originals().unwrap();
    let names: Vec<_> = originals
        .iter()
        .map(|o| (o.name.as_str(), o.seq, o.bytes))
        .collect();
    assert_eq!(
        names,
        [
            ("day/K-01.csv", 1, 28),
            ("day/K-02.CSV", 1, 32),
            ("day/K-01.csv", 3, 28),
            ("day/K-03.csv", 3, 32)
        ]
    );
    for original in &originals {
        let bytes = reader.raw(&original.digest).unwrap().unwrap();
        assert_eq!(Digest::of(&bytes), original.digest);
    }
    assert_eq!(reader.raw(&Digest::of(b"never seen")).unwrap(), None);
    let mut writer = archive.open_or_create(&owner()).unwrap();
    assert!(writer.knows(&originals[0].digest));
    assert_eq!(writer.version("day/K-01.csv"), Some(&originals[2].digest));
    // The same bytes twice in one event stand once.
    let twice = vec![
        doughtrace::archive::NewFile::raw("x.csv", b"twice".to_vec()),
        doughtrace::archive::NewFile::raw("y.txt", b"twice".to_vec()),
    ];
    let files = writer.commit(event(Action::Import), twice).unwrap().files;
    assert_eq!(files[0].path, files[1].path);
    assert_eq!(
        (files[0].stored, files[1].stored),
        (Stored::New, Stored::AlreadyThere)
    );
}
