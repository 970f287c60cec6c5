//! The profiles that come with the tool.

use super::error::ProfileError;
use super::model::Profile;

macro_rules! texts {
    ($($name:literal,)+) => {
        /// Built-in profiles: file name without ending, and TOML text.
        pub const BUILTIN_TEXTS: &[(&str, &str)] = &[$((
            $name,
            include_str!(concat!("../../schemas/profiles/", $name, ".toml")),
        ),)+];
    };
}

texts! {
    "mixing-block",
    "mixing-side-by-side",
    "plain-two-columns",
    "mixing-semicolon",
    "mixing-clock",
    "mixing-three-traces",
    "mixing-stacked",
    "wide-unit-unknown",
    "mixing-thousands",
    "pin-mixing-preamble",
    "pin-mixing-stacked",
    "heating-units-row",
    "heating-clock",
    "extension-block",
    "extension-hook",
    "mixer-log-power",
    "mixer-log-torque",
    "mixer-log-jet",
    "strip-hook",
    "strip-stacked",
    "inflation-discs",
    "inflation-pressure",
    "run-sheet",
    "run-sheet-semicolon",
    "window-sheet",
    "window-sheet-tab",
    "uptake-semicolon",
    "uptake-side-by-side",
    "loaf-sheet",
    "firmness-curve",
    "firmness-stacked",
}

/// Returns the built-in profiles, in the order of their list.
///
/// # Errors
/// [`ProfileError`] if one of them is wrong, which the tests rule out.
pub fn builtin() -> Result<Vec<Profile>, ProfileError> {
    BUILTIN_TEXTS
        .iter()
        .map(|(_, text)| Profile::parse(text))
        .collect()
}
