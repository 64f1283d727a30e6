//! Designs, statistics and runs of many trials.

#[path = "../shared/files_below.rs"]
mod files_below;
#[path = "../shared/sweep_common/mod.rs"]
mod sweep_common;

mod evidence_findings;
mod study_runs;
mod sweep_anatomy;
mod sweep_coverage;
mod sweep_race;
mod sweep_runs;
mod sweep_statistics;
