//! What share of the other method's specific energy does one method use, inside the same system
//! boundary (HANDBOOK §8.3)? The ratio of dough means with the shared uncertainty of the meters;
//! the parts of the energy are told apart beside it.

use crate::compare::answer::{Answer, Desk, answer_of_means};
use crate::compare::figures::EnergyPart;
use crate::compare::gather::{Gathered, Wanted, gather};
use crate::compare::layout::doughs_of;
use crate::compare::told::{Told, short};
use crate::study::Scale;
use std::collections::BTreeSet;

pub(super) fn answer(desk: &Desk<'_>, parts: &[String]) -> Result<Answer, String> {
    let total = desk.gather(Scale::Log)?;
    same_boundary(desk, &total)?;
    let mut answer = answer_of_means(desk)?;
    if total
        .rows
        .iter()
        .all(|row| row.parameter("boundary").is_none())
    {
        answer.warnings.push(
            "no result states its system boundary: that pump, conveying, after-mixing and cooling \
             are counted alike cannot be checked"
                .to_owned(),
        );
    }
    if total.rows.iter().all(|row| row.shared_uncertainty() <= 0.0) {
        answer.warnings.push(
            "no result states the shared uncertainty of its meter: the range is too narrow"
                .to_owned(),
        );
    }
    for part in parts {
        parts_of(desk, part, &mut answer)?;
    }
    Ok(answer)
}

fn same_boundary(desk: &Desk<'_>, total: &Gathered<'_>) -> Result<(), String> {
    let of = |treatment: &str| -> BTreeSet<&str> {
        let rows = total.rows.iter();
        rows.filter(|row| row.origin.treatment.as_deref() == Some(treatment))
            .filter_map(|row| row.parameter("boundary"))
            .collect()
    };
    let (one, other) = (of(&desk.claim.treatment), of(&desk.claim.reference));
    if !one.is_empty() && !other.is_empty() && one != other {
        let words = |set: BTreeSet<&str>| set.into_iter().collect::<Vec<_>>().join(", ");
        return Err(format!(
            "the energies stand for different system boundaries ({} against {}): a share of them \
             means nothing",
            words(one),
            words(other)
        ));
    }
    Ok(())
}

/// Adds the mean of one part of the energy for each method; a part that a method does not have is
/// zero only where its results say so.
fn parts_of(desk: &Desk<'_>, part: &str, answer: &mut Answer) -> Result<(), String> {
    let wanted = Wanted {
        metric: part,
        variant: None,
        age_d: None,
        rest_min: None,
    };
    let gathered = match gather(desk.study, desk.evidence, &wanted, Scale::Linear) {
        Ok(gathered) => gathered,
        Err(reason) => {
            answer
                .warnings
                .push(format!("part `{part}` is not shown: {reason}"));
            return Ok(());
        }
    };
    for treatment in [&desk.claim.treatment, &desk.claim.reference] {
        let doughs = doughs_of(&gathered, treatment);
        if doughs.is_empty() {
            continue;
        }
        let sum: f64 = doughs.iter().map(|d| d.value).sum();
        answer.pictures.energies.push(EnergyPart {
            treatment: treatment.clone(),
            metric: part.to_owned(),
            mean: sum / doughs.len() as f64,
            doughs: doughs.len(),
            unit: gathered.unit,
        });
    }
    Ok(())
}

pub(super) fn tell(told: &Told<'_>, share: f64) -> String {
    format!(
        "{} uses {} % of the energy per kg that {} uses ({}); the claim needs less than {} %.",
        told.claim.treatment,
        told.percent(),
        told.claim.reference,
        told.between_percent(),
        short(100.0 * share)
    )
}
