//! Plain functions over slices: smoothing, contours, crossings, robust scale.
//!
//! They know no dough and no unit; each says where its formula comes from. Sums run in index
//! order, so that the same input gives the same bits on any number of threads.

pub mod agreement;
mod area;
mod block_noise;
mod bootstrap;
pub mod control;
mod crossing;
pub mod distribution;
pub mod dose_response;
pub mod equivalence;
mod error;
mod estimate;
pub mod exact;
mod extent;
pub mod fit;
pub mod functional;
mod jackknife;
mod line;
pub mod linear;
mod maximize;
pub mod mixed;
pub mod multiple;
pub mod ordinal;
mod outlier;
mod peaks;
pub mod power;
pub mod precision;
pub mod proficiency;
mod propagate;
mod regression;
mod robust;
mod share;
mod slice;
mod smooth;
mod spread;
mod step;
pub mod survival;
mod tear;

pub use area::area_between;
pub use block_noise::{NoiseBlocks, resample_noise};
pub use bootstrap::{Resampled, Resampling, resample_blocks, shuffle};
pub use crossing::{
    Crossing, first_fall_below_for, first_rise_above_for, last_fall_below, value_at,
};
pub use error::FitError;
pub use estimate::{Estimate, FisherTest, Interval, SumOfSquares};
pub use extent::{rolling_extent, rolling_mean};
pub use jackknife::{Jackknifed, jackknife};
pub use line::{Line, LineFit, fit_line, regress_line};
pub use outlier::find_outliers;
pub use peaks::{argmax, prominent_maxima};
pub use propagate::{Input, Propagated, propagate};
pub use robust::{median, median_of_some, normal_scatter, reading_scatter, scatter_of_some};
pub use share::wilson_interval;
pub use smooth::{local_linear, local_linear_at};
pub use spread::{deviation_interval, mean_and_deviation};
pub use step::least_step;
pub use tear::{ShareOf, Tear, TearRule, Trace, find_tear, least_level, sudden_loss};
