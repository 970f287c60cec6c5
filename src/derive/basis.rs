//! Moisture bases: what a percentage of flour is counted on.

/// Standard moisture of the flour basis, % (ICC 115/1).
pub const BASIS_PCT: f64 = 14.0;

/// What a percentage is counted on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Flour at 14 % moisture.
    Moisture14,
    /// Flour as it is.
    AsIs,
    /// Dry matter.
    Dry,
}

impl Basis {
    /// Returns the basis that a file or run sheet names: `14 %`, `as is` or `dry`, however spaced;
    /// `None` for any other, which is never guessed.
    pub fn parse(text: &str) -> Option<Basis> {
        let kept = |c: &char| !c.is_whitespace() && !"%-_".contains(*c);
        let bare: String = text.chars().filter(kept).collect::<String>().to_lowercase();
        match bare.as_str() {
            "14" | "14.0" | "14,0" => Some(Basis::Moisture14),
            "asis" => Some(Basis::AsIs),
            "dry" | "drymatter" => Some(Basis::Dry),
            _ => None,
        }
    }
}

/// Returns the mass in g at 14 % moisture of `mass_g` of flour at `moisture_pct` % as is.
pub fn mass_at_14_g(mass_g: f64, moisture_pct: f64) -> f64 {
    mass_g * (100.0 - moisture_pct) / (100.0 - BASIS_PCT)
}

/// Returns a content on the 14 % basis of one stated at `moisture_pct` % moisture, such as protein
/// (HANDBOOK 8.5; derived).
pub fn content_on_14(content: f64, moisture_pct: f64) -> f64 {
    content * (100.0 - BASIS_PCT) / (100.0 - moisture_pct)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn protein_agrees_with_the_handbook() {
        // HANDBOOK §15, V-T6 (derived): protein 12.0 % at 13 % moisture is 11.862 % at 14 %.
        assert!((content_on_14(12.0, 13.0) - 11.862).abs() < 5e-4);
    }

    #[test]
    fn a_basis_is_read_however_spaced_and_never_guessed() {
        assert_eq!(Basis::parse(" 14 %"), Some(Basis::Moisture14));
        assert_eq!(Basis::parse("14%"), Some(Basis::Moisture14));
        assert_eq!(Basis::parse("As is"), Some(Basis::AsIs));
        assert_eq!(Basis::parse("dry"), Some(Basis::Dry));
        assert_eq!(Basis::parse("13.5 %"), None);
        assert_eq!(Basis::parse(""), None);
    }
}
