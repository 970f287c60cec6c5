//! Are both methods equal within the margin? Two one-sided tests: the interval of confidence
//! 1 − 2 α must lie wholly within the margins (Schuirmann 1987; HANDBOOK §12.2, V-A2).

use crate::compare::answer::{Answer, Desk, answer_of_means};
use crate::compare::told::{Told, short};
use crate::study::Margin;

pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    answer_of_means(desk)
}

pub(super) fn tell(told: &Told<'_>, margin: Margin) -> String {
    let within = match margin {
        Margin::Absolute(d) => format!("within {}{}", short(d), told.unit()),
        Margin::Relative(d) => format!(
            "between {} % and {} %",
            short(100.0 * (1.0 - d)),
            short(100.0 * (1.0 + d))
        ),
    };
    format!(
        "{}; equal means that the whole range lies {within}, not that no difference was found.",
        told.comparison()
    )
}
