//! A bubble taken for a spherical cap (Bloksma 1957; Launay and Bure 1977; Dobraszczyk and Roberts
//! 1994; HANDBOOK §6.3, from memory; the algebra is derived).
//!
//! Nominal throughout: real walls are more even than the model's, which overestimates the stress
//! up to four times at large strain (Charalambides et al. 2002, Rheol. Acta 41:532, abstract). For
//! ranking, not as material data.

use std::f64::consts::PI;

/// A disc before inflation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disc {
    /// Radius `a` of the opening that clamps it, mm.
    pub radius_mm: f64,
    /// Thickness `H0`, mm.
    pub thickness_mm: f64,
}

impl Disc {
    /// Returns the volume below a cap `h` high, `(pi h / 6)(3 a² + h²)`, ml.
    pub fn volume_ml(&self, height_mm: f64) -> f64 {
        let a = self.radius_mm;
        PI * height_mm / 6.0 * (3.0 * a * a + height_mm * height_mm) / 1000.0
    }

    /// Returns the height of the cap that holds a volume, mm: the one real root of
    /// `h³ + 3 a² h = 6 V / pi`, `2 a sinh(asinh(3 V / (pi a³)) / 3)`.
    pub fn height_mm(&self, volume_ml: f64) -> f64 {
        let a = self.radius_mm;
        let third = libm::asinh(3.0 * 1000.0 * volume_ml / (PI * a * a * a)) / 3.0;
        2.0 * a * libm::sinh(third)
    }

    /// Returns the radius of the sphere, `(a² + h²) / (2 h)`, mm; `None` for a flat disc.
    pub fn sphere_radius_mm(&self, height_mm: f64) -> Option<f64> {
        let a = self.radius_mm;
        (height_mm > 0.0).then(|| (a * a + height_mm * height_mm) / (2.0 * height_mm))
    }

    /// Returns the thickness at the pole, `H0 (a² / (a² + h²))²`, mm.
    pub fn pole_thickness_mm(&self, height_mm: f64) -> f64 {
        let a = self.radius_mm;
        let share = a * a / (a * a + height_mm * height_mm);
        self.thickness_mm * share * share
    }

    /// Returns the nominal biaxial Hencky strain at the pole, `ln(1 + h² / a²)`.
    pub fn strain(&self, height_mm: f64) -> f64 {
        let a = self.radius_mm;
        libm::log1p(height_mm * height_mm / (a * a))
    }

    /// Returns the nominal stress at the pole, `dP R / (2 d)`, in the unit of the overpressure;
    /// `None` for a flat disc.
    pub fn stress(&self, overpressure: f64, height_mm: f64) -> Option<f64> {
        let radius = self.sphere_radius_mm(height_mm)?;
        Some(overpressure * radius / (2.0 * self.pole_thickness_mm(height_mm)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DISC: Disc = Disc {
        radius_mm: 27.5,
        thickness_mm: 2.67,
    };

    fn near(found: f64, wanted: f64, digit: f64) -> bool {
        (found - wanted).abs() <= 0.5 * digit
    }

    #[test]
    fn a_cap_agrees_with_the_handbook() {
        // HANDBOOK §15, V-B4 (derived): a 27.5, h 40, H0 2.67, dP 60 mm H2O -> V 81.027 ml,
        // R 29.453 mm, d 0.27504 mm, eps_b 1.13645, sigma 31.505 kPa.
        assert!(near(DISC.volume_ml(40.0), 81.027, 1e-3));
        assert!(
            DISC.sphere_radius_mm(40.0)
                .is_some_and(|r| near(r, 29.453, 1e-3))
        );
        assert!(near(DISC.pole_thickness_mm(40.0), 0.275_04, 1e-5));
        assert!(near(DISC.strain(40.0), 1.136_45, 1e-5));
        let stress = DISC.stress(60.0 * 0.009_806_65, 40.0);
        assert!(stress.is_some_and(|s| near(s, 31.505, 1e-3)));
        assert_eq!(DISC.stress(1.0, 0.0), None);
    }

    #[test]
    fn the_height_of_a_volume_agrees_with_the_handbook() {
        // V-B4, inverse: V 100/200/400 ml -> h 44.731/62.215/83.168 mm, eps_b 1.2936/1.8113/2.3171.
        for (volume, height, strain) in [
            (100.0, 44.731, 1.2936),
            (200.0, 62.215, 1.8113),
            (400.0, 83.168, 2.3171),
        ] {
            let found = DISC.height_mm(volume);
            assert!(near(found, height, 1e-3), "{found}");
            assert!(near(DISC.strain(found), strain, 1e-4));
            assert!((DISC.volume_ml(found) - volume).abs() < 1e-9);
        }
        assert!(DISC.height_mm(0.0).abs() < 1e-12);
    }
}
