//! Sweeps: many points of a design, the same trials at each, and what they say together.
//!
//! In: a sweep file with its base scenario ([`Base`]), which becomes a [`SweepPlan`]. The plan
//! names any point by its number, so nothing is built before its turn, and rows go to disk as they
//! finish; memory does not grow with the number of points (but for a search, which keeps a bit for
//! each trial). Out: rows in the order of the points, for the tables, and [`Digest`], which sums
//! them up.
//!
//! Invariant: as for a single study, the result depends on the plan alone; a sweep computed in
//! shares and gathered gives the same bytes as one computed whole.

mod anatomy;
mod base;
mod contrast;
mod design;
mod digest;
mod error;
mod findings;
mod gather;
mod logistic;
mod path;
mod permutation;
mod plan;
mod point;
mod profile;
mod race;
mod run;
mod scaling;
mod schedule;
mod sensitivity;
mod separation;
mod spread;
mod store;
mod tally;
mod variance;

pub use anatomy::behind;
pub use base::Base;
pub use contrast::Contrast;
pub use design::{Design, Role, sobol, value_at};
pub use digest::Digest;
pub use error::SweepError;
pub use findings::{
    Best, Bin, Cell, Confirmed, Count, Effect, RaceResult, Refused, Standing, StrategyTotals,
    best_fields,
};
pub use gather::{GatherError, Shares, write_share};
pub use logistic::{Interval, LogisticFit, NotFitted, Observation, Term, fit as fit_logistic};
pub use path::ScenarioPath;
pub use plan::{Shard, SweepPlan, UntilWidth};
pub use point::{PointSummary, summarise_point};
pub use race::Race;
pub use run::{SweepRun, run_sweep};
pub use schedule::Task;
pub use sensitivity::{Index, PickFreeze, Sensitivity};
pub use separation::Separation;
pub use store::{Kept, Store};
pub use tally::Tally;
pub use variance::GridVariance;
