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
    /// Wall force in mN at the end of the scale of colours.
    #[serde(rename = "scale_mN")]
    pub scale_mn: f64,
    /// Vessel, views, balloons of each scene.
    pub scenes: Vec<PlayedScene>,
    /// The trials, strategy by strategy.
    pub trials: Vec<PlayedTrial>,
    /// Recorded trials for which there is no room.
    pub left_out: usize,
}

/// A scene with the trials that were recorded in it.
#[derive(Debug, Clone)]
pub struct Shown<'s> {
    /// The scene.
    pub setting: &'s Setting,
    /// Its stage.
    pub stage: &'s Stage,
    /// The box in which its places are counted.
    pub grid: Grid,
    /// Its trials, strategy by strategy.
    pub trials: Vec<PlayedTrial>,
}

impl Playback {
    /// As many of the trials as there is room for: first the lowest numbers of every strategy.
    #[must_use]
    pub fn new(shown: Vec<Shown<'_>>) -> Self {
        let all = || shown.iter().flat_map(|shown| &shown.trials);
        let sizes: Vec<usize> = all().map(PlayedTrial::bytes).collect();
        let mut ranks: Vec<(usize, usize)> = Vec::new();
        for (number, trial) in all().enumerate() {
            let earlier = all().take(number);
            let rank = earlier.filter(|t| t.strategy == trial.strategy).count();
            ranks.push((rank, number));
        }
        ranks.sort_unstable();
        let mut left = ROOM;
        let mut is_kept = vec![false; sizes.len()];
        for (_, number) in ranks {
            if sizes[number] <= left {
                left -= sizes[number];
                is_kept[number] = true;
            }
        }
        let mut playback = Self {
            scale_mn: 0.0,
            scenes: Vec::new(),
            trials: Vec::new(),
            left_out: is_kept.iter().filter(|kept| !**kept).count(),
        };
        let mut kept = is_kept.into_iter();
        for shown in shown {
            let scene = PlayedScene::new(shown.setting, shown.stage, &shown.grid);
            let scenes = &mut playback.scenes;
            // A scene that is the same as an earlier one stands there once.
            let known = scenes.iter().position(|known| *known == scene);
            let number = known.unwrap_or_else(|| {
                scenes.push(scene);
                scenes.len() - 1
            });
            for trial in shown.trials {
                if kept.next() == Some(true) {
                    playback.trials.push(PlayedTrial {
                        scene: number,
                        ..trial
                    });
                }
            }
        }
        playback.scale_mn = scene::scale(&playback.trials);
        // One scale for all, so that two trials side by side can be compared.
        let forces = playback.trials.iter().map(|trial| trial.curves.forces());
        let range = forces.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
        for trial in &mut playback.trials {
            trial.curves.range = range;
            trial.chart = trial.curves.svg();
        }
        playback
    }

    /// As JSON that may stand in a page.
    #[must_use]
    pub fn json(&self) -> String {
        let text = serde_json::to_string(self).unwrap_or_default();
        // Neither a tag nor a comment may begin in a script.
        text.replace('<', "\\u003c")
    }
}
