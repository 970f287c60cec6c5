//! Grades by method and mixing time.

use super::{Easel, Subject};
use crate::chart::{GradeBar, GradeDistribution, GradePanel};
use crate::record::Grade;

/// Returns the grades of `subject`, where it has any.
pub(super) fn figure(easel: &Easel<'_>, subject: &Subject<'_>) -> Option<GradeDistribution> {
    let picture = subject.picture;
    if picture.grades.iter().all(|bar| bar.counts.total() == 0) {
        return None;
    }
    let bars_of = |treatment: &str| {
        let own = picture.grades.iter().filter(|b| b.treatment == treatment);
        own.map(|bar| GradeBar {
            name: bar
                .mix_time_min
                .map_or_else(|| "–".to_owned(), |min| min.to_string()),
            counts: bar.counts.grades.to_vec(),
            overmixed: bar.counts.overmixed,
        })
        .collect()
    };
    let panels = [&picture.reference, &picture.treatment].map(|treatment| GradePanel {
        treatment: treatment.clone(),
        bars: bars_of(treatment),
        note: String::new(),
    });
    let grades = Grade::ALL.iter();
    Some(GradeDistribution {
        words: easel.words(
            subject,
            "Gradings by mixing time".to_owned(),
            vec!["Overmixed pieces count as failures; grades are never averaged.".to_owned()],
        ),
        x_label: "mixing time / min".to_owned(),
        grades: grades
            .map(|grade| format!("{} {}", grade.digit(), grade.words()))
            .collect(),
        panels: panels.into(),
    })
}
