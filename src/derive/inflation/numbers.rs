//! The numbers of a disc and their uncertainties, all read at once: each input is moved by its
//! uncertainty and everything is read again.

use super::cap::Disc;
use super::prepare::{Bubble, Prepared};
use super::settings::{
    BIAXIAL_LIMIT, ENERGY_FACTOR, KPA_PER_MM_WATER, ML_PER_MM_OF_G, MM_WATER_PER_MM,
};
use crate::derive::budget::{Input, propagate};
use crate::derive::hardening::{FlowCurve, Laws, Stability, find_stability, fit_laws};

/// Which number: its place in [`Numbers`].
pub(super) const PRESSURE: usize = 0;
pub(super) const LENGTH: usize = 1;
pub(super) const ENERGY: usize = 2;
pub(super) const VOLUME: usize = 3;
pub(super) const FAILURE_STRAIN: usize = 4;
pub(super) const FAILURE_STRESS: usize = 5;
pub(super) const N_EXP: usize = 6;
pub(super) const K_EXP: usize = 7;
pub(super) const N_POW: usize = 8;
pub(super) const K_POW: usize = 9;
pub(super) const STABILITY: usize = 10;
pub(super) const COUNT: usize = 11;

/// Inputs: factor of the pressure, factor of the abscissa, start, radius, thickness.
const INPUTS: usize = 5;

/// Pressure of the air outside, kPa (standard atmosphere).
const ATMOSPHERE_KPA: f64 = 101.325;

/// What was read of a disc.
#[derive(Debug, Clone, Default)]
pub struct Numbers {
    /// Values; `None` where one is not defined.
    pub(super) values: [Option<f64>; COUNT],
    /// Their standard uncertainties.
    pub(super) u: [f64; COUNT],
    /// Nominal stress against nominal strain as recorded.
    pub flow: FlowCurve,
    /// The laws fitted to it, or why there are none.
    pub laws: Option<Result<Laws, String>>,
    /// What the local slope says of stability.
    pub stability: Option<Stability>,
}

/// Returns the energy of an area below the curve of the overpressure, 10⁻⁴ J: `W = 1.32 (V/L) S`
/// with `V = G²`, S in cm² of the legacy chart.
pub(super) fn energy(area_mm_water_mm: f64) -> f64 {
    let chart_cm2 = area_mm_water_mm / MM_WATER_PER_MM / 100.0;
    ENERGY_FACTOR * ML_PER_MM_OF_G * chart_cm2
}

/// Returns everything read from what was prepared.
pub(super) fn read_numbers(p: &Prepared) -> Numbers {
    let Ok(bubble) = &p.bubble else {
        return Numbers::default();
    };
    let s = &p.settings;
    let inputs = [
        Input::within(1.0, s.pressure_tolerance_share),
        Input::within(1.0, s.flow_tolerance_share),
        Input::within(0.0, s.start_tolerance_mm),
        Input::within(p.disc.radius_mm, s.radius_tolerance_mm),
        Input::within(p.disc.thickness_mm, s.thickness_tolerance_mm),
    ];
    let all = |values: &[f64; INPUTS]| Blown::of(p, bubble, values).read();
    let mut base = all(&inputs.map(|input| input.value));
    if let (Some(Ok(laws)), Some(failure)) = (&base.laws, base.values[FAILURE_STRAIN]) {
        let range = (s.fit_from_strain, s.fit_to_share * failure);
        base.laws = Some(Ok(laws.clone().with_noise(&base.flow, range)));
    }
    let mut u = propagate(&inputs, |values| all(values).values);
    let noise = Blown::of(p, bubble, &inputs.map(|input| input.value)).noise(&base);
    for (u, noise) in u.iter_mut().zip(noise) {
        *u = u.hypot(noise);
    }
    Numbers { u, ..base }
}

/// A disc being blown up, with its inputs as they are or might be.
struct Blown<'a> {
    p: &'a Prepared,
    bubble: &'a Bubble,
    pressure_factor: f64,
    abscissa_factor: f64,
    start_mm: f64,
    disc: Disc,
}

impl<'a> Blown<'a> {
    fn of(p: &'a Prepared, bubble: &'a Bubble, values: &[f64; INPUTS]) -> Blown<'a> {
        let [
            pressure_factor,
            abscissa_factor,
            start_mm,
            radius_mm,
            thickness_mm,
        ] = *values;
        Blown {
            p,
            bubble,
            pressure_factor,
            abscissa_factor,
            start_mm,
            disc: Disc {
                radius_mm,
                thickness_mm,
            },
        }
    }

    /// Returns the chart length at abscissa `x`, mm.
    fn length(&self, x: f64) -> f64 {
        (x - self.start_mm) * self.abscissa_factor
    }

    /// Returns the volume in the bubble, ml, at abscissa `x` and overpressure `y`. Where the dead
    /// volume is stated, the air is compressed at constant temperature:
    /// `p0 (Vd + Vp) = (p0 + dP)(Vd + Vb)` (Boyle).
    fn volume(&self, x: f64, y: f64) -> f64 {
        let blown = (self.length(x) * self.p.ml_per_mm).max(0.0);
        match self.p.dead_volume_ml {
            None => blown,
            Some(dead) => {
                let squeezed = ATMOSPHERE_KPA / (ATMOSPHERE_KPA + self.kpa(y));
                ((dead + blown) * squeezed - dead).max(0.0)
            }
        }
    }

    fn kpa(&self, y: f64) -> f64 {
        y * self.pressure_factor * KPA_PER_MM_WATER
    }

    /// Returns nominal strain and stress, kPa; `None` while the disc is flat.
    fn strain_and_stress(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let height = self.disc.height_mm(self.volume(x, y));
        let stress = self.disc.stress(self.kpa(y), height)?;
        (stress > 0.0).then(|| (self.disc.strain(height), stress))
    }

    fn read(&self) -> Numbers {
        let p = self.p;
        let mut numbers = Numbers::default();
        let top = p.centre.get(self.bubble.top).copied();
        numbers.values[PRESSURE] = top.map(|y| y * self.pressure_factor);
        let end = self.end();
        numbers.values[LENGTH] = Some(self.length(end.0));
        numbers.values[ENERGY] =
            Some(energy(self.area()) * self.pressure_factor * self.abscissa_factor);
        numbers.values[VOLUME] = Some(self.volume(end.0, end.1));
        numbers.flow = self.flow();
        if self.bubble.rupture.is_some()
            && let Some((strain, stress)) = self.strain_and_stress(end.0, end.1)
        {
            numbers.values[FAILURE_STRAIN] = Some(strain);
            numbers.values[FAILURE_STRESS] = Some(stress);
            self.read_laws(strain, &mut numbers);
        }
        numbers
    }

    fn read_laws(&self, failure: f64, numbers: &mut Numbers) {
        let s = &self.p.settings;
        let range = (s.fit_from_strain, s.fit_to_share * failure);
        let laws = fit_laws(&numbers.flow, range, s.fit_least_points);
        if let Ok(laws) = &laws {
            numbers.values[N_EXP] = Some(laws.exponential.n());
            numbers.values[K_EXP] = Some(laws.exponential.fit.k);
            numbers.values[N_POW] = Some(laws.power.n());
            numbers.values[K_POW] = Some(laws.power.fit.k);
        }
        numbers.laws = Some(laws);
        numbers.stability =
            find_stability(&numbers.flow, (s.fit_from_strain, failure), BIAXIAL_LIMIT);
        if let Some(Stability::LostAt { strain, .. }) = numbers.stability {
            numbers.values[STABILITY] = Some(strain);
        }
    }

    /// Returns abscissa and overpressure at rupture, or at the end of the record.
    fn end(&self) -> (f64, f64) {
        let (p, last) = (self.p, self.bubble.last);
        match self.bubble.rupture {
            Some((place, height)) => (place.at, height),
            None => (p.x[last], p.centre[last]),
        }
    }

    /// Returns the area below the overpressure from the start of the air to its end, mm H2O mm.
    fn area(&self) -> f64 {
        let (p, b) = (self.p, self.bubble);
        let inner = (b.first..=b.last).map(|i| (p.x[i], p.y[i]));
        let start = (p.x[b.first] > 0.0).then_some((0.0, 0.0));
        let end = b.rupture.map(|(place, height)| (place.at, height));
        let points: Vec<(f64, f64)> = start.into_iter().chain(inner).chain(end).collect();
        points
            .windows(2)
            .map(|w| 0.5 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0))
            .sum()
    }

    /// Returns nominal stress against nominal strain of every reading until rupture.
    fn flow(&self) -> FlowCurve {
        let mut flow = FlowCurve::default();
        for i in self.bubble.first..=self.bubble.last {
            let (x, y) = (self.p.x[i], self.p.y[i]);
            if let Some((strain, stress)) = self.strain_and_stress(x, y) {
                flow.strain.push(strain);
                flow.stress.push(stress);
                flow.u_log.push(self.p.u_raw / y);
            }
        }
        flow
    }

    /// Returns what noise, resolution and sampling bring into each number.
    fn noise(&self, base: &Numbers) -> [f64; COUNT] {
        let (p, b) = (self.p, self.bubble);
        let mut u = [0.0; COUNT];
        let near_end = p.x[b.last] - p.x[b.top] <= p.settings.smoothing_half_width_mm;
        u[PRESSURE] = (if near_end { 2.0 } else { 1.0 } * p.u_reading).hypot(p.u_top);
        let u_length = b.rupture.map_or(0.0, |(place, _)| place.reach());
        u[LENGTH] = u_length;
        let (x, y) = self.end();
        let length = p.x[b.last] - p.x[b.first];
        let readings = (b.last - b.first + 1) as f64;
        u[ENERGY] = energy((p.u_raw * length / readings.sqrt()).hypot(u_length * y));
        u[VOLUME] = u_length * p.ml_per_mm;
        if u_length > 0.0
            && let Some((more, less)) = self
                .strain_and_stress(x + u_length, y)
                .zip(self.strain_and_stress(x - u_length, y))
        {
            u[FAILURE_STRAIN] = 0.5 * (more.0 - less.0).abs();
            let stress = base.values[FAILURE_STRESS].unwrap_or(0.0);
            u[FAILURE_STRESS] =
                (0.5 * (more.1 - less.1)).hypot(stress * 2.0 * p.u_reading / y.max(1e-9));
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
}
