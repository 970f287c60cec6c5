//! Every archived run as input again.

use super::kept::{LIMITS, PROFILES, RAW_KIND, find_archive};
use super::study::STUDIES;
use super::{Discovered, FoundFile, ProcessError};
use crate::archive::Archive;
use crate::profile::BUILTIN_TEXTS;
use crate::schema::Digest;
use std::collections::BTreeMap;
use std::path::Path;

/// Beginning of the names of kept certificates.
pub(super) const CERTIFICATES: &str = "certificates/";

/// Returns the latest version of each original, by name: its digest and place.
fn latest(archive: &Path) -> Result<BTreeMap<String, (Digest, String)>, ProcessError> {
    let folder = find_archive(archive)?;
    let mut versions = BTreeMap::new();
    for entry in Archive::at(&folder).read()?.events()? {
        for item in entry?.event.outputs {
            if let (Some(name), Some(digest), Some(path)) = (item.name, item.digest, item.path)
                && item.kind == RAW_KIND
            {
                versions.insert(name, (digest, path));
            }
        }
    }
    Ok(versions)
}

/// Returns the data files of an archive, the latest version of each, under the names by which they
/// are kept.
pub(super) fn find_files(archive: &Path) -> Result<Discovered, ProcessError> {
    let folder = find_archive(archive)?;
    let files = latest(archive)?
        .into_iter()
        .filter(|(name, _)| {
            let kept_beside = [PROFILES, CERTIFICATES, LIMITS, STUDIES];
            !kept_beside.iter().any(|begin| name.starts_with(begin))
        })
        .map(|(name, (_, path))| FoundFile {
            path: folder.join(path),
            kept_as: name.clone(),
            name,
        })
        .collect();
    Ok(Discovered {
        files,
        skipped: Vec::new(),
    })
}

/// Returns the texts of the profiles in an archive that are not built in.
pub(super) fn own_profile_texts(archive: &Path) -> Result<Vec<String>, ProcessError> {
    let reader = Archive::at(&find_archive(archive)?).read()?;
    let builtin = |id: &str| BUILTIN_TEXTS.iter().any(|(name, _)| *name == id);
    let mut texts = Vec::new();
    for (name, (digest, _)) in latest(archive)? {
        let id = name
            .strip_prefix(PROFILES)
            .and_then(|file| file.strip_suffix(".toml"));
        if id.is_none_or(builtin) {
            continue;
        }
        if let Some(bytes) = reader.raw(&digest)? {
            texts.push(String::from_utf8_lossy(&bytes).into_owned());
        }
    }
    Ok(texts)
}
