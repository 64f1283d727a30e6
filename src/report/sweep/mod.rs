//! What a finished sweep leaves in its folder: `trials.csv`, `trials.parquet`, `points.csv`,
//! `sweep.json`, `report.md`, `report.html`, `figures/`, and for a search `race.csv`. Rows pass through one point at a time.

mod columns;
mod figures;
mod measured;
mod outlook;
mod page;
mod parameters;
mod parquet;
mod points;
mod regression;
mod scripts;
mod successes;
mod summary;
mod sums;
mod trials;
mod web;
mod words;

pub use columns::{Column, ColumnKind, trial_columns};
pub use outlook::{LOOKED_AT, Outlook, duration, memory_bytes, outlook, seconds_a_trial};
pub use page::sweep_page;
pub use scripts::{ArrayScripts, ScriptFault, shell_path, submit};
pub use summary::SweepSummary;

use crate::study::{Sinks, StudySetup};

/// The sinks of a sweep, in the order in which they write. The bytes depend on setup and rows alone.
#[must_use]
pub fn sinks(setup: &StudySetup) -> Sinks<'_> {
    vec![
        Box::<trials::TrialTables>::default(),
        Box::<points::PointsTable>::default(),
        Box::new(sums::Sums::new(setup)),
    ]
}
