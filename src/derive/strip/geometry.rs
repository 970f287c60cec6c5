//! A strip held at two edges and drawn out by a hook in its middle (HANDBOOK §5; structure after
//! Dunnewind, Sliwinski, Grolle and van Vliet 2003, J. Texture Stud. 34:537, from memory; the
//! algebra is derived).

/// Kilopascal per newton on a square millimetre.
const KPA_PER_N_PER_MM2: f64 = 1000.0;

/// The strip before it is drawn out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geometry {
    /// Half the distance `a` between the edges that hold it, mm.
    pub half_gap_mm: f64,
    /// Sag `y0` of its middle below the plane of the edges, mm.
    pub sag_mm: f64,
    /// Cross-section `A0`, mm².
    pub area_mm2: f64,
}

impl Geometry {
    /// Returns the length `l = 2 sqrt(a² + (y + y0)²)` of the strip when the hook has moved by
    /// `y_mm`, mm.
    pub fn length_mm(&self, y_mm: f64) -> f64 {
        2.0 * self.half_gap_mm.hypot(y_mm + self.sag_mm)
    }

    /// Returns the volume `V0 = A0 l0` between the edges, which stays what it is, mm³. Dough drawn
    /// out of the clamps is a known error.
    pub fn volume_mm3(&self) -> f64 {
        self.area_mm2 * self.length_mm(0.0)
    }

    /// Returns the cross-section `A = V0 / l`, mm².
    pub fn cross_section_mm2(&self, y_mm: f64) -> f64 {
        self.volume_mm3() / self.length_mm(y_mm)
    }

    /// Returns the force along the dough, `Fm l / (4 (y + y0))`, N, from the force on the hook;
    /// `None` while the strip lies in the plane of its edges.
    pub fn strand_force_n(&self, hook_force_n: f64, y_mm: f64) -> Option<f64> {
        let depth = y_mm + self.sag_mm;
        (depth > 0.0).then(|| hook_force_n * self.length_mm(y_mm) / (4.0 * depth))
    }

    /// Returns the stress `Fd l / V0`, kPa.
    pub fn stress_kpa(&self, hook_force_n: f64, y_mm: f64) -> Option<f64> {
        let force = self.strand_force_n(hook_force_n, y_mm)?;
        Some(KPA_PER_N_PER_MM2 * force / self.cross_section_mm2(y_mm))
    }

    /// Returns the Hencky strain `ln(l / l0)`.
    pub fn hencky_strain(&self, y_mm: f64) -> f64 {
        libm::log(self.length_mm(y_mm) / self.length_mm(0.0))
    }

    /// Returns the strain rate `4 (y + y0) v / l²`, 1/s, at a hook speed in mm/s: it rises until
    /// `y + y0 = a`, then falls.
    pub fn strain_rate_per_s(&self, y_mm: f64, speed_mm_s: f64) -> f64 {
        let length = self.length_mm(y_mm);
        4.0 * (y_mm + self.sag_mm) * speed_mm_s / (length * length)
    }

    /// Returns the way of the hook at which the strain is `strain`, mm.
    pub fn travel_mm(&self, strain: f64) -> f64 {
        let half = 0.5 * self.length_mm(0.0) * libm::exp(strain);
        (half * half - self.half_gap_mm * self.half_gap_mm)
            .max(0.0)
            .sqrt()
            - self.sag_mm
    }

    /// Returns the Hencky strain that the sag itself is: `ln(l0 / 2a)`.
    pub fn pre_strain(&self) -> f64 {
        libm::log(self.length_mm(0.0) / (2.0 * self.half_gap_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_strip_agrees_with_the_handbook() {
        // HANDBOOK §15, V-E3 (derived): a 9 mm, y0 0, A0 12 mm² (V0 216 mm³), y 40 mm, Fm 0.30 N:
        // l 82.000 mm, Fd 0.15375 N, A 2.6341 mm², sigma 58.368 kPa, eps 1.51635; at 3.3 mm/s
        // 0.07852 1/s.
        let strip = Geometry {
            half_gap_mm: 9.0,
            sag_mm: 0.0,
            area_mm2: 12.0,
        };
        let near = |found: f64, wanted: f64, digit: f64| (found - wanted).abs() <= 0.5 * digit;
        assert!(near(strip.volume_mm3(), 216.0, 1e-9));
        assert!(near(strip.length_mm(40.0), 82.0, 1e-3));
        assert!(
            strip
                .strand_force_n(0.3, 40.0)
                .is_some_and(|f| near(f, 0.153_75, 1e-5))
        );
        assert!(near(strip.cross_section_mm2(40.0), 2.6341, 1e-4));
        assert!(
            strip
                .stress_kpa(0.3, 40.0)
                .is_some_and(|s| near(s, 58.368, 1e-3))
        );
        assert!(near(strip.hencky_strain(40.0), 1.516_35, 1e-5));
        assert!(near(strip.strain_rate_per_s(40.0, 3.3), 0.078_52, 1e-5));
        assert!(near(strip.travel_mm(1.516_347_489), 40.0, 1e-6));
        assert_eq!(strip.strand_force_n(0.3, 0.0), None);
    }

    #[test]
    fn the_rate_is_the_slope_of_the_strain_and_greatest_at_half_a_gap() {
        let strip = Geometry {
            half_gap_mm: 9.0,
            sag_mm: 2.0,
            area_mm2: 12.0,
        };
        let (y, v, h) = (20.0, 3.3, 1e-5);
        let slope = (strip.hencky_strain(y + h) - strip.hencky_strain(y - h)) / (2.0 * h) * v;
        assert!((strip.strain_rate_per_s(y, v) - slope).abs() < 1e-8);
        let rate = |y| strip.strain_rate_per_s(y, v);
        assert!(rate(7.0) > rate(6.5) && rate(7.0) > rate(7.5));
        assert!((strip.pre_strain() - 0.5 * libm::log(1.0 + 4.0 / 81.0)).abs() < 1e-12);
    }
}
