//! The closed lists of words in a study file, and the nearest word to a misspelt one.

use super::model::{Basis, Blocking, ErrorChoice, Scope};
use super::question::Direction;

pub(super) const BLOCKINGS: &[(&str, Blocking)] = &[
    ("block", Blocking::Block),
    ("flour", Blocking::Flour),
    ("none", Blocking::Unblocked),
];

pub(super) const BASES: &[(&str, Basis)] = &[
    ("same-water", Basis::SameWater),
    ("same-consistency", Basis::SameConsistency),
    ("same-work", Basis::SameWork),
];

pub(super) const SCOPES: &[(&str, Scope)] = &[("doughs", Scope::Doughs), ("flours", Scope::Flours)];

pub(super) const ERRORS: &[(&str, ErrorChoice)] = &[
    ("automatic", ErrorChoice::Automatic),
    ("pooled", ErrorChoice::Pooled),
    ("paired", ErrorChoice::Paired),
];

pub(super) const DIRECTIONS: &[(&str, Direction)] =
    &[("above", Direction::Above), ("below", Direction::Below)];

pub(super) const BETTER: &[(&str, Direction)] =
    &[("higher", Direction::Above), ("lower", Direction::Below)];

/// Returns the word of `words` that is at most two letters away from `text`; farther than that a
/// guess would mislead.
pub(super) fn near<'w>(text: &str, words: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let lower = text.to_lowercase();
    let distance = |word: &str| strsim::damerau_levenshtein(&lower, &word.to_lowercase());
    words
        .into_iter()
        .min_by_key(|word| distance(word))
        .filter(|word| distance(word) <= 2)
}

/// Returns the remedy for a word that is none of `words`.
pub fn suggest<'w>(text: &str, words: impl IntoIterator<Item = &'w str>) -> String {
    near(text, words).map_or_else(
        || "write the one that is meant".to_owned(),
        |word| format!("write `{word}` if that is what is meant"),
    )
}
