//! What every figure can do: check itself, say itself in words, and be drawn as bitmap or vector.

use super::canvas::{Blank, Canvas, Medium};
use super::picture::{ChartError, Drawing, Page, Picture, Provenance};

/// How a figure puts itself on a page; each kind of figure has its own way.
pub trait Paint {
    /// Returns the title.
    fn title(&self) -> &str;

    /// Returns what the figure says, in words, for readers who cannot see it.
    fn alt(&self) -> String;

    /// Checks that the data can be drawn.
    fn check(&self) -> Result<(), ChartError>;

    /// Returns the drawn page.
    fn paint(&self, blank: Blank) -> Result<Canvas, ChartError>;
}

/// A figure: plain data that can be drawn.
pub trait Figure: Paint {
    /// Returns the figure as PNG at its usual size.
    ///
    /// # Errors
    /// [`ChartError`] when the data cannot be drawn.
    fn draw(&self, from: &Provenance) -> Result<Picture, ChartError> {
        self.draw_on(from, Page::default())
    }

    /// Returns the figure as PNG on `page`.
    ///
    /// # Errors
    /// [`ChartError`] when the data or the page cannot be drawn.
    fn draw_on(&self, from: &Provenance, page: Page) -> Result<Picture, ChartError> {
        self.laid_out(page, Medium::Pixels)?
            .into_picture(self.title(), self.alt(), from)
    }

    /// Returns the figure as SVG on `page`; the resolution of the page does not matter.
    ///
    /// # Errors
    /// [`ChartError`] when the data or the page cannot be drawn.
    fn draw_svg(&self, from: &Provenance, page: Page) -> Result<Drawing, ChartError> {
        self.laid_out(page, Medium::Vector)?
            .into_drawing(self.title(), self.alt(), from)
    }
}

impl<T: Paint + ?Sized> Figure for T {}

trait Layout: Paint {
    fn laid_out(&self, page: Page, medium: Medium) -> Result<Canvas, ChartError> {
        let page = page.checked()?;
        self.check()?;
        self.paint(Blank { page, medium })
    }
}

impl<T: Paint + ?Sized> Layout for T {}
