//! Is one method no worse than the other by the margin? One bound of the interval decides.

use crate::compare::answer::{Answer, Desk, answer_of_means};
use crate::compare::told::{Told, short};
use crate::study::{Direction, Margin};

pub(super) fn answer(desk: &Desk<'_>) -> Result<Answer, String> {
    answer_of_means(desk)
}

pub(super) fn tell(told: &Told<'_>, better: Direction, margin: Margin) -> String {
    let worse = match better {
        Direction::Above => "lower",
        Direction::Below => "higher",
    };
    let by = match margin {
        Margin::Absolute(d) => format!("{}{}", short(d), told.unit()),
        Margin::Relative(d) => format!("{} %", short(100.0 * d)),
    };
    format!(
        "{}; not worse means not more than {by} {worse}.",
        told.comparison()
    )
}
