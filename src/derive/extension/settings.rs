//! Parameters of the extension method: declared, versioned, printed with every result.

use crate::schema::ParameterCard;

/// Force of one EU, mN, and its tolerance (ISO 5530-2: 12.3 ± 0.3; from memory, high confidence).
pub const MILLINEWTON_PER_EU: (f64, f64) = (12.3, 0.3);

/// Speed of the hook, mm/s, and its tolerance (ISO 5530-2: 14.5 ± 0.5; from memory, high confidence).
pub const HOOK_MM_PER_S: (f64, f64) = (14.5, 0.5);

/// Speed of the chart, mm/s (HANDBOOK §4: legacy recorder; from memory, high confidence).
pub const CHART_MM_PER_S: f64 = 6.5;

/// Extension at which the resistance is read, mm (ISO 5530-2; from memory, high confidence).
pub const READ_AT_MM: f64 = 50.0;

/// Length before the contact threshold in which contact of a noisy record is looked for, mm.
pub(super) const BACK_MM: f64 = 12.0;

/// Length after the threshold over which a noisy rise is taken as a power law, mm.
pub(super) const RISE_MM: f64 = 10.0;

/// Length beside contact and rupture over which the curve is read as straight, mm.
pub(super) const ONSET_MM: f64 = 2.0;

/// Length before rupture left out of the line right before it: its last readings may be torn, mm.
pub(super) const CLEAR_MM: f64 = 0.5;

/// Length within which a loss of load is sudden, mm.
pub(super) const SUDDEN_WITHIN_MM: f64 = 2.0;

/// What the method does to a curve before it reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Share of the maximum that the force must exceed at first contact.
    pub contact_share: f64,
    /// Force that must be exceeded at first contact, EU, where the share is less.
    pub contact_eu: f64,
    /// Length over which the force must stay above, mm.
    pub contact_hold_mm: f64,
    /// Share of the maximum that is lost at rupture.
    pub rupture_share: f64,
    /// Length within which it is lost, mm.
    pub rupture_within_mm: f64,
    /// Half width of the local linear smoothing, in chart mm.
    pub smoothing_half_width_mm: f64,
    /// Noise, as a share of the maximum, up to which a curve is read unsmoothed.
    pub quiet_share: f64,
    /// Share of the maximum whose loss within 2 mm before rupture is reported.
    pub sudden_loss_share: f64,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            contact_share: 0.02,
            contact_eu: 5.0,
            contact_hold_mm: 1.0,
            rupture_share: 0.5,
            rupture_within_mm: 5.0,
            smoothing_half_width_mm: 1.5,
            quiet_share: 0.001,
            sudden_loss_share: 0.1,
        }
    }
}

impl Settings {
    /// Returns the parameters as they are listed by `explain` and in the report.
    pub fn cards(&self) -> Vec<ParameterCard> {
        let card = |name, value, meaning| ParameterCard {
            name,
            value,
            meaning,
        };
        vec![
            card(
                "contact_share",
                self.contact_share,
                "first contact: the force exceeds this share of its maximum, or contact_eu where that is more (project choice)",
            ),
            card(
                "contact_eu",
                self.contact_eu,
                "least force of first contact, EU (project choice)",
            ),
            card(
                "contact_hold_mm",
                self.contact_hold_mm,
                "the force stays above over this length (project choice)",
            ),
            card(
                "rupture_share",
                self.rupture_share,
                "rupture: the force falls by more than this share of its maximum (project choice)",
            ),
            card(
                "rupture_within_mm",
                self.rupture_within_mm,
                "length within which it falls at rupture (project choice)",
            ),
            card(
                "smoothing_half_width_mm",
                self.smoothing_half_width_mm,
                "half width of the local linear smoothing of noisy curves, in chart mm (project choice)",
            ),
            card(
                "quiet_share",
                self.quiet_share,
                "noise, as a share of the maximum, up to which a curve is read unsmoothed (project choice)",
            ),
            card(
                "sudden_loss_share",
                self.sudden_loss_share,
                "share of the maximum whose loss within 2 mm before rupture is reported (project choice)",
            ),
            card(
                "onset_back_mm",
                BACK_MM,
                "noisy record: contact is looked for this far before the threshold (project choice)",
            ),
            card(
                "onset_rise_mm",
                RISE_MM,
                "noisy record: contact is where a power law fitted up to this far after it starts (project choice)",
            ),
            card(
                "onset_line_mm",
                ONSET_MM,
                "quiet record, and rupture: the curve is read as straight over this length (project choice)",
            ),
            card(
                "rupture_clear_mm",
                CLEAR_MM,
                "last readings before rupture left out of the line before it (project choice)",
            ),
            card(
                "sudden_within_mm",
                SUDDEN_WITHIN_MM,
                "length within which a loss of load is sudden (project choice)",
            ),
            card(
                "millinewton_per_eu",
                MILLINEWTON_PER_EU.0,
                "force of one EU (ISO 5530-2: 12.3 ± 0.3 mN; from memory)",
            ),
            card(
                "hook_mm_per_chart_mm",
                HOOK_MM_PER_S.0 / CHART_MM_PER_S,
                "hook travel per chart millimetre, 14.5/6.5 (derived; ignores the sinking of the sample holder)",
            ),
        ]
    }

    /// Returns the short name of these parameters, part of every result's identity.
    pub fn name(&self) -> String {
        ParameterCard::settings_name(&self.cards())
    }
}
