//! Texts: measured before they are drawn, cut or broken to the room there is.

use super::font::{self, ASCENT_EM, CAP_EM, DESCENT_EM};
use super::label::{Area, LabelKind};
use super::picture::ChartError;
use super::theme::Type;

/// Where a text hangs, horizontally.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hang {
    Left,
    Centre,
    Right,
}

/// A text to be drawn: `y` is the middle of its capitals.
#[derive(Debug, Clone, Copy)]
pub(super) struct Text<'a> {
    pub words: &'a str,
    pub style: Type,
    pub kind: LabelKind,
    pub hang: Hang,
}

impl Text<'_> {
    /// Returns the box of the text at (`x`, `y`).
    pub fn area(&self, x: f64, y: f64) -> Result<Area, ChartError> {
        let width = width(self.words, self.style)?;
        let left = match self.hang {
            Hang::Left => x,
            Hang::Centre => x - width / 2.0,
            Hang::Right => x - width,
        };
        let baseline = y + self.style.size * CAP_EM / 2.0;
        Ok(Area::new(
            left,
            baseline - self.style.size * ASCENT_EM,
            left + width,
            baseline + self.style.size * DESCENT_EM,
        ))
    }
}

/// Returns the width of `words`, logical pixels.
pub(super) fn width(words: &str, style: Type) -> Result<f64, ChartError> {
    Ok(font::width_em(words, style.weight)? * style.size)
}

/// Returns `words`, cut with an ellipsis when they are wider than `room`.
pub(super) fn shortened(words: &str, style: Type, room: f64) -> Result<String, ChartError> {
    if width(words, style)? <= room {
        return Ok(words.to_owned());
    }
    let mut kept = words.to_owned();
    while kept.pop().is_some() {
        let cut = format!("{}…", kept.trim_end());
        if width(&cut, style)? <= room {
            return Ok(cut);
        }
    }
    Ok(String::new())
}

/// Returns `words` broken into lines no wider than `room`, at spaces where possible.
pub(super) fn wrapped(words: &str, style: Type, room: f64) -> Result<Vec<String>, ChartError> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    // No-break spaces hold together what belongs together, such as a value and its unit.
    for word in words.split([' ', '\n', '\t']).filter(|w| !w.is_empty()) {
        let candidate = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&candidate, style)? <= room {
            line = candidate;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        // A word wider than the line (a long file name, say) is cut between letters.
        for letter in word.chars() {
            line.push(letter);
            if width(&line, style)? > room {
                line.pop();
                lines.push(std::mem::take(&mut line));
                line.push(letter);
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    Ok(lines)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shortened_words_fit_and_say_so() {
        let cut = shortened("high-speed mixer", Type::TICK, 60.0).unwrap_or_default();
        assert!(cut.ends_with('…') && width(&cut, Type::TICK).is_ok_and(|w| w <= 60.0));
        assert_eq!(
            shortened("spiral", Type::TICK, 60.0),
            Ok("spiral".to_owned())
        );
        assert_eq!(shortened("spiral", Type::TICK, 1.0), Ok(String::new()));
    }

    #[test]
    fn long_words_are_cut_rather_than_clipped() {
        let lines = wrapped(&"x".repeat(300), Type::CAPTION, 200.0).unwrap_or_default();
        assert!(lines.len() > 5);
        assert_eq!(lines.concat().len(), 300);
        for line in lines {
            assert!(width(&line, Type::CAPTION).is_ok_and(|w| w <= 200.0));
        }
    }
}
