//! One writer at a time, and who it is.
//!
//! The lock is the operating system's lock on the file `lock`; it ends with the process that
//! holds it, however that ends. `lock-owner` says who holds it, for the message that another
//! writer gets. The stale-lock rule:
//!
//! - lock held: somebody is writing; refused, with the owner's name;
//! - lock free, `lock-owner` names this computer: that process has ended without letting go;
//!   the lock is taken over, and [`super::Writer::took_over`] says from whom;
//! - lock free, `lock-owner` names another computer: a lock may not be seen across computers, so
//!   nothing can be known; refused, and a person removes `lock-owner` once nobody writes.
//!
//! The file `lock` itself is never removed: two writers could then lock two different files.
//! Readers take no lock.

use super::error::ArchiveError;
use super::medium::Hold;
use super::place;
use super::store::Store;
use serde::{Deserialize, Serialize};

/// Who writes. All of it is stated by the caller.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Owner {
    /// Person.
    pub who: String,
    /// Process number.
    pub pid: u32,
    /// Computer.
    pub host: String,
    /// Since when.
    pub since: String,
}

impl std::fmt::Display for Owner {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} (process {} on {}, since {})",
            self.who, self.pid, self.host, self.since
        )
    }
}

/// The lock, held.
pub(super) struct Lock {
    store: Store,
    pub(super) took_over: Option<Owner>,
    _hold: Box<dyn Hold>,
}

impl Lock {
    /// Takes the lock for `owner`.
    pub(super) fn take(store: &Store, owner: &Owner) -> Result<Lock, ArchiveError> {
        let Some(hold) = store.lock(place::LOCK)? else {
            // The owner's name may be missing for a moment: the lock comes first.
            let owner = read_owner(store).ok().flatten();
            return Err(ArchiveError::Locked {
                place: store.place(),
                owner,
            });
        };
        let before = read_owner(store)?;
        if let Some(other) = before.as_ref().filter(|o| o.host != owner.host) {
            return Err(ArchiveError::LeftByOther {
                place: store.place(),
                owner: other.clone(),
            });
        }
        // From here on the name is removed again whatever happens.
        let lock = Lock {
            store: store.clone(),
            took_over: before,
            _hold: hold,
        };
        store.make_folder(place::STAGING)?;
        store.replace(place::OWNER, &serde_json::to_vec(owner)?)?;
        Ok(lock)
    }
}

/// Returns who `lock-owner` names.
fn read_owner(store: &Store) -> Result<Option<Owner>, ArchiveError> {
    let Some(bytes) = store.read(place::OWNER)? else {
        return Ok(None);
    };
    match serde_json::from_slice(&bytes) {
        Ok(owner) => Ok(Some(owner)),
        // Not what this program writes, which is whole or absent: nothing can be known.
        Err(_) => Err(ArchiveError::LeftByOther {
            place: store.place(),
            owner: Owner {
                who: "an unknown writer".to_owned(),
                pid: 0,
                host: "an unknown computer".to_owned(),
                since: "an unknown time".to_owned(),
            },
        }),
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Where this fails, the next writer on this computer takes the lock over.
        let _ = self.store.remove(place::OWNER);
    }
}
