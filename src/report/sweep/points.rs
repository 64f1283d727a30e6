//! `points.csv`: a row for each strategy at each point.

use std::fs::File;
use std::path::{Path, PathBuf};

use toml::Value;

use crate::report::tables::failed;
use crate::scenario::sweep::model::shown;
use crate::study::KeepError;
use crate::study::intervals::exact_interval;
use crate::study::store::create_file;
use crate::study::sweep::{Kept, PointSummary, SweepPlan};
use crate::trial::result::Outcome;

/// The table in the making.
pub struct PointsTable<'p> {
    plan: &'p SweepPlan,
    path: PathBuf,
    writer: csv::Writer<File>,
}

/// Column with the success of every trial: 1, 0, or - for a trial that was not run.
const BY_TRIAL: &str = "reached_by_trial";

impl<'p> PointsTable<'p> {
    /// Creates the file with its head.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn create(path: &Path, plan: &'p SweepPlan) -> Result<Self, KeepError> {
        let file = create_file(path)?;
        let mut table = Self {
            plan,
            path: path.to_owned(),
            writer: csv::Writer::from_writer(file),
        };
        let mut head = vec!["point".to_owned(), "strategy_number".to_owned()];
        head.extend(plan.design.parameters.iter().map(|p| p.column.clone()));
        head.extend(["technique", "wire", "trials", "reached", "rate"].map(str::to_owned));
        head.extend(["ci95_low", "ci95_high"].map(str::to_owned));
        head.extend(Outcome::ALL.map(|outcome| format!("outcome_{}", outcome.key())));
        head.extend(
            [
                "peak_wall_force_median_mN",
                "peak_wall_force_p95_mN",
                "peak_push_force_median_mN",
                "peak_push_force_p95_mN",
                BY_TRIAL,
                "not_built",
            ]
            .map(str::to_owned),
        );
        table.write(&head)?;
        Ok(table)
    }

    fn write(&mut self, record: &[String]) -> Result<(), KeepError> {
        self.writer
            .write_record(record)
            .map_err(|error| failed(&self.path, error))
    }

    /// Adds a point: a row for each strategy.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn add(
        &mut self,
        point: usize,
        values: &[Value],
        kept: &Kept,
        summaries: &[PointSummary],
    ) -> Result<(), KeepError> {
        for summary in summaries {
            let label = &self.plan.strategies[summary.strategy];
            let rate = f64::from(summary.reached) / f64::from(summary.trials.max(1));
            let (low, high) = exact_interval(rate, f64::from(summary.trials), 0.95);
            let filled = |number: f64| {
                if summary.trials == 0 || !number.is_finite() {
                    String::new()
                } else {
                    number.to_string()
                }
            };
            let mut record = vec![point.to_string(), summary.strategy.to_string()];
            record.extend(values.iter().map(shown));
            record.extend([label.technique.clone(), label.wire.clone()]);
            record.extend([summary.trials.to_string(), summary.reached.to_string()]);
            record.extend([rate, low, high].map(filled));
            record.extend(summary.outcomes.map(|count| count.to_string()));
            let (wall, push) = (summary.peak_wall_force_mn, summary.peak_push_force_mn);
            record.extend([wall.median, wall.p95, push.median, push.p95].map(filled));
            let sign = |success: &Option<bool>| match success {
                Some(true) => '1',
                Some(false) => '0',
                None => '-',
            };
            record.push(summary.by_draw.iter().map(sign).collect());
            record.push(kept.refused.clone().unwrap_or_default());
            self.write(&record)?;
        }
        Ok(())
    }

    /// Closes the file.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn finish(mut self) -> Result<(), KeepError> {
        self.writer.flush().map_err(KeepError::at(&self.path))
    }
}
