//! `trials.csv`, `summary.json` and `report.md`: the study in rows, in numbers and in words.

use std::io;
use std::sync::Arc;

use crate::report::page::report_page;
use crate::report::setting::Setting;
use crate::report::summary::summary;
use crate::report::tables::write_trials;
use crate::study::store::write_file;
use crate::study::{KeepError, Making, Sink, Study};

/// The study as tables and text.
pub(super) struct Tables(pub Arc<Setting>);

impl Sink for Tables {
    fn finish(&mut self, study: &Study<'_>) -> Result<Vec<Making>, KeepError> {
        let path = |name: &str| study.folder.join(name);
        let summary = summary(study.plan, study.rows, &self.0.anatomy_as_read);
        write_trials(&path("trials.csv"), study.rows.iter().flatten())?;
        let file = path("summary.json");
        let json = serde_json::to_string_pretty(&summary)
            .map_err(|e| KeepError::at(&file)(io::Error::from(e)))?;
        write_file(&file, json + "\n")?;
        write_file(&path("report.md"), report_page(&summary))?;
        Ok(Vec::new())
    }
}
