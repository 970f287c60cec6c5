//! Seeded random numbers; the same seed gives the same numbers on every platform.

use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// A seeded source of uniform and normal numbers.
pub struct Noise {
    rng: ChaCha8Rng,
    spare: Option<f64>,
}

impl Noise {
    /// Returns the source that `seed` stands for.
    pub fn new(seed: u64) -> Noise {
        Noise {
            rng: ChaCha8Rng::seed_from_u64(seed),
            spare: None,
        }
    }

    /// Returns the next number, uniform in [0, 1).
    pub fn unit(&mut self) -> f64 {
        // 53 bits: every value is exact in a double.
        (self.rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Returns the next number, uniform in [low, high).
    pub fn uniform(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Returns the next number whose logarithm is uniform in [low, high).
    pub fn log_uniform(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.uniform(libm::log(low), libm::log(high)))
    }

    /// Returns the next standard normal number (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * libm::log(1.0 - self.unit())).sqrt();
        let angle = std::f64::consts::TAU * self.unit();
        self.spare = Some(radius * libm::sin(angle));
        radius * libm::cos(angle)
    }

    /// Returns the next standard normal number, drawn again until it lies within ±`limit`.
    pub fn normal_within(&mut self, limit: f64) -> f64 {
        loop {
            let value = self.normal();
            if value.abs() <= limit {
                return value;
            }
        }
    }
}
