//! Writes everything that a finished sweep leaves behind, from rows in the order of the points.

use std::path::Path;

use super::columns::{TrialAt, trial_columns};
use super::figures::draw;
use super::page::sweep_page;
use super::parquet::ParquetTable;
use super::points::PointsTable;
use super::regression::regressions;
use super::successes::Successes;
use super::summary::{ColumnNote, StrategySensitivities, SweepSummary};
use crate::report::CAUTION;
use crate::report::tables::failed;
use crate::scenario::sweep::model::shown;
use crate::study::KeepError;
use crate::study::store::{create_file, write_file};
use crate::study::sweep::{Digest, Kept, RaceResult, SweepPlan, best_fields, summarise_point};

/// Writes tables, `sweep.json`, `report.md` and figures into `folder`. The bytes depend on plan
/// and rows alone.
///
/// # Errors
///
/// What could not be read, made or written.
pub fn write_sweep(
    folder: &Path,
    plan: &SweepPlan,
    rows: impl Iterator<Item = Result<(usize, Kept), KeepError>>,
    race: Option<RaceResult>,
) -> Result<SweepSummary, KeepError> {
    let columns = trial_columns(plan);
    let path = folder.join("trials.csv");
    let file = create_file(&path)?;
    let mut table = csv::Writer::from_writer(file);
    let head = columns.iter().map(|column| column.name.as_str());
    table
        .write_record(head)
        .map_err(|error| failed(&path, error))?;
    let mut parquet = ParquetTable::create(&folder.join("trials.parquet"), &columns)?;
    let mut points = PointsTable::create(&folder.join("points.csv"), plan)?;
    let mut successes = Successes::default();
    let mut digest = Digest::new(plan);
    for point in rows {
        let (point, kept) = point?;
        let values = plan.design.point(point);
        for (&(strategy, _), row) in &kept.rows {
            let at = TrialAt {
                point,
                values: &values,
                strategy,
                row,
            };
            let items: Vec<_> = columns.iter().map(|column| column.of(&at)).collect();
            let texts = items.iter().map(super::columns::Item::text);
            table
                .write_record(texts)
                .map_err(|error| failed(&path, error))?;
            parquet.add(&items)?;
        }
        let summaries = summarise_point(&kept, plan.strategies.len());
        points.add(point, &values, &kept, &summaries)?;
        successes.add(point, &summaries);
        digest.add(point, &kept, &summaries);
    }
    table.flush().map_err(KeepError::at(&path))?;
    parquet.finish()?;
    points.finish()?;

    let fields = digest.cells();
    let totals = digest.totals();
    let summary = SweepSummary {
        plan: plan.clone(),
        caution: CAUTION.to_owned(),
        trials_in_all: totals.iter().map(|t| t.trials).sum(),
        unresolved_in_all: totals.iter().map(|t| t.unresolved).sum(),
        not_built: digest.refused().clone(),
        comparisons: digest.comparisons(),
        effects: digest.effects(),
        best: best_fields(&fields),
        fields,
        regressions: regressions(&successes, plan, &totals),
        totals,
        sensitivities: digest
            .sensitivities()
            .into_iter()
            .map(|(strategy, parameters)| StrategySensitivities {
                strategy,
                parameters,
            })
            .collect(),
        race,
        columns: columns.iter().map(ColumnNote::of).collect(),
    };
    let write = |name: &str, text: String| write_file(&folder.join(name), text);
    let json = serde_json::to_string_pretty(&summary)
        .map_err(|error| KeepError::at(&folder.join("sweep.json"))(error.into()))?;
    write("sweep.json", json + "\n")?;
    write("report.md", sweep_page(&summary))?;
    if let Some(race) = &summary.race {
        write_race(folder, plan, race)?;
    }
    draw(folder, &summary)?;
    Ok(summary)
}

/// `race.csv`: the candidates left at the end, the winner first.
fn write_race(folder: &Path, plan: &SweepPlan, race: &RaceResult) -> Result<(), KeepError> {
    let path = folder.join("race.csv");
    let file = create_file(&path)?;
    let mut table = csv::Writer::from_writer(file);
    let mut head = vec!["point"];
    head.extend(plan.design.parameters.iter().map(|p| p.column.as_str()));
    head.extend([
        "technique",
        "wire",
        "trials",
        "reached",
        "unresolved",
        "only_best",
        "only_this",
    ]);
    table
        .write_record(&head)
        .map_err(|error| failed(&path, error))?;
    for standing in &race.left {
        let label = &plan.strategies[standing.strategy];
        let mut record = vec![standing.point.to_string()];
        record.extend(plan.design.point(standing.point).iter().map(shown));
        record.extend([label.technique.clone(), label.wire.clone()]);
        let counts = [
            standing.trials,
            standing.reached,
            standing.unresolved,
            standing.only_best,
            standing.only_this,
        ];
        record.extend(counts.map(|count| count.to_string()));
        table
            .write_record(&record)
            .map_err(|error| failed(&path, error))?;
    }
    table.flush().map_err(KeepError::at(&path))
}
