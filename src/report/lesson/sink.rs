//! The sink of a lesson: it holds the claims against the trials and writes the page.

use std::collections::BTreeMap;
use std::io;
use std::sync::{Arc, Mutex, PoisonError};

use super::RESULT_FILE;
use super::result::LessonResult;
use crate::report::setting::Setting;
use crate::report::tables::write_trials;
use crate::report::web::playback::{Grid, Playback, PlayedTrial, Shown};
use crate::report::web::{Gallery, LessonShown, lesson_page};
use crate::scenario::lesson::LoadedLesson;
use crate::study::lesson::{FalseClaim, LessonPages, MeasuredPages};
use crate::study::store::write_file;
use crate::study::{Files, KeepError, Making, Point, Sink, Trial};

/// A claim that the trials do not bear out, for who has started the lesson.
#[derive(Debug, Clone, Default)]
pub struct Broken(Arc<Mutex<Option<FalseClaim>>>);

impl Broken {
    /// The claim, if there is one.
    #[must_use]
    pub fn take(&self) -> Option<FalseClaim> {
        let mut held = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        held.take()
    }

    fn set(&self, claim: FalseClaim) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(claim);
    }
}

/// The lesson as a page.
pub struct LessonSink<'l> {
    lesson: &'l LoadedLesson,
    pages: &'l LessonPages,
    settings: Vec<Arc<Setting>>,
    grids: Vec<Grid>,
    shown: LessonShown,
    broken: Broken,
    trials: BTreeMap<(usize, u32), PlayedTrial>,
    recorded: u32,
    gallery: Gallery,
    result: Option<LessonResult>,
}

impl<'l> LessonSink<'l> {
    /// A sink of this lesson, whose pages have these scenes.
    #[must_use]
    pub fn new(
        (lesson, pages): (&'l LoadedLesson, &'l LessonPages),
        settings: Vec<Arc<Setting>>,
        shown: LessonShown,
        broken: Broken,
    ) -> Self {
        let grids = settings.iter().map(|s| Grid::around(&s.outline));
        Self {
            lesson,
            pages,
            grids: grids.collect(),
            settings,
            shown,
            broken,
            trials: BTreeMap::new(),
            recorded: lesson.spec.recorded,
            gallery: Gallery::default(),
            result: None,
        }
    }
}

impl Sink for LessonSink<'_> {
    fn trial(&mut self, trial: Trial<'_>) -> Result<(), KeepError> {
        let page = trial.strategy;
        let (setting, grid) = (&self.settings[page], &self.grids[page]);
        let number = trial.record.row.trial;
        // The same draws of every page, so that any can stand beside that of another page.
        if let Some(stage) = setting.stage.as_ref().filter(|_| number < self.recorded)
            && let Some(played) = PlayedTrial::new(setting, stage, grid, trial.label, trial.record)
        {
            self.trials.insert((page, number), played);
        }
        Ok(())
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let path = |name: &str| point.folder.join(name);
        let measured = MeasuredPages {
            spec: &self.lesson.spec,
            pages: self.pages,
            rows: point.rows,
        };
        let result = LessonResult::new(&measured, point.setup).map_err(|claim| {
            let reason = claim.to_string();
            self.broken.set(claim);
            KeepError::Output {
                what: "the trials do not bear the lesson out".to_owned(),
                reason,
            }
        })?;
        write_trials(&path("trials.csv"), point.rows.iter().flatten())?;
        let file = path(RESULT_FILE);
        let json = serde_json::to_string_pretty(&result)
            .map_err(|e| KeepError::at(&file)(io::Error::from(e)))?;
        write_file(&file, json + "\n")?;
        self.result = Some(result);
        Ok(Vec::new())
    }

    fn made(&mut self, name: &str, bytes: &[u8]) {
        self.gallery.keep(name, bytes);
    }

    fn close(&mut self) -> Result<Files, KeepError> {
        let Some(result) = &self.result else {
            return Ok(Vec::new());
        };
        let mut trials = std::mem::take(&mut self.trials);
        let mut scenes = Vec::new();
        for (page, setting) in self.settings.iter().enumerate() {
            let later = trials.split_off(&(page + 1, 0));
            let own = std::mem::replace(&mut trials, later);
            if let Some(stage) = &setting.stage {
                scenes.push(Shown {
                    setting,
                    stage,
                    grid: self.grids[page],
                    trials: own.into_values().collect(),
                });
            }
        }
        let is_recorded = scenes.iter().any(|scene| !scene.trials.is_empty());
        let playback = is_recorded.then(|| Playback::new(scenes));
        let page = lesson_page(result, &self.shown, playback.as_ref(), &self.gallery);
        Ok(vec![("lesson.html".to_owned(), page.into_bytes())])
    }

    fn page(&mut self) -> Option<String> {
        self.result.as_ref().map(LessonResult::printed)
    }
}
