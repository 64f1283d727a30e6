//! Tables, figures and exports: everything that a finished study leaves in its folder.
//!
//! In: rows and records of a study, from memory, and the outline of the scene; a file of `sinks/` for
//! each kind of output. Out: `summary.json`,
//! `trials.csv`, `wall-force-map.csv`, `report.md`, `report.html`, `traces/`, `hands/`, `shapes/`, `vessel.vtp`, `figures/`; and the scene in
//! words for a scenario that is only checked; and what bench tests, and reviews of a scenario, leave behind. Nothing here
//! decides or computes anything that is not already in a row; nothing here is imported
//! upstream.

pub mod assay;
pub mod evidence;
pub mod export;
pub mod figures;
pub mod film;
mod folds;
pub mod lesson;
mod outline;
mod page;
mod pairs;
mod reading;
pub mod scene;
mod setting;
mod sinks;
pub mod starter;
mod summary;
pub mod sweep;
mod tables;
pub mod view;
mod vtk;
mod web;

pub use outline::{OutlineBranch, OutlinePoint, OutlineWall, SceneOutline};
pub use page::report_page;
pub use scene::CAUTION;
pub use setting::Setting;
pub use sinks::{WallMapRow, sinks};
pub use summary::{Summary, summary};
pub use tables::{read_hands, read_trace, write_hands, write_trace, write_trials};
pub use view::{ViewSummary, ViewWriter, view_page, view_summary};
pub use vtk::{read_wire, write_collection, write_vessel, write_wire};
pub use web::{Limits, PageInputs, SceneView, Way, files};
