//! From a path to the wires and the tests of the bench.

use std::path::Path;

use super::bench::Bench;
use super::document::Document;
use super::error::{Checked, ScenarioError, resolved};
use super::kind::{FileKind, kind_of};
use super::load::{Warning, content_hash, document, load, scenario_table};
use super::source::Source;
use super::tables::BenchTable;
use crate::input;

/// Wires for the bench that were read, with what later layers need to point back at them.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedBench {
    /// Wires and tests.
    pub bench: Bench,
    /// The text they were read from.
    pub source: Source,
    /// SHA-256 of all files read, in hexadecimal.
    pub content_hash: String,
    /// What is allowed but odd.
    pub warnings: Vec<Warning>,
}

/// Reads the wires and the bench tests of the file at `path`: a scenario, which is checked as a
/// whole, or a file that holds wires alone.
///
/// # Errors
///
/// As [`load`], and faults of the `[assay]` table.
pub fn load_bench(path: &Path) -> Result<LoadedBench, ScenarioError> {
    let unreadable = |cause| ScenarioError::Unreadable {
        path: path.to_owned(),
        cause,
    };
    let text = input::text(path).map_err(unreadable)?;
    let alone = matches!(kind_of(&text), FileKind::Wires | FileKind::Unknown);
    let source = if alone {
        Source {
            document: Document::Wires,
            path: path.to_owned(),
            text,
            tree: None,
        }
    } else {
        load(path)?.source
    };
    let read = || -> Checked<(Bench, Vec<Warning>)> {
        let table = if alone {
            document::<BenchTable>(&source.text, 0, Document::Wires)?
        } else {
            scenario_table(&source)?.bench()
        };
        let stem = path.file_stem().unwrap_or_default().to_string_lossy();
        let folder = path.parent().unwrap_or(Path::new(""));
        let bench = table.checked(&stem, folder);
        bench.map_err(|refusal| resolved(*refusal, &source))
    };
    let (bench, warnings) = read().map_err(|problem| problem.located(&source))?;
    Ok(LoadedBench {
        bench,
        content_hash: content_hash(&source, &[]),
        source,
        warnings,
    })
}
