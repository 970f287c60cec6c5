//! From a number back to the raw bytes, and from raw bytes to all that was made of them.

use crate::sim::Sim;
use crate::tell::{event, on, owner};
use doughtrace::archive::{Action, Item, NewFile, ProfileUsed, Role, Step, Trace};
use doughtrace::schema::Digest;
use serde_json::json;

/// Two runs of one day, a report on both, an exclusion of one, a certificate of the mixer.
fn story() -> Sim {
    let sim = Sim::new();
    let mut writer = on(&sim).open_or_create(&owner()).unwrap();
    let certificate = writer
        .commit(
            event(Action::Calibrate),
            vec![NewFile::raw("certificate.pdf", b"pdf".to_vec())],
        )
        .unwrap()
        .files
        .remove(0)
        .digest;
    let mut calibrate = event(Action::Calibrate);
    calibrate
        .inputs
        .push(Item::with_id("certificate", certificate.as_str()));
    calibrate
        .outputs
        .push(Item::with_id("instrument", "mixer-3"));
    writer.commit(calibrate, Vec::new()).unwrap();
    let files = ["a", "b"].map(|n| NewFile::raw(&format!("{n}.csv"), n.as_bytes().to_vec()));
    writer
        .commit(event(Action::Import), files.to_vec())
        .unwrap();

    let mut derive = event(Action::Derive);
    derive.profiles.push(ProfileUsed {
        id: "plain".to_owned(),
        digest: Digest::of(b"profile"),
    });
    derive.metrics.push("mixing.stability r2".to_owned());
    for n in ["a", "b"] {
        derive.inputs.push(Item {
            digest: Some(Digest::of(n.as_bytes())),
            kind: "raw".to_owned(),
            ..Item::default()
        });
        derive.outputs.push(
            Item::with_id("run", &format!("run-{n}"))
                .holding([format!("result-{n}1"), format!("result-{n}2")])
                .made_from([Digest::of(n.as_bytes()).to_string(), "mixer-3".to_owned()]),
        );
    }
    let table = NewFile::segment("results/part.parquet", b"table".to_vec())
        .made_from(["run-a", "run-b"].map(str::to_owned));
    writer.commit(derive, vec![table]).unwrap();

    let mut exclude = event(Action::Exclude);
    exclude.inputs.push(Item::with_id("run", "run-b"));
    exclude.parameters = json!({"reason": "lid open", "by \"whom\"": "K\\S"});
    writer.commit(exclude, Vec::new()).unwrap();

    let mut report = event(Action::Report);
    report
        .inputs
        .push(Item::with_id("run", "run-a").holding(["result-a1".to_owned()]));
    report.inputs.push(Item::with_id("run", "run-b"));
    let page = Item::with_digest("report", "report.html", &Digest::of(b"page"), 4);
    report.outputs.push(Item {
        id: Some("report-1".to_owned()),
        ..page
    });
    writer.commit(report, Vec::new()).unwrap();

    let mut claim = event(Action::Check);
    claim
        .outputs
        .push(Item::with_id("claim", "claim-1").made_from(["result-a2".to_owned()]));
    writer.commit(claim, Vec::new()).unwrap();
    sim
}

fn label(step: &Step) -> String {
    let name = step.item.id.as_ref().or(step.item.name.as_ref());
    format!("{} {} in {}", step.depth, name.unwrap(), step.seq)
}

fn back(trace: &Trace) -> Vec<String> {
    trace.made_from.iter().map(label).collect()
}

fn forth(trace: &Trace) -> Vec<String> {
    trace.made_into.iter().map(label).collect()
}

#[test]
fn a_result_is_traced_to_its_raw_file_and_to_what_used_it() {
    let sim = story();
    let reader = on(&sim).read().unwrap();
    let trace = reader.trace("result-a1").unwrap();
    assert_eq!(
        back(&trace),
        [
            "0 run-a in 4",
            "1 mixer-3 in 2",
            "1 a.csv in 3",
            "2 certificate.pdf in 1"
        ]
    );
    // The other run, its file and its exclusion are no part of this number's story.
    assert_eq!(trace.remarks, [] as [u64; 0]);
    assert_eq!(
        forth(&trace),
        ["1 results/part.parquet in 4", "1 report-1 in 6"]
    );
    let raw = &trace.made_from[2].item;
    assert_eq!(reader.bytes_of(raw).unwrap(), Some(b"a".to_vec()));
    assert_eq!(trace.events[&4].event.metrics, ["mixing.stability r2"]);
    assert_eq!(
        trace.events.keys().copied().collect::<Vec<_>>(),
        [1, 2, 3, 4, 6]
    );
}

#[test]
fn a_raw_file_is_traced_to_everything_that_used_it() {
    let sim = story();
    let reader = on(&sim).read().unwrap();
    let expected = [
        "1 run-a in 4",
        "2 results/part.parquet in 4",
        "2 report-1 in 6",
        "2 claim-1 in 7",
    ];
    for id in [Digest::of(b"a").as_str(), "a.csv"] {
        let trace = reader.trace(id).unwrap();
        assert_eq!(forth(&trace), expected, "{id}");
        assert_eq!(back(&trace), ["0 a.csv in 3"], "{id}");
    }
}

#[test]
fn exclusions_and_certificates_are_found_from_either_end() {
    let sim = story();
    let reader = on(&sim).read().unwrap();
    for id in ["run-b", "result-b1", "b.csv"] {
        assert_eq!(reader.trace(id).unwrap().remarks, [5], "{id}");
    }
    let report = reader.trace("report-1").unwrap();
    assert_eq!(report.remarks, [5]);
    assert!(
        back(&report).contains(&"2 b.csv in 3".to_owned()),
        "{:?}",
        back(&report)
    );
    let certificate = reader.trace("certificate.pdf").unwrap();
    let touched = forth(&certificate);
    for wanted in [
        "1 mixer-3 in 2",
        "2 run-a in 4",
        "2 run-b in 4",
        "3 report-1 in 6",
    ] {
        assert!(touched.contains(&wanted.to_owned()), "{touched:?}");
    }
    let profile = reader.trace(Digest::of(b"profile").as_str()).unwrap();
    assert!(
        forth(&profile).is_empty(),
        "each run says itself what it was made from"
    );
    assert!(reader.trace("never seen").unwrap().is_empty());
}

#[test]
fn every_way_of_telling_of_a_thing_is_found() {
    let sim = story();
    let reader = on(&sim).read().unwrap();
    let cases: &[(&str, &[(u64, Role)])] = &[
        ("run-a", &[(4, Role::Output), (6, Role::Input)]),
        (
            "result-a1",
            &[(4, Role::HeldByOutput), (6, Role::HeldByInput)],
        ),
        ("result-a2", &[(4, Role::HeldByOutput), (7, Role::Source)]),
        ("plain", &[(4, Role::Profile)]),
        ("mixing.stability r2", &[(4, Role::Metric)]),
        ("lid open", &[(5, Role::Elsewhere)]),
        ("by \"whom\"", &[(5, Role::Elsewhere)]),
        ("K\\S", &[(5, Role::Elsewhere)]),
        ("a.csv", &[(3, Role::Output)]),
        ("result-a", &[]),
    ];
    for (id, expected) in cases {
        let found: Vec<(u64, Role)> = reader
            .find(id)
            .unwrap()
            .iter()
            .map(|m| (m.entry.seq, m.roles[0]))
            .collect();
        assert_eq!(found, *expected, "{id}");
    }
}
