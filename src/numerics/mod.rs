//! Plain functions over slices: smoothing, contours, crossings, robust scale.
//!
//! They know no dough and no unit; each says where its formula comes from. Sums run in index
//! order, so that the same input gives the same bits on any number of threads.

pub mod agreement;
mod area;
mod block_noise;
mod bootstrap;
mod crossing;
mod extent;
mod line;
mod outlier;
mod peaks;
mod robust;
mod share;
mod smooth;

pub use area::area_between;
pub use block_noise::{NoiseBlocks, resample_noise};
pub use bootstrap::{Resampled, Resampling, resample_blocks};
pub use crossing::{
    Crossing, first_fall_below_for, first_rise_above_for, last_fall_below, value_at,
};
pub use extent::{rolling_extent, rolling_mean};
pub use line::{Line, fit_line};
pub use outlier::find_outliers;
pub use peaks::{argmax, prominent_maxima};
pub use robust::{median, median_of_some, normal_scatter, scatter_of_some};
pub use share::wilson_interval;
pub use smooth::{local_linear, local_linear_at};
