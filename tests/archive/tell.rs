//! The work that is done and disturbed, and what must be true afterwards.

use crate::sim::{Dice, Sim};
use doughtrace::archive::{
    Action, Archive, ArchiveError, Committed, Event, Item, NewFile, Owner, Trouble, VerifyOptions,
    Writer, verify_chain,
};
use doughtrace::schema::Digest;
use serde_json::json;
use std::sync::Arc;

pub fn owner() -> Owner {
    Owner {
        who: "Analyst (invented)".to_owned(),
        pid: 4711,
        host: "bench-1".to_owned(),
        since: "2031-05-14T08:00:00Z".to_owned(),
    }
}

pub fn event(action: Action) -> Event {
    Event::new(
        "2031-05-14T08:05:00Z",
        "Analyst (invented)",
        "doughtrace 0.1.0",
        action,
    )
}

pub fn on(sim: &Sim) -> Archive {
    Archive::on(Arc::new(sim.clone()))
}

/// An event that its writer was told is kept, with the bytes that must come back.
pub struct Kept {
    pub committed: Committed,
    pub bytes: Vec<Vec<u8>>,
}

/// Commits `files` and remembers what was acknowledged.
pub fn commit(
    writer: &mut Writer,
    event: Event,
    files: Vec<NewFile>,
    bytes: Vec<Vec<u8>>,
    kept: &mut Vec<Kept>,
) -> Result<(), ArchiveError> {
    let committed = writer.commit(event, files)?;
    kept.push(Kept { committed, bytes });
    Ok(())
}

fn raws(named: &[(&str, &str)]) -> (Vec<NewFile>, Vec<Vec<u8>>) {
    named
        .iter()
        .map(|(name, text)| {
            (
                NewFile::raw(name, text.as_bytes().to_vec()),
                text.as_bytes().to_vec(),
            )
        })
        .unzip()
}

/// A small day: two files in, a table out, one file changed and one again, an exclusion.
pub fn small_day(archive: &Archive, kept: &mut Vec<Kept>) -> Result<(), ArchiveError> {
    let mut writer = archive.open_or_create(&owner())?;
    let (files, bytes) = raws(&[
        ("day/K-01.csv", "time_s,torque_fu\n0,10\n1,500\n"),
        ("day/K-02.CSV", "time_s;torque_fu\n0;11,5\n1;480,2\n"),
    ]);
    commit(&mut writer, event(Action::Import), files, bytes, kept)?;

    let mut derive = event(Action::Derive);
    derive.inputs.push(Item {
        digest: Some(Digest::of(b"time_s,torque_fu\n0,10\n1,500\n")),
        ..Item::with_id("raw", "K-01")
    });
    derive.parameters = json!({"window_s": 1.905, "b": {"z": 1, "a": [0.1, 2]}, "a": "\u{e9}\n"});
    derive.metrics.push("mixing.stability r2".to_owned());
    let table = b"PAR1 stands for a table".to_vec();
    let file = NewFile::segment("results/day=2031-05-14/part.parquet", table.clone());
    commit(&mut writer, derive, vec![file], vec![table], kept)?;
    drop(writer);

    let mut writer = archive.open_or_create(&owner())?;
    let (mut files, bytes) = raws(&[
        ("day/K-01.csv", "time_s,torque_fu\n0,10\n1,501\n"),
        ("day/K-03.csv", "time_s;torque_fu\n0;11,5\n1;480,2\n"),
    ]);
    let last = files.pop();
    writer.stage(files.remove(0))?;
    let files = last.into_iter().collect();
    commit(&mut writer, event(Action::Import), files, bytes, kept)?;
    let mut exclude = event(Action::Exclude);
    exclude.inputs.push(Item::with_id("run", "K-02"));
    exclude.parameters = json!({"reason": "lid open"});
    commit(&mut writer, exclude, Vec::new(), Vec::new(), kept)
}

/// A day of random size.
pub fn random_day(
    archive: &Archive,
    dice: &mut Dice,
    kept: &mut Vec<Kept>,
) -> Result<(), ArchiveError> {
    let mut writer = archive.open_or_create(&owner())?;
    for _ in 0..1 + dice.below(3) {
        let mut files = Vec::new();
        let mut bytes = Vec::new();
        for _ in 0..dice.below(4) {
            // Few enough contents and names that repeats and changed files occur.
            let content = vec![b'a' + dice.below(26) as u8; 1 + dice.below(40)];
            let name = format!("n{}", dice.below(5));
            files.push(if dice.below(3) == 0 {
                NewFile::segment(&format!("t{}/{name}.x", dice.below(2)), content.clone())
            } else {
                NewFile::raw(&name, content.clone())
            });
            bytes.push(content);
        }
        commit(&mut writer, event(Action::Import), files, bytes, kept)?;
    }
    Ok(())
}

/// Everything acknowledged is there, and at most one event more, which was under way.
pub fn nothing_lost(archive: &Archive, kept: &[Kept], note: &str) {
    let report = match verify_chain(archive, &VerifyOptions::default()) {
        Err(ArchiveError::NotAnArchive(_)) if kept.is_empty() => return,
        other => other.unwrap_or_else(|e| panic!("{note}: {e}")),
    };
    assert!(report.verified(), "{note}: {}", report.first().unwrap());
    let reader = archive.read().unwrap();
    assert_eq!(reader.trouble(), None, "{note}");
    assert_eq!(*reader.head(), report.head, "{note}");
    let entries: Vec<_> = reader.events().unwrap().map(Result::unwrap).collect();
    assert_eq!(entries.len() as u64, report.events, "{note}");
    for Kept { committed, bytes } in kept {
        let entry = entries
            .get(committed.seq as usize - 1)
            .unwrap_or_else(|| panic!("{note}: event {} is lost", committed.seq));
        assert_eq!(entry.digest, committed.digest, "{note}");
        for (file, bytes) in committed.files.iter().zip(bytes) {
            let item = entry
                .event
                .outputs
                .iter()
                .find(|item| item.path.as_ref() == Some(&file.path))
                .unwrap();
            assert_eq!(
                reader.bytes_of(item).unwrap().as_ref(),
                Some(bytes),
                "{note}"
            );
        }
    }
}

/// The next writer makes the archive whole: nothing left over, and work goes on.
pub fn goes_on(archive: &Archive, kept: &mut Vec<Kept>, note: &str) {
    let torn = verify_chain(archive, &VerifyOptions::default())
        .is_ok_and(|r| r.notices.iter().any(|n| n.trouble == Trouble::Torn));
    let mut writer = archive
        .open_or_create(&owner())
        .unwrap_or_else(|e| panic!("{note}: {e}"));
    assert_eq!(writer.set_aside().is_some(), torn, "{note}");
    clean(archive, note);
    let bytes = b"after".to_vec();
    let file = NewFile::raw("after.txt", bytes.clone());
    commit(
        &mut writer,
        event(Action::Import),
        vec![file],
        vec![bytes],
        kept,
    )
    .unwrap_or_else(|e| panic!("{note}: {e}"));
    drop(writer);
    clean(archive, note);
    nothing_lost(archive, kept, note);
}

pub fn clean(archive: &Archive, note: &str) {
    let report = verify_chain(archive, &VerifyOptions::default()).unwrap();
    assert!(report.verified(), "{note}: {}", report.first().unwrap());
    assert_eq!(report.notices, [], "{note}");
}
