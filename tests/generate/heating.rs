//! Mixing and heating curves with their truth.
//!
//! Shape: a sum of smooth steps, one for each thing that happens to the dough: development,
//! weakening of the proteins, gelatinisation, breakdown, setback (invented; the course is common
//! practice, no source). The programme and the definitions: HANDBOOK §3. Every truth is read from
//! the noise-free functions.

use super::facts::Facts;
use super::noise::Noise;
use super::truth::{Truth, TruthValue};

/// End of the phase at 30 °C, min; HANDBOOK §3.
const CONSTANT_END_MIN: f64 = 8.0;
/// End of the heating, min; HANDBOOK §3.
const HEATING_END_MIN: f64 = 23.0;
/// End of the hot phase, min; HANDBOOK §3.
const HOT_END_MIN: f64 = 30.0;
/// End of the cooling, min; HANDBOOK §3.
const COOLING_END_MIN: f64 = 40.0;
/// End of the test, min; HANDBOOK §3.
pub const END_MIN: f64 = 45.0;
/// Heating and cooling rate, °C/min; HANDBOOK §3.
const RATE_C_PER_MIN: f64 = 4.0;
/// A maximum this close to the end of its phase is not passed, min; the tool's own choice.
const GUARD_MIN: f64 = 20.0 / 60.0;
/// Share of C1 that bounds the stability; HANDBOOK §3.
const STABILITY_SHARE: f64 = 0.89;
/// Grid on which points are looked for, min.
const GRID_MIN: f64 = 0.1 / 60.0;

/// A smooth step: so much torque, about a time, within a time.
#[derive(Debug, Clone, Copy)]
pub struct Step {
    /// Size, N m.
    pub nm: f64,
    /// Middle, min.
    pub at_min: f64,
    /// Width: the logistic's scale, min.
    pub within_min: f64,
}

impl Step {
    fn at(self, t_min: f64) -> f64 {
        self.nm / (1.0 + libm::exp(-(t_min - self.at_min) / self.within_min))
    }
}

/// A noise-free heating curve; times in min from the start, torques in N m.
#[derive(Debug, Clone, Copy)]
pub struct HeatingModel {
    /// Torque of the developed dough, N m.
    pub developed_nm: f64,
    /// Time constant of the development, min.
    pub development_min: f64,
    /// Fall of the kneaded dough, N m/min.
    pub softening_nm_per_min: f64,
    /// Weakening; its size is taken away.
    pub weakening: Step,
    /// Gelatinisation.
    pub gelatinisation: Step,
    /// Breakdown; its size is taken away.
    pub breakdown: Step,
    /// Setback.
    pub setback: Step,
    /// Half band of the developed dough, N m.
    pub half_band_nm: f64,
    /// Turns of the blades, 1/min.
    pub speed_per_min: f64,
    /// Share of the second swing of a turn.
    pub second_share: f64,
    /// Lag of the dough behind the block, min.
    pub lag_min: f64,
    /// Temperature of the dough at the start, °C.
    pub dough_start_c: f64,
}

impl HeatingModel {
    /// Returns the centre at `t_min`, N m.
    pub fn centre(&self, t_min: f64) -> f64 {
        let t = t_min.max(0.0);
        let u = t / self.development_min;
        // Rises with a level start, so that there is no corner at its foot.
        let developed = self.developed_nm * (1.0 - (1.0 + u) * libm::exp(-u));
        let softened =
            self.softening_nm_per_min * (t - self.development_min * (1.0 - libm::exp(-u)));
        developed - softened - self.weakening.at(t) + self.gelatinisation.at(t)
            - self.breakdown.at(t)
            + self.setback.at(t)
    }

    /// Returns half the band at `t_min`, N m: it follows the torque of the dough.
    pub fn half_band(&self, t_min: f64) -> f64 {
        self.half_band_nm * (self.centre(t_min) / self.developed_nm).max(0.0)
    }

    /// Returns the temperature of the block at `t_min`, °C.
    pub fn block_c(t_min: f64) -> f64 {
        let heated = (t_min - CONSTANT_END_MIN).clamp(0.0, HEATING_END_MIN - CONSTANT_END_MIN);
        let cooled = (t_min - HOT_END_MIN).clamp(0.0, COOLING_END_MIN - HOT_END_MIN);
        30.0 + RATE_C_PER_MIN * (heated - cooled)
    }

    /// Returns the temperature of the dough at `t_min`, °C: it follows the block with a lag of first
    /// order, solved phase by phase.
    pub fn dough_c(&self, t_min: f64) -> f64 {
        let mut dough = self.dough_start_c;
        let phases = [
            (0.0, CONSTANT_END_MIN, 0.0),
            (CONSTANT_END_MIN, HEATING_END_MIN, RATE_C_PER_MIN),
            (HEATING_END_MIN, HOT_END_MIN, 0.0),
            (HOT_END_MIN, COOLING_END_MIN, -RATE_C_PER_MIN),
            (COOLING_END_MIN, f64::INFINITY, 0.0),
        ];
        for (from, to, rate) in phases {
            if t_min <= from {
                break;
            }
            let since = t_min.min(to) - from;
            let trail = rate * self.lag_min;
            let gap = dough - Self::block_c(from) + trail;
            dough =
                Self::block_c(from) + rate * since - trail + gap * libm::exp(-since / self.lag_min);
        }
        dough
    }

    fn swing(&self, turn: f64) -> f64 {
        let x = std::f64::consts::TAU * turn;
        libm::sin(x) + self.second_share * libm::sin(2.0 * x)
    }

    /// Returns the noise-free signal over time in min, N m: an odd ripple of the blades.
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
    /// min: Simpson's rule for twelve times the first moment over the cube of the length.
    fn line_slope(&self, a: f64, b: f64, steps: u32) -> f64 {
        let (middle, h) = (0.5 * (a + b), (b - a) / f64::from(steps));
        let moment: f64 = (0..=steps)
            .map(|i| {
                let weight = match i {
                    0 => 1.0,
                    i if i == steps => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                let t = a + h * f64::from(i);
                weight * (t - middle) * self.centre(t)
            })
            .sum();
        12.0 * moment * h / 3.0 / libm::pow(b - a, 3.0)
    }
}

/// What files and run sheets state about a heating run beyond [`Facts`].
#[derive(Debug, Clone, Default)]
pub struct HeatingFacts {
    /// Flour, water, hydration and the rest.
    pub lab: Facts,
    /// Basis of the hydration.
    pub hydration_basis: String,
    /// Dough mass, g.
    pub dough_g: Option<f64>,
    /// Speed, 1/min.
    pub speed_per_min: Option<f64>,
}

/// One heating run.
#[derive(Debug, Clone)]
pub struct HeatingRun {
    /// What is stated.
    pub facts: HeatingFacts,
    /// The curve.
    pub model: HeatingModel,
    /// Interval of the record, s.
    pub step_s: f64,
    /// Length of the record, min; 45 for a whole test.
    pub length_min: f64,
    /// Standard deviation of the torque's white noise, N m.
    pub noise_nm: f64,
    /// Standard deviation of the thermometers' noise, °C.
    pub noise_c: f64,
    /// Seed of the noise.
    pub seed: u64,
}

/// One line of a heating record.
#[derive(Debug, Clone, Copy)]
pub struct HeatingSample {
    /// Time, s.
    pub time_s: f64,
    /// Torque, N m.
    pub torque_nm: f64,
    /// Temperature of the dough, °C.
    pub dough_c: f64,
    /// Temperature of the block, °C.
    pub block_c: f64,
}

/// Grid times and heights of the noise-free centre, and the points on it.
struct Course {
    t: Vec<f64>,
    y: Vec<f64>,
}

impl Course {
    fn of(model: &HeatingModel, end_min: f64) -> Course {
        let count = (end_min / GRID_MIN).round() as usize;
        let t: Vec<f64> = (0..=count).map(|i| GRID_MIN * i as f64).collect();
        let y = t.iter().map(|t| model.centre(*t)).collect();
        Course { t, y }
    }

    fn index(&self, min: f64) -> usize {
        ((min / GRID_MIN).round() as usize).min(self.t.len() - 1)
    }

    fn highest(&self, from: usize, to: usize) -> usize {
        (from..=to).fold(
            from,
            |best, i| if self.y[i] > self.y[best] { i } else { best },
        )
    }

    fn lowest(&self, from: usize, to: usize) -> usize {
        (from..=to).fold(
            from,
            |best, i| if self.y[i] < self.y[best] { i } else { best },
        )
    }

    /// C2 and C3: the ends of the greatest rise between the end of the 30 °C phase and the end of
    /// the hot phase, found from the highest later value of every point.
    fn greatest_rise(&self) -> (usize, usize) {
        let (from, to) = (self.index(CONSTANT_END_MIN), self.index(HOT_END_MIN));
        let mut later = to;
        let mut best = (to, to);
        for i in (from..=to).rev() {
            if self.y[i] >= self.y[later] {
                later = i;
            }
            if self.y[later] - self.y[i] > self.y[best.1] - self.y[best.0] {
                best = (i, later);
            }
        }
        best
    }

    fn stability(&self, level: f64) -> Option<(f64, f64)> {
        let rise = (1..self.y.len()).find(|i| self.y[*i] >= level)?;
        let fall = (rise..self.y.len()).find(|i| self.y[*i] < level)?;
        Some((self.t[rise], self.t[fall]))
    }
}

impl HeatingRun {
    /// Returns every line of the record.
    pub fn samples(&self) -> Vec<HeatingSample> {
        let mut noise = Noise::new(self.seed);
        let signal = self.model.signal();
        let points = (60.0 * self.length_min / self.step_s).round() as usize;
        (0..=points)
            .map(|i| {
                let time_s = self.step_s * i as f64;
                let t = time_s / 60.0;
                HeatingSample {
                    time_s,
                    torque_nm: (signal(t) + self.noise_nm * noise.normal()).max(0.0),
                    dough_c: self.model.dough_c(t) + self.noise_c * noise.normal(),
                    block_c: HeatingModel::block_c(t) + self.noise_c * noise.normal(),
                }
            })
            .collect()
    }

    /// Returns the truth of every metric that is read from the curve of a whole test.
    pub fn truth(&self) -> Truth {
        let model = &self.model;
        let course = Course::of(model, END_MIN);
        let first = course.highest(0, course.index(CONSTANT_END_MIN));
        let (second, third) = course.greatest_rise();
        let hot_end = course.index(HOT_END_MIN);
        let late = course.t[third] > HOT_END_MIN - GUARD_MIN;
        let fourth = (!late).then(|| course.lowest(third, hot_end));
        let fifth = course.index(END_MIN);
        let mut truth = Truth::default();
        let points = [Some(first), Some(second), Some(third), fourth, Some(fifth)];
        for (point, names) in points.iter().zip([
            ["heating.c1", "heating.t1", "heating.d1"],
            ["heating.c2", "heating.t2", "heating.d2"],
            ["heating.c3", "heating.t3", "heating.d3"],
            ["heating.c4", "heating.t4", "heating.d4"],
            ["heating.c5", "heating.t5", "heating.d5"],
        ]) {
            let values = point.map_or([TruthValue::NotReached; 3], |i| {
                let t = course.t[i];
                [course.y[i], t, model.dough_c(t)].map(TruthValue::Exact)
            });
            for (name, value) in names.into_iter().zip(values) {
                truth.state(name, "", value);
            }
        }
        self.state_differences(&mut truth, &course, points);
        self.state_slopes(&mut truth, &course, points);
        let level = STABILITY_SHARE * course.y[first];
        let stability = course.stability(level);
        truth.state(
            "heating.stability",
            "",
            stability.map_or(TruthValue::NotReached, |(a, b)| TruthValue::Exact(b - a)),
        );
        let amplitude = 2.0 * model.half_band(course.t[first]);
        truth.state("heating.amplitude", "", TruthValue::Exact(amplitude));
        let cs = model.centre(CONSTANT_END_MIN);
        truth.state("heating.cs", "", TruthValue::Exact(cs));
        truth
    }

    fn state_differences(&self, truth: &mut Truth, course: &Course, points: [Option<usize>; 5]) {
        for (name, a, b) in [
            ("heating.c1_minus_c2", 0, 1),
            ("heating.c3_minus_c2", 2, 1),
            ("heating.c3_minus_c4", 2, 3),
            ("heating.c5_minus_c4", 4, 3),
        ] {
            let value = points[a].zip(points[b]);
            let value = value.map_or(TruthValue::NotComputable, |(a, b)| {
                TruthValue::Exact(course.y[a] - course.y[b])
            });
            truth.state(name, "", value);
        }
    }

    fn state_slopes(&self, truth: &mut Truth, course: &Course, points: [Option<usize>; 5]) {
        let time = |point: usize| points[point].map(|i| course.t[i]);
        let model = &self.model;
        for (name, from, to) in [
            ("heating.alpha", Some(CONSTANT_END_MIN), time(1)),
            ("heating.beta", time(1), time(2)),
            ("heating.gamma", time(2), time(3)),
        ] {
            for variant in ["regression", "chord", "max-derivative"] {
                let value = from.zip(to).and_then(|(a, b)| {
                    let cut = 0.1 * (b - a);
                    match variant {
                        "chord" => Some((model.centre(b) - model.centre(a)) / (b - a)),
                        "regression" => Some(model.line_slope(a + cut, b - cut, 1000)),
                        _ => self.steepest(a, b),
                    }
                });
                let value = value.map_or(TruthValue::NotComputable, TruthValue::Exact);
                truth.state(name, variant, value);
            }
        }
    }

    /// Slope of the steepest line of one minute between `a` and `b`, the way the stretch goes.
    fn steepest(&self, a: f64, b: f64) -> Option<f64> {
        let sign = (self.model.centre(b) - self.model.centre(a)).signum();
        let count = ((b - a - 1.0) / (1.0 / 60.0)).floor();
        (0..=count.max(-1.0) as i64)
            .take_while(|_| count >= 0.0)
            .map(|i| a + i as f64 / 60.0)
            .map(|start| self.model.line_slope(start, start + 1.0, 40))
            .max_by(|x, y| (sign * x).total_cmp(&(sign * y)))
    }
}

/// Returns the run of realistic variety that `seed` stands for: C1 of 1.0–1.2 N m at 1–5 min, bands
/// of 0.04–0.16 N m, noise of 0.002–0.012 N m, one to five readings a second, one run in ten
/// without a breakdown. The noise is white: a slow wander of the instrument is not simulated.
pub fn random_heating_run(seed: u64) -> HeatingRun {
    let mut draw = Noise::new(seed ^ (11 << 40));
    let still = draw.unit() < 0.1;
    let gelatinised = draw.uniform(18.5, 20.5);
    let speed = draw.uniform(79.5, 80.5);
    HeatingRun {
        facts: HeatingFacts {
            lab: Facts {
                run_id: format!("heating-{seed}"),
                moisture_pct: Some(12.5),
                hydration_pct: Some(58.0),
                ..Facts::default()
            },
            hydration_basis: "14 %".to_owned(),
            dough_g: Some(75.0),
            speed_per_min: Some(speed),
        },
        model: HeatingModel {
            developed_nm: draw.uniform(1.05, 1.25),
            development_min: draw.log_uniform(0.25, 0.9),
            softening_nm_per_min: draw.uniform(0.004, 0.02),
            weakening: Step {
                nm: draw.uniform(0.5, 0.75),
                at_min: draw.uniform(12.5, 14.5),
                within_min: draw.uniform(0.9, 1.4),
            },
            gelatinisation: Step {
                nm: draw.uniform(1.1, 1.7),
                at_min: gelatinised,
                within_min: draw.uniform(0.5, 0.9),
            },
            breakdown: Step {
                nm: if still { 0.0 } else { draw.uniform(0.15, 0.6) },
                at_min: draw.uniform(25.0, 27.0),
                within_min: draw.uniform(0.6, 1.0),
            },
            setback: Step {
                nm: draw.uniform(0.6, 1.4),
                at_min: draw.uniform(35.5, 38.0),
                within_min: draw.uniform(1.2, 1.8),
            },
            half_band_nm: draw.uniform(0.02, 0.08),
            speed_per_min: speed,
            second_share: draw.uniform(0.1, 0.6),
            lag_min: draw.uniform(0.4, 1.2),
            dough_start_c: draw.uniform(26.0, 30.0),
        },
        step_s: [0.2, 0.5, 1.0][(draw.unit() * 3.0) as usize],
        length_min: END_MIN,
        noise_nm: draw.log_uniform(0.002, 0.012),
        noise_c: 0.05,
        seed: seed ^ (13 << 40),
    }
    .with_rise_to_the_end(still)
}

impl HeatingRun {
    /// Lets a run without breakdown stiffen to the end of the hot phase and beyond.
    fn with_rise_to_the_end(mut self, still: bool) -> HeatingRun {
        if still {
            self.model.softening_nm_per_min = 0.004;
            self.model.setback.at_min = 32.0;
            self.model.setback.within_min = 2.5;
        }
        self
    }
}
