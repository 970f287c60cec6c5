//! Decimal numbers as written, less their common origin.

use crate::numerics::error::{FitError, require_count};

/// Numbers read exactly from their decimals: each is `origin` plus its deviation, and the deviation
/// is the double nearest to the exact difference of the decimals.
///
/// Sums of squares, F statistics, standard deviations and autocorrelations do not depend on the
/// origin, so they are computed from the deviations; a mean is `origin + mean of deviations`.
#[derive(Debug, Clone, PartialEq)]
pub struct Decimals {
    /// The first number.
    pub origin: f64,
    /// Each number less the first.
    pub deviations: Vec<f64>,
}

impl Decimals {
    /// Returns the numbers written in `texts`: an optional sign, digits and an optional point, no
    /// exponent, up to 37 digits in all between the first digit and the last decimal of any of them.
    ///
    /// # Errors
    /// `TooFew` for none, `NotFinite` with the place of a text that is no such number.
    pub fn read<T: AsRef<str>>(texts: &[T]) -> Result<Self, FitError> {
        require_count("observations", 1, texts.len())?;
        let places = texts.iter().map(|t| decimals_of(t.as_ref())).max();
        let places = places.unwrap_or(0);
        let mut scaled = Vec::with_capacity(texts.len());
        for (index, text) in texts.iter().enumerate() {
            scaled.push(scale(text.as_ref(), places).ok_or(FitError::NotFinite { index })?);
        }
        let first = scaled[0];
        let unit = 10_i128
            .checked_pow(places as u32)
            .ok_or(FitError::NotFinite { index: 0 })?;
        let mut deviations = Vec::with_capacity(scaled.len());
        for (index, number) in scaled.iter().enumerate() {
            let difference = number.checked_sub(first);
            let difference = difference.ok_or(FitError::NotFinite { index })?;
            deviations.push(quotient(difference, unit));
        }
        Ok(Self {
            origin: quotient(first, unit),
            deviations,
        })
    }
}

fn decimals_of(text: &str) -> usize {
    text.split_once('.').map_or(0, |(_, after)| after.len())
}

/// Returns the number times ten to the `places`.
fn scale(text: &str, places: usize) -> Option<i128> {
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, after) = digits.split_once('.').unwrap_or((digits, ""));
    if whole.is_empty() && after.is_empty() {
        return None;
    }
    let zeros = std::iter::repeat_n('0', places.checked_sub(after.len())?);
    let mut number: i128 = 0;
    for digit in whole.chars().chain(after.chars()).chain(zeros) {
        let digit = i128::from(digit.to_digit(10)?);
        number = number.checked_mul(10)?.checked_add(digit)?;
    }
    Some(sign * number)
}

/// Returns the quotient with whole and fractional part divided apart, so that neither overflows
/// what a double holds exactly before the one rounding that counts.
fn quotient(number: i128, unit: i128) -> f64 {
    let (whole, rest) = (number / unit, number % unit);
    if whole == 0 {
        return rest as f64 / unit as f64;
    }
    whole as f64 + rest as f64 / unit as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_kept_where_doubles_lose_them() {
        let read = Decimals::read(&["1000000000000.4", "1000000000000.3", "999999999999.9"]);
        assert_eq!(read.map(|d| d.deviations), Ok(vec![0.0, -0.1, -0.5]));
        assert_eq!(
            Decimals::read(&["-1.25", "+.5", "3"]),
            Ok(Decimals {
                origin: -1.25,
                deviations: vec![0.0, 1.75, 4.25]
            })
        );
    }

    #[test]
    fn what_is_no_plain_decimal_is_refused() {
        for text in [
            "",
            ".",
            "1e5",
            "1,5",
            "--1",
            "12345678901234567890123456789012345678901",
        ] {
            let found = Decimals::read(&["1.0", text]);
            assert_eq!(found, Err(FitError::NotFinite { index: 1 }), "{text}");
        }
        assert!(Decimals::read::<&str>(&[]).is_err());
    }
}
