//! Ordered grades compared between treatments: cumulative logit models, the probability that one
//! lies higher, and stratified rank tests.
//!
//! A grade is a whole number whose order alone counts; grades that nobody gave are passed over. The
//! sign is that of the trade's reading: a positive coefficient means higher grades. Unit of
//! replication is the dough: its pieces and graders are clusters, entered as random intercepts or
//! as members of a cluster.

mod clusters;
mod design;
mod fit;
mod mixed;
mod quadrature;
mod rank;

pub use clusters::{
    Cluster, ClusteredSuperiority, superiority_of_clusters, superiority_within_blocks,
};
pub use fit::{
    OrdinalData, OrdinalFault, ProportionalOdds, ScoreTest, fit_proportional_odds,
    profile_interval, test_proportional_odds,
};
pub use mixed::{RandomIntercepts, fit_random_intercepts};
pub use rank::{Stratum, VanElteren, van_elteren};
