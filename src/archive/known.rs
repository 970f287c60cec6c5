//! What the ledger names, as the writer needs it.

use super::event::Item;
use crate::schema::Digest;
use std::collections::{HashMap, HashSet};

/// Kind of item that stands for an original.
pub(super) const RAW_KIND: &str = "raw";

/// The kept files, by path, digest and name.
#[derive(Default)]
pub(super) struct Known {
    /// Every path that a line names.
    pub(super) paths: HashSet<String>,
    /// Path of each original.
    pub(super) originals: HashMap<Digest, String>,
    /// Latest version of each name.
    pub(super) versions: HashMap<String, Digest>,
}

impl Known {
    /// Takes in what came out of an event.
    pub(super) fn learn(&mut self, item: &Item) {
        let (Some(path), Some(digest)) = (&item.path, &item.digest) else {
            return;
        };
        self.paths.insert(path.clone());
        if item.kind == RAW_KIND {
            self.originals.insert(digest.clone(), path.clone());
            if let Some(name) = &item.name {
                self.versions.insert(name.clone(), digest.clone());
            }
        }
    }

    /// Returns whether a line names this path.
    pub(super) fn names(&self, path: &str) -> bool {
        self.paths.contains(path)
    }
}
