//! SHA-256 of what does not stand in memory in one piece.

use crate::schema::Digest;
use sha2::{Digest as _, Sha256};
use std::io::Read;

fn finish(state: Sha256) -> Digest {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(64);
    for byte in state.finalize() {
        // Writing to a text in memory cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    Digest::parse(&text).unwrap_or_else(|_| Digest::of(&[]))
}

/// Returns the digest of `parts`, one after the other.
pub(super) fn of_parts(parts: &[&[u8]]) -> Digest {
    let mut state = Sha256::new();
    for part in parts {
        state.update(part);
    }
    finish(state)
}

/// Returns digest and size of everything that `reader` gives.
pub(super) fn of_reader(mut reader: impl Read) -> std::io::Result<(Digest, u64)> {
    let mut state = Sha256::new();
    let mut buffer = vec![0; 64 * 1024];
    let mut size = 0_u64;
    loop {
        let count = match reader.read(&mut buffer) {
            Ok(0) => return Ok((finish(state), size)),
            Ok(count) => count,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        state.update(buffer.get(..count).unwrap_or_default());
        size += count as u64;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_have_the_digest_of_the_whole() {
        // FIPS 180-4 example: the 56-byte message of two blocks.
        let message = b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq";
        let expected = "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1";
        let (left, right) = message.split_at(19);
        assert_eq!(of_parts(&[left, right]).as_str(), expected);
        let read = of_reader(&message[..]).map(|(digest, size)| (digest.to_string(), size));
        assert_eq!(read.ok(), Some((expected.to_owned(), 56)));
    }
}
