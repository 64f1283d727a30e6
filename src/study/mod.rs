//! Many trials: run on all cores, kept in a journal so that nothing finished is lost, and the
//! statistics over them.
//!
//! In: a [`StudySetup`] (which points, which strategies, how many trials, which seed), functions that
//! make a point ready and compute one of its trials, and the [`Sink`]s that make tables, shapes and
//! figures of them. Out: a folder with the sinks' files, complete or not there at all. A scenario as
//! it is, is a study of one point.
//!
//! Invariant: the result depends on the setup and on the functions alone, not on the number of
//! threads, on the order in which trials finish, or on how often the run was interrupted.

mod deal;
mod ending;
mod error;
mod force_map;
mod interrupt;
pub mod intervals;
mod journal;
pub mod lesson;
mod missing;
pub mod paired;
mod progress;
mod row;
mod runner;
mod schedule;
mod setup;
mod sink;
pub mod statistics;
pub mod store;
mod summary;
pub mod sweep;

pub use deal::{Deal, SharePoints};
pub use error::{KeepError, StudyError, StudyErrorClass};
pub use force_map::{MapField, force_map};
pub use interrupt::{STOPPED, interrupted, watch_for_interrupts};
pub use journal::{KeptPoint, PointTrials};
pub use missing::{Field, fields};
pub use progress::note;
pub use runner::{Prepare, RunTrial, StudyDone, StudyOptions, reserve, run_study};
pub use schedule::Task;
pub use setup::{Part, Shard, StrategyLabel, StudyOf, StudySetup, UntilWidth, build_fingerprint};
pub use sink::{Files, Handed, Handing, Making, Point, Sink, Sinks, Trial, make};
pub use store::{Folders, work_folder};
pub use summary::{
    Comparison, LEAST_FOR_P95, Median, MedianP95, Spread, StrategySummary, VesselSummary, compare,
    high_end, summarise, vessel_summary,
};
