//! A picture as the templates lay it out.

use super::Picture;
use minijinja::Value;
use serde::Serialize;

/// One picture.
#[derive(Debug, Serialize)]
pub(super) struct Figure {
    id: String,
    title: String,
    alt: String,
    /// Address, known to hold unreserved or base64 characters only.
    source: Value,
    embedded: bool,
    width: Option<u32>,
    height: Option<u32>,
    /// Anchor of what it shows.
    anchor: Option<String>,
}

impl Figure {
    /// Returns `picture` under the anchor `id`; `anchor` is that of what it shows.
    pub(super) fn new(id: String, picture: &Picture, anchor: Option<String>) -> Figure {
        Figure {
            id,
            title: picture.title.clone(),
            alt: picture.alt.clone(),
            source: Value::from_safe_string(picture.source().to_owned()),
            embedded: picture.is_embedded(),
            width: picture.size().map(|(width, _)| width),
            height: picture.size().map(|(_, height)| height),
            anchor,
        }
    }
}
