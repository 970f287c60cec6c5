//! Several at once: writers that must take turns, readers that never wait, processes that die.

use crate::tell::{Kept, commit, event, goes_on, nothing_lost, owner};
use doughtrace::archive::{
    Action, Archive, ArchiveError, NewFile, Owner, VerifyOptions, verify_chain,
};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

#[test]
fn a_second_writer_is_told_who_writes() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    let writer = archive.open_or_create(&owner()).unwrap();
    let Err(error) = archive.open_or_create(&owner()) else {
        panic!("two writers");
    };
    let words = error.to_string();
    assert!(
        words.contains("is being written by Analyst (invented) (process 4711 on bench-1, since 2031-05-14T08:00:00Z)"),
        "{words}"
    );
    assert!(archive.read().is_ok());
    drop(writer);
    let writer = archive.open_or_create(&owner()).unwrap();
    assert_eq!(writer.took_over(), None);
    drop(writer);
    assert!(!folder.path().join("lock-owner").exists());
}

#[test]
fn a_lock_left_behind_is_taken_over_on_the_same_computer_only() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    drop(archive.open_or_create(&owner()).unwrap());
    let left = |text: &str| std::fs::write(folder.path().join("lock-owner"), text).unwrap();
    let dead = Owner {
        pid: 1_234,
        ..owner()
    };
    left(&serde_json::to_string(&dead).unwrap());
    let writer = archive.open_or_create(&owner()).unwrap();
    assert_eq!(writer.took_over(), Some(&dead));
    drop(writer);
    let elsewhere = Owner {
        host: "bench-2".to_owned(),
        ..owner()
    };
    for text in [serde_json::to_string(&elsewhere).unwrap(), "?".to_owned()] {
        left(&text);
        let Err(error) = archive.open_or_create(&owner()) else {
            panic!("taken over");
        };
        assert!(matches!(error, ArchiveError::LeftByOther { .. }), "{error}");
        assert!(error.to_string().contains("remove the file `lock-owner`"));
        assert_eq!(
            std::fs::read_to_string(folder.path().join("lock-owner")).unwrap(),
            text
        );
    }
    std::fs::remove_file(folder.path().join("lock-owner")).unwrap();
    assert!(archive.open_or_create(&owner()).is_ok());
}

#[test]
fn writers_take_turns_and_readers_never_wait() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    drop(archive.open_or_create(&owner()).unwrap());
    let kept = Mutex::new(Vec::new());
    let refused = Mutex::new(0);
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let writers: Vec<_> = (0..3_u8)
            .map(|who| {
                let (archive, kept, refused) = (&archive, &kept, &refused);
                scope.spawn(move || {
                    let mut mine = 0_u8;
                    while mine < 6 {
                        match archive.open_or_create(&owner()) {
                            Ok(mut writer) => {
                                let bytes = vec![who, mine];
                                let file = NewFile::raw(&format!("{who}-{mine}"), bytes.clone());
                                let files = vec![file];
                                let mut own = Vec::new();
                                commit(
                                    &mut writer,
                                    event(Action::Import),
                                    files,
                                    vec![bytes],
                                    &mut own,
                                )
                                .unwrap();
                                kept.lock().unwrap().append(&mut own);
                                mine += 1;
                            }
                            Err(ArchiveError::Locked { .. }) => {
                                *refused.lock().unwrap() += 1;
                                std::thread::yield_now();
                            }
                            Err(error) => panic!("{error}"),
                        }
                    }
                })
            })
            .collect();
        let reader = scope.spawn(|| {
            let mut looks = 0;
            while !done.load(Ordering::Relaxed) {
                let report = verify_chain(&archive, &VerifyOptions::default()).unwrap();
                assert!(report.verified(), "{}", report.first().unwrap());
                let reader = archive.read().unwrap();
                assert_eq!(reader.trouble(), None);
                assert_eq!(
                    reader.events().unwrap().flatten().count() as u64,
                    reader.head().seq
                );
                looks += 1;
            }
            looks
        });
        for writer in writers {
            writer.join().unwrap();
        }
        done.store(true, Ordering::Relaxed);
        assert!(reader.join().unwrap() > 0);
    });
    let mut kept = kept.into_inner().unwrap();
    assert_eq!(kept.len(), 18);
    nothing_lost(&archive, &kept, "three writers");
    goes_on(&archive, &mut kept, "three writers");
}

/// Set for the process that is killed: the archive it writes to.
const CHILD: &str = "DOUGHTRACE_TEST_ARCHIVE";

/// Not a test of its own: what the killed process does.
#[test]
fn killed_process() {
    let Ok(folder) = std::env::var(CHILD) else {
        return;
    };
    let mut writer = Archive::at(Path::new(&folder))
        .open_or_create(&owner())
        .unwrap();
    for n in 0.. {
        let bytes = format!("{n}").repeat(5_000).into_bytes();
        let files = vec![
            NewFile::raw(&format!("{n}.csv"), bytes.clone()),
            NewFile::segment("t/x.bin", bytes),
        ];
        let committed = writer.commit(event(Action::Import), files).unwrap();
        // On standard error: the test runner keeps standard output to itself.
        use std::io::Write as _;
        writeln!(
            std::io::stderr(),
            "kept {} {}",
            committed.seq,
            committed.digest
        )
        .unwrap();
    }
}

#[test]
fn a_process_killed_while_writing_loses_nothing_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let archive = Archive::at(folder.path());
    let mut total = 0;
    for round in 0..12_usize {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["together::killed_process", "--exact", "--nocapture"])
            .env(CHILD, folder.path())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let mut acknowledged = Vec::new();
        let mut take = |line: String| {
            let mut words = line.split(' ').skip_while(|w| *w != "kept").skip(1);
            if let (Some(seq), Some(digest)) = (words.next(), words.next()) {
                acknowledged.push((seq.parse::<u64>().unwrap(), digest.to_owned()));
            }
        };
        for line in lines.by_ref().take(1 + round % 5) {
            take(line.unwrap());
        }
        // At another place of its work each time; the delay decides nothing about the outcome.
        std::thread::sleep(std::time::Duration::from_micros(700 * round as u64));
        child.kill().unwrap();
        child.wait().unwrap();
        for line in lines.map_while(Result::ok).filter(|l| l.len() > 66) {
            take(line);
        }
        let report = verify_chain(&archive, &VerifyOptions::default()).unwrap();
        assert!(
            report.verified(),
            "round {round}: {}",
            report.first().unwrap()
        );
        let reader = archive.read().unwrap();
        for (seq, digest) in &acknowledged {
            let entry = reader.event(*seq).unwrap().unwrap();
            assert_eq!(entry.digest.as_str(), digest, "round {round}");
        }
        total += acknowledged.len();
        let writer = archive.open_or_create(&owner()).unwrap();
        assert!(writer.took_over().is_some(), "round {round}");
    }
    assert!(total >= 30, "{total}");
    let mut kept: Vec<Kept> = Vec::new();
    goes_on(&archive, &mut kept, "killed twelve times");
}
