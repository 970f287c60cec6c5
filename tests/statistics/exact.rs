//! NIST Statistical Reference Datasets: one-way analysis of variance and univariate summaries.
//!
//! The decimals are read as text and lose their common origin before they become doubles: see
//! `numerics::exact`. What plain doubles keep is measured beside it.

use crate::data::{Table, digits, path};
use doughtrace::numerics::exact::{Decimals, OneWay, lag_one_autocorrelation, one_way, summarise};
use doughtrace::numerics::linear::Factor;

/// Returns the numbers, as written, of the lines of a file that hold nothing else.
fn rows_of(file: &str) -> Option<Vec<Vec<String>>> {
    let text = std::fs::read_to_string(path(&format!("nist_strd/{file}"))?).unwrap();
    let rows = text.lines().map(|line| {
        let words = line.split_whitespace().map(str::to_owned);
        words.collect::<Vec<_>>()
    });
    let numeric =
        |row: &Vec<String>| !row.is_empty() && row.iter().all(|word| word.parse::<f64>().is_ok());
    Some(rows.filter(numeric).collect())
}

/// Returns the values as written, and their groups: one column for each treatment.
fn groups_of(file: &str) -> Option<(Vec<String>, Factor)> {
    let rows = rows_of(file)?;
    // The line 1 2 3 … numbers the treatments; data follow it.
    let numbers = |row: &Vec<String>| {
        let mut numbered = row.iter().enumerate();
        row.len() > 1 && numbered.all(|(i, word)| *word == (i + 1).to_string())
    };
    let head = rows.iter().position(numbers).unwrap();
    let (mut texts, mut codes) = (Vec::new(), Vec::new());
    for row in &rows[head + 1..] {
        codes.extend(0..row.len());
        texts.extend(row.iter().cloned());
    }
    Some((texts, Factor::new(codes)))
}

/// Returns the least digits of sums of squares, F, R² and residual deviation.
fn agreement(found: &OneWay, table: &Table, row: usize) -> f64 {
    let certified = |name: &str| table.numbers(name)[row];
    [
        (found.between.sum, "ss_between"),
        (found.between.mean_square(), "ms_between"),
        (found.within.sum, "ss_within"),
        (found.within.mean_square(), "ms_within"),
        (found.test.statistic, "F"),
        (found.r_squared(), "r_squared"),
        (found.residual_deviation(), "resid_sd"),
        (found.between.df, "df_between"),
        (found.within.df, "df_within"),
    ]
    .iter()
    .map(|(value, name)| digits(*value, certified(name)))
    .fold(16.0, f64::min)
}

#[test]
fn all_analyses_of_variance_to_nine_digits() {
    let Some(table) = Table::read("nist_strd/certified_anova.csv") else {
        return;
    };
    let files = table.text("file");
    assert_eq!(files.len(), 11);
    for (row, file) in files.iter().enumerate() {
        let (texts, groups) = groups_of(file).unwrap();
        let decimals = Decimals::read(&texts).unwrap();
        let found = one_way(&decimals.deviations, &groups).unwrap();
        let exact = agreement(&found, &table, row);
        let doubles: Vec<f64> = texts.iter().map(|t| t.parse().unwrap()).collect();
        let plain = agreement(&one_way(&doubles, &groups).unwrap(), &table, row);
        println!("{file}: {exact:.1} digits from decimals, {plain:.1} from doubles");
        assert!(exact >= 9.0, "{file}: {exact} digits");
        // Twelve constant leading digits leave four of a double's sixteen; nothing may be lost
        // beyond that.
        let constant = match file.as_str() {
            "SmLs07t.dat" | "SmLs08t.dat" | "SmLs09t.dat" => 3.5,
            _ => 9.0,
        };
        assert!(plain >= constant, "{file}: {plain} digits from doubles");
    }
}

#[test]
fn all_summaries_to_nine_digits() {
    let Some(table) = Table::read("nist_strd/certified_univariate.csv") else {
        return;
    };
    let files = table.text("file");
    assert_eq!(files.len(), 8);
    for (row, file) in files.iter().enumerate() {
        let count = table.numbers("n")[row] as usize;
        let single = rows_of(file).unwrap().into_iter().filter(|r| r.len() == 1);
        let all: Vec<String> = single.flatten().collect();
        let texts = &all[all.len() - count..];
        let decimals = Decimals::read(texts).unwrap();
        let summary = summarise(&decimals.deviations).unwrap();
        let worst = |mean: f64, deviation: f64, correlation: f64| {
            [
                (mean, "mean"),
                (deviation, "sd"),
                (correlation, "lag1_autocorrelation"),
            ]
            .iter()
            .map(|(value, name)| digits(*value, table.numbers(name)[row]))
            .fold(16.0, f64::min)
        };
        let exact = worst(
            decimals.origin + summary.mean,
            summary.deviation,
            lag_one_autocorrelation(&decimals.deviations).unwrap(),
        );
        let doubles: Vec<f64> = texts.iter().map(|t| t.parse().unwrap()).collect();
        let summary = summarise(&doubles).unwrap();
        let correlation = lag_one_autocorrelation(&doubles).unwrap();
        let plain = worst(summary.mean, summary.deviation, correlation);
        println!("{file}: {exact:.1} digits from decimals, {plain:.1} from doubles");
        assert!(exact >= 9.0, "{file}: {exact} digits");
        assert!(plain >= 8.0, "{file}: {plain} digits from doubles");
    }
}
