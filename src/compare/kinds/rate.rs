//! Does one method stale, take up water or soften more slowly or faster? The rates are those that
//! were fitted to each dough; where exponents differ, rate constants have different units and the
//! half times are compared instead (HANDBOOK §9, 10).

use crate::compare::answer::{Answer, Desk, answer_of_means, answer_to};
use crate::compare::told::{Told, short};
use crate::record::Assumption;
use crate::study::{Direction, PlannedClaim, Question};

pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    let Question::Rate {
        exponent: Some(exponent),
        half_time: Some(half_time),
        exponent_margin,
        ..
    } = &desk.claim.question
    else {
        return answer_of_means(desk);
    };
    let same = exponents_alike(desk, exponent, *exponent_margin)?;
    if !same.doubtful {
        let mut answer = answer_of_means(desk)?;
        answer.assumptions.push(same);
        return Ok(answer);
    }
    let mut answer = by_half_time(desk, half_time)?;
    answer.assumptions.push(same);
    answer.notes.push(format!(
        "compared by half time (`{half_time}`), since the exponents are not shown to be alike: \
         the ratio is that of the reference's half time to the treatment's"
    ));
    Ok(answer)
}

/// Returns whether the exponents of both methods are shown to be the same within the margin.
fn exponents_alike(desk: &Desk<'_>, exponent: &str, margin: f64) -> Result<Assumption, String> {
    let claim = PlannedClaim {
        metric: exponent.to_owned(),
        variant: None,
        question: Question::Equivalent {
            margin: crate::study::Margin::Relative(margin),
        },
        ..desk.claim.clone()
    };
    let answer = answer_to(desk, &claim)?;
    let alpha = desk.claim.alpha;
    let interval = answer.inference.interval(alpha);
    let target = answer.target;
    let alike = interval.is_some_and(|i| i.low > target.low && i.high < target.high);
    let words = interval.map_or_else(
        || "without bounds".to_owned(),
        |i| format!("{:.2} to {:.2}", i.low, i.high),
    );
    Ok(Assumption {
        name: "equal exponents",
        words: format!(
            "ratio of `{exponent}` {:.2}, {words} with {:.0} % confidence, where {} to {} counts as \
             the same",
            answer.inference.value(),
            100.0 * (1.0 - 2.0 * alpha),
            short(target.low),
            short(target.high)
        ),
        doubtful: !alike,
    })
}

/// Half times run against rates: the treatment is half as fast when its half time is twice as long.
fn by_half_time(desk: &Desk<'_>, half_time: &str) -> Result<Answer, String> {
    let claim = PlannedClaim {
        metric: half_time.to_owned(),
        variant: None,
        treatment: desk.claim.reference.clone(),
        reference: desk.claim.treatment.clone(),
        ..desk.claim.clone()
    };
    let mut answer = answer_to(desk, &claim)?;
    answer.doughs = (answer.doughs.1, answer.doughs.0);
    Ok(answer)
}

pub(super) fn tell(told: &Told<'_>, direction: Direction, margin: f64) -> String {
    let (claim, percent) = (told.claim, told.percent());
    let side = match direction {
        Direction::Above => "more",
        Direction::Below => "less",
    };
    format!(
        "the rate of {} is {percent} % of that of {} ({}); the claim needs {side} than {} %.",
        claim.treatment,
        claim.reference,
        told.between_percent(),
        short(100.0 * margin)
    )
}
