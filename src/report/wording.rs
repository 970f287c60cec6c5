//! Numbers as words: counts with their noun, values with their expanded uncertainty.

use crate::record::{Estimate, Outcome};
use crate::schema::{MetricCard, Unit};

/// Returns `n` with the noun in the right number, `no` for zero.
pub(super) fn counted(n: usize, one: &str, many: &str) -> String {
    match n {
        0 => format!("no {many}"),
        1 => format!("1 {one}"),
        _ => format!("{n} {many}"),
    }
}

/// Returns `title` with a capital first letter, as a heading.
pub(super) fn heading(title: &str) -> String {
    let mut chars = title.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}

/// Returns `value` with at most six significant digits, as short as it can be written.
pub(super) fn significant(value: f64) -> String {
    let rounded = format!("{value:.5e}");
    rounded.parse::<f64>().map_or(rounded, |v| v.to_string())
}

/// Returns a volume as a burette is read: in ml, one decimal.
pub(super) fn volume_ml(value: f64) -> String {
    format!("{value:.1} ml")
}

/// Returns the unit as printed behind a number; nothing for a pure number.
pub(super) fn unit_words(unit: Unit) -> &'static str {
    match unit {
        Unit::One => "",
        other => other.symbol(),
    }
}

/// An outcome as it stands in a table cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Reading {
    /// Value, bound with its sign, or status in words.
    pub(super) text: String,
    /// Expanded uncertainty or interval; empty when there is none to print.
    pub(super) spread: String,
}

/// Returns `outcome` with the decimals that `metric` declares.
pub(super) fn reading(metric: &MetricCard, outcome: &Outcome) -> Reading {
    let plain = |text: String| Reading {
        text,
        spread: String::new(),
    };
    match outcome {
        Outcome::Exact(estimate) => Reading {
            text: metric.format(estimate.value()),
            spread: spread(metric, estimate),
        },
        Outcome::Above(bound) => plain(format!("> {}", metric.format(*bound))),
        Outcome::Below(bound) => plain(format!("< {}", metric.format(*bound))),
        Outcome::NotReached(_) => plain("not reached".to_owned()),
        Outcome::NotComputable(_) => plain("not computable".to_owned()),
        Outcome::Rejected(_) => plain("rejected".to_owned()),
    }
}

/// Returns `± U` with U = 2 u, or the interval where it does not lie evenly about the value.
fn spread(metric: &MetricCard, estimate: &Estimate) -> String {
    let below = metric.format(estimate.value() - estimate.low());
    let above = metric.format(estimate.high() - estimate.value());
    let expanded = 2.0 * estimate.std_uncertainty();
    let even = metric.format(expanded);
    if below != even || above != even {
        return format!(
            "({} to {})",
            metric.format(estimate.low()),
            metric.format(estimate.high())
        );
    }
    let zero = metric.format(0.0);
    if even != zero {
        format!("± {even}")
    } else if expanded > 0.0 {
        // A printed "± 0.0" would claim a certainty nobody has.
        let least = 0.1_f64.powi(i32::from(metric.decimals));
        format!("± <{}", metric.format(least))
    } else {
        String::new()
    }
}
