//! A signature over the ledger's head.
//!
//! What a seal proves: whoever holds the private key had this head, and so every line and every
//! byte up to it, before them when they signed; nothing up to it was changed since, or the seal
//! does not fit. What it does not prove: who holds the key; when they signed (the time is the
//! signer's own statement); that the contents are right; anything about lines after it. A key in
//! the ledger proves nothing about its owner: compare it with the public key that the owner gave
//! you by another way, and hand that to [`super::VerifyOptions::trusted_keys`].
//!
//! The algorithm is Ed25519 (RFC 8032). Keys are files that the user makes and owns, in PEM form:
//! PKCS #8 for the private one (RFC 8410), SubjectPublicKeyInfo for the public one. What is
//! signed is the text `doughtrace ledger head`, the line's number and its digest, each followed
//! by a line feed, so that any program that knows Ed25519 can check it.

use super::error::ArchiveError;
use super::event::{Action, Event};
use super::head::Head;
use super::line::Entry;
use super::trouble::{Failure, Trouble};
use super::writer::{Committed, Writer};
use crate::schema::Digest;
use ed25519_dalek::pkcs8::{DecodePrivateKey, DecodePublicKey};
use ed25519_dalek::{Signature, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

const ALGORITHM: &str = "Ed25519";

/// A private key; it is wiped from memory when dropped.
pub struct SealKey(SigningKey);

impl SealKey {
    /// Returns the key in the text of a PEM file (`BEGIN PRIVATE KEY`).
    ///
    /// # Errors
    /// [`ArchiveError::Key`] when the text holds no Ed25519 key; it never repeats the text.
    pub fn from_pem(text: &str) -> Result<SealKey, ArchiveError> {
        // A key file may also carry the public half; where the two differ it is refused.
        SigningKey::from_pkcs8_pem(text)
            .map(SealKey)
            .map_err(|error| ArchiveError::Key(error.to_string(), "private key"))
    }

    /// Returns the public half.
    pub fn public(&self) -> TrustedKey {
        TrustedKey(self.0.verifying_key())
    }
}

/// A public key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrustedKey(VerifyingKey);

impl TrustedKey {
    /// Returns the key in the text of a PEM file (`BEGIN PUBLIC KEY`).
    ///
    /// # Errors
    /// [`ArchiveError::Key`] when the text holds no Ed25519 key.
    pub fn from_pem(text: &str) -> Result<TrustedKey, ArchiveError> {
        VerifyingKey::from_public_key_pem(text)
            .map(TrustedKey)
            .map_err(|error| ArchiveError::Key(error.to_string(), "public key"))
    }

    /// Returns the 32 bytes of the key as hexadecimal digits.
    pub fn to_hex(&self) -> String {
        hex(self.0.as_bytes())
    }
}

/// What a seal's event keeps.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Seal {
    algorithm: String,
    signed_seq: u64,
    signed_digest: Digest,
    public_key: String,
    signature: String,
}

/// A seal that fits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SealCheck {
    /// Ledger line of the seal.
    pub seq: u64,
    /// What it covers: this line and everything before.
    pub covers: Head,
    /// Public key, as hexadecimal digits.
    pub public_key: String,
    /// Whether the key is one that the reader named. A seal by any other key shows only that the
    /// lines before it belong together.
    pub trusted: bool,
    /// Who sealed, by their own statement.
    pub who: String,
    /// When, by their own statement.
    pub when: String,
}

fn message(seq: u64, digest: &Digest) -> String {
    format!("doughtrace ledger head\n{seq}\n{digest}\n")
}

impl Writer {
    /// Signs the head as it is and enters the signature in the ledger, as an event of the person
    /// and time in `event`; what `event` says of parameters is replaced.
    ///
    /// # Errors
    /// [`ArchiveError`] as of [`Writer::commit`].
    pub fn seal(&mut self, mut event: Event, key: &SealKey) -> Result<Committed, ArchiveError> {
        let head = self.head().clone();
        let text = message(head.seq, &head.digest);
        let seal = Seal {
            algorithm: ALGORITHM.to_owned(),
            signed_seq: head.seq,
            signed_digest: head.digest,
            public_key: key.public().to_hex(),
            signature: hex(&key.0.sign(text.as_bytes()).to_bytes()),
        };
        event.action = Action::Seal;
        event.parameters = serde_json::to_value(seal)?;
        self.commit(event, Vec::new())
    }
}

/// Returns how a line's seal fits; `None` for a line that is no seal. `known` has the digests of
/// the lines before it.
pub(super) fn check_seal(
    entry: &Entry,
    known: &HashMap<u64, Digest>,
    trusted: &[TrustedKey],
) -> Option<Result<SealCheck, Failure>> {
    if entry.event.action != Action::Seal {
        return None;
    }
    Some(fit(entry, known, trusted).map_err(|(found, expected)| {
        Failure::in_ledger(Trouble::BadSeal, entry.seq, found, expected.to_owned())
    }))
}

fn fit(
    entry: &Entry,
    known: &HashMap<u64, Digest>,
    trusted: &[TrustedKey],
) -> Result<SealCheck, (String, &'static str)> {
    let seal: Seal =
        Deserialize::deserialize(&entry.event.parameters).map_err(|e: serde_json::Error| {
            (format!("a seal without its parts: {e}"), "a signature")
        })?;
    if seal.algorithm != ALGORITHM {
        return Err((
            format!("a seal by `{}`", seal.algorithm),
            "Ed25519, which this version knows",
        ));
    }
    // A seal is about the line right before it: about no other could the writer have known.
    if seal.signed_seq + 1 != entry.seq || seal.signed_digest != entry.previous {
        return Err((
            format!(
                "a seal over line {} with the digest {}",
                seal.signed_seq, seal.signed_digest
            ),
            "a seal over the line before it",
        ));
    }
    if seal.signed_seq > 0 && known.get(&seal.signed_seq) != Some(&seal.signed_digest) {
        return Err((
            "a seal over a line that does not hold".to_owned(),
            "the line as it was signed",
        ));
    }
    let unreadable = || {
        (
            "a key or signature of another form".to_owned(),
            "hexadecimal digits",
        )
    };
    let key: [u8; 32] = bytes(&seal.public_key).ok_or_else(unreadable)?;
    let signature: [u8; 64] = bytes(&seal.signature).ok_or_else(unreadable)?;
    let key = VerifyingKey::from_bytes(&key)
        .map_err(|e| (format!("a key that is none: {e}"), "an Ed25519 public key"))?;
    // The strict form leaves no room for a second signature or a weak key.
    key.verify_strict(
        message(seal.signed_seq, &seal.signed_digest).as_bytes(),
        &Signature::from_bytes(&signature),
    )
    .map_err(|_| {
        (
            "a signature that does not fit".to_owned(),
            "the signature of this key over this head",
        )
    })?;
    Ok(SealCheck {
        seq: entry.seq,
        covers: Head {
            seq: seal.signed_seq,
            digest: seal.signed_digest,
        },
        trusted: trusted.iter().any(|known| known.0 == key),
        public_key: seal.public_key,
        who: entry.event.who.clone(),
        when: entry.event.when.clone(),
    })
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a text in memory cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Returns the bytes that exactly `2 N` hexadecimal digits stand for.
fn bytes<const N: usize>(text: &str) -> Option<[u8; N]> {
    if text.len() != 2 * N || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
        return None;
    }
    let mut bytes = [0; N];
    for (at, byte) in bytes.iter_mut().enumerate() {
        *byte = u8::from_str_radix(text.get(2 * at..2 * at + 2)?, 16).ok()?;
    }
    Some(bytes)
}
