//! `figures/film-*` and `figures/moving-*`: a typical trial of each strategy, in six moments and moving.

use std::collections::BTreeMap;

use super::{drawing, folder_in};
use crate::report::film::{Reel, film, typical};
use crate::report::setting::Settings;
use crate::study::{KeepError, Making, Point, Sink, StudySetup, Trial};
use crate::trial::result::TrialRow;

/// Film strips: of every recorded trial its frames are kept, because which one is typical is known
/// only at the end.
pub(super) struct Films {
    settings: Settings,
    reels: BTreeMap<(usize, u32), Reel>,
}

impl Films {
    pub(super) fn new(settings: Settings) -> Self {
        Self {
            settings,
            reels: BTreeMap::new(),
        }
    }
}

impl Sink for Films {
    fn trial(&mut self, trial: Trial<'_>) -> Result<(), KeepError> {
        let setting = self.settings.of(trial.strategy);
        let Some(stage) = &setting.stage else {
            return Ok(());
        };
        if let Some(reel) = Reel::new(setting, stage, trial.label, trial.record) {
            let key = (trial.strategy, trial.record.row.trial);
            self.reels.insert(key, reel);
        }
        Ok(())
    }

    /// The typical trial of each strategy, unless nothing is to be recorded.
    fn wanted(&self, setup: &StudySetup, rows: &[Vec<TrialRow>]) -> Vec<(usize, u32)> {
        if self.settings.of(0).stage.is_none() || setup.recorded == 0 {
            return Vec::new();
        }
        let typical = rows.iter().map(|rows| typical(rows)).enumerate();
        typical
            .filter_map(|(strategy, row)| Some((strategy, row?.trial)))
            .filter(|(_, trial)| *trial >= setup.recorded)
            .collect()
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        folder_in(point.folder, "figures")?;
        let mut makings = Vec::new();
        for (strategy, rows) in point.rows.iter().enumerate() {
            let reel = typical(rows).and_then(|row| {
                let reel = self.reels.remove(&(strategy, row.trial))?;
                Some((row, reel))
            });
            let setting = self.settings.of(strategy);
            if let (Some(stage), Some((row, reel))) = (&setting.stage, reel) {
                let label = &point.setup.strategies[strategy];
                let (strip, moving) = film(
                    setting,
                    stage,
                    &point.setup.scenario,
                    label,
                    rows,
                    row,
                    reel,
                );
                makings.push(drawing(strip));
                makings.push(Box::new(move || moving.files("figures")));
            }
        }
        Ok(makings)
    }
}
