//! Bread of the study's doughs: volume, mass, moisture and mould on one sheet; firmness of two
//! loaves at five ages.

use super::super::super::bread::{FirmingModel, SliceModel, SliceRun};
use super::super::super::facts::decimal;
use super::super::super::layout::{FIRMNESS_PROFILE, write_slices};
use super::super::super::noise::Noise;
use super::super::super::truth::{Truth, TruthValue};
use super::{StudyDough, StudyFile};

/// Ages at which crumb was compressed, d.
const AGES_D: [f64; 5] = [1.0, 2.0, 3.0, 5.0, 7.0];
/// Last look for mould, d.
pub const MOULD_LOOKS_D: f64 = 8.0;
/// Volume of the full box, ml.
const BOX_ML: f64 = 2800.0;
/// Volume of the calibration block, ml.
const BLOCK_ML: f64 = 1000.0;
/// Dough piece, g.
const PIECE_G: f64 = 500.0;

/// Returns the loaf sheet, and a file of slices for each dough.
pub fn files(doughs: &[StudyDough]) -> Vec<StudyFile> {
    let mut files = vec![loaf_sheet(doughs)];
    files.extend(doughs.iter().map(slices));
    files
}

/// A dough's bread as it truly is.
struct Bread {
    specific_ml_g: f64,
    bake_loss_pct: f64,
    moisture_pct: f64,
    mould_d: f64,
    firming: FirmingModel,
}

impl Bread {
    fn of(dough: &StudyDough) -> Bread {
        Bread {
            specific_ml_g: dough.own([3.42, 3.50, 3.38], 0.95, 0.018, 31),
            bake_loss_pct: dough.own([11.6, 11.5, 11.8], 1.0, 0.02, 32),
            moisture_pct: dough.own([43.6, 43.9, 44.2], 0.99, 0.004, 33),
            mould_d: dough.own([7.2, 7.4, 7.0], 1.0, 0.14, 34),
            firming: FirmingModel {
                initial_n: dough.own([1.75, 1.70, 1.80], 1.08, 0.03, 35),
                final_n: dough.own([6.6, 6.4, 6.9], 1.05, 0.03, 36),
                rate_per_d: dough.own([0.36, 0.33, 0.37], 1.0, 0.03, 37),
            },
        }
    }
}

fn loaf_sheet(doughs: &[StudyDough]) -> StudyFile {
    let mut out = String::from(
        "batch,treatment,block,replicate,loaf,age_d,quantity,value,unit,note\n\
         box,,,,,,box_full_volume,2800,ml,invented\n\
         box,,,,,,box_full_volume,2801,ml,\n\
         box,,,,,,block_volume,1000,ml,\n",
    );
    let seeds = decimal(BOX_ML - BLOCK_ML - 3.0, 0);
    out.push_str(&format!("box,,,,,,seeds_around_block,{seeds},ml,\n"));
    let mut truths = Vec::new();
    for dough in doughs {
        let bread = Bread::of(dough);
        let mut draw = Noise::new(81_000_000 + u64::from(dough.place));
        let mut push = |loaf: &str, age: &str, quantity: &str, value: String, unit: &str| {
            out.push_str(&format!(
                "{},{},{},1,{loaf},{age},{quantity},{value},{unit},\n",
                dough.batch_id(),
                dough.method.word,
                dough.block()
            ));
        };
        for loaf in ["a", "b"] {
            let loss = bread.bake_loss_pct + 0.2 * draw.normal_within(2.0);
            let mass = PIECE_G * (1.0 - loss / 100.0);
            let specific = bread.specific_ml_g * (1.0 + 0.008 * draw.normal_within(2.0));
            let seeds = BOX_ML - specific * mass + 4.0 * draw.normal_within(2.0);
            let fives = 5.0 * (seeds / 5.0).round();
            push(loaf, "", "dough_piece_mass", decimal(PIECE_G, 0), "g");
            push(loaf, "", "loaf_mass", decimal(mass, 1), "g");
            push(loaf, "", "seeds_around_loaf", decimal(fives, 0), "ml");
            let moisture = bread.moisture_pct + 0.1 * draw.normal_within(2.0);
            push(loaf, "1", "crumb_moisture", decimal(moisture, 1), "%");
        }
        let last_clean = bread.mould_d.floor().min(MOULD_LOOKS_D);
        push("a", "", "mould_free_until", decimal(last_clean, 0), "d");
        if bread.mould_d < MOULD_LOOKS_D {
            push("a", "", "mould_seen_at", decimal(last_clean + 1.0, 0), "d");
        }
        truths.push((dough.batch_id(), truth(&bread)));
    }
    let mut file = StudyFile::new("loaves.csv", "loaf-sheet", out.into_bytes());
    file.truths = truths;
    file
}

fn truth(bread: &Bread) -> Truth {
    let mut truth = Truth::default();
    for (metric, value) in [
        ("loaf.dough_specific_volume", bread.specific_ml_g),
        ("loaf.dough_bake_loss", bread.bake_loss_pct),
        ("loaf.crumb_moisture", bread.moisture_pct),
    ] {
        truth.state(metric, "", TruthValue::Exact(value));
    }
    let mould = match bread.mould_d < MOULD_LOOKS_D {
        true => TruthValue::Exact(bread.mould_d),
        false => TruthValue::Above(MOULD_LOOKS_D),
    };
    truth.state("loaf.mould_free_days", "", mould);
    truth
}

/// One slice of two loaves at each age.
fn slices(dough: &StudyDough) -> StudyFile {
    let firming = Bread::of(dough).firming;
    let mut draw = Noise::new(82_000_000 + u64::from(dough.place));
    let mut runs = Vec::new();
    for (place, age_d) in AGES_D.iter().enumerate() {
        for loaf in ["a", "b"] {
            let index = runs.len() as u64;
            // A loaf that was cut is gone: each age has loaves of its own.
            let loaf_name = format!("{loaf}{}", place + 1);
            runs.push(SliceRun {
                run_id: format!("CF-{}-{loaf_name}", dough.number()),
                batch_id: dough.batch_id(),
                sample_id: dough.blend.sample_id.to_owned(),
                treatment: dough.method.word.to_owned(),
                block: dough.block(),
                loaf: loaf_name,
                age_d: *age_d,
                operator: dough.operator(),
                model: SliceModel {
                    thickness_mm: 25.0,
                    force_25_n: firming.force(*age_d) * (1.0 + 0.012 * draw.normal_within(2.0)),
                    contact_mm: draw.uniform(0.6, 1.4),
                },
                noise_n: 0.004,
                seed: 83_000_000 + 100 * u64::from(dough.place) + index,
            });
        }
    }
    let name = format!("crumb-{}.csv", dough.batch_id());
    let bytes = write_slices(&runs).into_bytes();
    let mut file = StudyFile::new(&name, FIRMNESS_PROFILE, bytes);
    for run in &runs {
        let day = dough.day() + run.age_d as u32;
        file.lines.push(
            dough
                .line(&name, &run.run_id)
                .with("instrument_id", "probe-1")
                .with("started_at", &dough.clock(day, 90)),
        );
        file.truths.push((run.run_id.clone(), run.truth()));
    }
    file.truths.push((dough.batch_id(), firming.truth()));
    file
}
