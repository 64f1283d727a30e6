//! `wall-force-map.csv` and its figure: where the trials press on the vessel, and how hard.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{drawing, folder_in};
use crate::report::figures::{WallMap, WallMark};
use crate::report::film::Stage;
use crate::report::setting::Setting;
use crate::report::tables::write_headed;
use crate::study::{KeepError, Making, MapField, Point, Sink, force_map};
use crate::trial::result::Pressed;

/// One row of `wall-force-map.csv`: how hard the trials of a strategy pressed on a stretch of a
/// branch. A stretch on which nothing pressed has no row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WallMapRow {
    /// Strategy: technique and wire.
    pub strategy: String,
    /// Branch.
    pub branch: String,
    /// Station at which the stretch begins, in mm from the branch's start.
    pub from_mm: f64,
    /// Station at which it ends.
    pub to_mm: f64,
    /// Trials that pressed there.
    pub trials: u32,
    /// Largest wall force of any of them, in mN: that of wire and catheter on one millimetre.
    #[serde(rename = "largest_mN")]
    pub largest_mn: f64,
    /// Median of the largest wall force of each of them there, in mN.
    #[serde(rename = "median_mN")]
    pub median_mn: f64,
}

/// The columns of [`WallMapRow`].
const HEADS: [&str; 7] = [
    "strategy",
    "branch",
    "from_mm",
    "to_mm",
    "trials",
    "largest_mN",
    "median_mN",
];

/// The map of wall forces.
pub(super) struct WallMaps(pub Arc<Setting>);

impl Sink for WallMaps {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        folder_in(point.folder, "figures")?;
        let setup = point.setup;
        let fields = force_map(point.pressed);
        let branches = &self.0.outline.branches;
        let row = |field: &MapField| {
            let from_mm = f64::from(field.stretch) * Pressed::STRETCH_MM;
            Some(WallMapRow {
                strategy: setup.strategies.get(field.strategy)?.name.clone(),
                branch: branches.get(field.branch)?.name.clone(),
                from_mm,
                to_mm: from_mm + Pressed::STRETCH_MM,
                trials: field.trials,
                largest_mn: field.largest_mn,
                median_mn: field.median_mn,
            })
        };
        let rows: Vec<WallMapRow> = fields.iter().filter_map(row).collect();
        write_headed(&point.folder.join("wall-force-map.csv"), &HEADS, &rows)?;
        let stage = self.0.stage.as_ref();
        let target = self.0.outline.target.as_str();
        Ok(vec![drawing(WallMap {
            scenario: setup.scenario.clone(),
            target: target.to_owned(),
            strategies: (setup.strategies.iter())
                .map(|s| (s.technique.clone(), s.wire.clone()))
                .collect(),
            vessels: branches.iter().map(|b| b.name.clone()).collect(),
            marks: stage.map_or_else(Vec::new, |stage| marks(stage, target)),
            fields,
        })])
    }
}

/// Where the guide ends, where the target leaves its parent, and its ostium.
fn marks(stage: &Stage, target: &str) -> Vec<WallMark> {
    let mark = |vessel: &str, station_mm, guide| WallMark {
        vessel: vessel.to_owned(),
        station_mm,
        guide,
    };
    let mut marks = vec![mark(&stage.guide.0, stage.guide.1, true)];
    if let Some((parent, station_mm)) = &stage.parent {
        marks.push(mark(parent, *station_mm, false));
        marks.push(mark(target, stage.ostium_station_mm, false));
    }
    marks
}
