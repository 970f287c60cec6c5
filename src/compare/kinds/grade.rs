//! Are membrane grades at least as good? The probability that a piece of one method is graded above
//! one of the other, ties counted half, with blocks or doughs as clusters. Grades are never
//! averaged; overmixed is a failure, below every grade (HANDBOOK §7, 19).

use crate::compare::GradeRow;
use crate::compare::answer::{Answer, Desk, Pictures};
use crate::compare::figures::GradeBar;
use crate::compare::gather::{block_of, doughs_without_value, excluded_by};
use crate::compare::inference::Inference;
use crate::compare::layout::stand;
use crate::compare::told::{Told, rounded, short};
use crate::numerics::Interval;
use crate::numerics::Resampling;
use crate::numerics::agreement::{Difference, krippendorff_alpha};
use crate::numerics::ordinal::{
    Cluster, OrdinalData, Stratum, fit_proportional_odds, fit_random_intercepts,
    superiority_of_clusters, superiority_within_blocks, test_proportional_odds, van_elteren,
};
use crate::record::{Assumption, ContrastUnit, Grade, GradeCounts, LeftOut};
use crate::study::{Blocking, Study};
use std::collections::{BTreeMap, BTreeSet};

/// Below this probability the odds are not proportional.
const DOUBTFUL_P: f64 = 0.05;

/// Customary reading of Krippendorff's alpha: below this, graders do not agree enough for tentative
/// conclusions (HANDBOOK §7.2).
const TENTATIVE_ALPHA: f64 = 0.667;

/// Nodes of the quadrature for one grouping; several use Laplace's approximation.
const NODES: usize = 10;

/// Shuffles of the rank test.
const SHUFFLES: usize = 1999;

/// One grading that counts: 0 is overmixed, then the grades from the lowest.
#[derive(Debug, Clone, Copy)]
struct Grading<'e> {
    row: &'e GradeRow,
    batch: &'e str,
    block: &'e str,
    treated: bool,
    level: usize,
}

/// Superiority between clusters.
struct Superiority {
    clusters: Vec<Cluster<usize>>,
    within_blocks: bool,
}

impl Superiority {
    fn at(&self, level: f64) -> Option<(f64, f64, Interval)> {
        let found = match self.within_blocks {
            true => superiority_within_blocks(&self.clusters, level),
            false => superiority_of_clusters(&self.clusters, level),
        }?;
        Some((found.probability, found.degrees, found.interval))
    }
}

impl Inference for Superiority {
    fn value(&self) -> f64 {
        self.at(0.9).map_or(f64::NAN, |(value, _, _)| value)
    }

    fn interval(&self, alpha: f64) -> Option<Interval> {
        self.at(1.0 - 2.0 * alpha).map(|(_, _, interval)| interval)
    }

    fn df(&self) -> Option<f64> {
        self.at(0.9).map(|(_, degrees, _)| degrees)
    }
}

pub(super) fn answer(desk: &Desk<'_>, times: Option<(f64, f64)>) -> Result<Answer, String> {
    let (gradings, left_out) = gradings_of(desk, times);
    if gradings.is_empty() {
        return Err("no graded piece of these methods can be used".to_owned());
    }
    let pieces = gradings.iter().map(|g| (g.batch, g.block, &g.row.origin));
    let gathered = doughs_without_value(pieces, left_out)?;
    let standing = stand(desk.claim, &gathered)?;
    let within_blocks = desk.study.block != Blocking::Unblocked;
    if within_blocks && standing.shared_blocks < 2 {
        return Err(format!(
            "{} blocks hold graded doughs of both methods; at least two are needed",
            standing.shared_blocks
        ));
    }
    let found = Superiority {
        clusters: clusters(&gradings, within_blocks),
        within_blocks,
    };
    if found.at(0.9).is_none() {
        return Err(
            "all blocks say the same without being unanimous: there is no scatter to judge by; \
             make more blocks"
                .to_owned(),
        );
    }
    let mut answer = Answer {
        inference: Box::new(found),
        target: desk.claim.question.target(),
        unit: ContrastUnit::Probability,
        metric_unit: None,
        variant: String::new(),
        doughs: standing.doughs,
        blocks: standing.blocks,
        error_term: match within_blocks {
            true => format!(
                "scatter of the probability between {} blocks",
                standing.shared_blocks
            ),
            false => "scatter between doughs, pieces and graders being clusters".to_owned(),
        },
        sd: None,
        results: gradings.iter().map(|g| g.row.observation.clone()).collect(),
        left_out: gathered.left_out,
        assumptions: Vec::new(),
        warnings: standing.warnings,
        notes: standing.inference,
        withheld: None,
        pictures: Pictures {
            grades: bars(desk, &gradings),
            ..Pictures::default()
        },
    };
    odds(&gradings, &mut answer);
    ranks(desk.study, &gradings, &mut answer);
    graders(&gradings, &mut answer);
    Ok(answer)
}

fn gradings_of<'e>(desk: &Desk<'e>, times: Option<(f64, f64)>) -> (Vec<Grading<'e>>, Vec<LeftOut>) {
    let (mut kept, mut left_out) = (Vec::new(), Vec::new());
    let mut rows: Vec<&GradeRow> = desk.evidence.grades.iter().collect();
    rows.sort_by_key(|row| in_order(&row.observation));
    let mut seen = BTreeSet::new();
    for row in rows {
        let treatment = row.origin.treatment.as_ref();
        let treated = treatment == Some(&desk.claim.treatment);
        let timed = times.is_none_or(|(from, to)| {
            row.mix_time_min
                .is_some_and(|time| time >= from && time <= to)
        });
        if !(treated || treatment == Some(&desk.claim.reference)) || !timed {
            continue;
        }
        let level = match (row.overmixed, row.grade) {
            (true, _) => Some(0),
            (false, Some(grade)) => Grade::ALL.iter().position(|g| *g == grade).map(|p| p + 1),
            (false, None) => None,
        };
        let block = block_of(desk.study.block, &row.origin);
        let by_study = excluded_by(desk.study, &row.origin, "", &row.observation);
        let reason = row.excluded.clone().or(by_study);
        let reason = match (reason, row.origin.batch.as_deref(), block, level) {
            (Some(reason), ..) => reason,
            (None, None, ..) => "no dough is named".to_owned(),
            (None, Some(_), None, _) => "no block is named".to_owned(),
            (None, Some(_), Some(_), None) => "it has no grade".to_owned(),
            (None, Some(batch), Some(block), Some(level)) => {
                if seen.insert((batch, row.piece.as_str(), row.grader.as_str())) {
                    kept.push(Grading {
                        row,
                        batch,
                        block,
                        treated,
                        level,
                    });
                    continue;
                }
                "a blind repeat: the piece counts once for each grader".to_owned()
            }
        };
        left_out.push(LeftOut {
            what: row.observation.clone(),
            reason,
        });
    }
    (kept, left_out)
}

/// Returns a key that sorts `file:line` by file and then by the number of the line.
fn in_order(observation: &str) -> (String, usize) {
    let (file, line) = observation.rsplit_once(':').unwrap_or((observation, ""));
    (file.to_owned(), line.parse().unwrap_or(0))
}

fn clusters(gradings: &[Grading<'_>], within_blocks: bool) -> Vec<Cluster<usize>> {
    let mut groups: BTreeMap<&str, Cluster<usize>> = BTreeMap::new();
    for grading in gradings {
        let name = match within_blocks {
            true => grading.block,
            false => grading.batch,
        };
        let group = groups.entry(name).or_insert_with(|| Cluster {
            above: Vec::new(),
            below: Vec::new(),
        });
        match grading.treated {
            true => group.above.push(grading.level),
            false => group.below.push(grading.level),
        }
    }
    groups.into_values().collect()
}

/// Adds the ratio of odds of a higher grade, with graders and doughs random, beside the verdict; and
/// whether it is the same over all grades.
fn odds(gradings: &[Grading<'_>], answer: &mut Answer) {
    let grades: Vec<usize> = gradings.iter().map(|g| g.level).collect();
    let treated = gradings.iter().map(|g| f64::from(u8::from(g.treated)));
    let mut columns: Vec<Vec<f64>> = vec![treated.collect()];
    let blocks: BTreeSet<&str> = gradings.iter().map(|g| g.block).collect();
    for block in blocks.iter().skip(1) {
        let own = gradings
            .iter()
            .map(|g| f64::from(u8::from(g.block == *block)));
        columns.push(own.collect());
    }
    let data = OrdinalData {
        grades: &grades,
        columns: &columns,
    };
    let Ok(plain) = fit_proportional_odds(data) else {
        answer
            .notes
            .push("no model of odds could be fitted; the verdict does not need it".to_owned());
        return;
    };
    if plain.separated {
        answer.notes.push(
            "the methods' grades do not overlap: the ratio of odds has no bound, the probability \
             of superiority stands in for it"
                .to_owned(),
        );
        return;
    }
    let groupings = [
        numbered(gradings.iter().map(|g| g.row.grader.as_str())),
        numbered(gradings.iter().map(|g| g.batch)),
    ];
    let mixed = fit_random_intercepts(data, &groupings, NODES)
        .ok()
        .filter(|fit| fit.converged);
    let (effect, how) = match &mixed {
        Some(fit) => (fit.coefficients.first(), "graders and doughs random"),
        None => (
            plain.coefficients.first(),
            "graders and doughs not told apart",
        ),
    };
    if let Some(effect) = effect {
        let end = |side: f64| libm::exp(effect.value + side * 1.96 * effect.standard_error);
        answer.notes.push(format!(
            "odds of a higher grade × {:.2} ({:.2} to {:.2}; proportional odds with blocks, {how})",
            libm::exp(effect.value),
            end(-1.0),
            end(1.0)
        ));
    }
    if let Some(test) = test_proportional_odds(data, &plain, &[0]) {
        answer.assumptions.push(Assumption {
            name: "proportional odds",
            words: format!(
                "score test, chi-squared {:.2} with {} degrees of freedom, p = {:.3}",
                test.statistic, test.degrees, test.p
            ),
            doubtful: test.p < DOUBTFUL_P,
        });
    }
}

fn numbered<'w>(words: impl Iterator<Item = &'w str> + Clone) -> Vec<usize> {
    let names: BTreeSet<&str> = words.clone().collect();
    let place: BTreeMap<&str, usize> = names.into_iter().zip(0..).collect();
    words.filter_map(|word| place.get(word).copied()).collect()
}

/// Adds van Elteren's test of doughs within blocks: each dough enters by its median grading.
fn ranks(study: &Study, gradings: &[Grading<'_>], answer: &mut Answer) {
    let mut doughs: BTreeMap<(&str, &str, bool), Vec<usize>> = BTreeMap::new();
    for grading in gradings {
        let key = (grading.block, grading.batch, grading.treated);
        doughs.entry(key).or_default().push(grading.level);
    }
    let mut strata: BTreeMap<&str, Stratum<usize>> = BTreeMap::new();
    for ((block, _, treated), mut levels) in doughs {
        levels.sort_unstable();
        // Lower plus upper median: an order without a mean.
        let upper = levels.get(levels.len() / 2).copied().unwrap_or(0);
        let lower = levels.get((levels.len() - 1) / 2).copied().unwrap_or(0);
        let stratum = strata.entry(block).or_insert_with(|| Stratum {
            above: Vec::new(),
            below: Vec::new(),
        });
        match treated {
            true => stratum.above.push(lower + upper),
            false => stratum.below.push(lower + upper),
        }
    }
    let strata: Vec<Stratum<usize>> = strata.into_values().collect();
    let resampling = Resampling {
        times: SHUFFLES,
        seed: study.seed,
    };
    if let Some(test) = van_elteren(&strata, resampling) {
        answer.notes.push(format!(
            "van Elteren's test of doughs within blocks: z = {:.2}, p = {:.3} by shuffling (least \
             possible {:.3})",
            test.z, test.p_permuted, test.smallest_p
        ));
    }
}

/// Adds how far graders agree.
fn graders(gradings: &[Grading<'_>], answer: &mut Answer) {
    let mut pieces: BTreeMap<(&str, &str), Vec<f64>> = BTreeMap::new();
    let mut names = BTreeSet::new();
    for grading in gradings {
        names.insert(grading.row.grader.as_str());
        let piece = (grading.batch, grading.row.piece.as_str());
        pieces.entry(piece).or_default().push(grading.level as f64);
    }
    if names.len() < 2 {
        answer
            .warnings
            .push("one grader: agreement cannot be told".to_owned());
        return;
    }
    let units: Vec<Vec<f64>> = pieces.into_values().collect();
    match krippendorff_alpha(&units, Difference::Ordinal) {
        Some(alpha) => {
            answer.notes.push(format!(
                "agreement of {} graders: Krippendorff's alpha {alpha:.2} (ordinal)",
                names.len()
            ));
            if alpha < TENTATIVE_ALPHA {
                answer.warnings.push(format!(
                    "graders agree too little (alpha {alpha:.2}, customary least 0.667)"
                ));
            }
        }
        None => answer
            .warnings
            .push("no piece was graded twice: agreement cannot be told".to_owned()),
    }
}

fn bars(desk: &Desk<'_>, gradings: &[Grading<'_>]) -> Vec<GradeBar> {
    let mut groups: BTreeMap<(bool, Option<u64>), GradeBar> = BTreeMap::new();
    for grading in gradings {
        let time = grading.row.mix_time_min;
        // Times are not negative: their bits sort as they do.
        let key = (!grading.treated, time.map(f64::to_bits));
        let bar = groups.entry(key).or_insert_with(|| GradeBar {
            treatment: match grading.treated {
                true => desk.claim.treatment.clone(),
                false => desk.claim.reference.clone(),
            },
            mix_time_min: time,
            counts: GradeCounts::default(),
        });
        match grading.level.checked_sub(1) {
            None => bar.counts.overmixed += 1,
            Some(place) => {
                if let Some(count) = bar.counts.grades.get_mut(place) {
                    *count += 1;
                }
            }
        }
    }
    groups.into_values().collect()
}

pub(super) fn tell(told: &Told<'_>, margin: f64) -> String {
    format!(
        "a piece of {} is graded above one of {} with probability {} ({}; one half is no \
         difference); the claim needs more than {}.",
        told.claim.treatment,
        told.claim.reference,
        rounded(told.contrast.estimate, 0.1),
        told.between(),
        short(margin)
    )
}
