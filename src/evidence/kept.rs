//! Checks and experiments that were carried out, kept in the work folder of a result, so that a command that was
//! stopped does not carry them out again.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Mutex, PoisonError};

use serde::{Deserialize, Serialize};

use super::check::{Check, Checked, MeasuredCheck};
use super::validation::{Compared, Experiment, Simulated};
use crate::study::store::records::{Records, replace, tell_damage};
use crate::study::store::{PathKind, ROWS, make_folders, name_in, record};
use crate::study::{Folders, KeepError, StudyError, build_fingerprint};

/// Name of the file in the folder of rows, which goes when a result is complete.
const FILE: &str = "checks.jsonl";

/// A line of the file.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Line {
    /// A check by its name.
    Check(String, MeasuredCheck),
    /// An experiment by its name.
    Experiment(String, Simulated),
}

/// What is kept; lines that another build wrote are left out.
#[derive(Debug)]
pub struct KeptChecks {
    checks: BTreeMap<String, MeasuredCheck>,
    experiments: BTreeMap<String, Simulated>,
    records: Mutex<Records>,
}

impl KeptChecks {
    /// Opens what is kept in a work folder, and makes the file where there is none.
    ///
    /// # Errors
    ///
    /// The failure of a file operation.
    pub fn open(folders: &Folders) -> Result<Self, StudyError> {
        let path = folders.rows().join(FILE);
        let opened = Self::open_at(folders, &path);
        opened.map_err(|e| KeepError::at(&path)(e).into_study_error(folders.partial(), 0, 0))
    }

    fn open_at(folders: &Folders, path: &Path) -> std::io::Result<Self> {
        let (disk, work) = (folders.disk(), folders.partial());
        // Another build may measure otherwise: its lines do not have this seed.
        let seed = record::checksum(0, build_fingerprint().as_bytes());
        make_folders(disk, &folders.rows())?;
        let bytes = match disk.kind(path)? {
            Some(PathKind::File) => disk.read(path)?,
            _ => Vec::new(),
        };
        let lines = record::lines(seed, &bytes, 1);
        tell_damage(disk, path, &lines.damaged);
        let whole = lines.good.iter();
        let whole: Vec<u8> = whole
            .flat_map(|(_, text)| record::line_of(seed, text))
            .collect();
        let name = name_in(work, path).unwrap_or_else(|| format!("{ROWS}/{FILE}"));
        replace(disk, work, &name, &whole)?;
        let (mut checks, mut experiments) = (BTreeMap::new(), BTreeMap::new());
        for (_, text) in &lines.good {
            match serde_json::from_slice(text) {
                Ok(Line::Check(name, measured)) => drop(checks.insert(name, measured)),
                Ok(Line::Experiment(name, found)) => drop(experiments.insert(name, found)),
                // A whole line that does not read is of another version: it is measured again.
                Err(_) => {}
            }
        }
        let every = folders.sync_interval();
        let records = Records::open(disk, path, seed, whole.len() as u64, every)?;
        Ok(Self {
            checks,
            experiments,
            records: Mutex::new(records),
        })
    }

    /// The check as it was carried out before, or carried out now; and whether it was now.
    ///
    /// # Errors
    ///
    /// Where it cannot be kept.
    pub fn check(&self, check: &'static Check) -> Result<(Checked, bool), KeepError> {
        if let Some(measured) = self.checks.get(check.name) {
            return Ok((check.checked(measured.clone()), false));
        }
        let checked = check.run();
        self.append(&Line::Check(
            check.name.to_owned(),
            checked.measured.clone(),
        ))?;
        Ok((checked, true))
    }

    /// The experiment as it was simulated before, or simulated now; and whether it was now.
    ///
    /// # Errors
    ///
    /// Where it cannot be kept.
    pub fn experiment(&self, of: &'static Experiment) -> Result<(Compared, bool), KeepError> {
        if let Some(found) = self.experiments.get(of.name) {
            return Ok((of.compared(found.clone()), false));
        }
        let found = of.run();
        self.append(&Line::Experiment(of.name.to_owned(), found.clone()))?;
        Ok((of.compared(found), true))
    }

    fn append(&self, line: &Line) -> Result<(), KeepError> {
        let records = self.records.lock();
        let mut records = records.unwrap_or_else(PoisonError::into_inner);
        records.append(line)?;
        records.sync_if_due()
    }
}
