//! Every metric of one run of each method against an independent computation with numpy and scipy:
//! script, versions and output in `tests/reference`.

use crate::generate::story::{EASTBANK, LOWMARSH, SPIRAL, TWO_ARM, blends};
use crate::generate::{HeatingLayout, HeatingRun, PinLayout, PinRun};
use crate::runs::{derived, read_file};
use serde_json::Value;
use std::path::Path;

fn pin_fixture() -> PinRun {
    PinRun {
        step_s: 0.2,
        ..blends::pin_run(901, &LOWMARSH, &SPIRAL, 1)
    }
}

fn heating_fixture() -> HeatingRun {
    HeatingRun {
        noise_nm: 0.003,
        ..blends::heating_run(902, &EASTBANK, &TWO_ARM, 0.0)
    }
}

fn fixtures() -> [(&'static str, Vec<u8>); 2] {
    [
        ("pin-run.csv", PinLayout::Preamble.write(&[pin_fixture()])),
        (
            "heating-run.csv",
            HeatingLayout::UnitsRow.write(&heating_fixture()),
        ),
    ]
}

#[test]
fn the_runs_of_the_reference_are_those_of_the_generator() {
    for (name, bytes) in fixtures() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("tests/reference")
            .join(name);
        if std::env::var_os("UPDATE").is_some() {
            std::fs::write(&path, &bytes).unwrap();
        }
        assert!(
            std::fs::read(&path).unwrap() == bytes,
            "{name} is not what the generator writes; UPDATE=1 rewrites it, then run the script again"
        );
    }
}

/// What two ways of smoothing one noisy curve may differ by beyond the interval, as a share.
const OTHER_SMOOTHING: f64 = 0.02;

#[test]
fn metrics_agree_with_the_reference() {
    let reference: Value =
        serde_json::from_str(include_str!("../reference/pin_and_heating.json")).unwrap();
    let mut compared = 0;
    for (name, bytes) in fixtures() {
        let results = derived(&read_file(name, &bytes)).results;
        let wanted = reference[name].as_object().unwrap();
        for result in &results {
            let key = format!("{} {}", result.metric.id, result.variant);
            let wanted = wanted[key.trim()].as_f64().unwrap();
            let found = result
                .outcome
                .estimate()
                .unwrap_or_else(|| panic!("{key}: {:?}", result.outcome));
            let half = 0.5 * (found.high() - found.low());
            let off = (found.value() - wanted).abs();
            assert!(
                off <= half + OTHER_SMOOTHING * wanted.abs(),
                "{key}: {} ± {half}, reference {wanted}",
                found.value()
            );
            compared += 1;
        }
        assert_eq!(results.len(), wanted.len(), "{name}");
    }
    assert_eq!(compared, 21 + 33);
}
