//! One raw file to records.

use super::{FoundFile, Plan};
use crate::intake::{self, Intake};
use crate::profile::{Form, Profile};
use crate::record::{Fault, ProfileStamp, RawFile};
use crate::schema::Digest;
use std::io::Read as _;

/// What came of a file: its records, or what is wrong with it.
pub type Imported = Result<Intake, Fault>;

/// Bytes that are looked at to tell what kind of file it is.
const HEAD_BYTES: u64 = 64 * 1024;

/// A file with its bytes.
pub(super) struct Opened {
    /// Name, digest, size.
    pub raw: RawFile,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Returns the bytes of `file`.
pub(super) fn open(file: &FoundFile) -> Result<Opened, Fault> {
    let bytes = std::fs::read(&file.path).map_err(|error| unreadable(file, &error))?;
    let raw = RawFile {
        name: file.name.clone(),
        sha256: Digest::of(&bytes),
        bytes: bytes.len() as u64,
    };
    Ok(Opened { raw, bytes })
}

/// Returns the records of `file`, read by the profile it names or by the one it matches.
///
/// `wanted` is the profile that a run sheet names for it. Without one, the user's own profiles are
/// tried before the built-in ones.
pub fn import_file(plan: &Plan, file: &FoundFile, wanted: Option<&str>) -> Imported {
    import_opened(plan, &open(file)?, wanted).map(|(intake, _)| intake)
}

/// Returns the records in the bytes of a file, and the profile that read it.
pub(super) fn import_opened(
    plan: &Plan,
    opened: &Opened,
    wanted: Option<&str>,
) -> Result<(Intake, ProfileStamp), Fault> {
    let profile = choose(plan, &opened.raw.name, &opened.bytes, wanted)?;
    let stamp = ProfileStamp {
        id: profile.id.clone(),
        sha256: profile.digest.clone(),
    };
    intake::read(opened.raw.clone(), &opened.bytes, profile).map(|intake| (intake, stamp))
}

/// Returns whether the head of `file` is that of a run sheet. A file that cannot be read or
/// matched is none: its own turn comes later.
pub(super) fn is_run_sheet(plan: &Plan, file: &FoundFile) -> bool {
    let mut head = Vec::new();
    let read = std::fs::File::open(&file.path)
        .and_then(|open| open.take(HEAD_BYTES).read_to_end(&mut head));
    read.is_ok()
        && choose(plan, &file.name, &head, None)
            .is_ok_and(|profile| matches!(profile.form, Form::RunSheet(_)))
}

fn choose<'p>(
    plan: &'p Plan,
    name: &str,
    bytes: &[u8],
    wanted: Option<&str>,
) -> Result<&'p Profile, Fault> {
    if let Some(id) = wanted {
        let mut all = plan.own_profiles.iter().chain(&plan.builtin_profiles);
        return all.find(|profile| profile.id == id).ok_or_else(|| Fault {
            file: name.to_owned(),
            line: None,
            column: None,
            found: format!("profile `{id}` named for it in the run sheet"),
            expected: "the identifier of an import profile".into(),
            remedy:
                "list them with `doughtrace profile list`, or give your own with `--profiles DIR`"
                    .into(),
        });
    }
    if !plan.own_profiles.is_empty() {
        let fits = plan
            .own_profiles
            .iter()
            .any(|p| intake::explain_fit(p, bytes).fits());
        if fits {
            return intake::select(&plan.own_profiles, name, bytes);
        }
    }
    intake::select(&plan.builtin_profiles, name, bytes)
}

fn unreadable(file: &FoundFile, error: &std::io::Error) -> Fault {
    Fault {
        file: file.name.clone(),
        line: None,
        column: None,
        found: format!("a file that cannot be opened ({error})"),
        expected: "a readable file".into(),
        remedy: "check its permissions and the disk, then process the day again".into(),
    }
}
