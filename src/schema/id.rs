//! Newtyped identifiers with a fallible door.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Why a text cannot be an identifier.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum IdError {
    /// The text is empty or only white space.
    #[error("an identifier is empty")]
    Empty,
    /// The text is longer than 200 bytes.
    #[error("identifier `{0}…` is longer than 200 bytes")]
    TooLong(String),
    /// The text holds a control character, which no report could print faithfully.
    #[error("identifier {0:?} holds a control character")]
    Control(String),
    /// The text is no SHA-256 digest.
    #[error("`{0}` is not a digest of 64 hexadecimal digits")]
    NotADigest(String),
}

fn checked(text: &str) -> Result<String, IdError> {
    let bare = text.trim();
    if bare.is_empty() {
        return Err(IdError::Empty);
    }
    if bare.len() > 200 {
        return Err(IdError::TooLong(bare.chars().take(40).collect()));
    }
    if bare.chars().any(char::is_control) {
        return Err(IdError::Control(bare.to_owned()));
    }
    Ok(bare.to_owned())
}

macro_rules! ids {
    ($($(#[doc = $doc:literal])+ $name:ident;)+) => {$(
        $(#[doc = $doc])+
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        pub struct $name(String);

        impl $name {
            /// Returns the identifier in `text`, without surrounding white space.
            ///
            /// # Errors
            /// [`IdError`] when the text is empty, too long or holds control characters.
            pub fn new(text: &str) -> Result<Self, IdError> {
                checked(text).map(Self)
            }

            /// Returns the identifier as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                Self::new(&String::deserialize(d)?).map_err(serde::de::Error::custom)
            }
        }
    )+};
}

ids! {
    /// One test on one piece.
    RunId;
    /// One flour lot as it was tested.
    SampleId;
    /// One dough: the unit of replication.
    BatchId;
    /// One instrument.
    InstrumentId;
    /// One derived number: 32 hexadecimal digits computed from everything it depends on.
    ResultId;
}

impl ResultId {
    /// Returns the identifier that `text` is: 32 hexadecimal digits.
    pub fn parse(text: &str) -> Option<ResultId> {
        let sound = text.len() == 32 && text.bytes().all(|b| b.is_ascii_hexdigit());
        sound.then(|| ResultId(text.to_ascii_lowercase()))
    }

    /// Returns the identifier made of the first 128 bits of `digest`.
    pub fn from_digest(digest: &Digest) -> ResultId {
        ResultId(digest.short().to_owned())
    }
}

/// The SHA-256 digest of some bytes, as 64 lower-case hexadecimal digits.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Digest(String);

impl Digest {
    /// Returns the digest of `bytes`.
    pub fn of(bytes: &[u8]) -> Digest {
        use sha2::Digest as _;
        let mut text = String::with_capacity(64);
        for byte in sha2::Sha256::digest(bytes) {
            for nibble in [byte >> 4, byte & 15] {
                text.push(char::from_digit(u32::from(nibble), 16).unwrap_or('0'));
            }
        }
        Digest(text)
    }

    /// Returns the digest written in `text`.
    ///
    /// # Errors
    /// [`IdError::NotADigest`] unless the text is 64 hexadecimal digits.
    pub fn parse(text: &str) -> Result<Digest, IdError> {
        let bare = text.trim().to_ascii_lowercase();
        if bare.len() == 64 && bare.bytes().all(|b| b.is_ascii_hexdigit()) {
            Ok(Digest(bare))
        } else {
            Err(IdError::NotADigest(text.to_owned()))
        }
    }

    /// Returns all 64 digits.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Returns the first 32 digits: 128 bits, enough to name a result.
    pub fn short(&self) -> &str {
        &self.0[..32]
    }
}

impl std::fmt::Display for Digest {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for Digest {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        Self::parse(&String::deserialize(d)?).map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_are_trimmed_and_never_empty() {
        assert_eq!(
            RunId::new(" K-01 ").map(|id| id.to_string()),
            Ok("K-01".into())
        );
        assert_eq!(RunId::new("  "), Err(IdError::Empty));
        assert!(matches!(RunId::new("a\u{7}b"), Err(IdError::Control(_))));
        assert!(matches!(
            RunId::new(&"x".repeat(201)),
            Err(IdError::TooLong(_))
        ));
    }

    #[test]
    fn digest_agrees_with_the_published_test_vector() {
        // FIPS 180-4 example: SHA-256 of the three bytes "abc".
        assert_eq!(
            Digest::of(b"abc").as_str(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert!(Digest::parse("ba78").is_err());
    }
}
