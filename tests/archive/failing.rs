//! Calls that fail, disks that fill up, places that may not be written.

use crate::sim::{Loss, Sim};
use crate::tell::{Kept, clean, commit, event, goes_on, nothing_lost, on, owner, small_day};
use doughtrace::archive::{Action, Archive, ArchiveError, NewFile, VerifyOptions, verify_chain};

/// Works on with one writer, whatever fails, and opens another when that one has stopped.
fn insist(archive: &Archive, kept: &mut Vec<Kept>) {
    let mut writer = None;
    for n in 0..6_u8 {
        if writer.is_none() {
            writer = archive.open_or_create(&owner()).ok();
        }
        let Some(open) = writer.as_mut() else {
            continue;
        };
        let bytes = vec![vec![n; 60], vec![b'x'; 30]];
        let files = vec![
            NewFile::raw(&format!("{n}.csv"), bytes[0].clone()),
            NewFile::segment("t/x.bin", bytes[1].clone()),
        ];
        let before = open.head().clone();
        match commit(open, event(Action::Import), files, bytes, kept) {
            Ok(()) => {}
            Err(ArchiveError::Stopped(_)) => writer = None,
            Err(_) => assert_eq!(*open.head(), before),
        }
    }
}

#[test]
fn a_call_that_fails_once_loses_nothing() {
    let whole = Sim::new();
    insist(&on(&whole), &mut Vec::new());
    for call in 1..=whole.calls() {
        let sim = Sim::new();
        sim.fail_after(call, call);
        let mut kept = Vec::new();
        insist(&on(&sim), &mut kept);
        let note = format!("call {call} failed");
        assert!(kept.len() >= 4, "{note}: {} events", kept.len());
        nothing_lost(&on(&sim), &kept, &note);
        let after = sim.lose_power(Loss::Everything);
        nothing_lost(&on(&after), &kept, &format!("{note}, power lost later"));
        goes_on(&on(&sim), &mut kept, &note);
    }
}

#[test]
fn a_full_disk_loses_nothing_and_work_goes_on_when_there_is_room() {
    let mut refused = 0;
    for room in (0..4_000).step_by(7) {
        let sim = Sim::new();
        sim.leave_room(Some(room));
        let mut kept = Vec::new();
        insist(&on(&sim), &mut kept);
        let note = format!("room for {room} bytes");
        refused += usize::from(kept.len() < 6);
        nothing_lost(&on(&sim), &kept, &note);
        sim.leave_room(None);
        goes_on(&on(&sim), &mut kept, &note);
    }
    assert!(refused > 300, "{refused}");
}

#[test]
fn a_full_disk_is_said_in_words() {
    let sim = Sim::new();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    sim.leave_room(Some(10));
    let file = NewFile::raw("a.csv", vec![b'a'; 100]);
    let error = writer
        .commit(event(Action::Import), vec![file.clone()])
        .unwrap_err();
    let words = error.to_string();
    assert!(
        words.contains("disk is full") && words.contains("nothing acknowledged is lost"),
        "{words}"
    );
    sim.leave_room(None);
    writer.commit(event(Action::Import), vec![file]).unwrap();
    drop(writer);
    clean(&on(&sim), "after the disk was full");
}

#[test]
fn a_head_that_cannot_be_written_holds_the_next_event_back() {
    let sim = Sim::new();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    let mut kept = Vec::new();
    commit(
        &mut writer,
        event(Action::Import),
        Vec::new(),
        Vec::new(),
        &mut kept,
    )
    .unwrap();
    // Append, write, sync of the ledger; then the HEAD file is made.
    sim.fail_after(4, 0);
    commit(
        &mut writer,
        event(Action::Check),
        Vec::new(),
        Vec::new(),
        &mut kept,
    )
    .unwrap();
    assert!(kept[1].committed.head_behind.is_some());
    let report = verify_chain(&on(&sim), &VerifyOptions::default()).unwrap();
    assert!(report.verified());
    assert_eq!(
        report.notices[0].to_string(),
        "head behind: HEAD: found line 1 named; expected line 2; nothing to do: the next writer brings it up to date"
    );
    sim.fail_after(1, 0);
    let error = writer.commit(event(Action::Check), Vec::new()).unwrap_err();
    assert!(error.to_string().contains("HEAD"), "{error}");
    commit(
        &mut writer,
        event(Action::Check),
        Vec::new(),
        Vec::new(),
        &mut kept,
    )
    .unwrap();
    drop(writer);
    clean(&on(&sim), "HEAD written late");
    nothing_lost(&on(&sim), &kept, "HEAD written late");
}

#[test]
fn a_place_that_may_not_be_written_can_be_read() {
    let sim = Sim::new();
    let mut kept = Vec::new();
    small_day(&on(&sim), &mut kept).unwrap();
    sim.make_read_only();
    let Err(error) = on(&sim).open_or_create(&owner()) else {
        panic!("opened for writing");
    };
    assert!(error.to_string().contains("may not be written"), "{error}");
    nothing_lost(&on(&sim), &kept, "read only");
}

#[test]
fn an_event_that_does_not_say_who_is_refused_and_nothing_is_kept_of_it() {
    let sim = Sim::new();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    let mut nobody = event(Action::Import);
    nobody.who = " ".to_owned();
    let error = writer
        .commit(nobody, vec![NewFile::raw("a", vec![1])])
        .unwrap_err();
    assert_eq!(
        error.to_string(),
        "an event does not say `who`; a record needs when, who and with what program"
    );
    for name in ["", "a\nb"] {
        let file = NewFile::raw(name, vec![1]);
        assert!(matches!(
            writer.commit(event(Action::Import), vec![file]),
            Err(ArchiveError::BadName { .. })
        ));
    }
    let file = NewFile::segment("../../x/y.bin", vec![1]);
    assert!(writer.commit(event(Action::Import), vec![file]).is_err());
    drop(writer);
    clean(&on(&sim), "refused");
    assert_eq!(
        sim.files().keys().collect::<Vec<_>>(),
        ["ledger.jsonl", "lock"]
    );
}
