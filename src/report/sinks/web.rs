//! `report.html`: the study as a page that plays its recorded trials.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::report::setting::Setting;
use crate::report::summary::Summary;
use crate::report::web::playback::{Grid, Playback, PlayedTrial, Shown};
use crate::report::web::{Gallery, study_page};
use crate::study::{Files, KeepError, Making, Point, Sink, StrategyLabel, Trial};
use crate::trial::result::TrialRow;

/// The page.
pub(super) struct WebPage {
    setting: Arc<Setting>,
    grid: Grid,
    trials: BTreeMap<(usize, u32), PlayedTrial>,
    gallery: Gallery,
    study: Option<Known>,
}

/// What is known once all trials are.
struct Known {
    summary: Summary,
    strategies: Vec<StrategyLabel>,
    rows: Vec<Vec<TrialRow>>,
}

impl WebPage {
    pub(super) fn new(setting: &Arc<Setting>) -> Self {
        Self {
            grid: Grid::around(&setting.outline),
            setting: setting.clone(),
            trials: BTreeMap::new(),
            gallery: Gallery::default(),
            study: None,
        }
    }
}

impl Sink for WebPage {
    fn trial(&mut self, trial: Trial<'_>) -> Result<(), KeepError> {
        let Some(stage) = &self.setting.stage else {
            return Ok(());
        };
        let (label, record) = (trial.label, trial.record);
        if let Some(played) = PlayedTrial::new(&self.setting, stage, &self.grid, label, record) {
            let key = (trial.strategy, record.row.trial);
            self.trials.insert(key, played);
        }
        Ok(())
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        self.study = Some(Known {
            summary: self.setting.summary(point.setup, point.rows).clone(),
            strategies: point.setup.strategies.clone(),
            rows: point.rows.to_vec(),
        });
        Ok(Vec::new())
    }

    fn made(&mut self, name: &str, bytes: &[u8]) {
        self.gallery.keep(name, bytes);
    }

    fn close(&mut self) -> Result<Files, KeepError> {
        let Some(known) = self.study.take() else {
            return Ok(Vec::new());
        };
        let trials: Vec<PlayedTrial> = std::mem::take(&mut self.trials).into_values().collect();
        let stage = self.setting.stage.as_ref().filter(|_| !trials.is_empty());
        let playback = stage.map(|stage| {
            Playback::new(vec![Shown {
                setting: &self.setting,
                stage,
                grid: self.grid,
                trials,
            }])
        });
        let page = study_page(
            &self.setting,
            &known.summary,
            &known.strategies,
            &known.rows,
            playback.as_ref(),
            &self.gallery,
        );
        Ok(vec![("report.html".to_owned(), page.into_bytes())])
    }
}
