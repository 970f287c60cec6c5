//! A trace over time: its integral with what is unknown of it, and where it works.

use super::settings::Settings;
use crate::numerics::{median, reading_scatter};

/// A trace over time without steps back.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    /// Times on the clock of the record, s.
    pub t: Vec<f64>,
    /// Values.
    pub y: Vec<f64>,
}

/// An integral over time with its parts of uncertainty, in the unit of the trace times s.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Integral {
    /// Trapezoid sum over the real times.
    pub value: f64,
    /// Standard uncertainty from noise, sampling, and the edges of switching.
    pub u: f64,
    /// How much less the gaps may hold than the lines across them.
    pub less: f64,
    /// How much more.
    pub more: f64,
}

impl Integral {
    /// Returns the integral in another unit.
    pub fn scaled(self, by: f64) -> Integral {
        Integral {
            value: self.value * by,
            u: self.u * by.abs(),
            less: self.less * by.abs(),
            more: self.more * by.abs(),
        }
    }
}

/// A stretch of time in which a trace lies above its working level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Work {
    /// First time at work, s on the clock of the record.
    pub from: f64,
    /// Last time at work.
    pub to: f64,
    /// Time at work, s, without the stretches between.
    pub duration: f64,
    /// How much less of it there may be for gaps, s.
    pub less: f64,
    /// How much more.
    pub more: f64,
    /// Switches between work and rest that the record shows, those in gaps not counted.
    pub edges: usize,
    /// Whether the record begins at work.
    pub begins: bool,
    /// Whether the record ends at work.
    pub ends: bool,
}

impl Trace {
    /// Returns the median time between readings, s; 0 for a single reading.
    pub fn period(&self) -> f64 {
        let steps: Vec<f64> = self.t.windows(2).map(|w| w[1] - w[0]).collect();
        median(&steps).unwrap_or(0.0)
    }

    /// Returns the largest value; 0 where there is none above.
    pub fn top(&self) -> f64 {
        self.y.iter().copied().fold(0.0, f64::max)
    }

    /// Returns the index of each reading that comes after a pause of more than the allowed number of
    /// sampling periods.
    pub fn gaps(&self, settings: &Settings) -> Vec<usize> {
        let longest = settings.gap_periods * self.period();
        // Times written to a fraction of the period must not make gaps of rounding.
        let limit = longest * (1.0 + 1e-9) + 1e-9;
        (1..self.t.len())
            .filter(|&i| self.t[i] - self.t[i - 1] > limit)
            .collect()
    }

    /// Returns the trace with every value changed by `f`.
    pub fn map(&self, f: impl Fn(f64) -> f64) -> Trace {
        Trace {
            t: self.t.clone(),
            y: self.y.iter().map(|y| f(*y)).collect(),
        }
    }

    /// Returns the trace times another one over the same times.
    pub fn times(&self, other: &Trace) -> Trace {
        let pairs = self.y.iter().zip(&other.y);
        Trace {
            t: self.t.clone(),
            y: pairs.map(|(a, b)| a * b).collect(),
        }
    }

    /// Returns the integral over the record.
    ///
    /// Trapezoid on the real times (HANDBOOK 8.1). Its uncertainty joins the noise of the readings;
    /// a third of the change when every second reading is left out (Richardson); for each switch
    /// between neighbours, the rectangular uncertainty of when it was. A gap counts with the line
    /// across it, and may hold as little as the least and as much as the greatest of its neighbours.
    pub fn integral(&self, settings: &Settings) -> Integral {
        let (t, y) = (&self.t, &self.y);
        let n = t.len().min(y.len());
        let value = trapezoid(t, y);
        let noise = reading_scatter(t, y);
        let weights = (0..n).map(|i| {
            let before = if i > 0 { t[i] - t[i - 1] } else { 0.0 };
            let after = if i + 1 < n { t[i + 1] - t[i] } else { 0.0 };
            0.25 * (before + after) * (before + after)
        });
        let u_noise = noise * weights.sum::<f64>().sqrt();
        let gaps = self.gaps(settings);
        let u_sampling = if gaps.is_empty() && n > 4 {
            (value - trapezoid(&every_second(t), &every_second(y))).abs() / 3.0
        } else {
            0.0
        };
        let edge = settings.edge_share * self.top();
        let edges = (1..n).filter(|i| !gaps.contains(i)).map(|i| {
            let step = (y[i] - y[i - 1]).abs();
            if step <= edge {
                return 0.0;
            }
            let u = step * (t[i] - t[i - 1]);
            u * u / 12.0
        });
        let u_edges = edges.sum::<f64>().sqrt();
        let (mut less, mut more) = (0.0, 0.0);
        let reach = settings.gap_neighbours.max(1.0) as usize;
        for &i in &gaps {
            let around = &y[i.saturating_sub(reach)..(i + reach).min(n)];
            let least = around.iter().copied().fold(f64::MAX, f64::min);
            let greatest = around.iter().copied().fold(f64::MIN, f64::max);
            let pause = t[i] - t[i - 1];
            let line = 0.5 * (y[i] + y[i - 1]);
            less += (line - least).max(0.0) * pause;
            more += (greatest - line).max(0.0) * pause;
        }
        Integral {
            value,
            u: u_noise.hypot(u_sampling).hypot(u_edges),
            less,
            more,
        }
    }

    /// Returns when the trace lies above `level`; `None` when it never does.
    ///
    /// A switch lies anywhere between the reading before and the reading after it: the middle is
    /// taken. In a gap the machine may have worked or not.
    pub fn work_above(&self, level: f64, settings: &Settings) -> Option<Work> {
        let (t, y) = (&self.t, &self.y);
        let last = t.len().checked_sub(1)?;
        let first_above = y.iter().position(|v| *v > level)?;
        let last_above = y.iter().rposition(|v| *v > level)?;
        let middle = |i: usize| 0.5 * (t[i] + t[i + 1]);
        let gaps = self.gaps(settings);
        let mut work = Work {
            from: first_above.checked_sub(1).map_or(t[0], middle),
            to: if last_above == last {
                t[last]
            } else {
                middle(last_above)
            },
            duration: 0.0,
            less: 0.0,
            more: 0.0,
            edges: 0,
            begins: first_above == 0,
            ends: last_above == last,
        };
        for i in 0..last {
            let step = t[i + 1] - t[i];
            let at_work = match (y[i] > level, y[i + 1] > level) {
                (true, true) => 1.0,
                (false, false) => 0.0,
                _ => 0.5,
            };
            work.duration += at_work * step;
            if gaps.contains(&(i + 1)) {
                work.less += at_work * step;
                work.more += (1.0 - at_work) * step;
            } else if (y[i] > level) != (y[i + 1] > level) {
                work.edges += 1;
            }
        }
        Some(work)
    }

    /// Returns the part of the trace from time `from` to time `to`.
    pub fn between(&self, from: f64, to: f64) -> Trace {
        let kept = self
            .t
            .iter()
            .zip(&self.y)
            .filter(|(t, _)| (from..=to).contains(*t));
        let (t, y) = kept.map(|(t, y)| (*t, *y)).unzip();
        Trace { t, y }
    }

    /// Returns the mean of the readings above `level`, and how many they are.
    pub fn mean_above(&self, level: f64) -> Option<(f64, usize)> {
        let above: Vec<f64> = self.y.iter().copied().filter(|v| *v > level).collect();
        let count = above.len();
        (count > 0).then(|| (above.iter().sum::<f64>() / count as f64, count))
    }
}

fn every_second(values: &[f64]) -> Vec<f64> {
    let mut kept: Vec<f64> = values.iter().copied().step_by(2).collect();
    // The last reading stays, so that both sums run over the same time.
    if values.len().is_multiple_of(2) {
        kept.extend(values.last());
    }
    kept
}

fn trapezoid(t: &[f64], y: &[f64]) -> f64 {
    let pairs = t.windows(2).zip(y.windows(2));
    pairs
        .map(|(t, y)| 0.5 * (y[0] + y[1]) * (t[1] - t[0]))
        .sum()
}
