//! Claims on means of doughs in random blocks.

use super::draw::{Luck, row, study, study_with};
use super::tally::{allowance, report, require_honest, run};
use doughtrace::compare::{Evidence, ResultRow, plan};

/// How doughs of a study differ.
#[derive(Clone, Copy)]
struct World {
    blocks: usize,
    doughs: usize,
    pieces: usize,
    /// Standard deviations, in units of a dough mean of 500.
    block_sd: f64,
    interaction_sd: f64,
    dough_sd: f64,
    piece_sd: f64,
    /// Share of doughs that are lost.
    lost: f64,
    logarithmic: bool,
}

const USUAL: World = World {
    blocks: 6,
    doughs: 1,
    pieces: 3,
    block_sd: 30.0,
    interaction_sd: 0.0,
    dough_sd: 12.0,
    piece_sd: 15.0,
    lost: 0.0,
    logarithmic: false,
};

/// Returns a study in which two-arm lies `shift` above spiral (a ratio on a logarithmic world).
fn draw(world: World, shift: f64, luck: &mut Luck) -> Vec<ResultRow> {
    let mut rows = Vec::new();
    for block in 0..world.blocks {
        let day = luck.normal(world.block_sd);
        for (method, effect) in [("spiral", 0.0), ("two-arm", 1.0), ("high-speed", 0.0)] {
            let own = luck.normal(world.interaction_sd);
            for dough in 0..world.doughs {
                let of_dough = day + own + luck.normal(world.dough_sd);
                let lost = luck.uniform() < world.lost;
                for piece in 0..world.pieces {
                    let error = of_dough + luck.normal(world.piece_sd);
                    let value = match world.logarithmic {
                        true => 500.0 * shift.powf(effect) * (error / 500.0).exp(),
                        false => 500.0 + effect * shift + error,
                    };
                    if !lost {
                        rows.push(row(method, block, dough, piece, value));
                    }
                }
            }
        }
    }
    rows
}

fn honest(series: u64, name: &str, claim: &str, world: World, truth: f64) {
    let study = study(claim);
    let tally = run(&study, truth, |index| {
        draw(world, truth, &mut Luck::of(series, index))
    });
    require_honest(name, &tally);
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn verdicts_at_the_margin_are_wrong_at_most_as_often_as_stated() {
    let difference = "kind = \"difference\"\ndirection = \"above\"\nmargin = 10";
    honest(1, "difference", difference, USUAL, 10.0);
    let logs = World {
        logarithmic: true,
        ..USUAL
    };
    let ratio = "kind = \"ratio\"\ndirection = \"above\"\nmargin = 0.9";
    honest(2, "ratio", ratio, logs, 0.9);
    let equal = "kind = \"equivalent\"\nmargin = 25";
    honest(3, "equivalent, at the margin", equal, USUAL, 25.0);
    let percent = "kind = \"equivalent\"\nmargin_percent = 10";
    honest(
        4,
        "equivalent within 10 %, at the margin",
        percent,
        logs,
        1.1,
    );
    let worse = "kind = \"not-worse\"\nbetter = \"higher\"\nmargin = 15";
    honest(5, "not-worse, at the margin", worse, USUAL, -15.0);
    let paired = "kind = \"difference\"\ndirection = \"above\"\nmargin = 10\nerror = \"paired\"";
    honest(6, "difference, paired error", paired, USUAL, 10.0);
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn verdicts_hold_in_untidy_studies() {
    let difference = "kind = \"difference\"\ndirection = \"above\"\nmargin = 10";
    let lost = World {
        lost: 0.15,
        ..USUAL
    };
    honest(
        11,
        "difference, one dough in seven lost",
        difference,
        lost,
        10.0,
    );
    let small = World { blocks: 3, ..USUAL };
    honest(12, "difference, three blocks", difference, small, 10.0);
    let uneven = World {
        interaction_sd: 12.0,
        ..USUAL
    };
    honest(
        13,
        "difference, methods unlike from block to block",
        difference,
        uneven,
        10.0,
    );
    let twice = World {
        blocks: 4,
        doughs: 2,
        ..USUAL
    };
    honest(
        14,
        "difference, two doughs a block",
        difference,
        twice,
        10.0,
    );
    let flours = World {
        interaction_sd: 15.0,
        doughs: 3,
        ..USUAL
    };
    let over = format!("{difference}\nscope = \"flours\"");
    honest(15, "difference over flours", &over, flours, 10.0);
    let gaps = World {
        lost: 0.15,
        ..flours
    };
    honest(
        16,
        "difference over flours, doughs lost (mixed model)",
        &over,
        gaps,
        10.0,
    );
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn the_shared_uncertainty_of_meters_is_covered() {
    // Each method has its own power meter, wrong by 4 % (standard) in each study as a whole.
    let logs = World {
        logarithmic: true,
        ..USUAL
    };
    let share = study("kind = \"energy-share\"\nmargin = 0.7");
    let tally = |stated: bool| {
        run(&share, 0.7, |index| {
            let mut luck = Luck::of(21, index);
            let mut rows = draw(logs, 0.7, &mut luck);
            for method in ["spiral", "two-arm", "high-speed"] {
                let meter = luck.normal(0.04).exp();
                let own = |row: &&mut ResultRow| row.origin.treatment.as_deref() == Some(method);
                for row in rows.iter_mut().filter(own) {
                    row.value = row.value.map(|v| v * meter);
                    if stated {
                        row.parameters = format!("shared_u={}", 0.04 * row.value.unwrap());
                    }
                }
            }
            rows
        })
    };
    require_honest("energy-share with shared uncertainty", &tally(true));
    let silent = tally(false);
    report(
        "energy-share, shared uncertainty not stated (wrong on purpose)",
        &silent,
    );
    assert!(silent.supported_share() > 0.08);
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn pieces_taken_for_doughs_fail_the_same_proof() {
    let claim = "kind = \"difference\"\ndirection = \"above\"\nmargin = 10";
    let wrong = |series: u64, head: &str, world: World| {
        run(&study_with(head, claim), 10.0, |index| {
            let mut rows = draw(world, 10.0, &mut Luck::of(series, index));
            for row in &mut rows {
                row.origin.batch = Some(row.run_id.clone());
            }
            rows
        })
    };
    // The same doughs without blocks: honest as doughs, far from it as pieces.
    let plain = World {
        block_sd: 0.0,
        ..USUAL
    };
    let head = "block = \"none\"";
    let right = run(&study_with(head, claim), 10.0, |index| {
        draw(plain, 10.0, &mut Luck::of(32, index))
    });
    require_honest("difference, no blocks", &right);
    let tally = wrong(32, head, plain);
    report("pieces as replicates, no blocks (wrong on purpose)", &tally);
    assert!(tally.supported_share() > 0.10 && tally.coverage() < 0.80);
    // Within blocks the check of methods against blocks sees much of it, and still not enough.
    let tally = wrong(31, "", USUAL);
    report("pieces as replicates, in blocks (wrong on purpose)", &tally);
    assert!(tally.supported_share() > 0.05 + allowance(0.05, &tally));
    assert!(tally.coverage() < 0.88);
}

/// Plans a study, makes it many times with the planned truth, and compares the share of supported
/// claims with the promise.
fn powered(series: u64, name: &str, claim: &str, truth: f64, logarithmic: bool) {
    let study = study(claim);
    let found = plan(&study, &Evidence::default());
    let planned = &found.claims[0];
    let (doughs, promise) = (planned.doughs.unwrap(), planned.power.unwrap());
    let world = World {
        blocks: doughs,
        pieces: 1,
        piece_sd: 0.0,
        dough_sd: 500.0 * 0.03,
        logarithmic,
        ..USUAL
    };
    let tally = run(&study, truth, |index| {
        draw(world, truth, &mut Luck::of(series, index))
    });
    println!(
        "plan, {name}: {doughs} doughs a method promise {:.1} %, supported {:.1} %",
        100.0 * promise,
        100.0 * tally.supported_share()
    );
    assert!((tally.supported_share() - promise).abs() < 0.05, "{name}");
}

#[test]
#[ignore = "a proof of many minutes without optimisation"]
fn planned_doughs_give_the_power_that_was_promised() {
    let equal = "kind = \"equivalent\"\nmargin = 25\nsd = 15";
    powered(41, "equivalent", equal, 0.0, false);
    let gain = "kind = \"difference\"\ndirection = \"above\"\nmargin = 10\nexpected = 25\nsd = 15";
    powered(42, "difference", gain, 25.0, false);
    let ratio =
        "kind = \"ratio\"\ndirection = \"above\"\nmargin = 0.9\nexpected = 0.95\ncv_percent = 3";
    powered(43, "ratio", ratio, 0.95, true);
    let paired =
        "kind = \"not-worse\"\nbetter = \"higher\"\nmargin = 15\nsd = 15\nerror = \"paired\"";
    powered(44, "not-worse, paired", paired, 0.0, false);
}
