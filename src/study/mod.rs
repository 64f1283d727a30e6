//! Many trials: a batch on all cores, kept in a journal so that nothing finished is lost, and
//! the statistics over it.
//!
//! In: a [`Plan`] (which strategies, how many trials, which seed), a function that computes one
//! trial, and the [`Sink`]s that make tables, shapes and figures of them. Out: a folder with the
//! sinks' files, complete or not there at all, and the rows in a fixed order.
//!
//! Invariant: the result depends on the plan and on the function alone, not on the number of
//! threads, on the order in which trials finish, or on how often the batch was interrupted.

mod batch;
mod error;
mod force_map;
mod interrupt;
pub mod intervals;
mod journal;
mod missing;
pub mod paired;
mod plan;
mod progress;
mod row;
mod sink;
pub mod statistics;
pub mod store;
mod summary;
pub mod sweep;

pub use batch::{StudyDone, StudyOptions, run_batch};
pub use error::{KeepError, StudyError, StudyErrorClass};
pub use force_map::{MapField, force_map};
pub use interrupt::{interrupted, watch_for_interrupts};
pub use journal::Header;
pub use missing::gaps;
pub use plan::{Plan, StrategyLabel, build_fingerprint};
pub use progress::note;
pub use sink::{Files, Making, Sink, Sinks, Study, Trial, make};
pub use store::Folders;
pub use summary::{
    Comparison, LEAST_FOR_P95, Median, MedianP95, Spread, StrategySummary, compare, high_end,
    summarise,
};
