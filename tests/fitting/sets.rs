//! The models of the NIST StRD nonlinear sets, as the head of each file prints them.

use crate::dual::Dual;
use std::f64::consts::PI;

pub type Formula = fn(&[f64], &[Dual]) -> Dual;

fn num(value: f64) -> Dual {
    value.into()
}

fn gauss(x: &[f64], b: &[Dual]) -> Dual {
    let x = num(x[0]);
    let bell = |top: Dual, at: Dual, width: Dual| {
        let far = (x - at) / width;
        top * (-(far * far)).exp()
    };
    b[0] * (-b[1] * x).exp() + bell(b[2], b[3], b[4]) + bell(b[5], b[6], b[7])
}

fn lanczos(x: &[f64], b: &[Dual]) -> Dual {
    let term = |i: usize| b[i] * (-b[i + 1] * x[0]).exp();
    term(0) + term(2) + term(4)
}

fn chwirut(x: &[f64], b: &[Dual]) -> Dual {
    (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0])
}

fn rising(x: &[f64], b: &[Dual]) -> Dual {
    b[0] * (num(1.0) - (-b[1] * x[0]).exp())
}

fn cubic_over_cubic(x: &[f64], b: &[Dual]) -> Dual {
    let x = x[0];
    (b[0] + b[1] * x + b[2] * (x * x) + b[3] * (x * x * x))
        / (num(1.0) + b[4] * x + b[5] * (x * x) + b[6] * (x * x * x))
}

fn enso(x: &[f64], b: &[Dual]) -> Dual {
    let x = x[0];
    let turn = |period: Dual| num(2.0 * PI * x) / period;
    let year = turn(num(12.0));
    b[0] + b[1] * year.cos()
        + b[2] * year.sin()
        + b[4] * turn(b[3]).cos()
        + b[5] * turn(b[3]).sin()
        + b[7] * turn(b[6]).cos()
        + b[8] * turn(b[6]).sin()
}

/// Name, model and number of predictors of every nonlinear set.
pub const SETS: &[(&str, Formula)] = &[
    ("Bennett5", |x, b| {
        b[0] * (b[1] + x[0]).powf(num(-1.0) / b[2])
    }),
    ("BoxBOD", rising),
    ("Chwirut1", chwirut),
    ("Chwirut2", chwirut),
    ("DanWood", |x, b| b[0] * num(x[0]).powf(b[1])),
    ("ENSO", enso),
    ("Eckerle4", |x, b| {
        let far = (num(x[0]) - b[2]) / b[1];
        b[0] / b[1] * (far * far * -0.5).exp()
    }),
    ("Gauss1", gauss),
    ("Gauss2", gauss),
    ("Gauss3", gauss),
    ("Hahn1", cubic_over_cubic),
    ("Kirby2", |x, b| {
        let x = x[0];
        (b[0] + b[1] * x + b[2] * (x * x)) / (num(1.0) + b[3] * x + b[4] * (x * x))
    }),
    ("Lanczos1", lanczos),
    ("Lanczos2", lanczos),
    ("Lanczos3", lanczos),
    ("MGH09", |x, b| {
        let x = x[0];
        b[0] * (b[1] * x + x * x) / (b[2] * x + b[3] + x * x)
    }),
    ("MGH10", |x, b| b[0] * (b[1] / (b[2] + x[0])).exp()),
    ("MGH17", |x, b| {
        b[0] + b[1] * (-b[3] * x[0]).exp() + b[2] * (-b[4] * x[0]).exp()
    }),
    ("Misra1a", rising),
    ("Misra1b", |x, b| {
        let base = num(1.0) + b[1] * (x[0] / 2.0);
        b[0] * (num(1.0) - num(1.0) / (base * base))
    }),
    ("Misra1c", |x, b| {
        b[0] * (num(1.0) - (num(1.0) + b[1] * (2.0 * x[0])).powf(num(-0.5)))
    }),
    ("Misra1d", |x, b| {
        b[0] * b[1] * x[0] / (num(1.0) + b[1] * x[0])
    }),
    ("Nelson", |x, b| b[0] - b[1] * x[0] * (-b[2] * x[1]).exp()),
    ("Rat42", |x, b| {
        b[0] / (num(1.0) + (b[1] - b[2] * x[0]).exp())
    }),
    ("Rat43", |x, b| {
        b[0] / (num(1.0) + (b[1] - b[2] * x[0]).exp()).powf(num(1.0) / b[3])
    }),
    ("Roszman1", |x, b| {
        b[0] - b[1] * x[0] - (b[2] / (num(x[0]) - b[3])).atan() / PI
    }),
    ("Thurber", cubic_over_cubic),
];
