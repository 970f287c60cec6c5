//! Strips drawn out by a hook, with their truth.
//!
//! A strip follows one law of strain hardening exactly, so that the exponent is known; geometry and
//! definitions: HANDBOOK §5. The maths here is the generator's own: lengths by Pythagoras, maxima by
//! search, integrals by Simpson's rule, the other law's exponent by sums over a dense grid. Numbers
//! of doughs are invented.

use super::noise::Noise;
use super::truth::{Truth, TruthValue};

/// Way of the hook within which a torn strip lets go, mm; invented.
const LET_GO_MM: f64 = 0.4;
/// Record behind the rupture, mm.
const TAIL_MM: f64 = 6.0;
/// Intervals of the dense grids of the truth; even.
const GRID: usize = 4000;
/// Range of the fits: strain and share of the failure strain; HANDBOOK §5 (choice).
const FIT: (f64, f64) = (0.3, 0.9);

/// Law of strain hardening of a strip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum StripLaw {
    /// `K exp(n eps)`, K in kPa.
    Exponential {
        /// Stress at strain nought, kPa.
        k_kpa: f64,
        /// Exponent.
        n: f64,
    },
    /// `K eps^n`, K in kPa.
    Power {
        /// Stress at strain one, kPa.
        k_kpa: f64,
        /// Exponent.
        n: f64,
    },
}

/// Lengths of a strip and its holder.
#[derive(Debug, Clone, Copy)]
pub struct StripSize {
    /// Half the distance between the edges, mm.
    pub half_gap_mm: f64,
    /// Sag before the hook touches, mm.
    pub sag_mm: f64,
    /// Cross-section, mm².
    pub section_mm2: f64,
}

/// A strip as it truly is.
#[derive(Debug, Clone, Copy)]
pub struct StripModel {
    /// Size.
    pub size: StripSize,
    /// Law.
    pub law: StripLaw,
    /// Way of the hook from touch to rupture, mm.
    pub rupture_mm: f64,
    /// Speed of the hook, mm/s.
    pub speed_mm_s: f64,
    /// Share of the load lost by a slip at half of the way; 0 for none.
    pub slip_share: f64,
}

impl StripModel {
    fn length(&self, y: f64) -> f64 {
        let (a, depth) = (self.size.half_gap_mm, y + self.size.sag_mm);
        2.0 * (a * a + depth * depth).sqrt()
    }

    /// Returns the Hencky strain at hook travel `y`, mm.
    pub fn strain(&self, y: f64) -> f64 {
        libm::log(self.length(y)) - libm::log(self.length(0.0))
    }

    /// Returns the stress at hook travel `y`, kPa.
    pub fn stress(&self, y: f64) -> f64 {
        let strain = self.strain(y);
        match self.law {
            StripLaw::Exponential { k_kpa, n } => k_kpa * libm::exp(n * strain),
            StripLaw::Power { k_kpa, n } => k_kpa * libm::pow(strain.max(0.0), n),
        }
    }

    /// Returns the force on the hook at travel `y`, N: two strands pull at the sine of their angle.
    pub fn force(&self, y: f64) -> f64 {
        let length = self.length(y);
        let section = self.size.section_mm2 * self.length(0.0) / length;
        let along = self.stress(y) * 1e-3 * section;
        let sine = (y + self.size.sag_mm) / (0.5 * length);
        2.0 * along * sine
    }

    /// Returns the strain rate at hook travel `y`, 1/s, as a central difference.
    fn rate(&self, y: f64) -> f64 {
        let h = 1e-5;
        (self.strain(y + h) - self.strain(y - h)) / (2.0 * h) * self.speed_mm_s
    }

    /// Returns travel and force where the force is greatest.
    fn top(&self) -> (f64, f64) {
        let step = self.rupture_mm / GRID as f64;
        let grid = (0..=GRID).map(|i| (step * i as f64, self.force(step * i as f64)));
        grid.fold(
            (0.0, f64::MIN),
            |best, at| if at.1 > best.1 { at } else { best },
        )
    }

    /// Returns the area below the force up to rupture, N mm, by Simpson's rule.
    fn area(&self) -> f64 {
        let step = self.rupture_mm / GRID as f64;
        let weight = |i: usize| match i {
            0 | GRID => 1.0,
            _ if i % 2 == 1 => 4.0,
            _ => 2.0,
        };
        let sum: f64 = (0..=GRID)
            .map(|i| weight(i) * self.force(step * i as f64))
            .sum();
        sum * step / 3.0
    }

    /// Returns slope and height at nought of ln stress against `abscissa` of strain, over even
    /// travel within the range of the fits.
    fn line(&self, abscissa: impl Fn(f64) -> f64) -> (f64, f64) {
        let (from, to) = (FIT.0, FIT.1 * self.strain(self.rupture_mm));
        let step = self.rupture_mm / GRID as f64;
        let (mut n, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for i in 0..=GRID {
            let y = step * i as f64;
            let strain = self.strain(y);
            if strain < from || strain > to {
                continue;
            }
            let (x, z) = (abscissa(strain), libm::log(self.stress(y)));
            n += 1.0;
            sx += x;
            sy += z;
            sxx += x * x;
            sxy += x * z;
        }
        let slope = (n * sxy - sx * sy) / (n * sxx - sx * sx);
        (slope, (sy - slope * sx) / n)
    }

    /// Returns the travel at a strain, mm, by bisection.
    fn travel(&self, strain: f64) -> f64 {
        let (mut low, mut high) = (0.0, self.rupture_mm);
        for _ in 0..100 {
            let middle = 0.5 * (low + high);
            if self.strain(middle) < strain {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }

    /// Returns the force as the hook meets it, N: slip and rupture included.
    fn met(&self, y: f64) -> f64 {
        if y < 0.0 {
            return 0.0;
        }
        if y > self.rupture_mm {
            let gone = ((y - self.rupture_mm) / LET_GO_MM).min(1.0);
            return (1.0 - gone) * self.force(self.rupture_mm);
        }
        let since = y - 0.5 * self.rupture_mm;
        let lost = if self.slip_share > 0.0 && since >= 0.0 {
            self.slip_share * libm::exp(-since / 8.0)
        } else {
            0.0
        };
        (1.0 - lost) * self.force(y)
    }

    /// Returns the truth of every metric of the strip.
    pub fn truth(&self) -> Truth {
        let failure = self.strain(self.rupture_mm);
        let (at_top, top) = self.top();
        let (n_exp, ln_k_exp) = self.line(|strain| strain);
        let (n_pow, ln_k_pow) = self.line(libm::log);
        let (from, to) = (self.travel(FIT.0), self.travel(FIT.1 * failure));
        let rates: Vec<f64> = (0..=2000)
            .map(|i| self.rate(from + (to - from) * f64::from(i) / 2000.0))
            .collect();
        let straight = libm::log(self.length(0.0) / (2.0 * self.size.half_gap_mm));
        let mut truth = Truth::default();
        for (metric, variant, value) in [
            ("strip.maximum_force", "", top),
            ("strip.extensibility", "", at_top),
            ("strip.area", "", self.area()),
            ("strip.failure_stress", "", self.stress(self.rupture_mm)),
            ("strip.failure_strain", "", failure),
            (
                "strip.strain_rate",
                "at-failure",
                self.rate(self.rupture_mm),
            ),
            (
                "strip.strain_rate",
                "greatest",
                rates.iter().copied().fold(f64::MIN, f64::max),
            ),
            (
                "strip.strain_rate",
                "least",
                rates.iter().copied().fold(f64::MAX, f64::min),
            ),
            ("strip.n_exp", "", n_exp),
            ("strip.k_exp", "", libm::exp(ln_k_exp)),
            ("strip.n_pow", "", n_pow),
            ("strip.k_pow", "", libm::exp(ln_k_pow)),
            ("strip.pre_strain", "", straight),
        ] {
            truth.state(metric, variant, TruthValue::Exact(value));
        }
        // Considère: d ln sigma / d eps = 1. The slope is read over 0.3 of strain, from 0.3 on.
        let local = match self.law {
            StripLaw::Power { n, .. } if n < FIT.0 + 0.15 => TruthValue::Below(FIT.0),
            StripLaw::Power { n, .. } if n < failure - 0.15 => TruthValue::Exact(n),
            StripLaw::Exponential { n, .. } if n < 1.0 => TruthValue::Below(FIT.0),
            _ => TruthValue::NotReached,
        };
        truth.state("strip.stability_strain", "local", local);
        let power = if n_pow <= failure {
            TruthValue::Exact(n_pow)
        } else {
            TruthValue::NotReached
        };
        truth.state("strip.stability_strain", "power-law", power);
        truth
    }
}

/// What files state about a dough that strips and discs are made of.
#[derive(Debug, Clone, Default)]
pub struct DoughFacts {
    /// Dough.
    pub batch_id: String,
    /// Flour lot.
    pub sample_id: String,
    /// Mixing method.
    pub treatment: String,
    /// Block.
    pub block: String,
    /// Replicate of the dough.
    pub replicate: String,
    /// Moisture of the flour, %.
    pub moisture_pct: Option<f64>,
    /// Flour, g.
    pub flour_g: Option<f64>,
    /// Salt water or water dosed, ml.
    pub water_ml: Option<f64>,
    /// Mixing time, min.
    pub mix_time_min: Option<f64>,
    /// Rest before the test, min.
    pub rest_min: Option<f64>,
    /// Chamber in which the dough rests and is tested, °C.
    pub thermostat_c: Option<f64>,
    /// Dough after mixing, °C.
    pub dough_temp_c: Option<f64>,
    /// Person (invented number).
    pub operator: String,
}

/// One strip as recorded.
#[derive(Debug, Clone)]
pub struct StripRun {
    /// Name of the run.
    pub run_id: String,
    /// What is stated of its dough.
    pub dough: DoughFacts,
    /// What is stated of its size; the model may differ within the tolerances.
    pub stated: StripSize,
    /// Whether the sag is stated.
    pub sag_stated: bool,
    /// Speed stated, mm/s.
    pub stated_speed_mm_s: Option<f64>,
    /// The strip as it is.
    pub model: StripModel,
    /// How it failed: `middle`, `slipped`, `clamp`.
    pub failure: &'static str,
    /// Why it must not count; empty for no reason.
    pub leave_out: String,
    /// Interval of the record, mm.
    pub step_mm: f64,
    /// Record before touch, mm.
    pub lead_mm: f64,
    /// Where touch truly lies on the record's abscissa, mm.
    pub touch_mm: f64,
    /// Force of the free hook, N.
    pub free_hook_n: f64,
    /// What the load cell reads of one newton.
    pub force_factor: f64,
    /// Standard deviation of the noise, N.
    pub noise_n: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// What is wrong with it, in words; empty for nothing.
    pub trouble: &'static str,
}

impl StripRun {
    /// Returns hook travel, mm, and force, N, of every reading.
    pub fn samples(&self) -> Vec<(f64, f64)> {
        let mut noise = Noise::new(self.seed);
        let first = -(self.lead_mm / self.step_mm).round() as i64;
        let end = self.touch_mm + self.model.rupture_mm + TAIL_MM;
        (first..=(end / self.step_mm) as i64)
            .map(|i| {
                let x = self.step_mm * i as f64;
                let force = self.force_factor * self.model.met(x - self.touch_mm);
                (x, self.free_hook_n + force + self.noise_n * noise.normal())
            })
            .collect()
    }

    /// Returns the truth of every metric, as the rules of HANDBOOK §5 have it: strips that slipped,
    /// tore at the clamp or were left out are rejected.
    pub fn truth(&self) -> Truth {
        let truth = self.model.truth();
        if self.failure == "middle" && self.leave_out.is_empty() {
            return truth;
        }
        let mut rejected = Truth::default();
        for (metric, variant, _) in truth.iter() {
            rejected.state(metric, variant, TruthValue::Rejected);
        }
        rejected
    }
}

/// What the strips of a dough are like on the whole, and how much they scatter (shares of one
/// standard deviation).
#[derive(Debug, Clone, Copy)]
pub struct StripDough {
    /// Stress at strain nought, kPa.
    pub k_kpa: f64,
    /// Exponent of the exponential law.
    pub n: f64,
    /// Way of the hook to rupture, mm.
    pub rupture_mm: f64,
    /// Scatter of K.
    pub k_scatter: f64,
    /// Scatter of n.
    pub n_scatter: f64,
    /// Scatter of the way to rupture.
    pub rupture_scatter: f64,
}

/// Holder of every strip of the story: half gap 9 mm, sag 1.5 mm, 12 mm²; invented.
pub const HOLDER: StripSize = StripSize {
    half_gap_mm: 9.0,
    sag_mm: 1.5,
    section_mm2: 12.0,
};
/// Speed of the hook, mm/s; HANDBOOK §5, from memory.
pub const HOOK_MM_PER_S: f64 = 3.3;

impl StripDough {
    /// Returns what the strips of a dough mixed by `treatment` are like; invented.
    pub fn mixed_by(treatment: &str) -> StripDough {
        let (k_kpa, n, rupture_mm) = match treatment {
            "spiral" => (1.9, 1.72, 40.0),
            "two-arm" => (1.75, 1.80, 44.0),
            _ => (2.15, 1.62, 37.0),
        };
        StripDough {
            k_kpa,
            n,
            rupture_mm,
            k_scatter: 0.05,
            n_scatter: 0.02,
            rupture_scatter: 0.05,
        }
    }

    /// Returns one strip's model, drawn from `draw`.
    pub fn draw(&self, draw: &mut Noise) -> StripModel {
        let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.5);
        StripModel {
            size: HOLDER,
            law: StripLaw::Exponential {
                k_kpa: self.k_kpa * scatter(self.k_scatter),
                n: self.n * scatter(self.n_scatter),
            },
            rupture_mm: self.rupture_mm * scatter(self.rupture_scatter),
            speed_mm_s: HOOK_MM_PER_S,
            slip_share: 0.0,
        }
    }

    /// Returns `count` strips of the dough, named `ST-<number>` from `number` on.
    pub fn strips(&self, facts: &DoughFacts, number: u32, count: u32) -> Vec<StripRun> {
        (number..number + count)
            .map(|number| {
                let mut draw = Noise::new(3_000_000 + u64::from(number));
                StripRun {
                    run_id: format!("ST-{number}"),
                    dough: facts.clone(),
                    stated: HOLDER,
                    sag_stated: true,
                    stated_speed_mm_s: Some(HOOK_MM_PER_S),
                    model: self.draw(&mut draw),
                    failure: "middle",
                    leave_out: String::new(),
                    step_mm: 0.2,
                    lead_mm: 4.0,
                    touch_mm: 0.0,
                    free_hook_n: 0.004,
                    force_factor: 1.0,
                    noise_n: 0.0015,
                    seed: 4_000_000 + u64::from(number),
                    trouble: "",
                }
            })
            .collect()
    }
}
