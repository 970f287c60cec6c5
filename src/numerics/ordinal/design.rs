//! The likelihood of ordered grades under a cumulative logit model.

use crate::numerics::maximize::{Local, add_square};
use crate::numerics::slice::logistic_slice;
use nalgebra::{DMatrix, DVector};

/// What each cut between grades depends on: cut j of observation i is `row(i, j) · parameters`.
pub(super) struct Design {
    pub observations: usize,
    pub cuts: usize,
    pub parameters: usize,
    rows: Vec<f64>,
}

impl Design {
    /// Returns the design in which each column moves all cuts alike, and those named in `apart`
    /// move every cut after the first by a further amount of its own.
    pub fn new(columns: &[Vec<f64>], observations: usize, cuts: usize, apart: &[usize]) -> Self {
        let common = cuts + columns.len();
        let parameters = common + apart.len() * (cuts - 1);
        let mut rows = vec![0.0; observations * cuts * parameters];
        for (index, row) in rows.chunks_exact_mut(parameters).enumerate() {
            let (i, cut) = (index / cuts, index % cuts);
            row[cut] = 1.0;
            for (k, column) in columns.iter().enumerate() {
                row[cuts + k] = -column[i];
            }
            if cut > 0 {
                for (k, column) in apart.iter().enumerate() {
                    row[common + k * (cuts - 1) + cut - 1] = -columns[*column][i];
                }
            }
        }
        Self {
            observations,
            cuts,
            parameters,
            rows,
        }
    }

    fn row(&self, observation: usize, cut: usize) -> &[f64] {
        let from = (observation * self.cuts + cut) * self.parameters;
        &self.rows[from..from + self.parameters]
    }

    /// Returns the cuts above and below grade `grade` of an observation, with their rows.
    fn around(&self, at: &[f64], observation: usize, grade: usize) -> [Option<(&[f64], f64)>; 2] {
        let cut = |j: usize| {
            let row = self.row(observation, j);
            let value = row.iter().zip(at).map(|(r, p)| r * p).sum();
            (row, value)
        };
        let upper = (grade < self.cuts).then(|| cut(grade));
        let lower = grade.checked_sub(1).map(cut);
        [upper, lower]
    }

    /// Returns the values of the cuts above and below the grade of each observation.
    pub fn cut_values(&self, at: &[f64], grades: &[usize]) -> Vec<(Option<f64>, Option<f64>)> {
        let values = |(i, grade): (usize, &usize)| {
            let [upper, lower] = self.around(at, i, *grade);
            (upper.map(|u| u.1), lower.map(|l| l.1))
        };
        grades.iter().enumerate().map(values).collect()
    }

    /// Returns the log-likelihood of `grades` at `at` with observed information.
    pub fn observed(&self, grades: &[usize], at: &[f64]) -> Option<Local> {
        let p = self.parameters;
        let mut value = 0.0;
        let mut gradient = vec![0.0; p];
        let mut information = DMatrix::zeros(p, p);
        for (i, grade) in grades.iter().enumerate() {
            let [upper, lower] = self.around(at, i, *grade);
            let s = logistic_slice(upper.map(|u| u.1), lower.map(|l| l.1))?;
            value += s.log_p;
            let zero: &[f64] = &[];
            let u = upper.map_or(zero, |u| u.0);
            let l = lower.map_or(zero, |l| l.0);
            for (g, x) in gradient.iter_mut().zip(u) {
                *g += s.upper * x;
            }
            for (g, x) in gradient.iter_mut().zip(l) {
                *g += s.lower * x;
            }
            add_square(&mut information, u, s.curved[0]);
            add_square(&mut information, l, s.curved[1]);
            if !u.is_empty() && !l.is_empty() {
                let apart: Vec<f64> = u.iter().zip(l).map(|(a, b)| a - b).collect();
                add_square(&mut information, &apart, s.curved[2]);
            }
        }
        Some(Local {
            value,
            gradient: DVector::from_vec(gradient),
            information,
        })
    }

    /// Returns the expected information at `at`: for each grade, the square of the slope of its
    /// probability over that probability.
    pub fn expected(&self, at: &[f64]) -> Option<DMatrix<f64>> {
        let p = self.parameters;
        let mut information = DMatrix::zeros(p, p);
        for i in 0..self.observations {
            for grade in 0..=self.cuts {
                let [upper, lower] = self.around(at, i, grade);
                let s = logistic_slice(upper.map(|u| u.1), lower.map(|l| l.1))?;
                let mut slope = vec![0.0; p];
                for (part, share) in [(upper, s.upper), (lower, s.lower)] {
                    if let Some((row, _)) = part {
                        slope.iter_mut().zip(row).for_each(|(g, x)| *g += share * x);
                    }
                }
                add_square(&mut information, &slope, libm::exp(s.log_p));
            }
        }
        Some(information)
    }
}
