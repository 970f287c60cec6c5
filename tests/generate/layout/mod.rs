//! Writers of the file layouts, byte for byte. All layouts are invented and differ on purpose.

mod bare;
mod block;
mod clock;
mod extension;
mod firmness;
mod heating;
mod inflation;
mod mixer_log;
mod pin;
mod several;
pub mod sheet;
mod strip;
mod thousands;
mod traces;
mod uptake;
mod window;

use super::file::GeneratedRun;

pub use extension::ExtensionLayout;
pub use firmness::{FIRMNESS_PROFILE, write_slices};
pub use heating::HeatingLayout;
pub use inflation::BubbleLayout;
pub use mixer_log::{JET_PROFILE, LogLayout, write_jet};
pub use pin::PinLayout;
pub use strip::StripLayout;
pub use uptake::{UPTAKE_PROFILE, write_uptake};
pub use window::GradeLayout;

/// A layout of mixing curves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// L1: key/value block, comma, decimal point.
    Block,
    /// L2: several curves side by side.
    SideBySide,
    /// L3: two bare columns.
    Plain,
    /// L4: semicolon, decimal comma, Latin-1, temperature channel.
    Semicolon,
    /// L5: tab, byte-order mark, clock time, units row.
    Clock,
    /// L6: pipe, three supplied traces.
    ThreeTraces,
    /// L7: stacked curves with a summary line each.
    Stacked,
    /// L8: wide, unit unknown.
    Wide,
    /// L9: UTF-16, tab, decimal comma, thousands mark.
    Thousands,
}

impl Layout {
    /// Every layout of mixing curves.
    pub const ALL: [Layout; 9] = [
        Layout::Block,
        Layout::SideBySide,
        Layout::Plain,
        Layout::Semicolon,
        Layout::Clock,
        Layout::ThreeTraces,
        Layout::Stacked,
        Layout::Wide,
        Layout::Thousands,
    ];

    /// Returns the identifier of the import profile that reads the layout.
    pub fn profile(self) -> &'static str {
        match self {
            Layout::Block => "mixing-block",
            Layout::SideBySide => "mixing-side-by-side",
            Layout::Plain => "plain-two-columns",
            Layout::Semicolon => "mixing-semicolon",
            Layout::Clock => "mixing-clock",
            Layout::ThreeTraces => "mixing-three-traces",
            Layout::Stacked => "mixing-stacked",
            Layout::Wide => "wide-unit-unknown",
            Layout::Thousands => "mixing-thousands",
        }
    }

    /// Returns the ending of file names in the layout.
    pub fn extension(self) -> &'static str {
        match self {
            Layout::Semicolon | Layout::Thousands => "txt",
            Layout::Clock => "tsv",
            _ => "csv",
        }
    }

    /// Returns the bytes of a file that holds `runs`; layouts of one curve take the first.
    pub fn write(self, runs: &[GeneratedRun]) -> Vec<u8> {
        let Some(first) = runs.first() else {
            return Vec::new();
        };
        match self {
            Layout::Block => block::write_block(first).into_bytes(),
            Layout::SideBySide => several::write_side_by_side(runs).into_bytes(),
            Layout::Plain => bare::write_plain(first).into_bytes(),
            Layout::Semicolon => latin_1(&block::write_semicolon(first)),
            Layout::Clock => clock::write_clock(first).into_bytes(),
            Layout::ThreeTraces => traces::write_three_traces(first).into_bytes(),
            Layout::Stacked => several::write_stacked(runs).into_bytes(),
            Layout::Wide => bare::write_wide(runs).into_bytes(),
            Layout::Thousands => thousands::write_thousands(first),
        }
    }
}

/// Returns the digits after the point that times of a sampling interval need.
fn time_decimals(step_s: f64) -> usize {
    (0..=3)
        .find(|digits| {
            let scaled = step_s * libm::pow(10.0, *digits as f64);
            (scaled - scaled.round()).abs() < 1e-9
        })
        .unwrap_or(3)
}

/// Returns `text` in Latin-1; every character of the layouts has a place there.
fn latin_1(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?'))
        .collect()
}

/// Appends `key`, `mark` and `value` as a line, if there is a value.
fn push_fact(out: &mut String, key: &str, mark: &str, value: &str) {
    if !value.is_empty() {
        out.push_str(key);
        out.push_str(mark);
        out.push_str(value);
        out.push('\n');
    }
}
