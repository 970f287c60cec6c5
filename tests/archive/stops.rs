//! The writer is stopped, and the power lost, at every call and at random ones.

use crate::sim::{Dice, Loss, Sim};
use crate::tell::{goes_on, nothing_lost, on, random_day, small_day};

fn losses(seed: u64) -> Vec<Loss> {
    let mut losses = vec![Loss::Everything, Loss::Nothing];
    losses.extend((0..4).map(|n| Loss::Some(seed * 4 + n)));
    losses
}

#[test]
fn a_writer_stopped_at_any_call_loses_nothing_acknowledged() {
    let whole = Sim::new();
    small_day(&on(&whole), &mut Vec::new()).unwrap();
    let calls = whole.calls();
    assert!(calls > 80, "{calls} calls");
    for stop in 1..=calls {
        for loss in losses(stop) {
            let sim = Sim::new();
            sim.stop_after(stop, stop);
            let mut kept = Vec::new();
            let ended = small_day(&on(&sim), &mut kept);
            // The last six calls bring HEAD up to date and let go of the lock: the work is done.
            assert_eq!(ended.is_ok(), stop + 6 > calls, "call {stop}");
            let note = format!("stopped at call {stop}, {loss:?}");
            let after = sim.lose_power(loss);
            nothing_lost(&on(&after), &kept, &note);
            if let Ok(reader) = on(&after).read() {
                assert!(reader.head().seq as usize <= kept.len() + 1, "{note}");
            }
            goes_on(&on(&after), &mut kept, &note);
        }
    }
}

#[test]
fn a_recovery_stopped_at_any_call_loses_nothing_either() {
    let whole = Sim::new();
    small_day(&on(&whole), &mut Vec::new()).unwrap();
    for stop in 1..=whole.calls() {
        let sim = Sim::new();
        sim.stop_after(stop, stop);
        let mut kept = Vec::new();
        let _ = small_day(&on(&sim), &mut kept);
        let loss = Loss::Some(stop);
        // Every call of the opening that follows.
        for again in 1.. {
            let after = sim.lose_power(loss);
            after.stop_after(again, again);
            let opened = on(&after).open_or_create(&crate::tell::owner()).is_ok();
            let note = format!("stopped at call {stop}, then at call {again} of the recovery");
            let after = after.lose_power(Loss::Some(again));
            nothing_lost(&on(&after), &kept, &note);
            let before = kept.len();
            goes_on(&on(&after), &mut kept, &note);
            kept.truncate(before);
            if opened {
                break;
            }
        }
    }
}

#[test]
fn a_thousand_random_days_with_random_stops_lose_nothing() {
    for seed in 0..1_000 {
        let mut dice = Dice(seed);
        let mut kept = Vec::new();
        let mut sim = Sim::new();
        for round in 0..3 {
            sim.stop_after(1 + dice.roll() % 120, dice.roll());
            let mut work = dice.clone();
            let _ = random_day(&on(&sim), &mut work, &mut kept);
            sim = sim.lose_power(Loss::Some(dice.roll()));
            nothing_lost(&on(&sim), &kept, &format!("seed {seed}, round {round}"));
            // An event that was under way may have become durable unacknowledged.
        }
        goes_on(&on(&sim), &mut kept, &format!("seed {seed}"));
    }
}

#[test]
fn what_a_killed_writer_left_unsynced_is_made_to_last_by_the_next() {
    let whole = Sim::new();
    small_day(&on(&whole), &mut Vec::new()).unwrap();
    for stop in 1..=whole.calls() {
        let sim = Sim::new();
        sim.stop_after(stop, stop);
        let mut kept = Vec::new();
        let _ = small_day(&on(&sim), &mut kept);
        // The process died, the computer did not: nothing of what it wrote is gone, or durable.
        sim.go_on();
        small_day(&on(&sim), &mut kept).unwrap();
        let note = format!("killed at call {stop}, power lost later");
        let after = sim.lose_power(Loss::Everything);
        nothing_lost(&on(&after), &kept, &note);
        goes_on(&on(&after), &mut kept, &note);
    }
}
