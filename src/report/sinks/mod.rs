//! What the study of a scenario leaves behind, a file for each sink, and the list of them; those of
//! a sweep are in `report/sweep/`.
//!
//! A further output format is a file here with a [`Sink`] and a line in [`ALL`].

mod axes;
mod charts;
mod films;
mod recorded;
mod shapes;
mod steps;
mod tables;
mod traces;
mod vessel;
mod wall_map;
mod web;

use std::path::Path;
use std::sync::Arc;

use super::figures::{Figure, picture};
use super::setting::{Setting, Settings};
use crate::study::{KeepError, Making, Sink, Sinks, StrategyLabel};

pub use wall_map::WallMapRow;

/// Makes a sink for a scene.
type New = fn(&Arc<Setting>) -> Box<dyn Sink>;

/// Every sink of a study, in the order in which they write.
const ALL: &[New] = &[
    |_| Box::new(traces::Traces),
    |_| Box::new(shapes::Shapes),
    |setting| Box::new(axes::Axes(Settings::one(setting))),
    |setting| Box::new(tables::Tables::new(setting)),
    |setting| Box::new(vessel::Vessel(setting.clone())),
    |setting| Box::new(charts::Charts(setting.clone())),
    |setting| Box::new(films::Films::new(Settings::one(setting))),
    |setting| Box::new(recorded::RecordedTrials::new(setting)),
    |setting| Box::new(wall_map::WallMaps(setting.clone())),
    |setting| Box::new(web::WebPage::new(setting)),
];

/// The sinks of a study of this scene.
#[must_use]
pub fn sinks(setting: Setting) -> Sinks<'static> {
    let setting = Arc::new(setting);
    ALL.iter().map(|new| new(&setting)).collect()
}

/// What a study of several scenes leaves of its recorded trials: traces, shapes, films.
pub(super) fn recorded(settings: &Settings) -> Sinks<'static> {
    vec![
        Box::new(traces::Traces),
        Box::new(shapes::Shapes),
        Box::new(axes::Axes(settings.clone())),
        Box::new(films::Films::new(settings.clone())),
    ]
}

/// A figure of the folder `figures`, drawn when the study is finished.
pub(super) fn drawing(figure: impl Figure + 'static) -> Making {
    Box::new(move || picture("figures", &figure))
}

/// How the files of a recorded trial are called, without ending.
fn trial_name(strategy: &StrategyLabel, trial: u32) -> String {
    format!("{}-{trial}", strategy.slug)
}

/// Makes a folder in another one.
pub(super) fn folder_in(folder: &Path, name: &str) -> Result<(), KeepError> {
    let path = folder.join(name);
    std::fs::create_dir_all(&path).map_err(KeepError::at(&path))
}
