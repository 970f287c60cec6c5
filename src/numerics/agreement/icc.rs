//! Intraclass correlation of gradings on a scale with distances.

/// The six forms of Shrout and Fleiss 1979 (Psychol. Bull. 86:420). `None` where the form's
/// denominator is zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Intraclass {
    /// ICC(1,1): each target has graders of its own; one grading.
    pub one_way_single: Option<f64>,
    /// ICC(2,1): the same graders, a random sample of all; one grading, absolute agreement.
    pub random_single: Option<f64>,
    /// ICC(3,1): the same graders, the only ones of interest; one grading, consistency.
    pub fixed_single: Option<f64>,
    /// ICC(1,k): mean of k gradings, graders as in ICC(1,1).
    pub one_way_mean: Option<f64>,
    /// ICC(2,k): mean of k gradings, graders as in ICC(2,1).
    pub random_mean: Option<f64>,
    /// ICC(3,k): mean of k gradings, graders as in ICC(3,1).
    pub fixed_mean: Option<f64>,
}

/// Returns the six forms for `ratings[target][grader]`, without missing cells. `None` for fewer
/// than two targets or graders, or rows of different length.
pub fn intraclass(ratings: &[Vec<f64>]) -> Option<Intraclass> {
    let (n, k) = (ratings.len(), ratings.first()?.len());
    if n < 2 || k < 2 || ratings.iter().any(|row| row.len() != k) {
        return None;
    }
    let (targets, graders) = (n as f64, k as f64);
    let grand = ratings.iter().flatten().sum::<f64>() / (targets * graders);
    let square = |v: f64| v * v;
    let total: f64 = ratings.iter().flatten().map(|v| square(v - grand)).sum();
    let between_targets: f64 = ratings
        .iter()
        .map(|row| graders * square(row.iter().sum::<f64>() / graders - grand))
        .sum();
    let between_graders: f64 = (0..k)
        .map(|j| targets * square(ratings.iter().map(|r| r[j]).sum::<f64>() / targets - grand))
        .sum();
    let rows = between_targets / (targets - 1.0);
    let columns = between_graders / (graders - 1.0);
    let within = (total - between_targets) / (targets * (graders - 1.0));
    let error = (total - between_targets - between_graders) / ((targets - 1.0) * (graders - 1.0));
    let shared = (columns - error) / targets;
    let ratio = |above: f64, below: f64| (below.abs() > 0.0).then(|| above / below);
    Some(Intraclass {
        one_way_single: ratio(rows - within, rows + (graders - 1.0) * within),
        random_single: ratio(
            rows - error,
            rows + (graders - 1.0) * error + graders * shared,
        ),
        fixed_single: ratio(rows - error, rows + (graders - 1.0) * error),
        one_way_mean: ratio(rows - within, rows),
        random_mean: ratio(rows - error, rows + shared),
        fixed_mean: ratio(rows - error, rows),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_published_example() {
        // Shrout and Fleiss 1979, tables 2 and 4: .17 .29 .71 and .44 .62 .91.
        let ratings: Vec<Vec<f64>> = [
            [9.0, 2.0, 5.0, 8.0],
            [6.0, 1.0, 3.0, 2.0],
            [8.0, 4.0, 6.0, 8.0],
            [7.0, 1.0, 2.0, 6.0],
            [10.0, 5.0, 6.0, 9.0],
            [6.0, 2.0, 4.0, 7.0],
        ]
        .iter()
        .map(|row| row.to_vec())
        .collect();
        let forms = intraclass(&ratings).map(|f| {
            [
                (f.one_way_single, 0.17),
                (f.random_single, 0.29),
                (f.fixed_single, 0.71),
                (f.one_way_mean, 0.44),
                (f.random_mean, 0.62),
                (f.fixed_mean, 0.91),
            ]
        });
        for (found, wanted) in forms.into_iter().flatten() {
            assert!(
                found.is_some_and(|v| (v - wanted).abs() < 0.005),
                "{found:?} {wanted}"
            );
        }
        assert!(forms.is_some());
    }

    #[test]
    fn one_grader_or_ragged_rows_have_none() {
        assert_eq!(intraclass(&[vec![1.0], vec![2.0]]), None);
        assert_eq!(intraclass(&[vec![1.0, 2.0], vec![2.0]]), None);
        assert_eq!(intraclass(&[]), None);
    }
}
