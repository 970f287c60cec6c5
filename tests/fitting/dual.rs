//! Numbers that carry their derivatives, so that a reference model is written once.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// Most parameters of a reference model.
pub const MOST: usize = 9;

/// A value and its derivatives by the parameters.
#[derive(Clone, Copy)]
pub struct Dual {
    pub value: f64,
    pub slopes: [f64; MOST],
}

impl Dual {
    pub fn parameter(value: f64, index: usize) -> Self {
        let mut slopes = [0.0; MOST];
        slopes[index] = 1.0;
        Self { value, slopes }
    }

    fn through(self, value: f64, slope: f64) -> Self {
        Self {
            value,
            slopes: self.slopes.map(|s| s * slope),
        }
    }

    pub fn exp(self) -> Self {
        let value = self.value.exp();
        self.through(value, value)
    }

    pub fn ln(self) -> Self {
        self.through(self.value.ln(), 1.0 / self.value)
    }

    pub fn atan(self) -> Self {
        self.through(self.value.atan(), 1.0 / (1.0 + self.value * self.value))
    }

    pub fn sin(self) -> Self {
        self.through(self.value.sin(), self.value.cos())
    }

    pub fn cos(self) -> Self {
        self.through(self.value.cos(), -self.value.sin())
    }

    pub fn powf(self, power: Self) -> Self {
        (self.ln() * power).exp()
    }
}

impl From<f64> for Dual {
    fn from(value: f64) -> Self {
        Self {
            value,
            slopes: [0.0; MOST],
        }
    }
}

impl Neg for Dual {
    type Output = Self;
    fn neg(self) -> Self {
        self.through(-self.value, -1.0)
    }
}

impl<T: Into<Self>> Add<T> for Dual {
    type Output = Self;
    fn add(self, other: T) -> Self {
        let other = other.into();
        Self {
            value: self.value + other.value,
            slopes: std::array::from_fn(|i| self.slopes[i] + other.slopes[i]),
        }
    }
}

impl<T: Into<Self>> Sub<T> for Dual {
    type Output = Self;
    fn sub(self, other: T) -> Self {
        self + (-other.into())
    }
}

#[expect(
    clippy::suspicious_arithmetic_impl,
    reason = "the rule of products adds"
)]
impl<T: Into<Self>> Mul<T> for Dual {
    type Output = Self;
    fn mul(self, other: T) -> Self {
        let other = other.into();
        Self {
            value: self.value * other.value,
            slopes: std::array::from_fn(|i| {
                self.slopes[i] * other.value + self.value * other.slopes[i]
            }),
        }
    }
}

impl<T: Into<Self>> Div<T> for Dual {
    type Output = Self;
    fn div(self, other: T) -> Self {
        let other = other.into();
        self * other.through(1.0 / other.value, -1.0 / (other.value * other.value))
    }
}
