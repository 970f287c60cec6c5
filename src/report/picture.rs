//! Pictures of a report: PNG bytes carried inside the page, or a file beside it.

use crate::schema::RunId;
use base64::Engine as _;
use thiserror::Error;

/// Why something cannot be a picture of the report.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PictureError {
    /// The bytes are no PNG.
    #[error("the bytes of the picture `{0}` are no PNG")]
    NotPng(String),
    /// The address leaves the folder of the report.
    #[error(
        "the picture address `{0}` is not a relative path below the report; use for example `charts/run.png`"
    )]
    NotRelative(String),
}

/// A picture with the words that stand for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Short title, printed above.
    pub title: String,
    /// What the picture shows, stating the result, for those who cannot see it.
    pub alt: String,
    /// The run it shows, when it shows one.
    pub run_id: Option<RunId>,
    source: String,
    size: Option<(u32, u32)>,
}

/// The pictures of a day.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ChartSet {
    /// The day at a glance and the comparisons, in the order they are shown.
    pub overview: Vec<Picture>,
    /// One run each.
    pub runs: Vec<Picture>,
}

impl Picture {
    /// Returns a picture that travels inside the page.
    ///
    /// # Errors
    /// [`PictureError::NotPng`] unless the bytes start like a PNG file.
    pub fn embedded(title: &str, alt: &str, png: &[u8]) -> Result<Picture, PictureError> {
        let size = png_size(png).ok_or_else(|| PictureError::NotPng(title.to_owned()))?;
        let mut source = "data:image/png;base64,".to_owned();
        base64::engine::general_purpose::STANDARD.encode_string(png, &mut source);
        Ok(Picture {
            title: title.to_owned(),
            alt: alt.to_owned(),
            run_id: None,
            source,
            size: Some(size),
        })
    }

    /// Returns a picture that lies in a file beside the page, at the relative address `href`.
    ///
    /// # Errors
    /// [`PictureError::NotRelative`] when the address is absolute, climbs upwards or has a scheme.
    pub fn beside(title: &str, alt: &str, href: &str) -> Result<Picture, PictureError> {
        let climbs = href.split('/').any(|part| part.is_empty() || part == "..");
        if climbs || href.contains([':', '\\']) {
            return Err(PictureError::NotRelative(href.to_owned()));
        }
        Ok(Picture {
            title: title.to_owned(),
            alt: alt.to_owned(),
            run_id: None,
            source: as_address(href),
            size: None,
        })
    }

    /// Returns the picture as that of `run`.
    #[must_use]
    pub fn of_run(mut self, run: &RunId) -> Picture {
        self.run_id = Some(run.clone());
        self
    }

    /// Returns the address for the page: text of base64 or of unreserved characters only.
    pub(super) fn source(&self) -> &str {
        &self.source
    }

    /// Returns whether the picture travels inside the page.
    pub(super) fn is_embedded(&self) -> bool {
        self.size.is_some()
    }

    /// Returns width and height in pixels, when known.
    pub(super) fn size(&self) -> Option<(u32, u32)> {
        self.size
    }
}

/// Returns the path with everything but unreserved characters percent-encoded (RFC 3986, 2.3).
fn as_address(path: &str) -> String {
    let mut address = String::with_capacity(path.len());
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            address.push(char::from(byte));
        } else {
            address.push_str(&format!("%{byte:02X}"));
        }
    }
    address
}

/// Returns width and height from the first chunk of a PNG file (ISO/IEC 15948, 5.2 and 11.2.2).
fn png_size(bytes: &[u8]) -> Option<(u32, u32)> {
    let rest = bytes.strip_prefix(b"\x89PNG\r\n\x1a\n")?;
    let (head, rest) = rest.split_first_chunk::<8>()?;
    if !head.ends_with(b"IHDR") {
        return None;
    }
    let (width, rest) = rest.split_first_chunk::<4>()?;
    let (height, _) = rest.split_first_chunk::<4>()?;
    Some((u32::from_be_bytes(*width), u32::from_be_bytes(*height)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_stays_below_the_report() {
        for bad in [
            "https://x/y.png",
            "//x/y.png",
            "/etc/x.png",
            "../x.png",
            "charts/../../x.png",
            "c:\\x.png",
            "javascript:alert(1)",
            "",
        ] {
            assert!(
                matches!(
                    Picture::beside("t", "a", bad),
                    Err(PictureError::NotRelative(_))
                ),
                "{bad}"
            );
        }
        let good = Picture::beside("t", "a", "charts/Lauf 1 \"ä\".png").map(|p| p.source);
        assert_eq!(good, Ok("charts/Lauf%201%20%22%C3%A4%22.png".to_owned()));
    }

    #[test]
    fn size_is_read_from_the_first_chunk_and_other_bytes_are_refused() {
        // First 24 bytes of a 3 x 2 PNG as libpng writes them.
        let mut png = b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0dIHDR".to_vec();
        png.extend([0, 0, 0, 3, 0, 0, 0, 2]);
        assert_eq!(png_size(&png), Some((3, 2)));
        assert_eq!(png_size(&png[..20]), None);
        assert!(Picture::embedded("t", "a", b"GIF89a").is_err());
    }
}
