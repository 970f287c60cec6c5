//! Strain hardening from stress and strain, the same for strips and bubbles: the two laws, each
//! with its own exponent, and the strain at which stretching stops being stable.

use crate::numerics::fit::{HardeningLaw, fit_exponential_law, fit_power_law};
use crate::numerics::fit_line;

/// Half width of the stretch of strain over which the local slope is read (project choice).
pub(super) const SLOPE_HALF_WIDTH: f64 = 0.15;

/// Steps of strain at which the local slope is read (project choice).
const SLOPE_STEP: f64 = 0.02;

/// Stress against Hencky strain, in the order of the record.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct FlowCurve {
    /// Hencky strain.
    pub strain: Vec<f64>,
    /// Stress, kPa; positive.
    pub stress: Vec<f64>,
    /// Standard uncertainty of the logarithm of each stress, from noise and resolution.
    pub u_log: Vec<f64>,
}

impl FlowCurve {
    /// Returns the part of the curve with strains from `from` to `to`.
    fn between(&self, from: f64, to: f64) -> FlowCurve {
        let mut part = FlowCurve::default();
        for ((strain, stress), u) in self.strain.iter().zip(&self.stress).zip(&self.u_log) {
            if (from - 1e-12..=to + 1e-12).contains(strain) && *stress > 0.0 {
                part.strain.push(*strain);
                part.stress.push(*stress);
                part.u_log.push(*u);
            }
        }
        part
    }

    fn without_first(&self) -> FlowCurve {
        let skip = |values: &[f64]| values.iter().skip(1).copied().collect();
        FlowCurve {
            strain: skip(&self.strain),
            stress: skip(&self.stress),
            u_log: skip(&self.u_log),
        }
    }

    fn without_last(&self) -> FlowCurve {
        let mut part = self.clone();
        part.strain.pop();
        part.stress.pop();
        part.u_log.pop();
        part
    }

    fn log_stress(&self) -> Vec<f64> {
        self.stress
            .iter()
            .map(|stress| libm::log(*stress))
            .collect()
    }
}

/// A law fitted to a flow curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Law {
    /// The fit.
    pub fit: HardeningLaw,
    /// Standard uncertainty of the exponent from the noise of the readings.
    pub u_n: f64,
    /// Standard uncertainty of `K` from the noise of the readings, kPa.
    pub u_k: f64,
}

impl Law {
    /// Returns the exponent.
    pub fn n(&self) -> f64 {
        self.fit.line.slope
    }

    /// Returns range, points and R² as the remark of a result.
    pub fn remark(&self) -> String {
        format!(
            "fit eps={:.3}..{:.3}; points={}; R2={:.5}",
            self.fit.from, self.fit.to, self.fit.line.points, self.fit.line.explained
        )
    }
}

/// Both laws fitted over one range of strain.
#[derive(Debug, Clone, PartialEq)]
pub struct Laws {
    /// `sigma = K exp(n eps)`.
    pub exponential: Law,
    /// `sigma = K eps^n`.
    pub power: Law,
}

impl Laws {
    /// Returns the laws with what noise, and where the readings happen to lie at the ends of the
    /// range, leave open of them.
    pub(super) fn with_noise(self, curve: &FlowCurve, range: (f64, f64)) -> Laws {
        let part = curve.between(range.0, range.1);
        let log_strain: Vec<f64> = part.strain.iter().map(|eps| libm::log(*eps)).collect();
        let shorter = [fitted(&part.without_first()), fitted(&part.without_last())];
        let law =
            |law: Law, x: &[f64], which: fn(&(HardeningLaw, HardeningLaw)) -> &HardeningLaw| {
                let (mut u_n, u_log_k) = line_noise(x, &part.u_log);
                let mut u_k = law.fit.k * u_log_k;
                // The end of the range lies between two readings: rectangular over one of them.
                for other in shorter.iter().flatten().map(which) {
                    u_n = u_n.hypot((other.line.slope - law.n()) / 3.0_f64.sqrt());
                    u_k = u_k.hypot((other.k - law.fit.k) / 3.0_f64.sqrt());
                }
                Law { u_n, u_k, ..law }
            };
        Laws {
            exponential: law(self.exponential, &part.strain, |laws| &laws.0),
            power: law(self.power, &log_strain, |laws| &laws.1),
        }
    }
}

/// Returns both laws fitted between the strains `from` and `to`, unweighted, to the readings as
/// recorded; without their noise.
///
/// # Errors
/// In words, when the range holds fewer than `least_points` readings or their stresses are equal.
pub(super) fn fit_laws(
    curve: &FlowCurve,
    (from, to): (f64, f64),
    least_points: usize,
) -> Result<Laws, String> {
    let part = curve.between(from, to);
    if part.strain.len() < least_points {
        return Err(format!(
            "{} readings between strains {from:.2} and {to:.2}; a fit needs {least_points}",
            part.strain.len()
        ));
    }
    let (exponential, power) = fitted(&part).ok_or("the stress does not change with strain")?;
    let law = |fit| Law {
        fit,
        u_n: 0.0,
        u_k: 0.0,
    };
    Ok(Laws {
        exponential: law(exponential),
        power: law(power),
    })
}

fn fitted(part: &FlowCurve) -> Option<(HardeningLaw, HardeningLaw)> {
    let exponential = fit_exponential_law(&part.strain, &part.stress)?;
    let power = fit_power_law(&part.strain, &part.stress)?;
    Some((exponential, power))
}

/// Returns the standard uncertainties of slope and height at nought of the least-squares line
/// through points whose ordinates have the independent standard uncertainties `u` (propagation
/// through the sums of the fit, JCGM 100, 5.1.2).
fn line_noise(x: &[f64], u: &[f64]) -> (f64, f64) {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    let spread: f64 = x.iter().map(|x| (x - mean) * (x - mean)).sum();
    let (mut slope, mut height) = (0.0, 0.0);
    for (x, u) in x.iter().zip(u) {
        let lever = (x - mean) / spread;
        let at_nought = 1.0 / n - mean * lever;
        slope += lever * lever * u * u;
        height += at_nought * at_nought * u * u;
    }
    (slope.sqrt(), height.sqrt())
}

/// What the slope of ln stress against strain says of stability (Considère; HANDBOOK §5).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stability {
    /// It falls to the limit at this strain, with the standard uncertainty from noise and from the
    /// width of the stretch over which the slope is read.
    LostAt {
        /// Strain.
        strain: f64,
        /// Standard uncertainty.
        u: f64,
    },
    /// It is still above the limit at the end of the range.
    Kept {
        /// Slope at the last strain at which it can be read.
        slope: f64,
        /// That strain.
        until: f64,
    },
    /// It is below the limit throughout the range.
    LostBefore {
        /// First strain at which it can be read.
        strain: f64,
    },
}

/// Returns where, between the strains `from` and `to`, the local slope of ln stress against strain
/// falls to `limit` and stays below; `None` where the range is too short to read a slope.
pub(super) fn find_stability(
    curve: &FlowCurve,
    (from, to): (f64, f64),
    limit: f64,
) -> Option<Stability> {
    let part = curve.between(from, to);
    let log_stress = part.log_stress();
    let slopes = LocalSlopes {
        strain: &part.strain,
        log_stress: &log_stress,
        u_log: &part.u_log,
    };
    let wide = slopes.fall_to(limit, SLOPE_HALF_WIDTH)?;
    let Stability::LostAt { strain, u } = wide else {
        return Some(wide);
    };
    // How far the width of the stretch moves the place: from one half as wide.
    let bias = match slopes.fall_to(limit, 0.5 * SLOPE_HALF_WIDTH) {
        Some(Stability::LostAt { strain: closer, .. }) => (closer - strain).abs(),
        _ => SLOPE_STEP,
    };
    Some(Stability::LostAt {
        strain,
        u: u.hypot(bias),
    })
}

struct LocalSlopes<'a> {
    strain: &'a [f64],
    log_stress: &'a [f64],
    u_log: &'a [f64],
}

impl LocalSlopes<'_> {
    /// Returns slope and its noise at `at`.
    fn at(&self, at: f64, half: f64) -> Option<(f64, f64)> {
        let from = self.strain.partition_point(|eps| *eps < at - half - 1e-12);
        let to = self.strain.partition_point(|eps| *eps <= at + half + 1e-12);
        let within = from..to.max(from);
        let x = self.strain.get(within.clone())?;
        if x.len() < 3 {
            return None;
        }
        let line = fit_line(x, self.log_stress.get(within.clone())?)?;
        let (u, _) = line_noise(x, self.u_log.get(within)?);
        Some((line.slope, u))
    }

    fn fall_to(&self, limit: f64, half: f64) -> Option<Stability> {
        let (first, last) = (self.strain.first()? + half, self.strain.last()? - half);
        let steps = ((last - first) / SLOPE_STEP).floor();
        // A strain that steps back by a compressed bubble has no order to walk along.
        if !(1.0..1e5).contains(&steps) || self.strain.windows(2).any(|w| w[1] < w[0]) {
            return None;
        }
        let read: Vec<(f64, f64, f64)> = (0..=steps as usize)
            .filter_map(|j| {
                let at = first + SLOPE_STEP * j as f64;
                self.at(at, half).map(|(slope, u)| (at, slope, u))
            })
            .collect();
        let Some(above) = read.iter().rposition(|(_, slope, _)| *slope >= limit) else {
            return read
                .first()
                .map(|(strain, ..)| Stability::LostBefore { strain: *strain });
        };
        let (at, slope, u) = *read.get(above)?;
        let Some((next, lower, _)) = read.get(above + 1) else {
            return Some(Stability::Kept { slope, until: at });
        };
        let strain = at + (next - at) * (slope - limit) / (slope - lower);
        let around = read
            .iter()
            .filter(|(at, ..)| (at - strain).abs() <= half + SLOPE_STEP);
        let (x, y): (Vec<f64>, Vec<f64>) = around.map(|(at, slope, _)| (*at, *slope)).unzip();
        let fall = fit_line(&x, &y).map_or(0.0, |line| line.slope.abs());
        Some(Stability::LostAt {
            strain,
            u: (u / fall.max(1e-6)).min(last - first),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn curve(law: impl Fn(f64) -> f64) -> FlowCurve {
        let strain: Vec<f64> = (0..=240).map(|i| 0.3 + 0.005 * f64::from(i)).collect();
        FlowCurve {
            stress: strain.iter().map(|eps| law(*eps)).collect(),
            u_log: vec![0.001; strain.len()],
            strain,
        }
    }

    #[test]
    fn the_two_definitions_of_n_differ_as_the_handbook_says() {
        // HANDBOOK §15, V-E4: sigma = 2 exp(1.8 eps), 25 equidistant strains 0.3..1.5: n_exp 1.8
        // exactly; the power law gives n_pow 1.380 and K = e^2.590 = 13.33.
        let mut points = FlowCurve::default();
        for i in 0..25 {
            let eps = 0.3 + 0.05 * f64::from(i);
            points.strain.push(eps);
            points.stress.push(2.0 * libm::exp(1.8 * eps));
            points.u_log.push(0.0);
        }
        let laws = fit_laws(&points, (0.3, 1.5), 10);
        assert!(laws.is_ok_and(|laws| {
            (laws.exponential.n() - 1.8).abs() < 1e-12
                && (laws.exponential.fit.k - 2.0).abs() < 1e-12
                && (laws.power.n() - 1.380).abs() < 5e-4
                && (laws.power.fit.k - 13.33).abs() < 5e-3
                && laws
                    .power
                    .remark()
                    .starts_with("fit eps=0.300..1.500; points=25")
        }));
        assert!(fit_laws(&points, (0.3, 0.5), 10).is_err_and(|why| why.contains("5 readings")));
    }

    #[test]
    fn a_power_law_loses_stability_where_its_strain_equals_n() {
        // Considère, analytic: d ln(K eps^n)/d eps = n/eps falls to the limit at n/limit.
        for (n, limit) in [(1.2, 1.0), (2.0, 2.0), (0.8, 1.0)] {
            let curve = curve(|eps| 10.0 * libm::pow(eps, n));
            match find_stability(&curve, (0.3, 1.5), limit) {
                Some(Stability::LostAt { strain, u }) => {
                    assert!(
                        (strain - n / limit).abs() < 2.0 * u && u < 0.03,
                        "{strain} {u}"
                    );
                }
                other => assert!(other.is_none(), "{n} {limit} {other:?}"),
            }
        }
        let stiff = curve(|eps| 2.0 * libm::exp(1.8 * eps));
        let kept = find_stability(&stiff, (0.3, 1.5), 1.0);
        assert!(matches!(kept, Some(Stability::Kept { slope, .. }) if (slope - 1.8).abs() < 1e-9));
        let lost = find_stability(&stiff, (0.3, 1.5), 2.0);
        assert!(matches!(lost, Some(Stability::LostBefore { strain }) if strain < 0.5));
    }

    #[test]
    fn the_noise_of_a_line_is_that_of_theory() {
        // Equal uncertainties: u/sqrt(Sxx) and u sqrt(1/n + mean²/Sxx) (any textbook).
        let x: Vec<f64> = (0..11).map(f64::from).collect();
        let (slope, height) = line_noise(&x, &[0.5; 11]);
        assert!((slope - 0.5 / 110.0_f64.sqrt()).abs() < 1e-12);
        let wanted = 0.5 * (1.0_f64 / 11.0 + 25.0 / 110.0).sqrt();
        assert!((height - wanted).abs() < 1e-12);
    }
}
