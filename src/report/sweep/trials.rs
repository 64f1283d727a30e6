//! `trials.csv` and `trials.parquet`: a row for each trial of a sweep.

use std::path::Path;

use super::columns::{Column, Item, TrialAt, trial_columns};
use super::parquet::ParquetTable;
use crate::report::tables::Table;
use crate::study::{KeepError, Making, Point, Sink, StudySetup};

/// The tables of all trials.
#[derive(Default)]
pub(super) struct TrialTables {
    columns: Vec<Column>,
    csv: Table,
    parquet: Option<ParquetTable>,
}

impl Sink for TrialTables {
    fn begin(&mut self, folder: &Path, setup: &StudySetup) -> Result<(), KeepError> {
        self.columns = trial_columns(setup);
        let head = self.columns.iter().map(|column| &column.name);
        self.csv = Table::begin(folder.join("trials.csv"), head)?;
        let parquet = ParquetTable::create(&folder.join("trials.parquet"), &self.columns)?;
        self.parquet = Some(parquet);
        Ok(())
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let values = point.setup.design.point(point.number);
        for (strategy, rows) in point.rows.iter().enumerate() {
            for row in rows {
                let at = TrialAt {
                    point: point.number,
                    values: &values,
                    strategy,
                    row,
                };
                let items: Vec<Item> = self.columns.iter().map(|c| c.of(&at)).collect();
                self.csv.add(items.iter().map(Item::text))?;
                if let Some(parquet) = &mut self.parquet {
                    parquet.add(&items)?;
                }
            }
        }
        Ok(Vec::new())
    }

    fn finish(&mut self, _: &Path) -> Result<Vec<Making>, KeepError> {
        self.csv.finish()?;
        self.parquet.take().map_or(Ok(()), ParquetTable::finish)?;
        Ok(Vec::new())
    }
}
