//! The words of claims: their kinds, their verdicts, and how one claim waits for another.

use super::test::words;
use serde::{Deserialize, Serialize};

words! {
    /// The question a claim asks; each kind has one method.
    ClaimKind {
        /// Is one treatment above or below the other by at least the margin?
        Difference => "difference",
        /// Is the ratio of both above or below the margin?
        Ratio => "ratio",
        /// Are both equal within the margin?
        Equivalent => "equivalent",
        /// Is one no worse than the other by the margin?
        NotWorse => "not-worse",
        /// How many more points of water does one take at an equal response?
        GainAtEqual => "gain-at-equal",
        /// What share of the other's specific energy does one use?
        EnergyShare => "energy-share",
        /// Does one change more slowly or faster: staling, uptake, softening?
        Rate => "rate",
        /// Are the grades at least as good?
        Grade => "grade",
        /// Are whole curves the same, and where do they differ?
        SameCurve => "same-curve",
        /// Do two instruments read the same quantity alike?
        Agreement => "agreement",
    }
}

words! {
    /// What the data say about a claim.
    Verdict {
        /// The interval lies wholly on the right side of the margin.
        Supported => "supported",
        /// The interval lies wholly on the wrong side of the margin.
        Contradicted => "contradicted",
        /// The interval holds the margin: the data do not decide.
        Undecided => "undecided",
        /// No verdict: the design cannot answer the claim.
        Refused => "refused",
    }
}

words! {
    /// Whether a claim counts by itself or waits for the primary one.
    Gate {
        /// The one claim named beforehand as the study's outcome.
        Primary => "primary",
        /// A secondary claim whose primary holds.
        Open => "open",
        /// A secondary claim that does not count, since the primary does not hold.
        Closed => "closed",
    }
}

impl Verdict {
    /// Returns one sentence that says what the verdict means for a reader.
    pub fn meaning(self) -> &'static str {
        match self {
            Verdict::Supported => {
                "The whole interval lies on the claimed side of the margin set before the data."
            }
            Verdict::Contradicted => {
                "The whole interval lies on the other side of the margin. Failing to show a claim \
                 is never enough."
            }
            Verdict::Undecided => {
                "The interval reaches across the margin: these doughs do not decide."
            }
            Verdict::Refused => {
                "The design cannot answer the claim, whatever the numbers; the reason says why."
            }
        }
    }
}
