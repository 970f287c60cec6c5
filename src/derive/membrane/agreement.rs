//! Metrics of agreement: graders with each other, and a grader with the own blind repeats.

use super::settings::Settings;
use super::stretch::{Piece, grader_of};
use crate::derive::{Metric, Reading, metric};
use crate::numerics::agreement::{
    Difference, Weights, alpha_of_coincidences, pair_table, unit_coincidences, weighted_kappa,
};
use crate::numerics::resample_blocks;
use crate::record::{Estimate, Grade, Observation, Outcome};
use crate::schema::Unit;
use std::collections::BTreeSet;

/// The grades that some graders gave the same pieces.
#[derive(Debug, Clone)]
pub struct Panel {
    /// The graders.
    pub graders: Vec<String>,
    /// Whether it is one grader and the blind repeats.
    pub within_grader: bool,
    /// For each piece with at least two grades, the place of each grade given among
    /// [`Grade::ALL`], in the order of the graders; `None` where a grader gave none.
    pub ratings: Vec<Vec<Option<usize>>>,
    /// Pieces seen but left out, since fewer than two graders gave a grade.
    pub left_out: usize,
    /// Parameters.
    pub settings: Settings,
}

impl Panel {
    fn of(
        graders: Vec<String>,
        within_grader: bool,
        all: Vec<Vec<Option<Grade>>>,
        settings: Settings,
    ) -> Panel {
        let place = |grade: Grade| Grade::ALL.iter().position(|listed| *listed == grade);
        let seen = all.len();
        let ratings: Vec<Vec<Option<usize>>> = all
            .into_iter()
            .filter(|piece| piece.iter().flatten().count() > 1)
            .map(|piece| {
                piece
                    .into_iter()
                    .map(|grade| grade.and_then(place))
                    .collect()
            })
            .collect();
        Panel {
            graders,
            within_grader,
            left_out: seen - ratings.len(),
            ratings,
            settings,
        }
    }

    /// Returns the outcome of a coefficient that is a function of the pieces drawn.
    fn outcome(&self, coefficient: impl Fn(&[usize]) -> Option<f64>) -> Outcome {
        let pieces = self.ratings.len();
        if self.graders.len() < 2 {
            return Outcome::NotComputable("one grader only: nobody to agree with".into());
        }
        if pieces < self.settings.least_pieces {
            return Outcome::NotComputable(format!(
                "{pieces} pieces with two grades; at least {} are needed",
                self.settings.least_pieces
            ));
        }
        let all: Vec<usize> = (0..pieces).collect();
        let Some(value) = coefficient(&all) else {
            return Outcome::NotComputable(
                "all grades are the same: agreement beyond chance is not defined".into(),
            );
        };
        let Some(spread) = resample_blocks(pieces, self.settings.resampling, coefficient) else {
            return Outcome::NotComputable(
                "grades vary too little for an interval of the agreement".into(),
            );
        };
        match Estimate::with_interval(value, spread.low, spread.high, spread.standard_error) {
            Ok(estimate) => Outcome::Exact(estimate),
            Err(error) => Outcome::NotComputable(error.to_string()),
        }
    }

    fn remark(&self) -> String {
        format!(
            "graders={};pieces={};left_out={}",
            self.graders.join("+"),
            self.ratings.len(),
            self.left_out
        )
    }
}

metric! {
    /// Agreement of two graders on the same pieces beyond chance: one minus observed over expected
    /// disagreement, with the weights named. Blind repeats and pieces that either left ungraded
    /// are left out. The interval comes from resampling pieces with a stated seed. Readings with
    /// other weights are other numbers: quadratic weights rise with the number of grades.
    WEIGHTED_KAPPA for Panel {
        id: "membrane.weighted_kappa", symbol: "κ", name: "weighted kappa of two graders",
        unit: Unit::One, decimals: 2, revision: 1,
        source: ("Cohen 1968, Psychol. Bull. 70:213", "weighted kappa", Published),
        variants: [
            ("linear", "a disagreement counts by its distance in grades"),
            ("quadratic", "a disagreement counts by the square of its distance in grades"),
            ("none", "every disagreement counts alike (Cohen 1960)"),
        ],
        read: read_kappa,
    }
}

fn read_kappa(panel: &Panel, variant: &'static str) -> Reading {
    let weights = match variant {
        "quadratic" => Weights::Quadratic,
        "none" => Weights::None,
        _ => Weights::Linear,
    };
    let pairs: Vec<(usize, usize)> = panel
        .ratings
        .iter()
        .filter_map(|piece| match piece.as_slice() {
            [Some(a), Some(b)] => Some((*a, *b)),
            _ => None,
        })
        .collect();
    let outcome = panel.outcome(|drawn| {
        let drawn: Vec<(usize, usize)> = drawn
            .iter()
            .filter_map(|i| pairs.get(*i))
            .copied()
            .collect();
        weighted_kappa(&pair_table(&drawn, Grade::ALL.len()), weights).map(|k| k.value)
    });
    Reading::of(outcome).with_remark(panel.remark())
}

metric! {
    /// Agreement of any number of graders, cells missing or not: one minus observed over expected
    /// disagreement of the pairable grades. Blind repeats are left out. The interval comes from
    /// resampling pieces with a stated seed. Customary reading: 0.80 and above good, 0.667 to 0.80
    /// tentative.
    KRIPPENDORFF_ALPHA for Panel {
        id: "membrane.krippendorff_alpha", symbol: "α", name: "Krippendorff's alpha",
        unit: Unit::One, decimals: 2, revision: 1,
        source: ("Krippendorff 2011, Computing Krippendorff's Alpha-Reliability", "ordinal metric", Published),
        variants: [
            ("ordinal", "grades as ordered words: a difference counts by the grades in between"),
            ("nominal", "grades as names without order"),
        ],
        read: read_alpha,
    }
}

fn read_alpha(panel: &Panel, variant: &'static str) -> Reading {
    let difference = match variant {
        "nominal" => Difference::Nominal,
        _ => Difference::Ordinal,
    };
    // Places of grades stand for the grades: both readings know order or name only, no distance.
    let places: Vec<f64> = (0..Grade::ALL.len()).map(|place| place as f64).collect();
    let units: Vec<Vec<f64>> = panel
        .ratings
        .iter()
        .map(|piece| {
            let given: Vec<f64> = piece.iter().flatten().map(|p| *p as f64).collect();
            unit_coincidences(&given, &places)
        })
        .collect();
    let outcome = panel.outcome(|drawn| {
        let mut total = vec![0.0; places.len() * places.len()];
        for unit in drawn.iter().filter_map(|i| units.get(*i)) {
            for (sum, part) in total.iter_mut().zip(unit) {
                *sum += part;
            }
        }
        alpha_of_coincidences(&total, &places, difference)
    });
    Reading::of(outcome).with_remark(panel.remark())
}

/// The metrics of two graders.
pub(super) static OF_PAIRS: &[&Metric<Panel>] = &[&WEIGHTED_KAPPA];

/// The metrics of any number of graders.
pub(super) static OF_PANELS: &[&Metric<Panel>] = &[&KRIPPENDORFF_ALPHA];

/// Returns the names of the graders of `pieces`, in order.
fn graders_of(pieces: &[Piece<'_>]) -> Vec<String> {
    let firsts = pieces.iter().flat_map(|piece| &piece.firsts);
    let names: BTreeSet<&str> = firsts.map(|o| grader_of(o)).collect();
    names.into_iter().map(str::to_owned).collect()
}

fn grade_by(gradings: &[&Observation], grader: &str) -> Option<Grade> {
    let by = gradings.iter().find(|o| grader_of(o) == grader);
    by.and_then(|o| o.grade)
}

fn seen_by(gradings: &[&Observation], grader: &str) -> bool {
    gradings.iter().any(|o| grader_of(o) == grader)
}

/// Returns the panel of all graders of `pieces`.
pub(super) fn whole_panel(pieces: &[Piece<'_>], settings: Settings) -> Panel {
    let graders = graders_of(pieces);
    let row = |piece: &Piece<'_>| graders.iter().map(|g| grade_by(&piece.firsts, g)).collect();
    let all = pieces.iter().map(row).collect();
    Panel::of(graders.clone(), false, all, settings)
}

/// Returns a panel for every two graders of `pieces`, and one for each grader with blind repeats.
pub(super) fn pair_panels(pieces: &[Piece<'_>], settings: Settings) -> Vec<Panel> {
    let graders = graders_of(pieces);
    let mut panels = Vec::new();
    for (i, first) in graders.iter().enumerate() {
        for second in graders.iter().skip(i + 1) {
            let both = pieces
                .iter()
                .filter(|p| seen_by(&p.firsts, first) && seen_by(&p.firsts, second));
            let all = both
                .map(|p| vec![grade_by(&p.firsts, first), grade_by(&p.firsts, second)])
                .collect();
            let names = vec![first.clone(), second.clone()];
            panels.push(Panel::of(names, false, all, settings));
        }
    }
    for grader in &graders {
        let again = pieces.iter().filter(|p| seen_by(&p.repeats, grader));
        let all: Vec<Vec<Option<Grade>>> = again
            .map(|p| vec![grade_by(&p.firsts, grader), grade_by(&p.repeats, grader)])
            .collect();
        if !all.is_empty() {
            let names = vec![grader.clone(), grader.clone()];
            panels.push(Panel::of(names, true, all, settings));
        }
    }
    panels
}
