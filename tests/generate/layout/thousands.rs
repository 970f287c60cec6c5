//! L9: UTF-16, tab, decimal comma and a point as thousands mark.

use super::super::facts::decimal;
use super::super::file::GeneratedRun;

/// Returns the bytes of layout L9.
pub fn write_thousands(run: &GeneratedRun) -> Vec<u8> {
    let mut out = format!(
        "\u{feff}Long record\nRun:\t{}\nms\tconsistency (FU)\n",
        run.run_id
    );
    let samples = run.samples();
    for (time, value) in samples.time_s.iter().zip(&samples.signal) {
        out.push_str(&grouped(1000.0 * time, 0));
        out.push('\t');
        out.push_str(&grouped(*value, 1));
        out.push('\n');
    }
    out.encode_utf16().flat_map(u16::to_le_bytes).collect()
}

/// Returns `value` with a decimal comma and a point before every third digit.
fn grouped(value: f64, digits: usize) -> String {
    let text = decimal(value, digits);
    let (sign, bare) = match text.strip_prefix('-') {
        Some(rest) => ("-", rest),
        None => ("", text.as_str()),
    };
    let (whole, fraction) = bare.split_once('.').unwrap_or((bare, ""));
    let mut out = String::from(sign);
    for (place, digit) in whole.chars().enumerate() {
        if place > 0 && (whole.len() - place) % 3 == 0 {
            out.push('.');
        }
        out.push(digit);
    }
    if !fraction.is_empty() {
        out.push(',');
        out.push_str(fraction);
    }
    out
}
