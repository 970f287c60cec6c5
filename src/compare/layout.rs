//! Whether a design can answer a claim at all, before any number is looked at.

use super::gather::{Dough, Gathered};
use crate::schema::ClaimKind;
use crate::study::{Basis, PlannedClaim, Scope};
use std::collections::{BTreeMap, BTreeSet};

/// Doughs whose water differs by more than this are not of the same water, points of flour mass.
/// Choice of this project: about the repeatability of a measured absorption (HANDBOOK §11.3).
const SAME_WATER_POINTS: f64 = 0.3;

/// What the design can say, and with which reservations.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Standing {
    /// Doughs of the treatment and of the reference.
    pub doughs: (usize, usize),
    /// Blocks that hold a dough of either.
    pub blocks: usize,
    /// Blocks that hold doughs of both.
    pub shared_blocks: usize,
    pub warnings: Vec<String>,
    pub inference: Vec<String>,
}

/// Returns the doughs of one treatment.
pub(super) fn doughs_of<'g, 'e>(gathered: &'g Gathered<'e>, treatment: &str) -> Vec<&'g Dough<'e>> {
    let all = gathered.doughs.iter();
    all.filter(|dough| dough.treatment == treatment).collect()
}

/// Returns what the design can say about the claim.
///
/// # Errors
/// The reason why it cannot answer: too few doughs, treatments that share no block or flour, water
/// that differs where the claim assumes the same.
pub(super) fn stand(claim: &PlannedClaim, gathered: &Gathered<'_>) -> Result<Standing, String> {
    let one = doughs_of(gathered, &claim.treatment);
    let other = doughs_of(gathered, &claim.reference);
    enough_doughs(&claim.treatment, one.len())?;
    enough_doughs(&claim.reference, other.len())?;
    let blocks = |doughs: &[&Dough<'_>]| -> BTreeSet<String> {
        doughs.iter().map(|d| d.block.to_owned()).collect()
    };
    let (of_one, of_other) = (blocks(&one), blocks(&other));
    let mut standing = Standing {
        doughs: (one.len(), other.len()),
        blocks: of_one.union(&of_other).count(),
        shared_blocks: of_one.intersection(&of_other).count(),
        ..Standing::default()
    };
    common_flour(claim, &one, &other)?;
    common_block(claim, gathered, &mut standing)?;
    // Claims of a gain vary the water on purpose.
    if claim.kind() != ClaimKind::GainAtEqual {
        same_water(claim, &one, &other, &mut standing)?;
    }
    uneven_pieces(&one, &other, &mut standing);
    settings(claim, gathered, &mut standing);
    standing.inference = inference(claim, &one, &other);
    Ok(standing)
}

fn enough_doughs(treatment: &str, count: usize) -> Result<(), String> {
    match count {
        0 => Err(format!("no dough of `{treatment}` has a value")),
        1 => Err(format!(
            "there is one dough of `{treatment}`: pieces of one dough do not say how doughs differ; \
             make at least two, better one in each block"
        )),
        _ => Ok(()),
    }
}

fn common_flour(
    claim: &PlannedClaim,
    one: &[&Dough<'_>],
    other: &[&Dough<'_>],
) -> Result<(), String> {
    let flours = |doughs: &[&Dough<'_>]| -> BTreeSet<String> {
        let named = doughs.iter().filter_map(|d| d.sample);
        named.map(str::to_owned).collect()
    };
    let (of_one, of_other) = (flours(one), flours(other));
    if !of_one.is_empty() && !of_other.is_empty() && of_one.is_disjoint(&of_other) {
        return Err(format!(
            "`{}` and `{}` were made of different flour lots: the difference of the methods \
             cannot be told from that of the flours",
            claim.treatment, claim.reference
        ));
    }
    if claim.scope == Scope::Flours {
        let shared = of_one.intersection(&of_other).count();
        if shared < 2 {
            return Err(format!(
                "{shared} flour lots were made into doughs of both methods; a claim over flours \
                 needs at least two, and the run sheet must name them"
            ));
        }
    }
    Ok(())
}

fn common_block(
    claim: &PlannedClaim,
    gathered: &Gathered<'_>,
    standing: &mut Standing,
) -> Result<(), String> {
    if standing.shared_blocks > 0 {
        if standing.shared_blocks < standing.blocks {
            standing.warnings.push(format!(
                "{} of {} blocks hold only one of the two methods",
                standing.blocks - standing.shared_blocks,
                standing.blocks
            ));
        }
        return Ok(());
    }
    if !connected(gathered, &claim.treatment, &claim.reference) {
        return Err(format!(
            "no block holds doughs of both `{}` and `{}`: the difference of the methods cannot be \
             told from that of the blocks",
            claim.treatment, claim.reference
        ));
    }
    standing.warnings.push(
        "no block holds both methods: they are compared only through other methods".to_owned(),
    );
    Ok(())
}

/// Whether a chain of blocks and methods leads from one treatment to the other.
fn connected(gathered: &Gathered<'_>, from: &str, to: &str) -> bool {
    let mut blocks_of: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let mut methods_in: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for dough in &gathered.doughs {
        let blocks = blocks_of.entry(dough.treatment).or_default();
        blocks.insert(dough.block);
        methods_in
            .entry(dough.block)
            .or_default()
            .insert(dough.treatment);
    }
    let (mut seen, mut open) = (BTreeSet::from([from]), vec![from]);
    while let Some(method) = open.pop() {
        for block in blocks_of.get(method).into_iter().flatten() {
            for next in methods_in.get(block).into_iter().flatten() {
                if seen.insert(next) {
                    open.push(next);
                }
            }
        }
    }
    seen.contains(to)
}

fn same_water(
    claim: &PlannedClaim,
    one: &[&Dough<'_>],
    other: &[&Dough<'_>],
    standing: &mut Standing,
) -> Result<(), String> {
    if claim.basis != Basis::SameWater {
        return Ok(());
    }
    let mean = |doughs: &[&Dough<'_>]| -> Option<f64> {
        let known: Vec<f64> = doughs.iter().filter_map(|d| d.hydration_pct).collect();
        (known.len() == doughs.len()).then(|| known.iter().sum::<f64>() / known.len() as f64)
    };
    let (Some(of_one), Some(of_other)) = (mean(one), mean(other)) else {
        standing.warnings.push(
            "the water of some doughs is not stated: that it was the same cannot be checked"
                .to_owned(),
        );
        return Ok(());
    };
    if (of_one - of_other).abs() > SAME_WATER_POINTS {
        return Err(format!(
            "`{}` was made with {of_one:.1} and `{}` with {of_other:.1} points of water, while the \
             claim assumes the same water; compare at equal consistency with gain-at-equal, or say \
             `basis` if another thing was held equal",
            claim.treatment, claim.reference
        ));
    }
    Ok(())
}

fn uneven_pieces(one: &[&Dough<'_>], other: &[&Dough<'_>], standing: &mut Standing) {
    let counts: BTreeSet<usize> = one.iter().chain(other).map(|d| d.pieces).collect();
    let (least, most) = (counts.first().copied(), counts.last().copied());
    if let (Some(least), Some(most)) = (least, most)
        && most > 2 * least
    {
        standing.warnings.push(format!(
            "doughs have {least} to {most} pieces: their means are not equally certain"
        ));
    }
}

fn settings(claim: &PlannedClaim, gathered: &Gathered<'_>, standing: &mut Standing) {
    let of = |treatment: &str| -> BTreeSet<&str> {
        let rows = gathered.rows.iter();
        rows.filter(|row| row.origin.treatment.as_deref() == Some(treatment))
            .map(|row| row.settings())
            .collect()
    };
    let (one, other) = (of(&claim.treatment), of(&claim.reference));
    if one != other || one.len() > 1 {
        standing.warnings.push(
            "results were computed with different settings; process all days with one version"
                .to_owned(),
        );
    }
}

fn inference(claim: &PlannedClaim, one: &[&Dough<'_>], other: &[&Dough<'_>]) -> Vec<String> {
    let machines = |doughs: &[&Dough<'_>]| -> BTreeSet<String> {
        let named = doughs.iter().filter_map(|d| d.machine);
        named.map(str::to_owned).collect()
    };
    let mut words = Vec::new();
    match claim.basis {
        Basis::SameWater => {}
        _ if claim.kind() == ClaimKind::GainAtEqual => {}
        basis => words.push(format!(
            "compared at the {}",
            basis.word().replace('-', " ")
        )),
    }
    if machines(one).len() < 2 || machines(other).len() < 2 {
        words.push(
            "one machine per method: holds for these machines, not for the methods in general"
                .to_owned(),
        );
    }
    words.push(match claim.scope {
        Scope::Doughs => "holds for the flours and days of this study".to_owned(),
        Scope::Flours => "holds for flours like those of this study".to_owned(),
    });
    words
}
