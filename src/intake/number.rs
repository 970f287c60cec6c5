//! Numbers and clock times under declared marks.

use super::desk::{Complaint, quoted};
use crate::profile::{DecimalMark, TextForm, ThousandsMark, TimeFormat};

/// Longest number read; a longer cell is no number of an instrument.
const LONGEST: usize = 64;

/// How numbers and missing values are written in a file.
pub(super) struct Numbers<'p> {
    decimal: DecimalMark,
    thousands: Option<ThousandsMark>,
    missing: &'p [String],
    plain: bool,
}

impl<'p> Numbers<'p> {
    pub fn new(form: &'p TextForm) -> Numbers<'p> {
        Numbers {
            decimal: form.decimal,
            thousands: form.thousands,
            missing: &form.missing,
            plain: form.decimal == DecimalMark::Point && form.thousands.is_none(),
        }
    }

    /// Returns whether `cell` stands for no value.
    #[inline]
    pub fn is_missing(&self, cell: &[u8]) -> bool {
        self.missing.iter().any(|mark| mark.as_bytes() == cell)
    }

    /// Returns the finite number in `cell`, if it is one under the declared marks.
    #[inline]
    pub fn parse(&self, cell: &[u8]) -> Option<f64> {
        match self.plain {
            true => parse_plain(cell),
            false => self.parse_marked(cell),
        }
    }

    fn parse_marked(&self, cell: &[u8]) -> Option<f64> {
        let mut digits = Digits::default();
        let decimal = self.decimal.byte();
        let (whole, fraction) = match cell.iter().position(|b| *b == decimal) {
            Some(at) => (cell.get(..at)?, cell.get(at + 1..)),
            None => (cell, None),
        };
        self.push_whole(whole, &mut digits)?;
        if let Some(fraction) = fraction {
            // The fraction, or an exponent behind it, holds neither mark again.
            if fraction.iter().any(|b| *b == b'.' || *b == b',') {
                return None;
            }
            digits.push(b'.')?;
            digits.extend(fraction)?;
        }
        parse_plain(digits.bytes())
    }

    /// Copies the whole part without its thousands marks, which must stand at groups of three.
    fn push_whole(&self, whole: &[u8], digits: &mut Digits) -> Option<()> {
        let spellings = self.thousands.map_or(&[][..], ThousandsMark::spellings);
        let (mut rest, mut group, mut marked) = (whole, 0_usize, false);
        if let Some((sign @ (b'+' | b'-'), tail)) = rest.split_first() {
            digits.push(*sign)?;
            rest = tail;
        }
        while let Some((byte, tail)) = rest.split_first() {
            let mark = spellings
                .iter()
                .find_map(|mark| rest.strip_prefix(mark.as_bytes()));
            if let Some(behind) = mark {
                let good = match marked {
                    false => (1..=3).contains(&group),
                    true => group == 3,
                };
                if !good {
                    return None;
                }
                (rest, group, marked) = (behind, 0, true);
                continue;
            }
            if matches!(byte, b'.' | b',') || (marked && !byte.is_ascii_digit()) {
                return None;
            }
            digits.push(*byte)?;
            (rest, group) = (tail, group + 1);
        }
        (!marked || group == 3).then_some(())
    }

    /// Returns the time in s that `cell` states in `format`.
    #[inline]
    pub fn parse_time(&self, cell: &[u8], format: TimeFormat) -> Option<f64> {
        match format {
            TimeFormat::Seconds => self.parse(cell),
            TimeFormat::Minutes => self.parse(cell).map(|v| v * 60.0),
            TimeFormat::Milliseconds => self.parse(cell).map(|v| v / 1000.0),
            TimeFormat::MinuteClock => self.parse_clock(cell, 2),
            TimeFormat::HourClock => self.parse_clock(cell, 3),
        }
    }

    /// Returns the time in s of a clock reading with `parts` parts. It is computed as a whole
    /// number of the smallest decimal shown, divided once, so that 03:07.5 equals 187.5 exactly.
    fn parse_clock(&self, cell: &[u8], parts: usize) -> Option<f64> {
        let mut fields = cell.split(|b| *b == b':');
        let mut total: u64 = 0;
        for index in 0..parts - 1 {
            let field = fields.next()?;
            let widest = if index == 0 { 4 } else { 2 };
            let value = whole_number(field, widest)?;
            if index > 0 && (value >= 60 || field.len() != 2) {
                return None;
            }
            total = total * 60 + value;
        }
        let last = fields.next()?;
        if fields.next().is_some() {
            return None;
        }
        let decimal = self.decimal.byte();
        let (seconds, fraction) = match last.iter().position(|b| *b == decimal) {
            Some(at) => (last.get(..at)?, last.get(at + 1..)?),
            None => (last, &b"0"[..]),
        };
        let value = whole_number(seconds, 2).filter(|v| *v < 60 && seconds.len() == 2)?;
        let ticks = whole_number(fraction, 6)?;
        let per_second = 10_u64.pow(u32::try_from(fraction.len()).ok()?);
        let whole = (total * 60 + value) * per_second + ticks;
        Some(whole as f64 / per_second as f64)
    }

    /// Returns what is said of a cell that is no number.
    pub fn complain(&self, cell: &[u8]) -> Complaint {
        let thousands = match self.thousands {
            None => String::new(),
            Some(mark) => format!(" and {} at groups of three digits", mark.word()),
        };
        Complaint {
            found: quoted(cell),
            expected: format!("a number with decimal {}{thousands}", self.decimal.word()),
            remedy: self.remedy(cell),
        }
    }

    /// Returns what is said of a cell that is no time of `format`.
    pub fn complain_time(&self, cell: &[u8], format: TimeFormat) -> Complaint {
        let expected = match format {
            TimeFormat::MinuteClock => "a time as mm:ss",
            TimeFormat::HourClock => "a time as hh:mm:ss",
            _ if cell.contains(&b':') => {
                return Complaint {
                    remedy: "if the file writes clock times, write a profile with format = \
                             \"mm:ss\" or \"hh:mm:ss\""
                        .to_owned(),
                    ..self.complain(cell)
                };
            }
            _ => return self.complain(cell),
        };
        Complaint {
            found: quoted(cell),
            expected: format!(
                "{expected}, the seconds with decimal {} or without",
                self.decimal.word()
            ),
            remedy: match cell.is_empty() {
                true => self.remedy(cell),
                false => {
                    "if the time is written otherwise, write a profile with that format".to_owned()
                }
            },
        }
    }

    fn remedy(&self, cell: &[u8]) -> String {
        let has = |byte| cell.contains(&byte);
        let other = match self.decimal {
            DecimalMark::Point => (b',', "comma"),
            DecimalMark::Comma => (b'.', "point"),
        };
        if cell.is_empty() {
            return "if an empty cell stands for no value, write a profile with \"\" among \
                    missing"
                .to_owned();
        }
        if has(other.0) && cell.iter().any(u8::is_ascii_digit) {
            let grouping = match self.thousands {
                Some(_) => String::new(),
                None => format!("; if it groups thousands, with thousands = \"{}\"", other.1),
            };
            return format!(
                "if this file uses a decimal {}, write a profile with decimal = \"{}\"{grouping}",
                other.1, other.1
            );
        }
        "if the cell stands for no value, write a profile with it among missing; else copy the \
         file from the instrument again"
            .to_owned()
    }
}

/// Returns the finite number in `cell`, written with a decimal point; the words for infinity and
/// "not a number" are none.
#[inline]
fn parse_plain(cell: &[u8]) -> Option<f64> {
    let first = match cell {
        [b'+' | b'-', digit, ..] => digit,
        [digit, ..] => digit,
        [] => return None,
    };
    if !first.is_ascii_digit() && *first != b'.' {
        return None;
    }
    fast_float2::parse::<f64, _>(cell)
        .ok()
        .filter(|value| value.is_finite())
}

fn whole_number(digits: &[u8], widest: usize) -> Option<u64> {
    if digits.is_empty() || digits.len() > widest {
        return None;
    }
    digits.iter().try_fold(0, |value, byte| {
        byte.is_ascii_digit()
            .then(|| value * 10 + u64::from(byte - b'0'))
    })
}

/// A number being respelt, on the stack.
struct Digits {
    bytes: [u8; LONGEST],
    len: usize,
}

impl Default for Digits {
    fn default() -> Self {
        Digits {
            bytes: [0; LONGEST],
            len: 0,
        }
    }
}

impl Digits {
    fn push(&mut self, byte: u8) -> Option<()> {
        *self.bytes.get_mut(self.len)? = byte;
        self.len += 1;
        Some(())
    }

    fn extend(&mut self, bytes: &[u8]) -> Option<()> {
        self.bytes
            .get_mut(self.len..self.len + bytes.len())?
            .copy_from_slice(bytes);
        self.len += bytes.len();
        Some(())
    }

    fn bytes(&self) -> &[u8] {
        self.bytes.get(..self.len).unwrap_or(&[])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{Delimiter, Encoding};

    fn parse(cell: &str, decimal: DecimalMark, thousands: Option<ThousandsMark>) -> Option<f64> {
        let form = TextForm {
            encoding: Encoding::Utf8,
            delimiter: Delimiter::Tab,
            decimal,
            thousands,
            missing: vec![],
        };
        Numbers::new(&form).parse(cell.as_bytes())
    }

    fn clock(cell: &str, format: TimeFormat) -> Option<f64> {
        let form = TextForm {
            encoding: Encoding::Utf8,
            delimiter: Delimiter::Tab,
            decimal: DecimalMark::Point,
            thousands: None,
            missing: vec![],
        };
        Numbers::new(&form).parse_time(cell.as_bytes(), format)
    }

    #[test]
    fn a_number_is_read_under_the_declared_marks_only() {
        use DecimalMark::{Comma, Point};
        let point = Some(ThousandsMark::Point);
        let table = [
            ("12.5", Point, None, Some(12.5)),
            ("-0.5", Point, None, Some(-0.5)),
            ("+3", Point, None, Some(3.0)),
            ("1.5e3", Point, None, Some(1500.0)),
            ("1,234", Point, None, None),
            ("12,5", Point, None, None),
            ("1,234", Point, Some(ThousandsMark::Comma), Some(1234.0)),
            ("1,23", Point, Some(ThousandsMark::Comma), None),
            ("12,34,567", Point, Some(ThousandsMark::Comma), None),
            ("1234,567.5", Point, Some(ThousandsMark::Comma), None),
            ("1,234.5", Point, Some(ThousandsMark::Comma), Some(1234.5)),
            ("1,234.5,0", Point, Some(ThousandsMark::Comma), None),
            ("12,5", Comma, None, Some(12.5)),
            ("12.5", Comma, None, None),
            ("1.234", Comma, None, None),
            ("1.234", Comma, point, Some(1234.0)),
            ("1.203,5", Comma, point, Some(1203.5)),
            ("1.234.500", Comma, point, Some(1_234_500.0)),
            ("12.34", Comma, point, None),
            (".500", Comma, point, None),
            ("-1.000", Comma, point, Some(-1000.0)),
            ("1.", Comma, point, None),
            ("1 234,5", Comma, Some(ThousandsMark::Space), Some(1234.5)),
            (
                "1\u{202f}234",
                Comma,
                Some(ThousandsMark::Space),
                Some(1234.0),
            ),
            ("nan", Point, None, None),
            ("NaN", Comma, None, None),
            ("inf", Point, None, None),
            ("-inf", Point, None, None),
            ("1e999", Point, None, None),
            ("12 5", Point, None, None),
            ("12.5 FU", Point, None, None),
            ("", Point, None, None),
            ("-", Point, None, None),
            ("--1", Point, None, None),
            ("0x10", Point, None, None),
        ];
        for (cell, decimal, thousands, expected) in table {
            let found = parse(cell, decimal, thousands);
            assert_eq!(found, expected, "{cell} {decimal:?} {thousands:?}");
        }
    }

    #[test]
    fn a_clock_time_is_exact() {
        use TimeFormat::{HourClock, MinuteClock};
        assert_eq!(clock("00:03:07.5", HourClock), Some(187.5));
        assert_eq!(clock("01:00:00", HourClock), Some(3600.0));
        assert_eq!(clock("03:07.1", MinuteClock), Some(187.1));
        assert_eq!(clock("75:00", MinuteClock), Some(4500.0));
        for bad in [
            "3:7", "03:60", "03:07.", "03:07:01", "-1:00", "a:bc", "", ":", "03:0x",
        ] {
            assert_eq!(clock(bad, MinuteClock), None, "{bad}");
        }
        assert_eq!(clock("00:61:00", HourClock), None);
        assert_eq!(clock("03:07", HourClock), None);
    }

    #[test]
    fn a_cell_longer_than_any_number_is_none() {
        let long = format!("1,{}", "0".repeat(200));
        assert_eq!(parse(&long, DecimalMark::Comma, None), None);
    }
}
