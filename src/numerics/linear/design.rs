//! The columns of a linear model, and the weights that ask it questions.

use super::basis::Basis;
use super::factor::Factor;
use crate::numerics::error::{FitError, require_count, require_finite, require_length};
use std::ops::Range;

/// How the levels of a factor become columns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Coding {
    /// One column per level but the first, 0 or 1: coefficients are differences from level 0.
    Treatment,
    /// One column per level but the last, which is -1 in all: coefficients are deviations from the
    /// mean of all levels. Partial tests of terms are those of type III with this coding.
    Sum,
}

/// One variable that explains the response.
#[derive(Debug, Clone, PartialEq)]
pub enum Variable {
    /// A grouping with its coding.
    Factor(Factor, Coding),
    /// A measured value of each observation.
    Measured(Vec<f64>),
}

/// Where a variable is held when a mean is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Setting {
    /// A level of a factor.
    Level(usize),
    /// A value of a measured variable.
    Value(f64),
    /// All levels of a factor with equal weight; the mean over the data of a measured variable.
    Average,
}

/// The columns of a linear model with intercept.
#[derive(Debug, Clone)]
pub struct Design {
    variables: Vec<Variable>,
    terms: Vec<Vec<usize>>,
    spans: Vec<Range<usize>>,
    averages: Vec<f64>,
    rows: usize,
    width: usize,
    pub(crate) basis: Basis,
}

impl Variable {
    fn len(&self) -> usize {
        match self {
            Variable::Factor(factor, _) => factor.len(),
            Variable::Measured(values) => values.len(),
        }
    }

    fn width(&self) -> usize {
        match self {
            Variable::Factor(factor, _) => factor.levels().saturating_sub(1),
            Variable::Measured(_) => 1,
        }
    }

    /// Returns the variable's own columns at observation `row`.
    fn observed(&self, row: usize) -> Vec<f64> {
        match self {
            Variable::Factor(factor, coding) => {
                coded(factor.codes()[row], factor.levels(), *coding)
            }
            Variable::Measured(values) => vec![values[row]],
        }
    }
}

/// Returns the columns of one level.
fn coded(level: usize, levels: usize, coding: Coding) -> Vec<f64> {
    let width = levels.saturating_sub(1);
    let at = |place: Option<usize>| {
        let mut columns = vec![0.0; width];
        if let Some(place) = place {
            columns[place] = 1.0;
        }
        columns
    };
    match coding {
        Coding::Treatment => at(level.checked_sub(1)),
        Coding::Sum if level == width => vec![-1.0; width],
        Coding::Sum => at(Some(level)),
    }
}

/// Returns the products of each of `left` with each of `right`, the left one running fastest.
fn products(left: &[f64], right: &[f64]) -> Vec<f64> {
    right
        .iter()
        .flat_map(|r| left.iter().map(move |l| l * r))
        .collect()
}

impl Design {
    /// Returns the design with an intercept and `terms`, each the product of the named variables
    /// (counted from 0): `[[0], [1], [0, 1]]` are two main effects and their interaction. Columns
    /// that depend on earlier ones are set aside.
    ///
    /// # Errors
    /// `Lengths` for variables of different length, `NotFinite` for a measured value, `Unknown` for
    /// a term that names a variable that is not there, `TooFew` for a factor with one level or no
    /// observation at all.
    pub fn new(variables: Vec<Variable>, terms: Vec<Vec<usize>>) -> Result<Self, FitError> {
        let rows = variables.first().map_or(0, Variable::len);
        require_count("observations", 1, rows)?;
        let mut averages = Vec::with_capacity(variables.len());
        for variable in &variables {
            require_length(rows, variable.len())?;
            averages.push(match variable {
                Variable::Factor(factor, _) => {
                    require_count("levels", 2, factor.levels())?;
                    0.0
                }
                Variable::Measured(values) => {
                    require_finite(values)?;
                    values.iter().sum::<f64>() / rows as f64
                }
            });
        }
        let mut spans = Vec::with_capacity(terms.len());
        let mut width = 1;
        for term in &terms {
            let mut columns = 1;
            for index in term {
                let variable = variables.get(*index).ok_or(FitError::Unknown {
                    what: "variable",
                    index: *index,
                })?;
                columns *= variable.width();
            }
            spans.push(width..width + columns);
            width += columns;
        }
        let mut columns = vec![vec![0.0; rows]; width];
        for row in 0..rows {
            let observed: Vec<Vec<f64>> = variables.iter().map(|v| v.observed(row)).collect();
            for (column, value) in columns.iter_mut().zip(expand(&observed, &terms)) {
                column[row] = value;
            }
        }
        Ok(Self {
            basis: Basis::of(&columns),
            variables,
            terms,
            spans,
            averages,
            rows,
            width,
        })
    }

    /// Returns the design of a mean alone: one coefficient, no variable.
    ///
    /// # Errors
    /// `TooFew` without an observation.
    pub fn mean_only(rows: usize) -> Result<Self, FitError> {
        // A variable without a term adds nothing but the number of rows.
        Self::new(vec![Variable::Measured(vec![0.0; rows])], Vec::new())
    }

    /// How many observations the design has.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// How many coefficients the model has, the intercept and columns set aside included.
    pub fn width(&self) -> usize {
        self.width
    }

    /// The number of coefficients the data can tell apart.
    pub fn rank(&self) -> usize {
        self.basis.rank()
    }

    /// The terms, each as the variables it multiplies.
    pub fn terms(&self) -> &[Vec<usize>] {
        &self.terms
    }

    /// Returns the coefficients that belong to a term (counted from 0, in the order given).
    ///
    /// # Errors
    /// `Unknown` for a term the design does not have.
    pub fn term_columns(&self, term: usize) -> Result<Range<usize>, FitError> {
        self.spans.get(term).cloned().ok_or(FitError::Unknown {
            what: "term",
            index: term,
        })
    }

    /// Returns the weights of the expected response with one setting per variable.
    ///
    /// # Errors
    /// `Lengths` unless there is one setting per variable, `Unknown` for a level that is not there,
    /// `OutOfRange` for a level of a measured variable or a value of a factor.
    pub fn expected(&self, settings: &[Setting]) -> Result<Vec<f64>, FitError> {
        require_length(self.variables.len(), settings.len())?;
        let mut parts = Vec::with_capacity(settings.len());
        for (index, (variable, setting)) in self.variables.iter().zip(settings).enumerate() {
            parts.push(match (variable, setting) {
                (Variable::Factor(factor, coding), Setting::Level(level)) => {
                    if *level >= factor.levels() {
                        return Err(FitError::Unknown {
                            what: "level",
                            index: *level,
                        });
                    }
                    coded(*level, factor.levels(), *coding)
                }
                (Variable::Factor(factor, coding), Setting::Average) => {
                    let share = match coding {
                        Coding::Treatment => 1.0 / factor.levels() as f64,
                        Coding::Sum => 0.0,
                    };
                    vec![share; variable.width()]
                }
                (Variable::Measured(_), Setting::Value(value)) => vec![*value],
                (Variable::Measured(_), Setting::Average) => vec![self.averages[index]],
                (Variable::Factor(..), Setting::Value(_))
                | (Variable::Measured(_), Setting::Level(_)) => {
                    return Err(FitError::OutOfRange {
                        what: "setting of variable",
                        found: index as f64,
                    });
                }
            });
        }
        Ok(expand(&parts, &self.terms))
    }

    /// Returns the weights of the estimated marginal mean with `held` variables at their settings
    /// and all others averaged: factors with equal weight for each level whatever their counts
    /// (Searle, Speed and Milliken 1980, Am. Stat. 34:216), measured variables at their mean.
    ///
    /// # Errors
    /// As [`Design::expected`]; `Unknown` for a variable that is not there.
    pub fn mean_at(&self, held: &[(usize, Setting)]) -> Result<Vec<f64>, FitError> {
        let mut settings = vec![Setting::Average; self.variables.len()];
        for (variable, setting) in held {
            *settings.get_mut(*variable).ok_or(FitError::Unknown {
                what: "variable",
                index: *variable,
            })? = *setting;
        }
        self.expected(&settings)
    }

    /// Returns the weights of the estimated marginal mean of one level of a factor.
    ///
    /// # Errors
    /// As [`Design::mean_at`].
    pub fn marginal_mean(&self, factor: usize, level: usize) -> Result<Vec<f64>, FitError> {
        self.mean_at(&[(factor, Setting::Level(level))])
    }

    /// Returns the weights of the marginal mean of level `a` minus that of level `b`.
    ///
    /// # Errors
    /// As [`Design::mean_at`].
    pub fn difference(&self, factor: usize, a: usize, b: usize) -> Result<Vec<f64>, FitError> {
        let (a, b) = (
            self.marginal_mean(factor, a)?,
            self.marginal_mean(factor, b)?,
        );
        Ok(super::contrasts::difference_of(&a, &b))
    }

    /// Returns the weights of the slope of the response over a measured variable, with `held`
    /// variables at their settings and all others averaged.
    ///
    /// # Errors
    /// As [`Design::mean_at`].
    pub fn slope(&self, measured: usize, held: &[(usize, Setting)]) -> Result<Vec<f64>, FitError> {
        let at = |value: f64| {
            let mut settings = held.to_vec();
            settings.push((measured, Setting::Value(value)));
            self.mean_at(&settings)
        };
        Ok(super::contrasts::difference_of(&at(1.0)?, &at(0.0)?))
    }
}

/// Returns intercept and terms for the columns of each variable. Every term is linear in each
/// variable's columns, so averaged columns give the average over the grid of levels.
fn expand(parts: &[Vec<f64>], terms: &[Vec<usize>]) -> Vec<f64> {
    let mut row = vec![1.0];
    for term in terms {
        let mut columns = vec![1.0];
        for variable in term {
            columns = products(&columns, &parts[*variable]);
        }
        row.extend(columns);
    }
    row
}
