//! `trials.csv` and `trials.parquet`: a row for each trial of a sweep.

use std::fs::File;
use std::path::{Path, PathBuf};

use super::columns::{Column, Item, TrialAt, trial_columns};
use super::parquet::ParquetTable;
use crate::report::tables::failed;
use crate::study::store::create_file;
use crate::study::{KeepError, Making, Point, Sink, StudySetup};

/// The tables of all trials.
pub(super) struct TrialTables {
    columns: Vec<Column>,
    tables: Option<Tables>,
}

/// The tables in the making.
struct Tables {
    path: PathBuf,
    csv: csv::Writer<File>,
    parquet: ParquetTable,
}

impl TrialTables {
    pub(super) fn new(setup: &StudySetup) -> Self {
        Self {
            columns: trial_columns(setup),
            tables: None,
        }
    }
}

impl Sink for TrialTables {
    fn begin(&mut self, folder: &Path) -> Result<(), KeepError> {
        let path = folder.join("trials.csv");
        let mut csv = csv::Writer::from_writer(create_file(&path)?);
        let head = self.columns.iter().map(|column| column.name.as_str());
        let written = csv.write_record(head);
        written.map_err(|error| failed(&path, error))?;
        self.tables = Some(Tables {
            path,
            csv,
            parquet: ParquetTable::create(&folder.join("trials.parquet"), &self.columns)?,
        });
        Ok(())
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let Some(tables) = &mut self.tables else {
            return Ok(Vec::new());
        };
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
                let written = tables.csv.write_record(items.iter().map(Item::text));
                written.map_err(|error| failed(&tables.path, error))?;
                tables.parquet.add(&items)?;
            }
        }
        Ok(Vec::new())
    }

    fn finish(&mut self, _: &Path) -> Result<Vec<Making>, KeepError> {
        if let Some(mut tables) = self.tables.take() {
            tables.csv.flush().map_err(KeepError::at(&tables.path))?;
            tables.parquet.finish()?;
        }
        Ok(Vec::new())
    }
}
