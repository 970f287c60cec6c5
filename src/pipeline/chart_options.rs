//! How charts are written: size, resolution, and whether as SVG too.

use super::ProcessError;
use super::output::Staging;
use crate::chart::{ChartError, Figure as _, Page, Paint, Provenance};
use crate::report::{self, PictureError};
use serde::Serialize;

/// Size and kind of chart files; what is left out is as usual.
///
/// It changes bytes, so it is part of the plan where anything of it was asked for.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct ChartOptions {
    /// Width, logical pixels (1/96 inch).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width: Option<u32>,
    /// Least height, logical pixels; a chart with much text grows taller.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height: Option<u32>,
    /// Dots an inch of the PNG files.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dpi: Option<u32>,
    /// Whether each chart lies beside its PNG as SVG too.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub svg: bool,
}

/// Highest resolution that travels inside a page, dots an inch: a screen shows no more, and the page
/// grows with its square. The files beside the page have what was asked for.
const EMBEDDED_DPI: u32 = 192;

/// How a chart gets into the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shown {
    /// Inside, with at most double resolution.
    Inside,
    /// Inside, in single resolution: one of many.
    InsideSmall,
    /// As a file beside the page.
    Beside,
}

impl ChartOptions {
    /// Returns whether everything is as usual.
    pub fn is_usual(&self) -> bool {
        *self == ChartOptions::default()
    }

    /// Returns the page to draw on in place of the `usual` one.
    pub(super) fn page(self, usual: Page) -> Page {
        Page {
            width: self.width.unwrap_or(usual.width),
            height: self.height.unwrap_or(usual.height),
            dpi: self.dpi.unwrap_or(usual.dpi),
        }
    }

    /// Returns the options when charts can be drawn with them.
    ///
    /// # Errors
    /// [`ProcessError::Request`] when no page has this size and resolution.
    pub(super) fn checked(self) -> Result<ChartOptions, ProcessError> {
        match self.page(Page::default()).checked() {
            Ok(_) => Ok(self),
            Err(error) => Err(ProcessError::Request(error.to_string())),
        }
    }

    /// Writes `figure` as `charts/NAME.png`, and as SVG where asked for, and returns it as the page
    /// shows it.
    ///
    /// # Errors
    /// [`ProcessError`] when it cannot be drawn or written.
    pub(super) fn put(
        self,
        (figure, usual): (&dyn Paint, Page),
        from: &Provenance,
        (title, name, shown): (&str, &str, Shown),
        staging: &Staging,
    ) -> Result<report::Picture, ProcessError> {
        let fault =
            |error: ChartError| ProcessError::Internal(format!("draw chart {name}: {error}"));
        let page = self.page(usual);
        let mut drawn = figure.draw_on(from, page).map_err(fault)?;
        let png = format!("charts/{name}.png");
        staging.write(&png, &drawn.png)?;
        if self.svg {
            let drawing = figure.draw_svg(from, page).map_err(fault)?;
            staging.write(&format!("charts/{name}.svg"), drawing.svg.as_bytes())?;
        }
        let most = match shown {
            Shown::Inside => EMBEDDED_DPI,
            Shown::InsideSmall => EMBEDDED_DPI / 2,
            Shown::Beside => page.dpi,
        };
        if page.dpi > most {
            let smaller = Page { dpi: most, ..page };
            drawn = figure.draw_on(from, smaller).map_err(fault)?;
        }
        match shown {
            Shown::Beside => report::Picture::beside(title, &drawn.alt, &png),
            _ => report::Picture::embedded(title, &drawn.alt, &drawn.png),
        }
        .map_err(|error: PictureError| ProcessError::Internal(error.to_string()))
    }
}
