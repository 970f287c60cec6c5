//! Where everything stands in an archive.

use super::error::ArchiveError;
use super::event::Keep;
use crate::schema::Digest;

/// The ledger.
pub(super) const LEDGER: &str = "ledger.jsonl";
/// Names the last ledger line.
pub(super) const HEAD: &str = "HEAD";
/// Locked by the one writer; never removed.
pub(super) const LOCK: &str = "lock";
/// Says who holds the lock.
pub(super) const OWNER: &str = "lock-owner";
/// Where the writer prepares files; nothing in it counts.
pub(super) const STAGING: &str = "staging";
/// Lists the files that a commit puts in place.
pub(super) const INTENT: &str = "staging/intent";
/// Originals.
pub(super) const RAW: &str = "raw";
/// Table segments.
pub(super) const TABLES: &str = "tables";
/// Unfinished last lines, set aside.
pub(super) const TORN: &str = "ledger.torn-";

/// Returns the extension of a file name in lower case, or `bin` where it has none that is plain.
pub(super) fn extension(name: &str) -> String {
    let bare = name.rsplit('/').next().unwrap_or(name);
    match bare.rsplit_once('.') {
        Some((_, end)) if is_extension(&end.to_ascii_lowercase()) => end.to_ascii_lowercase(),
        _ => "bin".to_owned(),
    }
}

fn is_extension(text: &str) -> bool {
    (1..=12).contains(&text.len())
        && text
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit())
}

/// A folder name that every file system bears and that no list of digests can mistake.
fn is_folder(text: &str) -> bool {
    (1..=80).contains(&text.len())
        && !text.starts_with('.')
        && text
            .bytes()
            .all(|b| b.is_ascii_alphanumeric() || b"=-_.".contains(&b))
}

/// Returns where bytes with this digest stand.
///
/// # Errors
/// [`ArchiveError::BadName`] when a segment's folder is not plain.
pub(super) fn of(
    keep: Keep,
    folder: &str,
    digest: &Digest,
    extension: &str,
) -> Result<String, ArchiveError> {
    let digits = digest.as_str();
    match keep {
        Keep::Raw => Ok(format!(
            "{RAW}/{}/{digits}.{extension}",
            digits.get(..2).unwrap_or("00")
        )),
        Keep::Segment if folder.split('/').all(is_folder) => {
            Ok(format!("{TABLES}/{folder}/{digits}.{extension}"))
        }
        Keep::Segment => Err(ArchiveError::BadName {
            name: folder.to_owned(),
            expected: "a folder and a file name, of letters, digits and `= - _ .`",
        }),
    }
}

/// Returns whether `path` is where bytes with this digest may stand: a ledger that somebody has
/// written must not make a reader leave the archive.
pub(super) fn is_place_of(path: &str, digest: &Digest) -> bool {
    let Some((folder, file)) = path.rsplit_once('/') else {
        return false;
    };
    let digits = digest.as_str();
    let named = file
        .strip_prefix(digits)
        .and_then(|rest| rest.strip_prefix('.'))
        .is_some_and(is_extension);
    let placed = match folder.split_once('/') {
        Some((RAW, two)) => digits.get(..2) == Some(two),
        Some((TABLES, rest)) => rest.split('/').all(is_folder),
        _ => false,
    };
    named && placed
}

/// Returns whether `path` has the form of a stored file's path.
pub(super) fn is_stored_path(path: &str) -> bool {
    path.rsplit_once('/')
        .and_then(|(_, file)| file.split_once('.'))
        .and_then(|(digits, _)| Digest::parse(digits).ok())
        .is_some_and(|digest| is_place_of(path, &digest))
}

/// Returns the folder that holds `path`.
pub(super) fn parent(path: &str) -> &str {
    path.rsplit_once('/').map_or("", |(folder, _)| folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_that_leaves_the_archive_is_no_place_of_anything() {
        let digest = Digest::of(b"abc");
        let d = digest.as_str();
        let at = of(Keep::Raw, "", &digest, "csv").unwrap_or_default();
        assert_eq!(at, format!("raw/ba/{d}.csv"));
        assert!(is_place_of(&at, &digest) && is_stored_path(&at));
        let wrong = [
            format!("raw/bb/{d}.csv"),
            format!("raw/../{d}.csv"),
            format!("tables/../../x/{d}.csv"),
            format!("tables//x/{d}.csv"),
            format!("/etc/{d}.csv"),
            format!("raw/ba/{d}.csv/"),
            format!("raw/ba/{d}"),
            format!("raw/ba/{}.csv", d.to_uppercase()),
            "raw/ba/ledger.csv".to_owned(),
            "ledger.jsonl".to_owned(),
        ];
        for path in wrong {
            assert!(!is_place_of(&path, &digest), "{path}");
            assert!(!is_stored_path(&path), "{path}");
        }
        for folder in ["", "..", "a/../b", "a b", ".hidden", "a//b"] {
            assert!(of(Keep::Segment, folder, &digest, "csv").is_err());
        }
    }

    #[test]
    fn an_extension_is_kept_when_it_is_plain() {
        assert_eq!(extension("day/K-01.CSV"), "csv");
        assert_eq!(extension("day.2/K-01"), "bin");
        assert_eq!(extension("a.c/../sv"), "bin");
        assert_eq!(extension("a.b\u{e9}"), "bin");
        assert_eq!(extension(".toml"), "toml");
    }
}
