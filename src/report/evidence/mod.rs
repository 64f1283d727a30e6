//! What `evidence` leaves behind: `checks.json`, `evidence.json`, `report.html`, `figures/`.

mod checks;
mod page;
mod sink;
mod summary;
mod tornado;

use std::path::Path;

use serde::Serialize;

use crate::study::KeepError;
use crate::study::store::write_file;

pub use checks::{CarriedOut, ChecksSummary};
pub use page::{Inputs, checks_page};
pub use sink::EvidenceSink;
pub use summary::EvidenceSummary;

/// Writes the checks alone into `folder`.
///
/// # Errors
///
/// What could not be written.
pub fn write_checks(folder: &Path, carried: &CarriedOut) -> Result<(), KeepError> {
    let (name, bytes) = checks_file(carried)?;
    write_file(&folder.join(name), bytes)?;
    write_file(&folder.join("report.html"), checks_page(carried))
}

/// Name and bytes of the file of checks.
fn checks_file(carried: &CarriedOut) -> Result<(String, Vec<u8>), KeepError> {
    const NAME: &str = "checks.json";
    Ok((NAME.to_owned(), json(NAME, &ChecksSummary::new(carried))?))
}

fn json(name: &str, value: &impl Serialize) -> Result<Vec<u8>, KeepError> {
    let text = serde_json::to_string_pretty(value);
    let text = text.map_err(|error| KeepError::Output {
        what: format!("cannot write {name}"),
        reason: error.to_string(),
    })?;
    Ok((text + "\n").into_bytes())
}

/// The part of a film's name that says of which strategy it is, between dashes.
fn slug_mark(strategy: &str) -> String {
    let letters = strategy.chars().map(|c| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    });
    format!("-{}-", letters.collect::<String>().trim_matches('-'))
}

/// What a film shows, from its name.
fn film_words(name: &str) -> String {
    let parts = name
        .rsplit_once("-as-it-is")
        .map(|(rest, _)| (rest, "as the scenario is"));
    let finer = || {
        name.rsplit_once("-finer")
            .map(|(rest, _)| (rest, "with the finer setting"))
    };
    parts.or_else(finer).map_or(String::new(), |(rest, how)| {
        let trial = rest.rsplit('-').next().unwrap_or_default();
        format!("Draw {trial}, {how}.")
    })
}
