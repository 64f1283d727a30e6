//! What the bench tests leave behind: `assay.json`, `report.md`, `report.html`, `curves/`, `figures/`, `wires/`.

mod curves;
mod figure;
mod fit_figure;
mod layout;
mod summary;
mod table;

use std::fs;
use std::io;
use std::path::Path;

use super::figures::{Figure, save_all};
use super::scene::Section;
use super::web::{Gallery, PlainPage};
use crate::assay::{Findings, PreparedBench, Test};
use crate::study::KeepError;
use crate::study::store::write_file;

pub use curves::write_curve;
pub use figure::{CurveFigure, CurvePanel, DrawnSeries, LineStyle};
pub use fit_figure::FitFigure;
pub use layout::{figure, fits};
pub use summary::{
    AssaySummary, FaultSummary, ReadingSummary, RemarkSummary, TestSummary, summary,
};
pub use table::page;

/// What was read, as the page shows it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BenchInputs {
    /// The wires in words.
    pub sections: Vec<Section>,
    /// The files: names and texts.
    pub files: Vec<(String, String)>,
}

/// Writes everything into `folder`.
///
/// # Errors
///
/// A failed file operation, or what a drawing backend reports.
pub fn write(
    folder: &Path,
    prepared: &PreparedBench,
    findings: &Findings,
    content_hash: &str,
    inputs: &BenchInputs,
) -> Result<(), KeepError> {
    let names: Vec<String> = prepared
        .bench
        .wires
        .iter()
        .map(|w| w.name.clone())
        .collect();
    let summary = summary(prepared, findings, content_hash);
    let make = |name: &str| {
        let path = folder.join(name);
        fs::create_dir_all(&path).map_err(KeepError::at(&path))?;
        Ok(path)
    };
    let write = |name: &str, text: String| write_file(&folder.join(name), text);
    let (curves, figures) = (make("curves")?, make("figures")?);
    let mut drawings: Vec<Box<dyn Figure>> = Vec::new();
    for (test, measured) in &findings.tests {
        let file = curves.join(format!("{}.csv", test.slug()));
        write_curve(&file, *test, &names, measured)?;
        if let Some(figure) = figure(*test, &prepared.bench, measured) {
            drawings.push(Box::new(figure));
        }
        if *test == Test::Fit
            && let Some(figure) = fits(&prepared.bench, measured)
        {
            drawings.push(Box::new(figure));
        }
        for (name, text) in measured.iter().flat_map(|m| &m.files) {
            if let Some((inner, _)) = name.rsplit_once('/') {
                make(inner)?;
            }
            write(name, text.clone())?;
        }
    }
    let mut gallery = Gallery::default();
    save_all(&figures, drawings, |name, bytes| gallery.keep(name, bytes))?;
    let json = serde_json::to_string_pretty(&summary)
        .map_err(|e| KeepError::at(&folder.join("assay.json"))(io::Error::from(e)))?;
    write("assay.json", json + "\n")?;
    let page = page(&summary);
    let html = PlainPage {
        kind: "bench tests",
        report: &page,
        inputs: vec![
            (
                "program".to_owned(),
                format!("bendwise {}", summary.bendwise_version),
            ),
            (
                "hash of all files read (SHA-256)".to_owned(),
                content_hash.to_owned(),
            ),
        ],
        more: None,
        sections: &inputs.sections,
        files: &inputs.files,
    };
    write("report.html", html.html(&gallery))?;
    write("report.md", page)
}
