//! The closed lists of words in a profile, and the nearest word to a misspelt one.

use super::error::ProfileError;
use super::model::{DecimalMark, Delimiter, Encoding, ThousandsMark, TimeFormat};
use crate::schema::{Axis, Channel, Field};

pub(super) const ENCODINGS: &[(&str, Encoding)] = &[
    ("utf-8", Encoding::Utf8),
    ("utf-16", Encoding::Utf16),
    ("latin-1", Encoding::Latin1),
];

pub(super) const DELIMITERS: &[(&str, Delimiter)] = &[
    ("comma", Delimiter::Comma),
    ("semicolon", Delimiter::Semicolon),
    ("tab", Delimiter::Tab),
    ("pipe", Delimiter::Pipe),
];

pub(super) const DECIMALS: &[(&str, DecimalMark)] =
    &[("point", DecimalMark::Point), ("comma", DecimalMark::Comma)];

pub(super) const THOUSANDS: &[(&str, Option<ThousandsMark>)] = &[
    ("none", None),
    ("point", Some(ThousandsMark::Point)),
    ("comma", Some(ThousandsMark::Comma)),
    ("space", Some(ThousandsMark::Space)),
    ("apostrophe", Some(ThousandsMark::Apostrophe)),
];

pub(super) const TIME_FORMATS: &[(&str, TimeFormat)] = &[
    ("seconds", TimeFormat::Seconds),
    ("minutes", TimeFormat::Minutes),
    ("milliseconds", TimeFormat::Milliseconds),
    ("mm:ss", TimeFormat::MinuteClock),
    ("hh:mm:ss", TimeFormat::HourClock),
];

/// What a curve column may hold, before format and unit are known.
#[derive(Debug, Clone, Copy)]
pub(super) enum Holds {
    Time,
    Length(Axis),
    Ordinate(Channel),
    Passed,
}

pub(super) const CURVE_CONTENTS: &[(&str, Holds)] = &[
    ("time", Holds::Time),
    ("chart-mm", Holds::Length(Axis::ChartMm)),
    ("hook-travel-mm", Holds::Length(Axis::HookTravelMm)),
    ("volume-ml", Holds::Length(Axis::VolumeMl)),
    ("probe-travel-mm", Holds::Length(Axis::ProbeTravelMm)),
    ("signal", Holds::Ordinate(Channel::Signal)),
    ("upper", Holds::Ordinate(Channel::Upper)),
    ("middle", Holds::Ordinate(Channel::Middle)),
    ("lower", Holds::Ordinate(Channel::Lower)),
    ("temperature", Holds::Ordinate(Channel::Temperature)),
    (
        "block-temperature",
        Holds::Ordinate(Channel::BlockTemperature),
    ),
    ("torque", Holds::Ordinate(Channel::Torque)),
    ("power", Holds::Ordinate(Channel::Power)),
    ("speed", Holds::Ordinate(Channel::Speed)),
    ("pump-pressure", Holds::Ordinate(Channel::PumpPressure)),
    ("water-flow", Holds::Ordinate(Channel::WaterFlow)),
    ("flour-flow", Holds::Ordinate(Channel::FlourFlow)),
    ("jet-speed", Holds::Ordinate(Channel::JetSpeed)),
    ("index", Holds::Passed),
    ("ignore", Holds::Passed),
];

/// Says where a problem of a profile lies.
pub(super) struct Place<'a> {
    pub profile: &'a str,
}

impl Place<'_> {
    /// Returns the error at `key`.
    pub fn error(&self, key: &str, found: String, expected: &str, remedy: &str) -> ProfileError {
        ProfileError {
            profile: self.profile.to_owned(),
            key: key.to_owned(),
            found,
            expected: expected.to_owned(),
            remedy: remedy.to_owned(),
        }
    }

    /// Returns the choice that `text` names.
    pub fn choose<T: Copy>(
        &self,
        key: &str,
        text: &str,
        list: &[(&str, T)],
    ) -> Result<T, ProfileError> {
        if let Some((_, choice)) = list.iter().find(|(word, _)| *word == text) {
            return Ok(*choice);
        }
        let words: Vec<&str> = list.iter().map(|(word, _)| *word).collect();
        let near = nearest(text, words.iter().copied());
        // Farther than two letters a guess would mislead.
        let remedy = match strsim::damerau_levenshtein(text, near) <= 2 {
            true => format!("write `{near}` if that is what is meant"),
            false => "write the one that is meant".to_owned(),
        };
        Err(self.error(
            key,
            format!("`{text}`"),
            &format!("one of {}", words.join(", ")),
            &remedy,
        ))
    }

    /// Returns the field called `name`.
    pub fn field(&self, key: &str, name: &str) -> Result<Field, ProfileError> {
        Field::parse(name).ok_or_else(|| {
            self.error(
                key,
                format!("`{name}`"),
                "the name of a field of this tool",
                &format!("the nearest is `{}`", nearest_field(name)),
            )
        })
    }
}

fn nearest<'w>(text: &str, words: impl Iterator<Item = &'w str>) -> &'w str {
    let lower = text.to_lowercase();
    words
        .min_by_key(|word| strsim::damerau_levenshtein(&lower, word))
        .unwrap_or("")
}

/// Returns the field whose name is nearest to `text`, by edits of single letters.
pub fn nearest_field(text: &str) -> &'static str {
    nearest(text, Field::ALL.iter().map(|field| field.name()))
}
