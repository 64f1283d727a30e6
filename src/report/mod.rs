//! Tables, figures and exports: everything that a finished study leaves in its folder.
//!
//! In: rows and records of a study, the outline of the scene. Out: `summary.json`,
//! `trials.csv`, `wall-force-map.csv`, `report.md`, `traces/`, `hands/`, `shapes/`, `vessel.vtp`, `figures/`; and the scene in
//! words for a scenario that is only checked; and what bench tests leave behind. Nothing here
//! decides or computes anything that is not already in a row; nothing here is imported
//! upstream.

pub mod assay;
pub mod export;
pub mod figures;
pub mod film;
mod outline;
mod page;
mod pairs;
pub mod scene;
pub mod starter;
mod summary;
pub mod sweep;
mod tables;
pub mod view;
mod vtk;
mod wall_map;
mod writer;

pub use outline::{OutlineBranch, OutlinePoint, OutlineWall, SceneOutline};
pub use page::report_page;
pub use scene::CAUTION;
pub use summary::{Summary, summary};
pub use tables::{read_hands, read_trace, write_hands, write_trace, write_trials};
pub use view::{ViewSummary, ViewWriter, view_page, view_summary};
pub use vtk::{read_wire, write_collection, write_vessel, write_wire};
pub use wall_map::WallMapRow;
pub use writer::StudyWriter;
