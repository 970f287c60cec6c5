//! Whether intervals cover and tests hold their level:
//! `cargo bench --no-default-features --bench coverage`.
//!
//! 10,000 simulated studies for each line: blocks, units within blocks, pieces within units, some
//! units missing. The last lines of the first table take pieces for replicates, which must fail.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a bench prints what it measured and stops at the first surprise"
)]

use doughtrace::numerics::dose_response::ParallelLines;
use doughtrace::numerics::equivalence::test_equivalence;
use doughtrace::numerics::linear::{Coding, Contrasts, Design, Factor, Variable, fit_linear};
use doughtrace::numerics::mixed::{Blocks, Criterion, fit_mixed};
use doughtrace::numerics::power::{Aim, Layout, smallest_count};
use doughtrace::numerics::{Estimate, Interval};
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

const STUDIES: usize = 10_000;
const BLOCKS: usize = 6;
const TREATMENTS: usize = 3;
const PIECES: usize = 3;
const BLOCK_SD: f64 = 1.0;
const UNIT_SD: f64 = 0.5;
const PIECE_SD: f64 = 0.4;
/// True difference of treatment 1 from treatment 0.
const DIFFERENCE: f64 = 0.8;

struct Noise(ChaCha8Rng);

impl Noise {
    fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Box and Muller 1958.
    fn normal(&mut self, deviation: f64) -> f64 {
        let radius = (-2.0 * libm::log(1.0 - self.uniform())).sqrt();
        deviation * radius * libm::cos(std::f64::consts::TAU * self.uniform())
    }
}

/// One simulated study, by pieces and by means of units.
struct Study {
    pieces: Vec<f64>,
    piece_treatment: Factor,
    piece_block: Factor,
    piece_unit: Factor,
    means: Vec<f64>,
    treatment: Factor,
    block: Factor,
}

fn simulate(noise: &mut Noise) -> Study {
    let (mut pieces, mut codes) = (Vec::new(), Vec::new());
    let (mut means, mut of_units) = (Vec::new(), Vec::new());
    for block in 0..BLOCKS {
        let level = noise.normal(BLOCK_SD);
        for treatment in 0..TREATMENTS {
            // One unit in twenty is lost; the first blocks stay whole.
            if block > 1 && noise.uniform() < 0.05 {
                continue;
            }
            let shift = if treatment == 1 { DIFFERENCE } else { 0.0 };
            let unit = 10.0 + level + shift + noise.normal(UNIT_SD);
            let own: Vec<f64> = (0..PIECES).map(|_| unit + noise.normal(PIECE_SD)).collect();
            codes.extend((0..PIECES).map(|_| (treatment, block, means.len())));
            means.push(own.iter().sum::<f64>() / PIECES as f64);
            of_units.push((treatment, block));
            pieces.extend(own);
        }
    }
    Study {
        pieces,
        piece_treatment: Factor::new(codes.iter().map(|c| c.0).collect()),
        piece_block: Factor::new(codes.iter().map(|c| c.1).collect()),
        piece_unit: Factor::new(codes.iter().map(|c| c.2).collect()),
        means,
        treatment: Factor::new(of_units.iter().map(|c| c.0).collect()),
        block: Factor::new(of_units.iter().map(|c| c.1).collect()),
    }
}

fn fixed(values: &[f64], treatment: &Factor, block: &Factor) -> Estimate {
    let design = Design::blocked(treatment, block).unwrap();
    let fit = fit_linear(&design, values).unwrap();
    fit.contrast(&design.difference(Design::TREATMENT, 1, 0).unwrap())
        .unwrap()
}

fn random(values: &[f64], treatment: &Factor, groupings: &[Factor]) -> Estimate {
    let variable = Variable::Factor(treatment.clone(), Coding::Sum);
    let design = Design::new(vec![variable], vec![vec![0]]).unwrap();
    let fit = fit_mixed(&design, groupings, values, Criterion::Restricted).unwrap();
    fit.contrast(&design.difference(0, 1, 0).unwrap()).unwrap()
}

/// Prints coverage of the 95 % interval and the rates of wrong verdicts with the truth at a margin.
fn report(name: &str, estimate: impl Fn(&Study) -> Estimate) {
    let mut noise = Noise(ChaCha8Rng::seed_from_u64(20));
    let (mut covered, mut equivalent, mut not_worse) = (0, 0, 0);
    for _ in 0..STUDIES {
        let found = estimate(&simulate(&mut noise));
        let interval = found.interval(0.95).unwrap();
        covered += usize::from((interval.low..=interval.high).contains(&DIFFERENCE));
        let margins = Interval {
            low: -DIFFERENCE,
            high: DIFFERENCE,
        };
        let test = test_equivalence(&found, margins, 0.05).unwrap();
        equivalent += usize::from(test.equivalent);
        not_worse += usize::from(found.lower_bound(0.95).unwrap() > DIFFERENCE);
    }
    let share = |count: usize| 100.0 * count as f64 / STUDIES as f64;
    println!(
        "{name}: 95 % interval covers {:.2} %, equivalent at the margin {:.2} %, not worse at the \
         margin {:.2} %",
        share(covered),
        share(equivalent),
        share(not_worse)
    );
}

/// Prints the coverage of the 90 % limits of a horizontal shift.
fn report_shift() {
    let mut noise = Noise(ChaCha8Rng::seed_from_u64(21));
    let codes: Vec<(usize, usize, usize)> = (0..3)
        .flat_map(|b| (0..2).flat_map(move |t| (0..4).map(move |d| (b, t, d))))
        .collect();
    let dose: Vec<f64> = codes.iter().map(|c| 56.0 + 2.0 * c.2 as f64).collect();
    let treatment = Factor::new(codes.iter().map(|c| c.1).collect());
    let block = Factor::new(codes.iter().map(|c| c.0).collect());
    let lines = ParallelLines::new(&dose, &treatment, Blocks::Fixed(block)).unwrap();
    let truth = 1.5;
    let mut covered = 0;
    for _ in 0..STUDIES {
        let levels: Vec<f64> = (0..3).map(|_| noise.normal(10.0)).collect();
        let response: Vec<f64> = codes
            .iter()
            .zip(&dose)
            .map(|((block, treatment, _), dose)| {
                let own = dose - truth * *treatment as f64;
                500.0 - 20.0 * (own - 59.0) + levels[*block] + noise.normal(12.0)
            })
            .collect();
        let found = lines.compare(&response, 1, 0, 0.90).unwrap();
        let limits = found.shift.limits.bounded();
        covered += usize::from(limits.is_some_and(|l| (l.low..=l.high).contains(&truth)));
    }
    println!(
        "shift of parallel lines: 90 % limits cover {:.2} %",
        100.0 * covered as f64 / STUDIES as f64
    );
}

/// Prints planned and simulated power of two one-sided tests in blocks.
fn report_power() {
    let mut noise = Noise(ChaCha8Rng::seed_from_u64(22));
    let margins = Interval {
        low: -1.0,
        high: 1.0,
    };
    let layout = Layout::Blocks {
        treatments: TREATMENTS,
    };
    let question = (Aim::Within(margins), 0.1);
    let planned = smallest_count(layout, question, 0.6, (0.05, 0.80), 100)
        .unwrap()
        .unwrap();
    let rows = planned.count * TREATMENTS;
    let treatment = Factor::new((0..rows).map(|i| i % TREATMENTS).collect());
    let block = Factor::new((0..rows).map(|i| i / TREATMENTS).collect());
    let mut succeeded = 0;
    for _ in 0..STUDIES {
        let levels: Vec<f64> = (0..planned.count).map(|_| noise.normal(2.0)).collect();
        let values: Vec<f64> = (0..rows)
            .map(|i| {
                let shift = if i % TREATMENTS == 1 { 0.1 } else { 0.0 };
                levels[i / TREATMENTS] + shift + noise.normal(0.6)
            })
            .collect();
        let found = fixed(&values, &treatment, &block);
        succeeded += usize::from(test_equivalence(&found, margins, 0.05).unwrap().equivalent);
    }
    println!(
        "plan: {} blocks, power {:.2} %, simulated {:.2} %",
        planned.count,
        100.0 * planned.power,
        100.0 * succeeded as f64 / STUDIES as f64
    );
}

fn main() {
    report("means of units, fixed blocks", |s| {
        fixed(&s.means, &s.treatment, &s.block)
    });
    report("means of units, random blocks", |s| {
        random(&s.means, &s.treatment, std::slice::from_ref(&s.block))
    });
    report("pieces, random blocks and units", |s| {
        let groupings = [s.piece_block.clone(), s.piece_unit.clone()];
        random(&s.pieces, &s.piece_treatment, &groupings)
    });
    report("WRONG: pieces as replicates, fixed blocks", |s| {
        fixed(&s.pieces, &s.piece_treatment, &s.piece_block)
    });
    report_shift();
    report_power();
}
