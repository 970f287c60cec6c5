//! The noise-free mixing curve: centre, half band and blade ripple as analytic functions.
//!
//! Times are minutes since water contact unless the name says otherwise. The shape (fast wetting,
//! slower development to a peak or plateau, then softening, with a band that is widest near the
//! peak) is common practice, no source; the blade speeds are HANDBOOK §1.1 (from memory).

/// Turns of the slow blade per minute; HANDBOOK §1.1, from memory.
pub const SLOW_BLADE_PER_MIN: f64 = 63.0;
/// Turns of the fast blade per minute, 1.5 times the slow one; HANDBOOK §1.1, from memory.
pub const FAST_BLADE_PER_MIN: f64 = 94.5;
/// Time in which both blades come round together: two slow turns, 1.905 s; HANDBOOK §1.1.
pub const JOINT_PERIOD_S: f64 = 2.0 * 60.0 / SLOW_BLADE_PER_MIN;
/// Time constant with which the band narrows after the peak, min; invented.
const NARROWING_MIN: f64 = 6.0;

/// How the centre rises from water contact to its peak, as a share of the peak height.
#[derive(Debug, Clone, Copy)]
pub enum Rise {
    /// `1 - (1 - u)^power`, u the share of the time to the peak; power 1 is a straight line.
    Power(f64),
    /// A fast wetting rise to `share` within `until` of the time to the peak, then a slower one.
    TwoStage {
        /// Share of the height that the fast stage gives.
        share: f64,
        /// Share of the time to the peak after which the fast stage is over.
        until: f64,
        /// Power of the slow stage.
        power: f64,
    },
}

impl Rise {
    fn share(self, u: f64) -> f64 {
        match self {
            Rise::Power(power) => 1.0 - libm::pow(1.0 - u, power),
            Rise::TwoStage {
                share,
                until,
                power,
            } => {
                let fast = 1.0 - libm::pow(1.0 - (u / until).min(1.0), 3.0);
                share * fast + (1.0 - share) * (1.0 - libm::pow(1.0 - u, power))
            }
        }
    }
}

/// How the centre falls after peak and plateau: slowly at first, then in a straight line, then
/// levelling out.
#[derive(Debug, Clone, Copy)]
pub struct Softening {
    /// Slope of the straight part, FU/min.
    pub slope_fu_per_min: f64,
    /// Time over which the fall sets in, min; 0 is a corner.
    pub onset_min: f64,
    /// Fall that is never exceeded, FU; infinite for none.
    pub limit_fu: f64,
}

impl Softening {
    fn fall(self, since_min: f64) -> f64 {
        if since_min <= 0.0 {
            return 0.0;
        }
        let onset = self.onset_min;
        let x = (since_min * since_min + onset * onset).sqrt() - onset;
        let straight = self.slope_fu_per_min * x;
        if self.limit_fu.is_finite() {
            self.limit_fu * (1.0 - libm::exp(-straight / self.limit_fu))
        } else {
            straight
        }
    }
}

/// A valley in the rise, so that the curve has an early hump and a late peak.
#[derive(Debug, Clone, Copy)]
pub struct Dip {
    /// Time of the deepest point, min.
    pub at_min: f64,
    /// Depth, FU.
    pub depth_fu: f64,
    /// Half width (Gaussian standard deviation), min.
    pub width_min: f64,
}

/// The band of the trace about its centre.
#[derive(Debug, Clone, Copy)]
pub struct Band {
    /// Half width at the peak, FU.
    pub half_fu: f64,
    /// Power of centre/peak with which the band opens during the rise; 0 is a constant band.
    pub follow: f64,
    /// Share of the width lost long after the peak.
    pub narrowing: f64,
}

/// The blade ripple: sines of both blades, scaled so that each joint period reaches +1 and -1.
///
/// Both sines start together, which makes the ripple odd: its crest and trough have the same
/// shape, so that coarse sampling misses as much above as below and moves no centre.
#[derive(Debug, Clone, Copy)]
pub struct Ripple {
    fast_share: f64,
    delay_s: f64,
    scale: f64,
}

impl Ripple {
    /// Returns the ripple whose fast blade has `fast_share` of the slow blade's amplitude.
    pub fn new(fast_share: f64, delay_s: f64) -> Ripple {
        let steps = 20_000;
        let crest = (0..steps)
            .map(|i| {
                let x = std::f64::consts::TAU * f64::from(i) / f64::from(steps);
                libm::sin(2.0 * x) + fast_share * libm::sin(3.0 * x)
            })
            .fold(0.0, f64::max);
        Ripple {
            fast_share,
            delay_s,
            scale: 1.0 / crest,
        }
    }

    /// Returns the ripple at `time_s`, between -1 and +1.
    pub fn at(&self, time_s: f64) -> f64 {
        let x = std::f64::consts::TAU * (time_s - self.delay_s) / JOINT_PERIOD_S;
        self.scale * (libm::sin(2.0 * x) + self.fast_share * libm::sin(3.0 * x))
    }
}

/// A noise-free mixing curve.
#[derive(Debug, Clone, Copy)]
pub struct CurveModel {
    /// Height of peak or plateau, FU.
    pub peak_fu: f64,
    /// Time at which the rise is complete, min.
    pub peak_min: f64,
    /// Length of the plateau, min; 0 is a single peak.
    pub plateau_min: f64,
    /// Shape of the rise.
    pub rise: Rise,
    /// Fall after the plateau.
    pub softening: Softening,
    /// Valley in the rise, if any.
    pub dip: Option<Dip>,
    /// Band.
    pub band: Band,
    /// Blade ripple.
    pub ripple: Ripple,
}

impl CurveModel {
    /// Returns the centre at `t_min`, FU; 0 before water contact.
    pub fn centre(&self, t_min: f64) -> f64 {
        if t_min <= 0.0 {
            return 0.0;
        }
        let u = (t_min / self.peak_min).min(1.0);
        let mut value = self.peak_fu * self.rise.share(u);
        value -= self
            .softening
            .fall(t_min - self.peak_min - self.plateau_min);
        if let Some(dip) = self.dip {
            let z = (t_min - dip.at_min) / dip.width_min;
            value -= dip.depth_fu * libm::exp(-0.5 * z * z);
        }
        value
    }

    /// Returns half the band at `t_min`, FU.
    pub fn half_band(&self, t_min: f64) -> f64 {
        let band = self.band;
        let mut width = band.half_fu;
        if band.follow > 0.0 {
            let share = (self.centre(t_min) / self.peak_fu).max(0.0);
            width *= libm::pow(share, band.follow);
        }
        let since = (t_min - self.peak_min - self.plateau_min).max(0.0);
        width * (1.0 - band.narrowing * (1.0 - libm::exp(-since / NARROWING_MIN)))
    }

    /// Returns the upper contour at `t_min`, FU.
    pub fn upper(&self, t_min: f64) -> f64 {
        self.centre(t_min) + self.half_band(t_min)
    }

    /// Returns the lower contour at `t_min`, FU.
    pub fn lower(&self, t_min: f64) -> f64 {
        self.centre(t_min) - self.half_band(t_min)
    }

    /// Returns the noise-free signal at `t_min`, FU.
    pub fn signal(&self, t_min: f64) -> f64 {
        self.centre(t_min) + self.half_band(t_min) * self.ripple.at(60.0 * t_min)
    }
}
