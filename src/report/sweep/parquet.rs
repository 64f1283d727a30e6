//! The table of trials as a Parquet file, written in groups of rows.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use parquet::basic::{LogicalType, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;

use super::columns::{Column, ColumnKind, Item};
use crate::study::KeepError;
use crate::study::store::create_file;

/// Rows kept in memory before they are written as one group.
const ROWS_IN_GROUP: usize = 1 << 15;

/// Values of a column not yet written.
#[derive(Debug)]
enum Buffer {
    Whole(Vec<i64>),
    /// The numbers that are there, and for each row whether it has one.
    Number(Vec<f64>, Vec<i16>),
    Text(Vec<ByteArray>),
}

/// A Parquet file in the making.
pub struct ParquetTable {
    path: PathBuf,
    writer: SerializedFileWriter<File>,
    buffers: Vec<Buffer>,
    rows: usize,
}

impl ParquetTable {
    /// Creates the file.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn create(path: &Path, columns: &[Column]) -> Result<Self, KeepError> {
        let file = create_file(path)?;
        let open = || -> Result<_, ParquetError> {
            let fields = columns.iter().map(field).collect::<Result<_, _>>()?;
            let schema = Type::group_type_builder("trials")
                .with_fields(fields)
                .build()?;
            let properties = Arc::new(WriterProperties::builder().build());
            SerializedFileWriter::new(file, Arc::new(schema), properties)
        };
        Ok(Self {
            path: path.to_owned(),
            writer: open().map_err(|error| failed(path, error))?,
            buffers: columns
                .iter()
                .map(|column| Buffer::of(column.kind))
                .collect(),
            rows: 0,
        })
    }

    /// Adds a row: a value for each column.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn add(&mut self, row: &[Item]) -> Result<(), KeepError> {
        for (buffer, item) in self.buffers.iter_mut().zip(row) {
            buffer.push(item);
        }
        self.rows += 1;
        if self.rows >= ROWS_IN_GROUP {
            self.flush()?;
        }
        Ok(())
    }

    fn flush(&mut self) -> Result<(), KeepError> {
        if self.rows == 0 {
            return Ok(());
        }
        let mut write = || -> Result<(), ParquetError> {
            let mut group = self.writer.next_row_group()?;
            for buffer in &mut self.buffers {
                let Some(mut column) = group.next_column()? else {
                    break;
                };
                match buffer {
                    Buffer::Whole(values) => {
                        column
                            .typed::<Int64Type>()
                            .write_batch(values, None, None)?;
                        values.clear();
                    }
                    Buffer::Number(values, there) => {
                        column
                            .typed::<DoubleType>()
                            .write_batch(values, Some(there), None)?;
                        values.clear();
                        there.clear();
                    }
                    Buffer::Text(values) => {
                        column
                            .typed::<ByteArrayType>()
                            .write_batch(values, None, None)?;
                        values.clear();
                    }
                }
                column.close()?;
            }
            group.close()?;
            Ok(())
        };
        write().map_err(|error| failed(&self.path, error))?;
        self.rows = 0;
        Ok(())
    }

    /// Writes what is left and closes the file.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn finish(mut self) -> Result<(), KeepError> {
        self.flush()?;
        let path = self.path;
        self.writer.close().map_err(|error| failed(&path, error))?;
        Ok(())
    }
}

impl Buffer {
    fn of(kind: ColumnKind) -> Self {
        match kind {
            ColumnKind::Whole => Self::Whole(Vec::new()),
            ColumnKind::Number => Self::Number(Vec::new(), Vec::new()),
            ColumnKind::Text => Self::Text(Vec::new()),
        }
    }

    /// A number that is not finite is missing: null. A value of another kind than the column's
    /// becomes its empty value.
    fn push(&mut self, item: &Item) {
        match (self, item) {
            (Self::Whole(values), Item::Whole(value)) => values.push(*value),
            (Self::Number(values, there), Item::Number(value)) if value.is_finite() => {
                values.push(*value);
                there.push(1);
            }
            (Self::Text(values), item) => values.push(ByteArray::from(item.text().as_str())),
            (Self::Whole(values), _) => values.push(0),
            (Self::Number(_, there), _) => there.push(0),
        }
    }
}

fn field(column: &Column) -> Result<Arc<Type>, ParquetError> {
    let (physical, logical) = match column.kind {
        ColumnKind::Whole => (Physical::INT64, None),
        ColumnKind::Number => (Physical::DOUBLE, None),
        ColumnKind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
    };
    let repetition = match column.kind {
        ColumnKind::Number => Repetition::OPTIONAL,
        ColumnKind::Whole | ColumnKind::Text => Repetition::REQUIRED,
    };
    let built = Type::primitive_type_builder(&column.name, physical)
        .with_repetition(repetition)
        .with_logical_type(logical)
        .build()?;
    Ok(Arc::new(built))
}

/// The error of a file operation as the system said it, so that a full disk is known as such.
fn failed(path: &Path, error: ParquetError) -> KeepError {
    let error = match error {
        ParquetError::External(inner) => match inner.downcast::<io::Error>() {
            Ok(error) => *error,
            Err(other) => io::Error::other(other.to_string()),
        },
        other => io::Error::other(other.to_string()),
    };
    KeepError::at(path)(error)
}
