//! The visual language: type sizes, spacing, ink and the palette by treatment.

use super::font::Weight;

/// A colour, 0–255 each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rgb(pub u8, pub u8, pub u8);

/// Text and exact marks.
pub(super) const INK: Rgb = Rgb(26, 26, 26);
/// Secondary text: 7:1 on white (WCAG 2.2, 1.4.6).
pub(super) const MUTED: Rgb = Rgb(84, 84, 84);
/// Axis lines.
pub(super) const AXIS: Rgb = Rgb(120, 120, 120);
/// Grid lines: thin and light, below the data.
pub(super) const GRID: Rgb = Rgb(230, 230, 230);
/// Noisy raw signal: a grey that survives greyscale print and stays behind the centre line.
pub(super) const SIGNAL: Rgb = Rgb(150, 160, 172);
/// Page.
pub(super) const PAPER: Rgb = Rgb(255, 255, 255);
/// What was set aside or rejected (vermillion of the palette; its shape tells it apart too).
pub(super) const ASIDE: Rgb = Rgb(213, 94, 0);

/// Shading of a part of a panel: phases, gaps.
pub(super) const SHADE: Rgb = Rgb(96, 112, 128);
/// Shading of a range that was agreed: margins, limits. Blue of the palette, always pale.
pub(super) const AGREED: Rgb = Rgb(0, 114, 178);
/// Ground of a part without data, below its hatch.
pub(super) const GAP: Rgb = Rgb(242, 242, 242);
/// What warms (vermillion of the palette, softened).
pub(super) const WARM: Rgb = Rgb(224, 128, 70);
/// What cools (blue of the palette).
pub(super) const COLD: Rgb = Rgb(0, 114, 178);
/// Supported, contradicted, undecided: blue and vermillion of the palette, darkened to be read as
/// text, and grey. Their marks differ in shape and fill too.
pub(super) const VERDICTS: (Rgb, Rgb, Rgb) = (Rgb(0, 114, 178), Rgb(178, 78, 4), MUTED);
/// Opacity of agreed ranges.
pub(super) const AGREED_OPACITY: f64 = 0.12;
/// Opacity of shaded parts.
pub(super) const SHADE_OPACITY: f64 = 0.08;

/// Margin around everything, logical pixels.
pub(super) const MARGIN: f64 = 24.0;

/// A text style.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Type {
    /// Em size, logical pixels.
    pub size: f64,
    /// Weight.
    pub weight: Weight,
    /// Colour.
    pub colour: Rgb,
}

const fn regular(size: f64, colour: Rgb) -> Type {
    Type {
        size,
        weight: Weight::Regular,
        colour,
    }
}

impl Type {
    /// Figure title.
    pub const TITLE: Type = Type {
        size: 22.0,
        weight: Weight::Bold,
        colour: INK,
    };
    /// Title of one panel.
    pub const PANEL: Type = Type {
        size: 15.0,
        weight: Weight::Bold,
        colour: INK,
    };
    /// Verdicts and main claims.
    pub const STRONG: Type = Type {
        size: 14.5,
        weight: Weight::Bold,
        colour: INK,
    };
    /// Title of one of many small panels.
    pub const SMALL: Type = Type {
        size: 12.5,
        weight: Weight::Bold,
        colour: INK,
    };
    /// File, sample and treatment below the title.
    pub const SUBTITLE: Type = regular(15.0, MUTED);
    /// What an axis shows, with its unit.
    pub const AXIS: Type = regular(14.0, MUTED);
    /// Tick values.
    pub const TICK: Type = regular(13.5, MUTED);
    /// Marks and direct labels.
    pub const LABEL: Type = regular(14.5, INK);
    /// Caption.
    pub const CAPTION: Type = regular(12.5, MUTED);

    /// Returns the same style in another colour.
    pub fn in_colour(self, colour: Rgb) -> Type {
        Type { colour, ..self }
    }

    /// Returns the distance between two lines of text, logical pixels.
    pub fn line_height(self) -> f64 {
        self.size * 1.32
    }
}

/// Line pattern, the second carrier beside colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// Long dashes.
    Long,
    /// Dots.
    Dotted,
    /// Dash and dot.
    DashDot,
}

impl Dash {
    /// Returns pen-down and pen-up lengths in turn, logical pixels; empty for an unbroken line.
    pub(super) fn pattern(self) -> &'static [f64] {
        match self {
            Dash::Solid => &[],
            Dash::Long => &[11.0, 5.0],
            Dash::Dotted => &[2.5, 4.0],
            Dash::DashDot => &[11.0, 4.0, 2.5, 4.0],
        }
    }
}

/// Marker shape, the carrier beside colour where points are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Marker {
    /// Circle.
    Circle,
    /// Triangle, point up.
    Triangle,
    /// Square.
    Square,
    /// Diamond.
    Diamond,
    /// Triangle, point down.
    TriangleDown,
}

impl Marker {
    /// Every shape, in order of use.
    pub const ALL: [Marker; 5] = [
        Marker::Circle,
        Marker::Triangle,
        Marker::Square,
        Marker::Diamond,
        Marker::TriangleDown,
    ];
}

/// How one treatment looks on every chart of a day or study.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    /// Colour of areas and bands, drawn pale.
    pub colour: Rgb,
    /// Darker shade for text, lines and marks: at least 4.5:1 on white (WCAG 2.2, 1.4.3 and 1.4.11).
    pub ink: Rgb,
    /// Line pattern.
    pub dash: Dash,
    /// Marker.
    pub marker: Marker,
}

/// Seven of the eight colours of Okabe and Ito, "Color Universal Design" (2002, revised 2008);
/// their yellow is left out because it vanishes on white paper. Ordered so that the first three
/// also differ in greyscale.
const OKABE_ITO: [Rgb; 7] = [
    Rgb(0, 114, 178),   // blue
    Rgb(230, 159, 0),   // orange
    Rgb(0, 158, 115),   // bluish green
    Rgb(204, 121, 167), // reddish purple
    Rgb(213, 94, 0),    // vermillion
    Rgb(86, 180, 233),  // sky blue
    Rgb(0, 0, 0),       // black
];

const DASHES: [Dash; 4] = [Dash::Solid, Dash::Long, Dash::DashDot, Dash::Dotted];

/// The treatments of a day or study and how each looks: one palette for all its charts.
///
/// Sorted names take the looks in order, so the same treatments get the same looks whatever the
/// order of files; past seven the colours repeat with another dash and marker.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Palette {
    names: Vec<String>,
}

impl Palette {
    /// Returns the palette of the treatments in `names`.
    pub fn new<T: Into<String>>(names: impl IntoIterator<Item = T>) -> Palette {
        let mut names: Vec<String> = names.into_iter().map(Into::into).collect();
        names.sort();
        names.dedup();
        Palette { names }
    }

    /// Returns the treatments, sorted.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Returns how `treatment` looks; one that the palette does not know looks like the next new.
    pub fn look(&self, treatment: &str) -> Look {
        let index = self
            .names
            .iter()
            .position(|name| name == treatment)
            .unwrap_or(self.names.len());
        let round = index / OKABE_ITO.len();
        let colour = *pick(&OKABE_ITO, index);
        Look {
            colour,
            ink: readable(colour),
            // Seven is 3 more than a round of dashes and 2 more than a round of markers: the shift by
            // `round` keeps every pair of colour and pattern new for four rounds.
            dash: *pick(&DASHES, index + 2 * round),
            marker: *pick(&Marker::ALL, index + round),
        }
    }
}

fn pick<T>(items: &[T], index: usize) -> &T {
    // Never out of range: the remainder is below the length of a non-empty constant list.
    &items[index % items.len()]
}

impl Rgb {
    /// Returns the colour mixed with `share` (0–1) of `other`.
    pub(super) fn mixed(self, other: Rgb, share: f64) -> Rgb {
        let mix =
            |a: u8, b: u8| (f64::from(a) * (1.0 - share) + f64::from(b) * share).round() as u8;
        Rgb(
            mix(self.0, other.0),
            mix(self.1, other.1),
            mix(self.2, other.2),
        )
    }

    /// Returns the relative luminance (WCAG 2.2, definition of relative luminance).
    fn luminance(self) -> f64 {
        let channel = |value: u8| {
            let share = f64::from(value) / 255.0;
            if share <= 0.04045 {
                share / 12.92
            } else {
                libm::pow((share + 0.055) / 1.055, 2.4)
            }
        };
        0.2126 * channel(self.0) + 0.7152 * channel(self.1) + 0.0722 * channel(self.2)
    }

    /// Returns the contrast ratio to white (WCAG 2.2, definition of contrast ratio).
    pub(super) fn contrast_to_paper(self) -> f64 {
        1.05 / (self.luminance() + 0.05)
    }
}

/// Returns the colour of step `rank` of `steps` on an ordered scale: one blue from pale to dark, so
/// that the order is read from lightness alone and survives greyscale print.
pub(super) fn sequential(rank: usize, steps: usize) -> Rgb {
    let share = rank as f64 / steps.saturating_sub(1).max(1) as f64;
    Rgb(222, 232, 242).mixed(Rgb(8, 48, 92), share.min(1.0))
}

/// Returns the pattern of curve `index` where a colour alone does not tell curves apart.
pub(super) fn dash(index: usize) -> Dash {
    *pick(&DASHES, index)
}

/// Returns `colour` darkened until text in it reads on white (4.5:1).
fn readable(colour: Rgb) -> Rgb {
    (0..=20)
        .map(|step| colour.mixed(INK, f64::from(step) / 20.0))
        .find(|shade| shade.contrast_to_paper() >= 4.5)
        .unwrap_or(INK)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn treatments_look_alike_whatever_the_order_of_files() {
        let a = Palette::new(["two-arm", "spiral", "high-speed", "spiral"]);
        let b = Palette::new(["spiral", "high-speed", "two-arm"]);
        for name in ["spiral", "two-arm", "high-speed"] {
            assert_eq!(a.look(name), b.look(name));
        }
        assert_eq!(a.names().len(), 3);
    }

    #[test]
    fn fourteen_treatments_are_all_told_apart() {
        let names: Vec<String> = (0..14).map(|i| format!("t{i:02}")).collect();
        let palette = Palette::new(names.clone());
        let looks: Vec<Look> = names.iter().map(|n| palette.look(n)).collect();
        for (i, a) in looks.iter().enumerate() {
            for b in &looks[..i] {
                assert!((a.colour, a.dash) != (b.colour, b.dash));
                assert!((a.colour, a.marker) != (b.colour, b.marker));
            }
        }
    }

    #[test]
    fn label_inks_read_on_white() {
        // WCAG 2.2, 1.4.3: black on white is 21:1, mid grey #767676 is 4.54:1 (published example).
        assert!((Rgb(0, 0, 0).contrast_to_paper() - 21.0).abs() < 0.01);
        assert!((Rgb(0x76, 0x76, 0x76).contrast_to_paper() - 4.54).abs() < 0.01);
        for colour in OKABE_ITO {
            assert!(readable(colour).contrast_to_paper() >= 4.5);
        }
        assert!(MUTED.contrast_to_paper() >= 7.0);
    }

    #[test]
    fn first_three_treatments_differ_in_greyscale() {
        let palette = Palette::new(["a", "b", "c"]);
        let grey: Vec<f64> = ["a", "b", "c"]
            .iter()
            .map(|n| palette.look(n).colour.luminance())
            .collect();
        assert!((grey[0] - grey[1]).abs() > 0.1 && (grey[1] - grey[2]).abs() > 0.1);
        let dashes = ["a", "b", "c"].map(|n| palette.look(n).dash);
        assert!(dashes[0] != dashes[1] && dashes[1] != dashes[2] && dashes[0] != dashes[2]);
    }
}
