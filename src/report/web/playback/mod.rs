//! What the page plays: the lumen, and recorded trials in few bytes.

mod chart;
mod ending;
mod pack;
mod scene;
mod thin;
mod trial;

pub use self::pack::Grid;
pub use self::scene::PlayedScene;
pub use self::trial::PlayedTrial;

use serde::Serialize;

use crate::report::film::Stage;
use crate::report::setting::Setting;

/// Bytes that all recorded trials of a page may take together.
const ROOM: usize = 3_500_000;

/// Everything that the page plays.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Playback {
    /// Vessel, views, balloons.
    pub scene: PlayedScene,
    /// The trials, strategy by strategy.
    pub trials: Vec<PlayedTrial>,
    /// Recorded trials for which there is no room.
    pub left_out: usize,
}

impl Playback {
    /// As many of the trials as there is room for: first the lowest numbers of every strategy.
    #[must_use]
    pub fn new(setting: &Setting, stage: &Stage, grid: &Grid, trials: Vec<PlayedTrial>) -> Self {
        let all = trials.len();
        let mut ranks: Vec<(usize, usize)> = Vec::new();
        for (number, trial) in trials.iter().enumerate() {
            let earlier = trials[..number].iter();
            let rank = earlier.filter(|t| t.strategy == trial.strategy).count();
            ranks.push((rank, number));
        }
        ranks.sort_unstable();
        let mut left = ROOM;
        let mut kept: Vec<usize> = Vec::new();
        for (_, number) in ranks {
            let size = trials[number].bytes();
            if size <= left {
                left -= size;
                kept.push(number);
            }
        }
        let numbered = trials.into_iter().enumerate();
        let trials = numbered.filter(|(number, _)| kept.contains(number));
        let trials: Vec<PlayedTrial> = trials.map(|(_, trial)| trial).collect();
        Self {
            left_out: all - trials.len(),
            scene: PlayedScene::new(setting, stage, grid, &trials),
            trials,
        }
    }

    /// As JSON that may stand in a page.
    #[must_use]
    pub fn json(&self) -> String {
        let text = serde_json::to_string(self).unwrap_or_default();
        // Neither a tag nor a comment may begin in a script.
        text.replace('<', "\\u003c")
    }
}
