//! `sweep.json`, `report.md`, `report.html`, `race.csv` and `figures/`: a sweep in sums, in words and in pictures.

use std::path::Path;

use super::columns::trial_columns;
use super::figures::drawings;
use super::page::sweep_page;
use super::regression::regressions;
use super::successes::Successes;
use super::summary::{ColumnNote, StrategySensitivities, SweepSummary};
use super::web::web_page;
use crate::report::CAUTION;
use crate::report::tables::Table;
use crate::report::web::Gallery;
use crate::scenario::sweep::model::shown;
use crate::study::store::write_file;
use crate::study::sweep::{Digest, Race, RaceResult, best_fields, summarise_point};
use crate::study::{Files, KeepError, Making, Point, Sink, StudySetup};

/// What is summed up over all points.
pub(super) struct Sums<'p> {
    setup: &'p StudySetup,
    digest: Digest<'p>,
    successes: Successes,
    race: Option<Race>,
    /// What is printed at the end.
    page: Option<String>,
    /// Text and figures of `report.html`.
    text: String,
    gallery: Gallery,
}

impl<'p> Sums<'p> {
    pub(super) fn new(setup: &'p StudySetup) -> Self {
        let search = setup.search.as_ref();
        Self {
            setup,
            digest: Digest::new(setup),
            successes: Successes::default(),
            race: search.map(|search| Race::new(setup, search)),
            page: None,
            text: String::new(),
            gallery: Gallery::default(),
        }
    }

    fn summary(&mut self) -> SweepSummary {
        let (setup, digest) = (self.setup, &self.digest);
        let fields = digest.cells();
        let totals = digest.totals();
        // A part of a design says nothing about its parameters' shares.
        let sensitivities = match setup.of.so_far() {
            None => digest.sensitivities(),
            Some(_) => Vec::new(),
        };
        SweepSummary {
            setup: setup.clone(),
            caution: CAUTION.to_owned(),
            trials_in_all: totals.iter().map(|t| t.trials).sum(),
            unresolved_in_all: totals.iter().map(|t| t.unresolved).sum(),
            not_built: digest.refused().clone(),
            comparisons: digest.comparisons(),
            effects: digest.effects(),
            best: best_fields(&fields),
            fields,
            regressions: regressions(&self.successes, setup, &totals),
            totals,
            sensitivities: sensitivities
                .into_iter()
                .map(|(strategy, parameters)| StrategySensitivities {
                    strategy,
                    parameters,
                })
                .collect(),
            race: self.race.take().map(Race::result),
            columns: trial_columns(setup).iter().map(ColumnNote::of).collect(),
        }
    }
}

impl Sink for Sums<'_> {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let summaries = summarise_point(point.rows);
        self.successes.add(point.number, &summaries);
        self.digest.add(point.number, point.refused, &summaries);
        if let Some(race) = &mut self.race {
            race.add(point);
        }
        Ok(Vec::new())
    }

    fn finish(&mut self, folder: &Path) -> Result<Vec<Making>, KeepError> {
        let summary = self.summary();
        let write = |name: &str, text: &str| write_file(&folder.join(name), text);
        let json = serde_json::to_string_pretty(&summary)
            .map_err(|error| KeepError::at(&folder.join("sweep.json"))(error.into()))?;
        write("sweep.json", &(json + "\n"))?;
        let page = sweep_page(&summary);
        write("report.md", &page)?;
        self.text.clone_from(&page);
        if let Some(race) = &summary.race {
            write_race(folder, self.setup, race)?;
        }
        // The columns are for those who read the tables.
        let short = page.split("## Columns").next().unwrap_or_default();
        self.page = Some(format!("{short}{}\n", summary.caution));
        drawings(folder, &summary)
    }

    fn made(&mut self, name: &str, bytes: &[u8]) {
        self.gallery.keep(name, bytes);
    }

    fn close(&mut self) -> Result<Files, KeepError> {
        let html = web_page(self.setup, &self.text, &self.gallery);
        Ok(vec![("report.html".to_owned(), html.into_bytes())])
    }

    fn page(&mut self) -> Option<String> {
        self.page.take()
    }
}

/// `race.csv`: the candidates left at the end, the winner first.
fn write_race(folder: &Path, setup: &StudySetup, race: &RaceResult) -> Result<(), KeepError> {
    let mut head = vec!["point"];
    head.extend(setup.design.parameters.iter().map(|p| p.column.as_str()));
    head.extend([
        "technique",
        "wire",
        "trials",
        "reached",
        "unresolved",
        "only_best",
        "only_this",
    ]);
    let mut table = Table::begin(folder.join("race.csv"), head)?;
    for standing in &race.left {
        let label = &setup.strategies[standing.strategy];
        let mut record = vec![standing.point.to_string()];
        record.extend(setup.design.point(standing.point).iter().map(shown));
        record.extend([label.technique.clone(), label.wire.clone()]);
        let counts = [
            standing.trials,
            standing.reached,
            standing.unresolved,
            standing.only_best,
            standing.only_this,
        ];
        record.extend(counts.map(|count| count.to_string()));
        table.add(record)?;
    }
    table.finish()
}
