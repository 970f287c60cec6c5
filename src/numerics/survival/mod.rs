//! Times that are known only to lie above, below or between bounds.
//!
//! Interval regression gives a ratio of times; the product-limit estimate and the log-rank test
//! show a difference only and say nothing of its size. Nothing is dropped and no bound is taken for
//! a time (HANDBOOK §1.9).

mod product_limit;
mod regression;

pub use product_limit::{
    LogRank, RightCensored, SurvivalStep, log_rank, median_time, product_limit, right_censored,
};
pub use regression::{
    TimeData, TimeFault, TimeFit, TimeLaw, TimeOutcome, fit_times, ratio_interval,
};
