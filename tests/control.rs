//! Control of an instrument by a reference flour: lots, ageing, jumps, and too few readings.
//!
//! The readings are made from a stated centre, slope and jump, so that the truth is known.

#![allow(clippy::unwrap_used, reason = "tests may stop")]

use doughtrace::derive::METHODS;
use doughtrace::schema::Unit;
use doughtrace::trend::{LimitsFrom, Reading, Series, judge};

/// Deviations of the readings, FU: of mean nought, with no pattern of their own.
const SCATTER: [f64; 10] = [0.8, -1.1, 0.3, -0.4, 1.2, -0.7, -0.9, 0.6, 1.0, -0.8];

fn reading(index: usize, day: f64, lot: &str, value: f64) -> Reading {
    Reading {
        result_id: format!("r{index}-{lot}"),
        run: format!("RF-{index}"),
        day,
        date: format!("day {day}"),
        lot: lot.to_owned(),
        value,
    }
}

/// One reading a day of lot `A`, about 500 FU plus what `extra` says of the day.
fn daily(days: usize, extra: impl Fn(f64) -> f64) -> Vec<Reading> {
    (0..days)
        .map(|index| {
            let day = index as f64;
            let value = 500.0 + SCATTER[index % SCATTER.len()] + extra(day);
            reading(index, day, "A", value)
        })
        .collect()
}

fn series(readings: Vec<Reading>) -> Series {
    let mut cards = METHODS.iter().flat_map(|method| (method.card)().metrics);
    Series {
        instrument: "mixer-2".to_owned(),
        metric: cards.find(|c| c.id == "mixing.consistency").unwrap(),
        variant: String::new(),
        unit: Unit::Fu,
        readings,
        frozen: Vec::new(),
    }
}

#[test]
fn too_few_readings_give_no_limits_and_few_give_provisional_ones() {
    assert!(judge(series(daily(4, |_| 0.0))).is_none());
    let few = judge(series(daily(8, |_| 0.0))).unwrap();
    assert!(!few.out_now);
    let from = &few.current().unwrap().from;
    assert!(
        matches!(
            from,
            LimitsFrom::FirstReadings {
                readings: 8,
                enough: false
            }
        ),
        "{from:?}"
    );
    assert!(few.sentences.iter().any(|s| s.contains("provisional")));
}

#[test]
fn a_new_lot_takes_the_old_limits_moved_by_the_days_of_both() {
    let mut readings = daily(30, |_| 0.0);
    // Lot B reads 12 FU more; four days have both lots.
    for day in 26..36 {
        let scatter = SCATTER[day % SCATTER.len()];
        readings.push(reading(day, day as f64, "B", 512.0 + scatter));
    }
    readings.sort_by(|a, b| a.day.total_cmp(&b.day));
    let trend = judge(series(readings)).unwrap();
    assert_eq!(trend.lots.len(), 2);
    let (old, new) = (&trend.lots[0], &trend.lots[1]);
    let LimitsFrom::CarriedOver { from, shift } = &new.from else {
        unreachable!("{:?}", new.from)
    };
    assert_eq!((from.as_str(), shift.pairs), ("A", 4));
    assert!((shift.shift - 12.0).abs() < 1e-9, "{shift:?}");
    assert!((new.limits.centre - old.limits.centre - 12.0).abs() < 1e-9);
    // The new lot is no jump of the instrument.
    assert!(!trend.out_now, "{:?}", trend.sentences);
}

#[test]
fn ageing_is_told_from_a_jump() {
    let is_told = |extra: fn(f64) -> f64, words: &str| {
        let trend = judge(series(daily(40, extra))).unwrap();
        trend.sentences.iter().any(|s| s.contains(words))
    };
    let (jump, ageing) = ("a jump of +8", "changes steadily by");
    assert!(is_told(|day| if day < 32.0 { 0.0 } else { 8.0 }, jump));
    assert!(is_told(|day| 0.2 * day, ageing));
    assert!(!is_told(|day| 0.2 * day, "a jump of"));
    for words in ["a jump of", ageing] {
        assert!(!is_told(|_| 0.0, words), "{words}");
    }
}
