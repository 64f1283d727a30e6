//! Comma-separated tables: one row a trial, one row a recorded step.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::study::store::create;
use crate::study::{Field, KeepError, fields};
use crate::trial::result::{HandRow, TraceRow, TrialRow};

/// Writes `trials.csv`: a header and one row a trial; a number that is missing is an empty field.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_trials<'a>(
    path: &Path,
    rows: impl IntoIterator<Item = &'a TrialRow>,
) -> Result<(), KeepError> {
    let write = || -> csv::Result<()> {
        let mut writer = csv::Writer::from_writer(create(path)?);
        for (index, row) in rows.into_iter().enumerate() {
            let fields = fields(row)?;
            if index == 0 {
                writer.write_record(fields.iter().map(|field| &field.name))?;
            }
            let text = |field: &Field| {
                if field.is_missing {
                    String::new()
                } else {
                    field.text.clone()
                }
            };
            writer.write_record(fields.iter().map(text))?;
        }
        writer.flush()?;
        Ok(())
    };
    write().map_err(|e| failed(path, e))
}

/// Writes a trace: a header and one row a recorded step.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_trace(path: &Path, rows: &[TraceRow]) -> Result<(), KeepError> {
    write(path, rows)
}

/// Writes what the hands had done: a header and one row a recorded step.
///
/// # Errors
///
/// The failure of a file operation.
pub fn write_hands(path: &Path, rows: &[HandRow]) -> Result<(), KeepError> {
    write(path, rows)
}

/// Reads a trace back.
///
/// # Errors
///
/// The failure of a file operation, or a line that is not a recorded step.
pub fn read_trace(path: &Path) -> Result<Vec<TraceRow>, KeepError> {
    read(path)
}

/// Reads back what the hands had done.
///
/// # Errors
///
/// The failure of a file operation, or a line that is not a recorded step.
pub fn read_hands(path: &Path) -> Result<Vec<HandRow>, KeepError> {
    read(path)
}

fn read<T: DeserializeOwned>(path: &Path) -> Result<Vec<T>, KeepError> {
    let read = || -> csv::Result<Vec<T>> { csv::Reader::from_path(path)?.deserialize().collect() };
    read().map_err(|e| failed(path, e))
}

pub(super) fn write<'a, T: Serialize + 'a>(
    path: &Path,
    rows: impl IntoIterator<Item = &'a T>,
) -> Result<(), KeepError> {
    write_headed(path, &[], rows)
}

/// Writes a table whose columns stand in `heads`, so that one without rows has them too; with no
/// heads they are taken from the first row.
pub(super) fn write_headed<'a, T: Serialize + 'a>(
    path: &Path,
    heads: &[&str],
    rows: impl IntoIterator<Item = &'a T>,
) -> Result<(), KeepError> {
    let write = || -> csv::Result<()> {
        let mut writer = csv::WriterBuilder::new()
            .has_headers(heads.is_empty())
            .from_writer(create(path)?);
        if !heads.is_empty() {
            writer.write_record(heads)?;
        }
        for row in rows {
            writer.serialize(row)?;
        }
        writer.flush()?;
        Ok(())
    };
    write().map_err(|e| failed(path, e))
}

/// A table that grows row by row; nothing is written before it is begun.
#[derive(Default)]
pub(super) struct Table(Option<(csv::Writer<File>, PathBuf)>);

impl Table {
    /// Creates the file with its head.
    pub(super) fn begin<T: AsRef<[u8]>>(
        path: PathBuf,
        head: impl IntoIterator<Item = T>,
    ) -> Result<Self, KeepError> {
        let writer = csv::Writer::from_writer(create(&path).map_err(KeepError::at(&path))?);
        let mut table = Self(Some((writer, path)));
        table.add(head)?;
        Ok(table)
    }

    /// Adds a row.
    pub(super) fn add<T: AsRef<[u8]>>(
        &mut self,
        row: impl IntoIterator<Item = T>,
    ) -> Result<(), KeepError> {
        let Some((writer, path)) = &mut self.0 else {
            return Ok(());
        };
        writer.write_record(row).map_err(|e| failed(path, e))
    }

    /// Writes what is left.
    pub(super) fn finish(&mut self) -> Result<(), KeepError> {
        match self.0.take() {
            Some((mut writer, path)) => writer.flush().map_err(KeepError::at(&path)),
            None => Ok(()),
        }
    }
}

/// The error of a file operation as the system said it, so that a full disk is known as such.
pub(super) fn failed(path: &Path, error: csv::Error) -> KeepError {
    let text = error.to_string();
    let error = match error.into_kind() {
        csv::ErrorKind::Io(error) => error,
        _ => io::Error::other(text),
    };
    KeepError::at(path)(error)
}
