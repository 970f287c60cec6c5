//! What an author writes: the TOML of a profile, before it is checked.

use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written {
    pub id: String,
    pub title: String,
    pub record: String,
    pub test: Option<String>,
    pub text: WrittenText,
    #[serde(default)]
    pub signature: WrittenSignature,
    pub block: Option<WrittenBlock>,
    pub curves: Option<WrittenCurves>,
    #[serde(default)]
    pub columns: Vec<WrittenColumn>,
    #[serde(default)]
    pub constants: BTreeMap<String, toml::Value>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenText {
    pub encoding: String,
    pub delimiter: String,
    pub decimal: String,
    pub thousands: Option<String>,
    #[serde(default)]
    pub missing: Vec<String>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenSignature {
    pub first_line: Option<String>,
    #[serde(default)]
    pub units_row: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenBlock {
    pub separator: String,
    pub keys: BTreeMap<String, WrittenKey>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenKey {
    pub field: String,
    pub unit: Option<String>,
    #[serde(default)]
    pub words: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenCurves {
    pub arrangement: String,
    pub starts_with: Option<String>,
    #[serde(default)]
    pub summary: Vec<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenColumn {
    pub header: String,
    pub holds: Option<String>,
    pub format: Option<String>,
    pub unit: Option<String>,
    pub at_least: Option<usize>,
    #[serde(default)]
    pub words: BTreeMap<String, String>,
}
