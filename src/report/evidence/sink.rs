//! The sink of a review: keeps the rows of its points and writes what they come to.

use std::sync::Arc;

use super::checks::CarriedOut;
use super::page::{Inputs, scenario_page};
use super::summary::EvidenceSummary;
use super::tornado::Tornado;
use crate::evidence::{Flip, PointRows, Review};
use crate::report::figures::picture;
use crate::report::film::{Reel, film};
use crate::report::setting::Setting;
use crate::report::sinks::{drawing, folder_in};
use crate::report::web::Gallery;
use crate::study::{Files, KeepError, Making, Point, Sink, StrategyLabel, StudySetup};
use crate::trial::{Prepared, run_trial, strategies};

/// Films of changed outcomes for each strategy, two pictures each.
const FILMS: usize = 2;

/// What a review is written with.
pub struct EvidenceSink<'a> {
    /// In which ways the scenario is run.
    pub review: Arc<Review>,
    /// The scenario as it is.
    pub prepared: &'a Prepared,
    /// The scene, for films.
    pub setting: Arc<Setting>,
    /// The checks that were carried out.
    pub carried: &'a CarriedOut,
    /// Half of the interval in % within which a result counts as converged.
    pub asked_per_cent: f64,
    /// The scene in words and the files.
    pub inputs: Inputs,
    /// The rows, by number of the point.
    points: Vec<PointRows>,
    setup: Option<StudySetup>,
    summary: Option<EvidenceSummary>,
    gallery: Gallery,
}

impl<'a> EvidenceSink<'a> {
    /// A sink that has seen nothing.
    #[must_use]
    pub fn new(
        review: Arc<Review>,
        prepared: &'a Prepared,
        setting: Setting,
        carried: &'a CarriedOut,
        asked_per_cent: f64,
        inputs: Inputs,
    ) -> Self {
        Self {
            review,
            prepared,
            setting: Arc::new(setting),
            carried,
            asked_per_cent,
            inputs,
            points: Vec::new(),
            setup: None,
            summary: None,
            gallery: Gallery::default(),
        }
    }

    /// Films of changed outcomes of a strategy: as the scenario is, and with the other setting.
    fn films(&self, strategy: usize, label: &StrategyLabel, flips: &[Flip]) -> Vec<Making> {
        let mut seen: Vec<u32> = Vec::new();
        let mut makings: Vec<Making> = Vec::new();
        // The finest settings come last and say most.
        for flip in flips.iter().rev() {
            if seen.len() == FILMS || seen.contains(&flip.trial) {
                continue;
            }
            seen.push(flip.trial);
            for (point, tag) in [(0, "as-it-is"), (flip.point, "finer")] {
                let (review, setting) = (Arc::clone(&self.review), Arc::clone(&self.setting));
                let (label, trial) = (label.clone(), flip.trial);
                makings.push(Box::new(move || {
                    strip(&review, &setting, (strategy, &label), trial, (point, tag))
                }));
            }
        }
        makings
    }
}

/// The film strip of a trial at a point; nothing where the trial leaves no complete record.
fn strip(
    review: &Review,
    setting: &Setting,
    (strategy, label): (usize, &StrategyLabel),
    trial: u32,
    (point, tag): (usize, &str),
) -> Result<Files, KeepError> {
    let scenario = review.scenario_at(point);
    let prepared = Prepared::new(&scenario).map_err(|error| KeepError::Output {
        what: "cannot film a trial".to_owned(),
        reason: error.to_string(),
    })?;
    let all = strategies(&scenario);
    let record = run_trial(&prepared, &all[strategy], trial, true);
    let Some(stage) = &setting.stage else {
        return Ok(Files::new());
    };
    let Some(reel) = Reel::new(setting, stage, label, &record) else {
        return Ok(Files::new());
    };
    let rows = [record.row];
    let (mut strip, _) = film(setting, stage, &scenario.name, label, &rows, &rows[0], reel);
    strip.name = format!("{}{trial}-{tag}", super::film_start(&label.name));
    strip.subtitle = format!(
        "{}, draw {trial}, {}: {}",
        scenario.name,
        review.words(point),
        rows[0].outcome.label()
    );
    picture("figures", &strip)
}

impl Sink for EvidenceSink<'_> {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        if self.setup.is_none() {
            self.setup = Some(point.setup.clone());
        }
        self.points.resize(point.number, Vec::new());
        self.points.push(point.rows.to_vec());
        Ok(Vec::new())
    }

    fn finish(&mut self, folder: &std::path::Path) -> Result<Vec<Making>, KeepError> {
        let Some(setup) = &self.setup else {
            return Ok(Vec::new());
        };
        folder_in(folder, "figures")?;
        let summary = EvidenceSummary::new(
            setup,
            &self.review,
            self.prepared,
            &self.points,
            self.carried,
            self.asked_per_cent,
        );
        let mut makings = Vec::new();
        for (number, label) in setup.strategies.iter().enumerate() {
            let own = summary
                .hangs_on
                .iter()
                .filter(|of| of.strategy == label.name);
            let varies = own.filter(|of| of.effects.iter().any(|e| e.swing(of.stated) > 0.0));
            let panels: Vec<_> = varies.cloned().collect();
            if !panels.is_empty() {
                makings.push(drawing(Tornado {
                    name: format!("tornado-{}", label.slug),
                    scenario: setup.scenario.clone(),
                    strategy: label.name.clone(),
                    panels,
                }));
            }
            let converged = summary.converged.iter().find(|c| c.strategy == label.name);
            if let Some(converged) = converged {
                makings.extend(self.films(number, label, &converged.flips));
            }
        }
        self.summary = Some(summary);
        Ok(makings)
    }

    fn made(&mut self, name: &str, bytes: &[u8]) {
        self.gallery.keep(name, bytes);
    }

    fn close(&mut self) -> Result<Files, KeepError> {
        let Some(summary) = &self.summary else {
            return Ok(Files::new());
        };
        let page = scenario_page(summary, self.carried, &self.inputs, &self.gallery);
        Ok(vec![
            (
                "evidence.json".to_owned(),
                super::json("evidence.json", summary)?,
            ),
            super::checks_file(self.carried)?,
            super::table_file(self.carried),
            ("report.html".to_owned(), page.into_bytes()),
        ])
    }

    fn page(&mut self) -> Option<String> {
        self.summary.as_ref().map(EvidenceSummary::words)
    }
}
