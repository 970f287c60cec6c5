//! The NIST StRD nonlinear and linear sets.
//!
//! The files lie outside the repository, in `nist_strd/` of the folder that
//! `DOUGHTRACE_SHARED_DATA` names (default: `../shared/data`). Certified values are those the files
//! print (National Institute of Standards and Technology, Statistical Reference Datasets).

use crate::dual::{Dual, MOST};
use crate::sets::{Formula, SETS};
use doughtrace::numerics::fit::{Fit, FitError, Model, Options, fit_nonlinear};
use doughtrace::numerics::regress_line;
use std::path::{Path, PathBuf};

fn folder() -> Option<PathBuf> {
    let root = std::env::var_os("DOUGHTRACE_SHARED_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        PathBuf::from,
    );
    let folder = root.join("nist_strd");
    folder.join("MGH17.dat").is_file().then_some(folder)
}

/// A set: rows of response and predictors, both starts, certified values and their deviations.
struct Set {
    rows: Vec<Vec<f64>>,
    starts: [Vec<f64>; 2],
    certified: Vec<f64>,
    deviations: Vec<f64>,
    residual_deviation: f64,
}

fn numbers(text: &str) -> Vec<f64> {
    let cells = text.split_whitespace();
    cells.map_while(|cell| cell.parse().ok()).collect()
}

/// Reads a nonlinear set: parameters stand in lines `b1 = …`, data below the line `Data:` that
/// names y and x.
fn read(folder: &Path, name: &str) -> Set {
    let text = std::fs::read_to_string(folder.join(format!("{name}.dat"))).unwrap();
    let mut set = Set {
        rows: Vec::new(),
        starts: [Vec::new(), Vec::new()],
        certified: Vec::new(),
        deviations: Vec::new(),
        residual_deviation: f64::NAN,
    };
    let mut lines = text.lines().skip(60);
    for line in text.lines().take(60) {
        let parts = line.trim().split_once('=');
        if let Some((left, right)) = parts
            && left.trim_start().starts_with('b')
            && numbers(right).len() == 4
        {
            let values = numbers(right);
            set.starts[0].push(values[0]);
            set.starts[1].push(values[1]);
            set.certified.push(values[2]);
            set.deviations.push(values[3]);
        }
        if let Some(rest) = line.trim().strip_prefix("Residual Standard Deviation:") {
            set.residual_deviation = numbers(rest)[0];
        }
    }
    set.rows
        .extend(lines.by_ref().map(numbers).filter(|row| row.len() > 1));
    assert!(!set.rows.is_empty() && !set.certified.is_empty(), "{name}");
    set
}

/// A certified model over the rows of its set: the abscissa is the number of the row, so that a
/// set may have several predictors.
struct Certified<'a> {
    formula: Formula,
    rows: &'a [Vec<f64>],
    count: usize,
}

impl Certified<'_> {
    fn at(&self, x: f64, parameters: &[f64]) -> Dual {
        let b: Vec<Dual> = parameters
            .iter()
            .enumerate()
            .map(|(j, &value)| Dual::parameter(value, j))
            .collect();
        (self.formula)(&self.rows[x as usize][1..], &b)
    }
}

impl Model for Certified<'_> {
    fn count(&self) -> usize {
        self.count
    }

    fn name(&self, index: usize) -> &'static str {
        ["b1", "b2", "b3", "b4", "b5", "b6", "b7", "b8", "b9"][index]
    }

    fn value(&self, x: f64, parameters: &[f64]) -> f64 {
        self.at(x, parameters).value
    }

    fn gradient(&self, x: f64, parameters: &[f64], out: &mut [f64]) {
        let slopes: [f64; MOST] = self.at(x, parameters).slopes;
        out.copy_from_slice(&slopes[..self.count]);
    }
}

fn solve(set: &Set, name: &str, formula: Formula, start: &[f64]) -> Result<Fit, FitError> {
    let model = Certified {
        formula,
        rows: &set.rows,
        count: set.certified.len(),
    };
    let x: Vec<f64> = (0..set.rows.len()).map(|i| i as f64).collect();
    // Nelson's response is the logarithm of the first column, as its file says.
    let response = |row: &Vec<f64>| {
        if name == "Nelson" {
            row[0].ln()
        } else {
            row[0]
        }
    };
    let y: Vec<f64> = set.rows.iter().map(response).collect();
    let options = Options {
        restarts: 60,
        ..Options::default()
    };
    fit_nonlinear(&model, &x, &y, start, options)
}

/// Returns the digits to which `found` agrees, as NIST counts them: -log10 of the relative error.
fn digits(found: f64, certified: f64) -> f64 {
    (-((found - certified) / certified).abs().log10()).min(11.0)
}

fn fewest(found: &[f64], certified: &[f64]) -> f64 {
    let pairs = found.iter().zip(certified);
    pairs.map(|(f, c)| digits(*f, *c)).fold(11.0, f64::min)
}

#[test]
fn certified_parameters_come_back_from_both_starts() {
    let Some(folder) = folder() else {
        println!("skipped: no nist_strd folder beside the repository");
        return;
    };
    let mut misses = Vec::new();
    for (name, formula) in SETS {
        let set = read(&folder, name);
        for (number, start) in set.starts.iter().enumerate() {
            let case = format!("{name} start {}", number + 1);
            let fit = match solve(&set, name, *formula, start) {
                Ok(fit) => fit,
                Err(error) => {
                    misses.push(format!("{case}: {error}"));
                    continue;
                }
            };
            let parameters = fewest(&fit.parameters, &set.certified);
            let deviations = fewest(&fit.standard_errors, &set.deviations);
            let residual = digits(fit.residual_deviation, set.residual_deviation);
            println!(
                "{case}: {parameters:.1} digits, deviations {deviations:.1}, residual \
                 {residual:.1}, condition {:.1e}, {} evaluations, {} starts",
                fit.condition, fit.evaluations, fit.starts
            );
            // Lanczos1 has residuals of 1e-14, rounding of its own data: three digits of them.
            let wanted = if *name == "Lanczos1" { 2.5 } else { 4.0 };
            if parameters < 6.0 || deviations < wanted || residual < wanted {
                misses.push(case);
            }
        }
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

#[test]
fn the_certified_line_comes_back() {
    let Some(folder) = folder() else {
        println!("skipped: no nist_strd folder beside the repository");
        return;
    };
    let text = std::fs::read_to_string(folder.join("Norris.dat")).unwrap();
    let rows = text.lines().skip(60).map(numbers);
    let (y, x): (Vec<f64>, Vec<f64>) = rows.filter(|r| r.len() == 2).map(|r| (r[0], r[1])).unzip();
    let line = regress_line(&x, &y).unwrap();
    for (found, certified) in [
        (line.slope, 1.002_116_818_020_45),
        (line.intercept(), -0.262_323_073_774_029),
        (line.slope_error, 0.429_796_848_199_937e-3),
        (line.error_at(0.0), 0.232_818_234_301_152),
        (line.residual_deviation, 0.884_796_396_144_373),
        (line.explained, 0.999_993_745_883_712),
    ] {
        assert!(digits(found, certified) > 9.0, "{found}, {certified}");
    }
}
