//! The numbers of a strip and their uncertainties, all read at once: each input is moved by its
//! uncertainty and everything is read again.

use super::geometry::Geometry;
use super::prepare::Prepared;
use super::pull::{Mark, Pull};
use super::settings::UNIAXIAL_LIMIT;
use crate::derive::budget::{Input, propagate};
use crate::derive::hardening::{FlowCurve, Laws, Stability, find_stability, fit_laws};

/// Which number: its place in [`Numbers`].
pub(super) const MAXIMUM_FORCE: usize = 0;
pub(super) const TRAVEL_AT_MAXIMUM: usize = 1;
pub(super) const AREA: usize = 2;
pub(super) const FAILURE_STRESS: usize = 3;
pub(super) const FAILURE_STRAIN: usize = 4;
pub(super) const RATE_GREATEST: usize = 5;
pub(super) const RATE_LEAST: usize = 6;
pub(super) const RATE_AT_FAILURE: usize = 7;
pub(super) const N_EXP: usize = 8;
pub(super) const K_EXP: usize = 9;
pub(super) const N_POW: usize = 10;
pub(super) const K_POW: usize = 11;
pub(super) const STABILITY: usize = 12;
pub(super) const PRE_STRAIN: usize = 13;
pub(super) const COUNT: usize = 14;

/// Inputs: half gap, sag, cross-section, touch, factor of the force, speed.
const INPUTS: usize = 6;

/// What was read of a strip.
#[derive(Debug, Clone, Default)]
pub struct Numbers {
    /// Values; `None` where one is not defined.
    pub(super) values: [Option<f64>; COUNT],
    /// Their standard uncertainties.
    pub(super) u: [f64; COUNT],
    /// Stress against strain as recorded.
    pub flow: FlowCurve,
    /// The laws fitted to it, or why there are none.
    pub laws: Option<Result<Laws, String>>,
    /// What the local slope says of stability.
    pub stability: Option<Stability>,
}

/// Returns everything read from what was prepared.
pub(super) fn read_numbers(p: &Prepared) -> Numbers {
    let Ok(pull) = &p.pull else {
        return Numbers::default();
    };
    let s = &p.settings;
    let geometry = p.geometry.as_ref().ok();
    let strip = |get: fn(&Geometry) -> f64| geometry.map_or(0.0, get);
    let area = strip(|g| g.area_mm2);
    let speed = p.speed_mm_s.unwrap_or(0.0);
    let inputs = [
        Input::within(strip(|g| g.half_gap_mm), s.half_gap_tolerance_mm),
        Input::within(strip(|g| g.sag_mm), s.sag_tolerance_mm),
        Input::within(area, s.area_tolerance_share * area),
        Input::within(0.0, s.touch_tolerance_mm),
        Input::within(1.0, s.force_tolerance_share),
        Input::within(speed, s.speed_tolerance_share * speed),
    ];
    let all = |values: &[f64; INPUTS]| Strip::of(p, pull, values).read();
    let mut base = all(&inputs.map(|input| input.value));
    if let (Some(Ok(laws)), Some(failure)) = (&base.laws, base.values[FAILURE_STRAIN]) {
        let range = (s.fit_from_strain, s.fit_to_share * failure);
        base.laws = Some(Ok(laws.clone().with_noise(&base.flow, range)));
    }
    let mut u = propagate(&inputs, |values| all(values).values);
    for (u, noise) in u.iter_mut().zip(noise_of(p, pull, &base)) {
        *u = u.hypot(noise);
    }
    Numbers { u, ..base }
}

/// A strip with its inputs as they are or might be.
struct Strip<'a> {
    p: &'a Prepared,
    pull: &'a Pull,
    geometry: Option<Geometry>,
    touch_mm: f64,
    force_factor: f64,
    speed_mm_s: Option<f64>,
}

impl<'a> Strip<'a> {
    fn of(p: &'a Prepared, pull: &'a Pull, values: &[f64; INPUTS]) -> Strip<'a> {
        let [half_gap_mm, sag_mm, area_mm2, touch_mm, force_factor, speed] = *values;
        let geometry = Geometry {
            half_gap_mm,
            // A sag stated as nought may be small, not negative.
            sag_mm: sag_mm.abs(),
            area_mm2,
        };
        Strip {
            p,
            pull,
            geometry: p.geometry.is_ok().then_some(geometry),
            touch_mm,
            force_factor,
            speed_mm_s: p.speed_mm_s.map(|_| speed),
        }
    }

    fn read(&self) -> Numbers {
        let mut numbers = Numbers::default();
        let top = self.pull.top;
        numbers.values[MAXIMUM_FORCE] = Some(top.force * self.force_factor);
        numbers.values[TRAVEL_AT_MAXIMUM] = Some(top.place.at - self.touch_mm);
        numbers.values[AREA] = Some(area(self.p, self.pull) * self.force_factor);
        if let Some(geometry) = self.geometry {
            numbers.values[PRE_STRAIN] = self.p.sag_stated.then(|| geometry.pre_strain());
            numbers.flow = self.flow(&geometry);
            if let Some(failure) = self.pull.failure {
                self.read_failure(&geometry, failure, &mut numbers);
            }
        }
        numbers
    }

    fn read_failure(&self, geometry: &Geometry, failure: Mark, numbers: &mut Numbers) {
        let s = &self.p.settings;
        let y = failure.place.at - self.touch_mm;
        let strain = geometry.hencky_strain(y);
        numbers.values[FAILURE_STRESS] = geometry.stress_kpa(failure.force * self.force_factor, y);
        numbers.values[FAILURE_STRAIN] = Some(strain);
        let range = (s.fit_from_strain, s.fit_to_share * strain);
        if let Some(speed) = self.speed_mm_s {
            let rate = |y: f64| geometry.strain_rate_per_s(y, speed);
            numbers.values[RATE_AT_FAILURE] = Some(rate(y));
            if range.0 < range.1 {
                let (from, to) = (geometry.travel_mm(range.0), geometry.travel_mm(range.1));
                let highest = geometry.half_gap_mm - geometry.sag_mm;
                numbers.values[RATE_GREATEST] = Some(rate(highest.clamp(from, to)));
                numbers.values[RATE_LEAST] = Some(rate(from).min(rate(to)));
            }
        }
        let laws = fit_laws(&numbers.flow, range, s.fit_least_points);
        if let Ok(laws) = &laws {
            numbers.values[N_EXP] = Some(laws.exponential.n());
            numbers.values[K_EXP] = Some(laws.exponential.fit.k);
            numbers.values[N_POW] = Some(laws.power.n());
            numbers.values[K_POW] = Some(laws.power.fit.k);
        }
        numbers.laws = Some(laws);
        numbers.stability =
            find_stability(&numbers.flow, (s.fit_from_strain, strain), UNIAXIAL_LIMIT);
        if let Some(Stability::LostAt { strain, .. }) = numbers.stability {
            numbers.values[STABILITY] = Some(strain);
        }
    }

    /// Returns stress against strain of every reading between touch and rupture.
    fn flow(&self, geometry: &Geometry) -> FlowCurve {
        let mut flow = FlowCurve::default();
        for i in self.pull.first..=self.pull.last {
            let (y, force) = (self.p.x[i] - self.touch_mm, self.p.y[i]);
            let stress = geometry.stress_kpa(force * self.force_factor, y);
            if let Some(stress) = stress.filter(|stress| *stress > 0.0 && y > 0.0) {
                flow.strain.push(geometry.hencky_strain(y));
                flow.stress.push(stress);
                flow.u_log.push(self.p.u_raw / force);
            }
        }
        flow
    }
}

/// Returns the area below the force from touch to rupture, or to the end of the record, N mm.
fn area(p: &Prepared, pull: &Pull) -> f64 {
    let inner = (pull.first..=pull.last).map(|i| (p.x[i], p.y[i]));
    let start = (p.x[pull.first] > 0.0).then_some((0.0, 0.0));
    let end = pull.rupture.map(|mark| (mark.place.at, mark.force));
    let points: Vec<(f64, f64)> = start.into_iter().chain(inner).chain(end).collect();
    points
        .windows(2)
        .map(|w| 0.5 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0))
        .sum()
}

/// Returns what noise, resolution and sampling bring into each number.
fn noise_of(p: &Prepared, pull: &Pull, base: &Numbers) -> [f64; COUNT] {
    let mut u = [0.0; COUNT];
    u[MAXIMUM_FORCE] = pull.top.u;
    u[TRAVEL_AT_MAXIMUM] = pull.top.place.reach();
    let length = p.x[pull.last] - p.x[pull.first];
    let readings = (pull.last - pull.first + 1) as f64;
    let before = p.x.partition_point(|x| *x < 0.0);
    let u_baseline = match before {
        0..=2 => 0.0,
        // Standard error of a median (any textbook: sqrt(pi/2) that of the mean).
        n => 1.2533 * p.noise / (n as f64).sqrt(),
    };
    let u_end = pull
        .rupture
        .map_or(0.0, |mark| mark.place.reach() * mark.force);
    u[AREA] = (p.u_raw * length / readings.sqrt())
        .hypot(u_baseline * length)
        .hypot(u_end);
    if let (Some(failure), Ok(strip)) = (pull.failure, &p.geometry) {
        let (y, h) = (failure.place.at, 1e-3);
        let slope =
            |of: &dyn Fn(f64) -> f64| (of(y + h) - of(y - h)) / (2.0 * h) * failure.place.reach();
        u[FAILURE_STRAIN] = slope(&|y| strip.hencky_strain(y)).abs();
        let speed = p.speed_mm_s.unwrap_or(0.0);
        u[RATE_AT_FAILURE] = slope(&|y| strip.strain_rate_per_s(y, speed)).abs();
        let relative = failure.u.hypot(u_baseline) / failure.force;
        // Failure may lie up to one reading further; a wider stretch is one of equal stress.
        let stress = |y: f64| strip.stress_kpa(failure.force, y).unwrap_or(0.0);
        let step = length / readings;
        let sampled = slope(&stress) * (step / failure.place.reach().max(step));
        u[FAILURE_STRESS] = (relative * stress(y)).hypot(sampled);
    }
    if let Some(Ok(laws)) = &base.laws {
        u[N_EXP] = laws.exponential.u_n;
        u[K_EXP] = laws.exponential.u_k;
        u[N_POW] = laws.power.u_n;
        u[K_POW] = laws.power.u_k;
    }
    if let Some(Stability::LostAt { u: noise, .. }) = base.stability {
        u[STABILITY] = noise;
    }
    u
}
