//! Reading of the data sets and of the reference answers.

use doughtrace::numerics::linear::Factor;
use std::path::{Path, PathBuf};

/// A table of text cells with named columns.
pub struct Table {
    names: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// Returns the path of a data file; `None`, with a message, where the folder is absent.
pub fn path(file: &str) -> Option<PathBuf> {
    let root = std::env::var_os("DOUGHTRACE_SHARED_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data"),
        PathBuf::from,
    );
    let path = root.join(file);
    if path.is_file() {
        return Some(path);
    }
    println!("skipped: no {file} beside the repository");
    None
}

impl Table {
    /// Returns the data file with its header, lines that start with `#` left out.
    pub fn read(file: &str) -> Option<Self> {
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_path(path(file)?)
            .unwrap();
        let cells = |record: &csv::StringRecord| record.iter().map(str::to_owned).collect();
        let names = cells(reader.headers().unwrap());
        let rows = reader.records().map(|r| cells(&r.unwrap())).collect();
        Some(Self { names, rows })
    }

    /// Returns the cells of a column.
    pub fn text(&self, name: &str) -> Vec<String> {
        let place = self.names.iter().position(|n| n == name).unwrap();
        self.rows.iter().map(|row| row[place].clone()).collect()
    }

    /// Returns the numbers of a column.
    pub fn numbers(&self, name: &str) -> Vec<f64> {
        let cells = self.text(name);
        cells.iter().map(|cell| cell.parse().unwrap()).collect()
    }

    /// Returns a column as a factor, its levels sorted.
    pub fn factor(&self, name: &str) -> Factor {
        Factor::of_labels(&self.text(name)).0
    }

    /// Returns the rows for which `keep` holds.
    pub fn filtered(mut self, name: &str, keep: impl Fn(&str) -> bool) -> Self {
        let place = self.names.iter().position(|n| n == name).unwrap();
        self.rows.retain(|row| keep(&row[place]));
        self
    }
}

/// Returns one part of the answers of general-purpose libraries.
pub fn reference(part: &str) -> serde_json::Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/statistics.json");
    let text = std::fs::read_to_string(path).unwrap();
    let all: serde_json::Value = serde_json::from_str(&text).unwrap();
    all[part].clone()
}

/// Returns the list of numbers under `name`.
pub fn list(value: &serde_json::Value, name: &str) -> Vec<f64> {
    let items = value[name].as_array().unwrap();
    items.iter().map(|item| item.as_f64().unwrap()).collect()
}

/// Stops unless `found` equals `wanted` within `relative` of its size.
#[track_caller]
pub fn assert_near(what: &str, found: f64, wanted: f64, relative: f64) {
    let gap = (found - wanted).abs();
    assert!(
        gap <= relative * wanted.abs().max(1e-300),
        "{what}: {found} where {wanted} was wanted"
    );
}

/// Stops unless `found` equals `printed` to its last digit, `place` (0.001 for three decimals).
#[track_caller]
pub fn assert_printed(what: &str, found: f64, printed: f64, place: f64) {
    assert!(
        (found - printed).abs() <= 0.5001 * place,
        "{what}: {found} where {printed} is printed"
    );
}

/// Returns the digits to which `found` agrees with `certified`, at most 16.
pub fn digits(found: f64, certified: f64) -> f64 {
    let gap = (found - certified).abs();
    if gap <= 0.0 {
        return 16.0;
    }
    let scale = if certified.abs() > 0.0 {
        certified.abs()
    } else {
        1.0
    };
    (-(gap / scale).log10()).min(16.0)
}
