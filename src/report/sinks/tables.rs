//! `trials.csv`, `summary.json` and `report.md`: the study in rows, in numbers and in words.

use std::io;
use std::sync::Arc;

use crate::report::page::report_page;
use crate::report::setting::Setting;
use crate::report::tables::write_trials;
use crate::study::store::write_file;
use crate::study::{KeepError, Making, Point, Sink};

/// The study as tables and text.
pub(super) struct Tables {
    setting: Arc<Setting>,
    /// What is printed at the end.
    page: Option<String>,
}

impl Tables {
    pub(super) fn new(setting: &Arc<Setting>) -> Self {
        Self {
            setting: setting.clone(),
            page: None,
        }
    }
}

impl Sink for Tables {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let path = |name: &str| point.folder.join(name);
        let summary = self.setting.summary(point.setup, point.rows);
        write_trials(&path("trials.csv"), point.rows.iter().flatten())?;
        let file = path("summary.json");
        let json = serde_json::to_string_pretty(summary)
            .map_err(|e| KeepError::at(&file)(io::Error::from(e)))?;
        write_file(&file, json + "\n")?;
        let page = report_page(summary);
        write_file(&path("report.md"), &page)?;
        self.page = Some(page);
        Ok(Vec::new())
    }

    fn page(&mut self) -> Option<String> {
        self.page.take()
    }
}
