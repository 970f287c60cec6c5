//! Is one method above or below the other by more than the margin?

use crate::compare::answer::{Answer, Desk, answer_of_means};
use crate::compare::told::{Told, short};
use crate::study::Direction;

pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    answer_of_means(desk)
}

pub(super) fn tell(told: &Told<'_>, direction: Direction, margin: f64) -> String {
    let side = match direction {
        Direction::Above => "above",
        Direction::Below => "below",
    };
    let least = match margin > 0.0 {
        true => format!("more than {}{} {side}", short(margin), told.unit()),
        false => format!("any amount {side}"),
    };
    format!("{}; the claim needs {least}.", told.comparison())
}
