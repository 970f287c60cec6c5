//! How well whole curves tell two classes apart, measured on curves that were not learnt from.

use super::components::principal_components;
use super::fit_together;
use crate::numerics::bootstrap::shuffle;
use crate::numerics::ordinal::{Cluster, superiority_of_clusters};
use nalgebra::{DMatrix, DVector};
use rand_chacha::ChaCha8Rng;
use rand_core::SeedableRng;
use std::cmp::Ordering;

/// A number in the order of all numbers.
#[derive(Clone, Copy)]
struct Ordered(f64);

impl PartialEq for Ordered {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Ordered {}

impl PartialOrd for Ordered {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Ordered {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// Returns the area under the receiver operating curve, which is the probability that a value of
/// `upper` exceeds one of `lower`, ties counted half, and its standard error (DeLong et al. 1988,
/// Biometrics 44:837); `None` for fewer than two values of either.
pub fn area_under_roc(upper: &[f64], lower: &[f64]) -> Option<(f64, f64)> {
    let above = upper.iter().map(|v| Cluster {
        above: vec![Ordered(*v)],
        below: Vec::new(),
    });
    let below = lower.iter().map(|v| Cluster {
        above: Vec::new(),
        below: vec![Ordered(*v)],
    });
    let clusters: Vec<Cluster<Ordered>> = above.chain(below).collect();
    superiority_of_clusters(&clusters, 0.95).map(|s| (s.probability, s.standard_error))
}

/// How separation is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SeparationSettings {
    /// Principal components used: a number fixed beforehand, not chosen by the outcome.
    pub components: usize,
    /// Parts into which the curves of each class are dealt; each in turn is left out.
    pub folds: usize,
    /// How often the deal is repeated.
    pub repeats: usize,
    /// Seed of the deals.
    pub seed: u64,
}

/// How well curves told two classes apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Separation {
    /// Area under the receiver operating curve of the curves left out, averaged over repeats.
    pub area: f64,
    /// Its standard error from the number of curves, averaged over repeats.
    pub standard_error: f64,
    /// Area of each repeat.
    pub areas: Vec<f64>,
}

/// Returns how well a linear discriminant of principal component scores tells curves of the class
/// from the rest (`in_class`), on curves left out when components and discriminant were learnt
/// (Fisher 1936; Hall, Poskitt and Presnell 2001, Technometrics 43:1; from memory). The area is
/// taken over all curves of a repeat together.
///
/// `None` when lists differ in length, a class has fewer curves than folds, a part has too few
/// curves for the components, or settings are 0.
pub fn cross_validated_separation(
    times: &[f64],
    curves: &[Vec<f64>],
    in_class: &[bool],
    settings: SeparationSettings,
) -> Option<Separation> {
    if !fit_together(times, curves) || in_class.len() != curves.len() || settings.repeats == 0 {
        return None;
    }
    let of = |class: bool| -> Vec<usize> {
        (0..curves.len())
            .filter(|i| in_class[*i] == class)
            .collect()
    };
    let mut members = [of(true), of(false)];
    let fewest = members.iter().map(Vec::len).min().unwrap_or(0);
    if settings.folds < 2 || fewest < settings.folds || settings.components == 0 {
        return None;
    }
    let mut rng = ChaCha8Rng::seed_from_u64(settings.seed);
    let (mut areas, mut errors) = (Vec::new(), 0.0);
    for _ in 0..settings.repeats {
        let mut fold = vec![0; curves.len()];
        for class in &mut members {
            shuffle(class, &mut rng);
            for (place, index) in class.iter().enumerate() {
                fold[*index] = place % settings.folds;
            }
        }
        let mut scores = vec![0.0; curves.len()];
        for out in 0..settings.folds {
            let (left, kept): (Vec<usize>, Vec<usize>) =
                (0..curves.len()).partition(|i| fold[*i] == out);
            let learnt = learn(times, curves, in_class, &kept, settings.components)?;
            for index in left {
                scores[index] = learnt(&curves[index]);
            }
        }
        let class = |class: &[usize]| -> Vec<f64> { class.iter().map(|i| scores[*i]).collect() };
        let (area, error) = area_under_roc(&class(&members[0]), &class(&members[1]))?;
        areas.push(area);
        errors += error;
    }
    let repeats = settings.repeats as f64;
    Some(Separation {
        area: areas.iter().sum::<f64>() / repeats,
        standard_error: errors / repeats,
        areas,
    })
}

/// Returns the discriminant that the curves `kept` teach: positive on the side of the class.
fn learn(
    times: &[f64],
    curves: &[Vec<f64>],
    in_class: &[bool],
    kept: &[usize],
    count: usize,
) -> Option<impl Fn(&[f64]) -> f64> {
    let training: Vec<Vec<f64>> = kept.iter().map(|i| curves[*i].clone()).collect();
    let components = principal_components(times, &training, count)?;
    let p = components.functions.len();
    let mut means = [DVector::zeros(p), DVector::zeros(p)];
    let mut counts = [0.0_f64; 2];
    let side = |index: &usize| usize::from(!in_class[*index]);
    for (index, scores) in kept.iter().zip(&components.scores) {
        means[side(index)] += DVector::from_column_slice(scores);
        counts[side(index)] += 1.0;
    }
    for (mean, count) in means.iter_mut().zip(counts) {
        *mean /= count;
    }
    let mut within = DMatrix::zeros(p, p);
    for (index, scores) in kept.iter().zip(&components.scores) {
        let rest = DVector::from_column_slice(scores) - &means[side(index)];
        within += &rest * rest.transpose();
    }
    within /= kept.len() as f64 - 2.0;
    let direction = within.cholesky()?.solve(&(&means[0] - &means[1]));
    let middle = 0.5 * (&means[0] + &means[1]);
    let threshold = direction.dot(&middle);
    Some(move |curve: &[f64]| {
        direction.dot(&DVector::from_vec(components.scores_of(curve))) - threshold
    })
}
