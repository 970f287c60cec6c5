//! Discs blown up into bubbles, with the truth of each and of their dough.
//!
//! The wall follows one law of nominal stress exactly, so that the exponent is known; geometry,
//! constants and definitions: HANDBOOK §6. The maths here is the generator's own: heights by
//! bisection, maxima and integrals on dense grids. Numbers of doughs are invented.

use super::noise::Noise;
use super::strip::DoughFacts;
use super::truth::{Truth, TruthValue};
use std::f64::consts::PI;

/// Millimetres of water per kPa; HANDBOOK §6.2 (1 mm H2O = 9.80665 Pa).
const MM_WATER_PER_KPA: f64 = 1000.0 / 9.806_65;
/// Overpressure per height of the manometer; HANDBOOK §6.2.
const MANOMETER: f64 = 1.1;
/// Factor of G; HANDBOOK §6.2, from memory.
const OF_G: f64 = 2.226;
/// Factor of W; HANDBOOK §6.2, from memory.
const OF_W: f64 = 1.32;
/// Chart speed, mm/s; HANDBOOK §6.1, from memory.
pub const CHART_MM_PER_S: f64 = 5.5;
/// Air flow, ml/s: 96 l/h; HANDBOOK §6.1, from memory.
pub const FLOW_ML_PER_S: f64 = 96_000.0 / 3600.0;
/// Air within which a burst bubble is empty, ml; invented.
const EMPTY_ML: f64 = 1.5;
/// Points of the dense grids of the truth.
const GRID: usize = 2000;
/// Range of the fits: strain and share of the failure strain; HANDBOOK §5 (choice).
const FIT: (f64, f64) = (0.3, 0.9);

/// A disc as it truly is.
#[derive(Debug, Clone, Copy)]
pub struct DiscModel {
    /// Radius of the opening, mm.
    pub radius_mm: f64,
    /// Thickness before inflation, mm.
    pub thickness_mm: f64,
    /// Nominal stress at strain nought, kPa.
    pub k_kpa: f64,
    /// Exponent of the nominal stress.
    pub n: f64,
    /// Air at rupture, ml.
    pub rupture_ml: f64,
    /// Air flow, ml/s.
    pub flow_ml_s: f64,
    /// Share of the pressure that a leak takes at 60 % of the way, for a moment; 0 for none.
    pub leak_share: f64,
}

impl DiscModel {
    /// Returns the height of the cap that holds `volume_ml`, mm, by bisection.
    fn height(&self, volume_ml: f64) -> f64 {
        let a = self.radius_mm;
        let held = |h: f64| PI * h * (3.0 * a * a + h * h) / 6000.0;
        let (mut low, mut high) = (0.0, 500.0);
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if held(middle) < volume_ml {
                low = middle;
            } else {
                high = middle;
            }
        }
        low
    }

    /// Returns the nominal strain at the pole when the bubble holds `volume_ml`.
    pub fn strain(&self, volume_ml: f64) -> f64 {
        let (a, h) = (self.radius_mm, self.height(volume_ml));
        libm::log((a * a + h * h) / (a * a))
    }

    /// Returns the overpressure when the bubble holds `volume_ml`, kPa.
    pub fn pressure(&self, volume_ml: f64) -> f64 {
        let (a, h) = (self.radius_mm, self.height(volume_ml));
        if h <= 0.0 {
            return 0.0;
        }
        let strain = libm::log((a * a + h * h) / (a * a));
        // Thinning at the pole by twice the strain; force balance of a sphere.
        let wall = self.thickness_mm * libm::exp(-2.0 * strain);
        let sphere = (a * a + h * h) / (2.0 * h);
        self.k_kpa * libm::exp(self.n * strain) * 2.0 * wall / sphere
    }

    /// Returns the pressure as recorded when `volume_ml` of air has come: leak and rupture included.
    fn met(&self, volume_ml: f64) -> f64 {
        if volume_ml <= 0.0 {
            return 0.0;
        }
        if volume_ml > self.rupture_ml {
            let gone = ((volume_ml - self.rupture_ml) / EMPTY_ML).min(1.0);
            return (1.0 - gone) * self.pressure(self.rupture_ml);
        }
        let since = volume_ml - 0.6 * self.rupture_ml;
        let lost = if self.leak_share > 0.0 && since >= 0.0 {
            self.leak_share * libm::exp(-since / 12.0)
        } else {
            0.0
        };
        (1.0 - lost) * self.pressure(volume_ml)
    }

    /// Returns the greatest overpressure, mm H2O.
    fn top(&self) -> f64 {
        let at = |i: usize| self.pressure(self.rupture_ml * i as f64 / GRID as f64);
        (1..=GRID).map(at).fold(f64::MIN, f64::max) * MM_WATER_PER_KPA
    }

    /// Returns slope and height at nought of ln nominal stress against `abscissa` of strain, over
    /// even steps of volume within the range of the fits.
    fn line(&self, abscissa: impl Fn(f64) -> f64) -> (f64, f64) {
        let (from, to) = (FIT.0, FIT.1 * self.strain(self.rupture_ml));
        let (mut n, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for i in 1..=GRID {
            let strain = self.strain(self.rupture_ml * i as f64 / GRID as f64);
            if strain < from || strain > to {
                continue;
            }
            let (x, z) = (abscissa(strain), libm::log(self.k_kpa) + self.n * strain);
            n += 1.0;
            sx += x;
            sy += z;
            sxx += x * x;
            sxy += x * z;
        }
        let slope = (n * sxy - sx * sy) / (n * sxx - sx * sx);
        (slope, (sy - slope * sx) / n)
    }
}

/// What the abscissa of a bubble's record counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BubbleAbscissa {
    /// Chart millimetres, the height of the manometer as ordinate.
    Chart,
    /// Time, the pressure as ordinate; the flow is stated.
    Time,
    /// Volume, the pressure as ordinate.
    Volume,
}

/// One disc as recorded.
#[derive(Debug, Clone)]
pub struct DiscRun {
    /// Name of the run.
    pub run_id: String,
    /// What is stated of its dough.
    pub dough: DoughFacts,
    /// The disc as it is.
    pub model: DiscModel,
    /// What the record counts.
    pub abscissa: BubbleAbscissa,
    /// Flow stated, l/h.
    pub stated_flow_l_h: Option<f64>,
    /// Radius and thickness stated, mm.
    pub stated_disc: Option<(f64, f64)>,
    /// Why it must not count; empty for no reason.
    pub leave_out: String,
    /// Interval of the record, s.
    pub step_s: f64,
    /// What the gauge reads of one kPa.
    pub pressure_factor: f64,
    /// When the air truly starts on the record's clock, s.
    pub start_s: f64,
    /// Standard deviation of the noise, mm H2O.
    pub noise_mm_water: f64,
    /// Seed of the noise.
    pub seed: u64,
    /// What is wrong with it, in words; empty for nothing.
    pub trouble: &'static str,
}

impl DiscRun {
    /// Returns abscissa (chart mm, s or ml) and ordinate (height in mm, or kPa) of every reading.
    pub fn samples(&self) -> Vec<(f64, f64)> {
        let mut noise = Noise::new(self.seed);
        let end = self.start_s + (self.model.rupture_ml + 40.0) / self.model.flow_ml_s;
        (0..=(end / self.step_s) as usize)
            .map(|i| {
                let clock = self.step_s * i as f64;
                let volume = (clock - self.start_s) * self.model.flow_ml_s;
                let water = self.pressure_factor * self.model.met(volume) * MM_WATER_PER_KPA
                    + self.noise_mm_water * noise.normal();
                match self.abscissa {
                    BubbleAbscissa::Chart => (clock * CHART_MM_PER_S, water / MANOMETER),
                    BubbleAbscissa::Time => (clock, water / MM_WATER_PER_KPA),
                    // The volume is counted as the stated flow says.
                    BubbleAbscissa::Volume => (
                        clock * self.stated_flow_l_h.unwrap_or(96.0) / 3.6,
                        water / MM_WATER_PER_KPA,
                    ),
                }
            })
            .collect()
    }

    /// Returns the air that one chart millimetre truly is, ml.
    fn ml_per_mm(&self) -> f64 {
        match self.abscissa {
            BubbleAbscissa::Chart => self.model.flow_ml_s / CHART_MM_PER_S,
            _ => OF_G * OF_G,
        }
    }

    /// Returns the chart length to rupture, mm.
    fn length(&self) -> f64 {
        self.model.rupture_ml / self.ml_per_mm()
    }

    /// Returns the overpressure at chart length `x`, mm H2O; `None` after rupture.
    fn water_at(&self, x: f64) -> Option<f64> {
        let volume = x * self.ml_per_mm();
        (volume <= self.model.rupture_ml * (1.0 + 1e-12))
            .then(|| self.model.pressure(volume) * MM_WATER_PER_KPA)
    }

    /// Returns the truth of every metric of the disc.
    pub fn truth(&self) -> Truth {
        let model = &self.model;
        let mut truth = Truth::default();
        let length = self.length();
        let (n_exp, ln_k_exp) = model.line(|strain| strain);
        let (n_pow, ln_k_pow) = model.line(libm::log);
        let failure = model.strain(model.rupture_ml);
        let of_flow = FLOW_ML_PER_S / CHART_MM_PER_S;
        let on_chart = self.abscissa == BubbleAbscissa::Chart;
        let other = if on_chart {
            length
        } else {
            model.rupture_ml / of_flow
        };
        for (metric, variant, value) in [
            ("inflation.disc_overpressure", "", model.top()),
            ("inflation.disc_extensibility", "4.955", length),
            ("inflation.disc_extensibility", "4.848", other),
            (
                "inflation.disc_energy",
                "",
                energy_to(length, |x| self.water_at(x)),
            ),
            ("inflation.rupture_volume", "4.955", length * OF_G * OF_G),
            ("inflation.nominal_failure_strain", "", failure),
            (
                "inflation.nominal_failure_stress",
                "",
                model.k_kpa * libm::exp(model.n * failure),
            ),
            ("inflation.nominal_n_exp", "", n_exp),
            ("inflation.nominal_k_exp", "", libm::exp(ln_k_exp)),
            ("inflation.nominal_n_pow", "", n_pow),
            ("inflation.nominal_k_pow", "", libm::exp(ln_k_pow)),
            (
                "inflation.nominal_stability_strain",
                "power-law",
                0.5 * n_pow,
            ),
        ] {
            truth.state(metric, variant, TruthValue::Exact(value));
        }
        if 0.5 * n_pow > failure {
            let none = TruthValue::NotReached;
            truth.state("inflation.nominal_stability_strain", "power-law", none);
        }
        let measured = match (self.abscissa, self.stated_flow_l_h) {
            (BubbleAbscissa::Chart, None) => TruthValue::NotComputable,
            _ => TruthValue::Exact(model.rupture_ml),
        };
        truth.state("inflation.rupture_volume", "measured", measured);
        let by_flow = match on_chart {
            true => TruthValue::Exact(length * of_flow),
            false => TruthValue::NotComputable,
        };
        truth.state("inflation.rupture_volume", "4.848", by_flow);
        let local = match model.n < 2.0 {
            true => TruthValue::Below(FIT.0),
            false => TruthValue::NotReached,
        };
        truth.state("inflation.nominal_stability_strain", "local", local);
        if self.leave_out.is_empty() {
            return truth;
        }
        let mut rejected = Truth::default();
        for (metric, variant, _) in truth.iter() {
            rejected.state(metric, variant, TruthValue::Rejected);
        }
        rejected
    }
}

/// Returns the energy below an overpressure (mm H2O) up to `length`, 10⁻⁴ J: W = 1.32 (V/L) S with
/// V = G², S in cm² of the height, by the rule of midpoints.
fn energy_to(length: f64, water_at: impl Fn(f64) -> Option<f64>) -> f64 {
    let step = length / GRID as f64;
    let middle = |i: usize| water_at(step * (i as f64 + 0.5)).unwrap_or(0.0);
    let area: f64 = (0..GRID).map(middle).sum::<f64>() * step;
    OF_W * OF_G * OF_G * area / MANOMETER / 100.0
}

/// Returns the truth of the numbers that the discs of a dough give together; discs left out do not
/// count.
pub fn dough_truth(discs: &[DiscRun]) -> Truth {
    let counting: Vec<&DiscRun> = discs.iter().filter(|d| d.leave_out.is_empty()).collect();
    let mut truth = Truth::default();
    let count = counting.len() as f64;
    let mean = |of: &dyn Fn(&DiscRun) -> f64| counting.iter().map(|d| of(d)).sum::<f64>() / count;
    let (p, l) = (mean(&|d| d.model.top()), mean(&DiscRun::length));
    let mean_water = |x: f64| {
        let whole: Vec<f64> = counting.iter().filter_map(|d| d.water_at(x)).collect();
        (!whole.is_empty()).then(|| whole.iter().sum::<f64>() / whole.len() as f64)
    };
    for (metric, value) in [
        ("inflation.overpressure", p),
        ("inflation.extensibility", l),
        ("inflation.swelling_index", OF_G * l.sqrt()),
        ("inflation.deformation_energy", energy_to(l, mean_water)),
        ("inflation.configuration_ratio", p / l),
    ] {
        truth.state(metric, "", TruthValue::Exact(value));
    }
    for (rule, at) in [
        ("200ml-4.955", 200.0 / (OF_G * OF_G)),
        ("200ml-4.848", 200.0 / (FLOW_ML_PER_S / CHART_MM_PER_S)),
        ("40mm", 40.0),
    ] {
        let value = match mean_water(at) {
            Some(water) if l >= at => TruthValue::Exact(100.0 * water / p),
            _ => TruthValue::NotReached,
        };
        truth.state("inflation.elasticity_index", rule, value);
    }
    let of_discs: Vec<Truth> = counting.iter().map(|d| d.truth()).collect();
    for (of_dough, of_disc) in [
        (
            "inflation.dough_nominal_failure_strain",
            "inflation.nominal_failure_strain",
        ),
        ("inflation.dough_nominal_n_exp", "inflation.nominal_n_exp"),
        ("inflation.dough_nominal_k_exp", "inflation.nominal_k_exp"),
        ("inflation.dough_nominal_n_pow", "inflation.nominal_n_pow"),
        ("inflation.dough_nominal_k_pow", "inflation.nominal_k_pow"),
    ] {
        let values = of_discs.iter().filter_map(|t| match t.get(of_disc, "") {
            Some(TruthValue::Exact(value)) => Some(value),
            _ => None,
        });
        truth.state(of_dough, "", TruthValue::Exact(values.sum::<f64>() / count));
    }
    // HANDBOOK §6.1, from memory: ml of salt water for 250 g.
    let facts = counting.first().map(|d| &d.dough);
    let water = match facts.and_then(|f| f.moisture_pct) {
        Some(moisture) => {
            let flour = facts.and_then(|f| f.flour_g).unwrap_or(250.0);
            TruthValue::Exact((191.175 - 4.411_75 * moisture) * flour / 250.0)
        }
        None => TruthValue::NotComputable,
    };
    truth.state("inflation.salt_water", "", water);
    truth
}

/// What the discs of a dough are like on the whole, and how much they scatter (shares of one
/// standard deviation).
#[derive(Debug, Clone, Copy)]
pub struct DiscDough {
    /// Nominal stress at strain nought, kPa.
    pub k_kpa: f64,
    /// Exponent of the nominal stress.
    pub n: f64,
    /// Air at rupture, ml.
    pub rupture_ml: f64,
    /// Scatter of K.
    pub k_scatter: f64,
    /// Scatter of the exponent.
    pub n_scatter: f64,
    /// Scatter of the air at rupture.
    pub rupture_scatter: f64,
}

impl DiscDough {
    /// Returns what the discs of a dough mixed by `treatment` are like; invented.
    pub fn mixed_by(treatment: &str) -> DiscDough {
        let (k_kpa, n, rupture_ml) = match treatment {
            "spiral" => (4.6, 1.55, 390.0),
            "two-arm" => (4.2, 1.60, 440.0),
            _ => (5.3, 1.50, 340.0),
        };
        DiscDough {
            k_kpa,
            n,
            rupture_ml,
            k_scatter: 0.025,
            n_scatter: 0.008,
            rupture_scatter: 0.05,
        }
    }

    /// Returns one disc's model, drawn from `draw`.
    pub fn draw(&self, draw: &mut Noise) -> DiscModel {
        let mut scatter = |share: f64| 1.0 + share * draw.normal_within(2.5);
        DiscModel {
            radius_mm: 27.5,
            thickness_mm: 2.67,
            k_kpa: self.k_kpa * scatter(self.k_scatter),
            n: self.n * scatter(self.n_scatter),
            rupture_ml: self.rupture_ml * scatter(self.rupture_scatter),
            flow_ml_s: FLOW_ML_PER_S,
            leak_share: 0.0,
        }
    }

    /// Returns `count` discs of the dough, named `BU-<number>` from `number` on.
    pub fn discs(
        &self,
        facts: &DoughFacts,
        abscissa: BubbleAbscissa,
        number: u32,
        count: u32,
    ) -> Vec<DiscRun> {
        (number..number + count)
            .map(|number| {
                let mut draw = Noise::new(5_000_000 + u64::from(number));
                DiscRun {
                    run_id: format!("BU-{number}"),
                    dough: facts.clone(),
                    model: self.draw(&mut draw),
                    abscissa,
                    stated_flow_l_h: (abscissa != BubbleAbscissa::Chart).then_some(96.0),
                    stated_disc: Some((27.5, 2.67)),
                    leave_out: String::new(),
                    step_s: match abscissa {
                        // Half a chart millimetre.
                        BubbleAbscissa::Chart => 0.5 / CHART_MM_PER_S,
                        _ => 0.05,
                    },
                    pressure_factor: 1.0,
                    start_s: 0.0,
                    noise_mm_water: 0.25,
                    seed: 6_000_000 + u64::from(number),
                    trouble: "",
                }
            })
            .collect()
    }
}
