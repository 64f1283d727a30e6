//! Sweeps: many points of a design, the same trials at each, and what they say together.
//!
//! In: a sweep file with its base scenario ([`Base`]), which becomes a [`StudySetup`]. That names any
//! point by its number, so nothing is built before its turn, and rows go to disk as they finish;
//! memory does not grow with the number of points (but for a search, which keeps a bit for each
//! trial). Out: [`Digest`], which sums up the rows point by point, and shares of a sweep.
//!
//! Invariant: as for a single study, the result depends on the setup alone; a sweep computed in
//! shares and gathered gives the same bytes as one computed whole.
//!
//! [`StudySetup`]: super::StudySetup

mod anatomy;
mod array;
mod base;
mod contrast;
mod cost;
mod design;
mod digest;
pub(super) mod document;
mod error;
mod findings;
mod gather;
mod gather_error;
mod logistic;
mod path;
mod peaks;
mod permutation;
mod point;
mod profile;
mod race;
mod scaling;
mod sensitivity;
mod separation;
mod share;
mod share_state;
mod share_tally;
mod spread;
mod tally;
mod variance;

pub use anatomy::behind;
pub use array::{ARRAY, ArrayPlan};
pub use base::Base;
pub use contrast::Contrast;
pub use cost::{CostSample, sample_points};
pub use design::{Design, Role, sobol, value_at};
pub use digest::Digest;
pub use error::SweepError;
pub use findings::{
    Best, Bin, Cell, Confirmed, Count, Effect, RaceResult, Refused, Standing, StrategyTotals,
    best_fields,
};
pub use gather::Shares;
pub use gather_error::{GatherError, ranges};
pub use logistic::{Interval, LogisticFit, NotFitted, Observation, Term, fit as fit_logistic};
pub use path::ScenarioPath;
pub use peaks::PeakOfPoints;
pub use point::{PointSummary, summarise_point};
pub use race::Race;
pub use sensitivity::{Index, PickFreeze, Sensitivity};
pub use separation::Separation;
pub use share::{ShareSink, is_finished};
pub use share_state::ShareState;
pub use share_tally::ShareTally;
pub use tally::Tally;
pub use variance::GridVariance;
