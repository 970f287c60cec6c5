//! Pin-mixer curves with their truth.
//!
//! Shape: a fast wetting and a hump that builds the dough and breaks it down again, about a band
//! that follows the height and narrows after the peak (invented; the course is common practice, no
//! source). Definitions: HANDBOOK §2 and §19. Every truth is read from the noise-free functions by
//! golden-section search and Simpson's rule.

use super::anatomy::{Grid, Maximum};
use super::facts::Facts;
use super::noise::Noise;
use super::truth::{Truth, TruthValue};

/// No peak is looked for before this, min; HANDBOOK §2 leaves it open, the tool's own choice.
const WETTING_MIN: f64 = 20.0 / 60.0;
/// A peak this close to the end is none, min; the tool's own choice.
const END_GUARD_MIN: f64 = 20.0 / 60.0;
/// Share of its height by which a passed peak is left at the end; the tool's own choice.
const LEAST_FALL_SHARE: f64 = 0.01;
/// Time of the fixed width, min; HANDBOOK §2.
const FIXED_MIN: f64 = 8.0;
/// Steps of Simpson's rule.
const SIMPSON_STEPS: usize = 2000;

/// A noise-free pin-mixer curve; heights in % of full scale, times in min from the start.
#[derive(Debug, Clone, Copy)]
pub struct PinModel {
    /// Height of the hump, %.
    pub hump_pct: f64,
    /// Time of the hump's top, min.
    pub hump_min: f64,
    /// Steepness of the hump: the power of its rise.
    pub steepness: f64,
    /// Height that wetted dough keeps, %.
    pub floor_pct: f64,
    /// Time constant of the wetting, min.
    pub wetting_min: f64,
    /// Half band where the centre is as high as floor and hump together, %.
    pub half_band_pct: f64,
    /// Power with which the band follows the height.
    pub follow: f64,
    /// Share of the band lost long after the hump.
    pub narrowing: f64,
    /// Turns of the head, 1/min.
    pub speed_per_min: f64,
    /// Share of the second swing of a turn in the ripple.
    pub second_share: f64,
}

impl PinModel {
    /// Returns the centre at `t_min`, %.
    pub fn centre(&self, t_min: f64) -> f64 {
        if t_min <= 0.0 {
            return 0.0;
        }
        let u = t_min / self.hump_min;
        let hump = libm::pow(u * libm::exp(1.0 - u), self.steepness);
        let wetted = 1.0 - libm::exp(-t_min / self.wetting_min);
        self.hump_pct * hump + self.floor_pct * wetted
    }

    /// Returns half the band at `t_min`, %.
    pub fn half_band(&self, t_min: f64) -> f64 {
        let share = (self.centre(t_min) / (self.hump_pct + self.floor_pct)).max(0.0);
        let since = (t_min - self.hump_min).max(0.0);
        let narrowed = 1.0 - self.narrowing * (1.0 - libm::exp(-since / 3.0));
        self.half_band_pct * libm::pow(share, self.follow) * narrowed
    }

    /// Returns the upper contour at `t_min`, %.
    pub fn upper(&self, t_min: f64) -> f64 {
        self.centre(t_min) + self.half_band(t_min)
    }

    fn swing(&self, turn: f64) -> f64 {
        let x = std::f64::consts::TAU * turn;
        libm::sin(x) + self.second_share * libm::sin(2.0 * x)
    }

    /// Returns the noise-free signal over time in min, %: an odd ripple of the pins, so that its
    /// crest is as high as its trough is deep.
    pub fn signal(&self) -> impl Fn(f64) -> f64 {
        let crest = (0..5000)
            .map(|i| self.swing(f64::from(i) / 5000.0))
            .fold(0.0, f64::max);
        move |t_min| {
            let swing = self.swing(self.speed_per_min * t_min) / crest;
            self.centre(t_min) + self.half_band(t_min) * swing
        }
    }

    /// Returns the slope of the line of least squares through the centre from `a` to `b` min, per
    /// min: twelve times the first moment over the cube of the length.
    fn line_slope(&self, a: f64, b: f64) -> f64 {
        let middle = 0.5 * (a + b);
        let moment = simpson(|t| (t - middle) * self.centre(t), a, b);
        12.0 * moment / libm::pow(b - a, 3.0)
    }
}

/// Returns the integral of `f` from `a` to `b` by Simpson's rule.
pub fn simpson(f: impl Fn(f64) -> f64, a: f64, b: f64) -> f64 {
    let h = (b - a) / SIMPSON_STEPS as f64;
    let inner: f64 = (1..SIMPSON_STEPS)
        .map(|i| {
            let weight = if i % 2 == 1 { 4.0 } else { 2.0 };
            weight * f(a + h * i as f64)
        })
        .sum();
    (f(a) + inner + f(b)) * h / 3.0
}

/// What files and run sheets state about a pin-mixer run beyond [`Facts`].
#[derive(Debug, Clone, Default)]
pub struct PinFacts {
    /// Flour, water and the rest.
    pub lab: Facts,
    /// Dough mass, g.
    pub dough_g: Option<f64>,
    /// Spring setting.
    pub spring: String,
    /// Torque of one percent of full scale, N m.
    pub torque_per_percent_nm: Option<f64>,
    /// Speed, 1/min.
    pub speed_per_min: Option<f64>,
    /// Protein, %.
    pub protein_pct: Option<f64>,
    /// Basis of the protein.
    pub protein_basis: String,
}

/// One pin-mixer run.
#[derive(Debug, Clone)]
pub struct PinRun {
    /// What is stated.
    pub facts: PinFacts,
    /// The curve.
    pub model: PinModel,
    /// Interval of the record, s.
    pub step_s: f64,
    /// Length of the record, min.
    pub length_min: f64,
    /// Standard deviation of the recorder's white noise, %.
    pub noise_pct: f64,
    /// Seed of the noise.
    pub seed: u64,
}

impl PinRun {
    /// Returns time in s and deflection in % of every sample.
    pub fn samples(&self) -> Vec<(f64, f64)> {
        let mut noise = Noise::new(self.seed);
        let signal = self.model.signal();
        let points = (60.0 * self.length_min / self.step_s).round() as usize;
        (0..=points)
            .map(|i| {
                let t = self.step_s * i as f64;
                (t, signal(t / 60.0) + self.noise_pct * noise.normal())
            })
            .collect()
    }

    /// Returns the end of the record, min.
    pub fn end_min(&self) -> f64 {
        self.step_s * (60.0 * self.length_min / self.step_s).round() / 60.0
    }

    /// Returns the truth of every pin-mixing metric.
    pub fn truth(&self) -> Truth {
        let mut truth = Truth::default();
        let end = self.end_min();
        let torque = self.facts.torque_per_percent_nm;
        let scale = torque.unwrap_or(1.0);
        let grid =
            |f: fn(&PinModel, f64) -> f64| Grid::new(move |t| f(&self.model, t), WETTING_MIN, end);
        let centre = Peak::of(&grid(PinModel::centre), end);
        let edge = Peak::of(&grid(PinModel::upper), end);
        for (peak, names) in [
            (
                centre,
                [
                    "pin-mixing.centre_peak_time",
                    "pin-mixing.centre_peak_height",
                    "pin-mixing.centre_peak_width",
                ],
            ),
            (
                edge,
                [
                    "pin-mixing.edge_peak_time",
                    "pin-mixing.edge_peak_height",
                    "pin-mixing.edge_peak_width",
                ],
            ),
        ] {
            let (time, height, width) = if peak.passed {
                (
                    TruthValue::Exact(peak.top.at_min),
                    TruthValue::Exact(scale * peak.top.height),
                    TruthValue::Exact(2.0 * scale * self.model.half_band(peak.top.at_min)),
                )
            } else {
                (
                    TruthValue::Above(end),
                    TruthValue::Above(scale * peak.top.height),
                    TruthValue::NotComputable,
                )
            };
            truth.state(names[0], "", time);
            truth.state(names[1], "", height);
            truth.state(names[2], "", width);
        }
        self.state_widths(&mut truth, centre, scale);
        self.state_slopes(&mut truth, centre, scale);
        self.state_areas(&mut truth, centre, scale);
        truth
    }

    fn state_widths(&self, truth: &mut Truth, peak: Peak, scale: f64) {
        let width = |t: f64| {
            if t <= self.end_min() {
                TruthValue::Exact(2.0 * scale * self.model.half_band(t))
            } else {
                TruthValue::NotComputable
            }
        };
        truth.state("pin-mixing.width_8min", "8-min", width(FIXED_MIN));
        let later = match peak.passed {
            true => width(peak.top.at_min + 2.0),
            false => TruthValue::NotComputable,
        };
        truth.state("pin-mixing.width_8min", "peak-plus-2-min", later);
    }

    fn state_slopes(&self, truth: &mut Truth, peak: Peak, scale: f64) {
        let tp = peak.top.at_min;
        let (model, end) = (&self.model, self.end_min());
        for (variant, minutes) in [
            ("regression-1-min", 1.0),
            ("regression-2-min", 2.0),
            ("chord", 1.0),
        ] {
            let slope = |a: f64, b: f64| match variant {
                "chord" => (model.centre(b) - model.centre(a)) / (b - a),
                _ => model.line_slope(a, b),
            };
            let when = |shown: bool, a: f64, b: f64| match shown && peak.passed {
                true => TruthValue::Exact(scale * slope(a, b)),
                false => TruthValue::NotComputable,
            };
            let before = when(tp - minutes >= WETTING_MIN, tp - minutes, tp);
            let after = when(tp + minutes <= end, tp, tp + minutes);
            truth.state("pin-mixing.slope_before_peak", variant, before);
            truth.state("pin-mixing.slope_after_peak", variant, after);
        }
    }

    fn state_areas(&self, truth: &mut Truth, peak: Peak, scale: f64) {
        let area = |to: f64| simpson(|t| self.model.centre(t), 0.0, to);
        let to_end = area(self.end_min());
        let bounded = |factor: f64| match peak.passed {
            true => TruthValue::Exact(factor * area(peak.top.at_min)),
            false => TruthValue::Above(factor * to_end),
        };
        truth.state("pin-mixing.area_to_peak", "", bounded(scale));
        truth.state(
            "pin-mixing.area_to_end",
            "",
            TruthValue::Exact(scale * to_end),
        );
        // W = ∫ T ω dt: % min × N m/% × 60 s/min × 2π n/60 (HANDBOOK §2).
        let joule = self
            .facts
            .torque_per_percent_nm
            .zip(self.facts.speed_per_min)
            .map(|(torque, speed)| torque * 60.0 * std::f64::consts::TAU * speed / 60.0);
        let lab = &self.facts.lab;
        let dosed = lab.flour_g.zip(lab.water_ml).map(|(f, w)| f + w);
        let mass_g = self.facts.dough_g.or(dosed);
        let or_not = |factor: Option<f64>, value: &dyn Fn(f64) -> TruthValue| {
            factor.map_or(TruthValue::NotComputable, value)
        };
        let per_kg = joule.zip(mass_g).map(|(joule, mass)| joule / mass);
        let whole = |factor: f64| TruthValue::Exact(factor * to_end);
        truth.state("pin-mixing.work_to_peak", "", or_not(joule, &bounded));
        truth.state("pin-mixing.work_to_end", "", or_not(joule, &whole));
        truth.state(
            "pin-mixing.specific_work_to_peak",
            "",
            or_not(per_kg, &bounded),
        );
        truth.state(
            "pin-mixing.specific_work_to_end",
            "",
            or_not(per_kg, &whole),
        );
    }
}

/// A maximum, and whether the record shows that it was passed.
#[derive(Clone, Copy)]
struct Peak {
    top: Maximum,
    passed: bool,
}

impl Peak {
    fn of(grid: &Grid<'_>, end_min: f64) -> Peak {
        let top = grid.maximum_from(WETTING_MIN);
        let guard = end_min - END_GUARD_MIN;
        let level = (1.0 - LEAST_FALL_SHARE) * top.height;
        Peak {
            top,
            passed: top.at_min <= guard && grid.at(guard).max(grid.at(end_min)) <= level,
        }
    }
}

/// Returns the run of realistic variety that `seed` stands for: peaks from 1.6 to 6.5 min, bands of
/// 6–22 % of full scale, noise of 0.1–0.8 %, 5–20 readings a second, speed within 88 ± 2/min. The
/// noise is white: a recorder's slow wander is not simulated.
pub fn random_pin_run(seed: u64) -> PinRun {
    let mut draw = Noise::new(seed);
    let hump_min = draw.log_uniform(1.6, 6.0);
    let speed = draw.uniform(86.0, 90.0);
    let calibrated = draw.unit() < 0.5;
    PinRun {
        facts: PinFacts {
            lab: Facts {
                run_id: format!("pin-{seed}"),
                ..Facts::default()
            },
            dough_g: Some(16.0),
            spring: "8".to_owned(),
            torque_per_percent_nm: calibrated.then_some(0.008),
            speed_per_min: Some(speed),
            ..PinFacts::default()
        },
        model: PinModel {
            hump_pct: draw.uniform(18.0, 40.0),
            hump_min,
            steepness: draw.uniform(1.2, 3.0),
            floor_pct: draw.uniform(8.0, 25.0),
            wetting_min: draw.uniform(0.15, 0.4),
            half_band_pct: draw.uniform(3.0, 11.0),
            follow: draw.uniform(0.5, 1.2),
            narrowing: draw.uniform(0.2, 0.6),
            speed_per_min: speed,
            second_share: draw.uniform(0.1, 0.6),
        },
        step_s: [0.05, 0.1, 0.2][(draw.unit() * 3.0) as usize],
        length_min: 10.0,
        noise_pct: draw.log_uniform(0.1, 0.8),
        seed: seed ^ (7 << 40),
    }
}
