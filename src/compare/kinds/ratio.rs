//! Is the ratio of one method to the other above or below the margin?

use crate::compare::answer::{Answer, Desk, answer_of_means};
use crate::compare::told::{Told, short};
use crate::study::Direction;

pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    answer_of_means(desk)
}

pub(super) fn tell(told: &Told<'_>, direction: Direction, margin: f64) -> String {
    let side = match direction {
        Direction::Above => "more",
        Direction::Below => "less",
    };
    let percent = short(100.0 * margin);
    format!(
        "{}; the claim needs {side} than {percent} %.",
        told.comparison()
    )
}
