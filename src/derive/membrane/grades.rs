//! Metrics of a group of graded stretches: median, share at full window, share of clean edges.

use super::stretch::Group;
use crate::derive::{Metric, Reading, metric};
use crate::numerics::wilson_interval;
use crate::record::{Estimate, Grade, GradeCounts, MedianGrade, Outcome, TearEdge};
use crate::schema::Unit;

/// Returns the distribution of a group's gradings.
pub(super) fn counts_of(group: &Group) -> GradeCounts {
    let mut counts = GradeCounts::default();
    for (grade, overmixed, _) in &group.gradings {
        let place = Grade::ALL.iter().position(|listed| Some(*listed) == *grade);
        let slot = place.filter(|_| !overmixed);
        match slot.and_then(|place| counts.grades.get_mut(place)) {
            Some(count) => *count += 1,
            None => counts.overmixed += 1,
        }
    }
    counts
}

/// Returns the grades of the pieces that were not overmixed, in order.
fn ordered(group: &Group) -> Vec<Grade> {
    let graded = group.gradings.iter().filter(|(_, overmixed, _)| !overmixed);
    let mut grades: Vec<Grade> = graded.filter_map(|(grade, ..)| *grade).collect();
    grades.sort();
    grades
}

/// Returns the median of a group: a grade, or the two between which it lies.
pub(super) fn median_of(group: &Group) -> MedianGrade {
    let grades = ordered(group);
    let all = group.gradings.len();
    let overmixed = all - grades.len();
    let lower = grades
        .len()
        .checked_sub(1)
        .and_then(|last| grades.get(last / 2));
    let (Some(low), Some(high)) = (lower, grades.get(grades.len() / 2)) else {
        return MedianGrade::Unknown("no piece has a grade: all are overmixed".into());
    };
    if overmixed as f64 > group.most_overmixed * all as f64 {
        return MedianGrade::Unknown(format!(
            "{overmixed} of {all} gradings are overmixed, which is no grade"
        ));
    }
    if low == high {
        MedianGrade::Grade(*low)
    } else {
        MedianGrade::Between(*low, *high)
    }
}

metric! {
    /// Median of the grades given to the pieces of a dough at one mixing time. Grades are ordered
    /// words: of an even number the lower and the upper median are given, and no mean is made of
    /// them. Overmixed pieces have no place among the grades; where most are overmixed there is no
    /// median. Low and high are the lowest and the highest grade given; an ordered word has no
    /// standard uncertainty.
    MEDIAN_GRADE for Group {
        id: "membrane.median_grade", symbol: "g", name: "median membrane grade",
        unit: Unit::One, decimals: 0, revision: 1,
        source: ("codebook of this project", "HANDBOOK 7.1", ProjectChoice),
        variants: [
            ("lower", "the lower of the two middle grades of an even number of gradings"),
            ("upper", "the upper of the two middle grades of an even number of gradings"),
        ],
        read: read_median,
    }
}

fn read_median(group: &Group, variant: &'static str) -> Reading {
    let grades = ordered(group);
    let counts = counts_of(group);
    let remark = format!("gradings={};overmixed={}", counts.total(), counts.overmixed);
    let grade = match median_of(group) {
        MedianGrade::Unknown(reason) => {
            return Reading::of(Outcome::NotComputable(reason)).with_remark(remark);
        }
        MedianGrade::Grade(grade) => grade,
        MedianGrade::Between(low, high) => {
            if variant == "upper" {
                high
            } else {
                low
            }
        }
    };
    // The digit of a grade is its name in the table, not a quantity.
    let digit = |grade: Grade| f64::from(grade.digit().to_digit(10).unwrap_or(0));
    let (low, high) = (grades.first(), grades.last());
    let estimate = Estimate::with_interval(
        digit(grade),
        low.map_or(0.0, |g| digit(*g)),
        high.map_or(4.0, |g| digit(*g)),
        0.0,
    );
    Reading::of(estimate.map_or_else(|e| Outcome::NotComputable(e.to_string()), Outcome::Exact))
        .with_remark(remark)
}

/// Returns `seen` of `all` in %, with the Wilson interval for `trials` independent pieces.
fn share(seen: usize, all: usize, trials: usize, nothing: &str) -> Outcome {
    if all == 0 {
        return Outcome::NotComputable(nothing.to_owned());
    }
    let share = seen as f64 / all as f64;
    let Some((low, high)) = wilson_interval(share, trials) else {
        return Outcome::NotComputable(nothing.to_owned());
    };
    // A 95 % interval is 2 × 1.96 standard uncertainties wide.
    let u = (high - low) / (2.0 * 1.96);
    match Estimate::with_interval(100.0 * share, 100.0 * low, 100.0 * high, 100.0 * u) {
        Ok(estimate) => Outcome::Exact(estimate),
        Err(error) => Outcome::NotComputable(error.to_string()),
    }
}

metric! {
    /// Share of gradings at full window, the highest grade, among all first gradings. An overmixed
    /// piece is a failure of the window whatever its grade. The interval is that of Wilson 1927
    /// for as many trials as there are pieces: two people looking at one piece are not two pieces.
    FULL_WINDOW_SHARE for Group {
        id: "membrane.full_window_share", symbol: "F", name: "share at full window",
        unit: Unit::Percent, decimals: 0, revision: 1,
        source: ("codebook of this project", "HANDBOOK 7.1 and 19", ProjectChoice),
        variants: [], read: read_full_window,
    }
}

fn read_full_window(group: &Group, _: &'static str) -> Reading {
    Reading::of(full_window(group))
}

pub(super) fn full_window(group: &Group) -> Outcome {
    let counts = counts_of(group);
    let seen = counts.of(Grade::FullWindow);
    share(seen, counts.total(), group.pieces, "no grading")
}

metric! {
    /// Share of clean edges among the first gradings whose edge of the first tear was noted. The
    /// edge is a variable of its own beside the grade. The interval is that of Wilson 1927 for as
    /// many trials as there are pieces with an edge.
    CLEAN_EDGE_SHARE for Group {
        id: "membrane.clean_edge_share", symbol: "c", name: "share of clean first tears",
        unit: Unit::Percent, decimals: 0, revision: 1,
        source: ("codebook of this project", "HANDBOOK 7.1", ProjectChoice),
        variants: [], read: read_clean_edge,
    }
}

fn read_clean_edge(group: &Group, _: &'static str) -> Reading {
    Reading::of(clean_edge(group))
}

pub(super) fn clean_edge(group: &Group) -> Outcome {
    let edges: Vec<TearEdge> = group.gradings.iter().filter_map(|g| g.2).collect();
    let clean = edges.iter().filter(|e| **e == TearEdge::Clean).count();
    share(clean, edges.len(), group.edged_pieces, "no edge was noted")
}

/// The metrics of this file, in report order.
pub(super) static METRICS: &[&Metric<Group>] =
    &[&MEDIAN_GRADE, &FULL_WINDOW_SHARE, &CLEAN_EDGE_SHARE];
