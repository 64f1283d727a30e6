//! `points.csv`: a row for each strategy at each point.

use std::path::Path;

use super::columns::SO_FAR;
use crate::report::tables::Table;
use crate::scenario::sweep::model::shown;
use crate::study::intervals::exact_interval;
use crate::study::sweep::summarise_point;
use crate::study::{KeepError, Making, Point, Sink, StudySetup};
use crate::trial::result::Outcome;

/// The table.
#[derive(Default)]
pub(super) struct PointsTable(Table);

/// Column with the success of every trial: 1, 0, or - for a trial that was not run.
const BY_TRIAL: &str = "reached_by_trial";

impl Sink for PointsTable {
    fn begin(&mut self, folder: &Path, setup: &StudySetup) -> Result<(), KeepError> {
        let mut head = vec!["point".to_owned(), "strategy_number".to_owned()];
        head.extend(setup.design.parameters.iter().map(|p| p.column.clone()));
        head.extend(["technique", "wire", "trials", "reached", "rate"].map(str::to_owned));
        head.extend(["ci95_low", "ci95_high"].map(str::to_owned));
        head.extend(Outcome::ALL.map(|outcome| format!("outcome_{}", outcome.key())));
        head.extend(
            [
                "peak_wall_force_median_mN",
                "peak_wall_force_p95_mN",
                "peak_push_force_median_mN",
                "peak_push_force_p95_mN",
                "peak_vessel_moved_median_mm",
                "peak_vessel_straightened_median_deg",
                "peak_vessel_compression_median",
                "vessel_folds",
                BY_TRIAL,
                "not_built",
            ]
            .map(str::to_owned),
        );
        head.extend(setup.of.so_far().map(|_| SO_FAR.to_owned()));
        self.0 = Table::begin(folder.join("points.csv"), head)?;
        Ok(())
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let values = point.setup.design.point(point.number);
        for summary in summarise_point(point.rows) {
            let label = &point.setup.strategies[summary.strategy];
            let rate = f64::from(summary.reached) / f64::from(summary.trials.max(1));
            let (low, high) = exact_interval(rate, f64::from(summary.trials), 0.95);
            let filled = |number: f64| {
                if summary.trials == 0 || !number.is_finite() {
                    String::new()
                } else {
                    number.to_string()
                }
            };
            let mut record = vec![point.number.to_string(), summary.strategy.to_string()];
            record.extend(values.iter().map(shown));
            record.extend([label.technique.clone(), label.wire.clone()]);
            record.extend([summary.trials.to_string(), summary.reached.to_string()]);
            record.extend([rate, low, high].map(filled));
            record.extend(summary.outcomes.map(|count| count.to_string()));
            let (wall, push) = (summary.peak_wall_force_mn, summary.peak_push_force_mn);
            record.extend([wall.median, wall.p95, push.median, push.p95].map(filled));
            let vessel = summary.vessel.as_ref();
            let medians = [
                vessel.map(|v| v.moved_mm.median),
                vessel.map(|v| v.straightened_deg.median),
                vessel.map(|v| v.compression.median),
                vessel.map(|v| f64::from(v.folds)),
            ];
            record.extend(medians.map(|value| filled(value.unwrap_or(f64::NAN))));
            let sign = |success: &Option<bool>| match success {
                Some(true) => '1',
                Some(false) => '0',
                None => '-',
            };
            record.push(summary.by_draw.iter().map(sign).collect());
            record.push(point.refused.unwrap_or_default().to_owned());
            record.extend(point.setup.of.so_far().map(str::to_owned));
            self.0.add(record)?;
        }
        Ok(Vec::new())
    }

    fn finish(&mut self, _: &Path) -> Result<Vec<Making>, KeepError> {
        self.0.finish()?;
        Ok(Vec::new())
    }
}
