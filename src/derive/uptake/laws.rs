//! The laws of uptake fitted to one curve.

use super::prepare::Prepared;
use crate::numerics::fit::{
    Bound, Fit, Model, Options, Peleg, Problem, Profile, SphereUptake, peleg_start, sphere_start,
};
use crate::numerics::{LineFit, regress_line};

/// Further starts tried where the first leads nowhere.
const RESTARTS: usize = 2;
/// Where the parameters of the sphere may lie: equilibrium anywhere, rate above zero.
const SPHERE_BOUNDS: [Bound; 3] = [Bound::Free, Bound::Positive, Bound::Free];

/// One law fitted to a curve.
#[derive(Debug, Clone)]
pub struct Law {
    /// The fit, time in min and moisture in % of dry mass.
    pub fit: Fit,
    /// Interval of each parameter from its profile.
    pub profiles: Vec<Option<Profile>>,
    /// By how much each parameter moves when the stated initial moisture rises by one point.
    pub by_initial: Vec<f64>,
}

/// Everything fitted to a curve.
#[derive(Debug, Clone)]
pub struct Laws {
    /// Peleg's law: k1, k2 and, where no initial moisture is stated, M0.
    pub peleg: Result<Law, String>,
    /// The sphere: Me, D/r² and, where no initial moisture is stated, M0.
    pub sphere: Result<Law, String>,
    /// The straight line over the square root of time.
    pub root_time: Result<LineFit, String>,
}

impl Laws {
    /// Returns the moisture before soaking: as stated, else as Peleg's law has it.
    pub fn initial(&self, p: &Prepared) -> Option<f64> {
        let fitted = || self.peleg.as_ref().ok()?.fit.parameters.get(2).copied();
        p.initial.or_else(fitted)
    }
}

/// Returns the laws of a prepared curve; the error says why there is nothing to fit.
pub(super) fn fit_laws(p: &Prepared) -> Result<Laws, String> {
    // With a stated initial moisture the law passes through it: a reading at time nought tells
    // nothing, and of the surface water it may hold too much.
    let counted = |t: f64| p.initial.is_none() || t > 0.0;
    let points = p.minutes.iter().zip(&p.moisture);
    let (t, y): (Vec<f64>, Vec<f64>) = points.filter(|(t, _)| counted(**t)).unzip();
    if t.iter().any(|t| *t < 0.0) {
        return Err("time before contact with water".into());
    }
    let peleg = fit(&|initial| Peleg { initial }, p, &t, &y, &[], |m| {
        peleg_start(m, &t, &y)
    });
    let sphere = fit(
        &|initial| SphereUptake { initial },
        p,
        &t,
        &y,
        &SPHERE_BOUNDS,
        |m| sphere_start(m, &t, &y),
    );
    let mut laws = Laws {
        peleg,
        sphere,
        root_time: Err(String::new()),
    };
    laws.root_time = fit_root_time(p, &laws, &t, &y);
    Ok(laws)
}

/// Fits a law whose model is made of the initial moisture; once more with that moved, for what
/// rests on it.
fn fit<M: Model>(
    model_of: &dyn Fn(Option<f64>) -> M,
    p: &Prepared,
    t: &[f64],
    y: &[f64],
    bounds: &[Bound],
    start: impl Fn(M) -> Option<Vec<f64>>,
) -> Result<Law, String> {
    let options = Options {
        bounds,
        restarts: RESTARTS,
        ..Options::default()
    };
    let model = model_of(p.initial);
    let problem = Problem::new(&model, t, y, options).map_err(|e| e.to_string())?;
    let start = start(model_of(p.initial)).ok_or("the moisture does not rise")?;
    let fit = problem.fit(&start).map_err(|e| e.to_string())?;
    let profiles = (0..fit.parameters.len())
        .map(|j| problem.profile(&fit, j))
        .collect();
    let by_initial = match p.initial {
        None => vec![0.0; fit.parameters.len()],
        Some(initial) => {
            let step = p.settings.u_initial_pct.max(1e-3);
            let moved = model_of(Some(initial + step));
            let again = Problem::new(&moved, t, y, options)
                .and_then(|problem| problem.fit(&fit.parameters))
                .map_err(|e| e.to_string())?;
            let pairs = again.parameters.iter().zip(&fit.parameters);
            pairs.map(|(there, here)| (there - here) / step).collect()
        }
    };
    Ok(Law {
        fit,
        profiles,
        by_initial,
    })
}

/// Fits the straight line of moisture over the square root of time, up to a share of the gain at
/// equilibrium.
fn fit_root_time(p: &Prepared, laws: &Laws, t: &[f64], y: &[f64]) -> Result<LineFit, String> {
    let equilibrium = laws.sphere.as_ref().map_err(String::clone)?.fit.parameters[0];
    let initial = laws.initial(p).ok_or("the initial moisture is not known")?;
    let limit = initial + p.settings.root_time_share * (equilibrium - initial);
    // The first reading beyond the limit ends the line: later ones that scatter back below do
    // not belong to it. Time nought is before the surface is wet.
    let early = t.iter().zip(y).filter(|(t, _)| **t > 0.0);
    let (root, moisture): (Vec<f64>, Vec<f64>) = early
        .take_while(|(_, m)| **m <= limit)
        .map(|(t, m)| (t.sqrt(), *m))
        .unzip();
    if root.len() < p.settings.root_time_points {
        return Err(format!(
            "{} readings before {:.0} % of the gain, {} are wanted",
            root.len(),
            100.0 * p.settings.root_time_share,
            p.settings.root_time_points
        ));
    }
    regress_line(&root, &moisture).ok_or_else(|| "the early moisture does not vary".to_owned())
}
