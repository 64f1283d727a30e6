//! What a finished sweep leaves in its folder: `trials.csv`, `trials.parquet`, `points.csv`,
//! `sweep.json`, `report.md`, `figures/`, and for a search `race.csv`. Rows pass through one point at a time.

mod columns;
mod figures;
mod measured;
mod outlook;
mod page;
mod parquet;
mod points;
mod regression;
mod successes;
mod summary;
mod words;
mod writer;

pub use columns::{Column, Kind, trial_columns};
pub use outlook::{LOOKED_AT, Outlook, outlook};
pub use page::sweep_page;
pub use summary::SweepSummary;
pub use writer::write_sweep;
