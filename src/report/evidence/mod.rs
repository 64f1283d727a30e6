//! What `evidence` leaves behind: `checks.json`, `checks.md`, `evidence.json`, `report.html`, `figures/`.

mod checks;
mod converged;
mod experiments;
mod hangs;
mod method;
mod page;
mod scope;
mod sink;
mod summary;
mod tornado;

use std::path::Path;

use serde::Serialize;

use crate::study::KeepError;
use crate::study::store::write_file;

pub use checks::{CarriedOut, ChecksSummary, markdown_row};
pub use page::{Inputs, checks_page};
pub use sink::EvidenceSink;
pub use summary::EvidenceSummary;

/// Writes the checks alone into `folder`; `options` are those of the command.
///
/// # Errors
///
/// What could not be written.
pub fn write_checks(
    folder: &Path,
    carried: &CarriedOut,
    options: &[(String, String)],
) -> Result<(), KeepError> {
    let (name, bytes) = checks_file(carried)?;
    write_file(&folder.join(name), bytes)?;
    let (name, bytes) = table_file(carried);
    write_file(&folder.join(name), bytes)?;
    write_file(&folder.join("report.html"), checks_page(carried, options))
}

/// Name and bytes of the table of checks for texts.
fn table_file(carried: &CarriedOut) -> (String, Vec<u8>) {
    let head =
        "| question | against | measured, tightest | limit | check |\n|---|---|---|---|---|\n";
    let rows = carried
        .checks
        .iter()
        .map(|checked| markdown_row(checked) + "\n");
    let text = head.to_owned() + &rows.collect::<String>();
    ("checks.md".to_owned(), text.into_bytes())
}

/// Heads of a table without units.
fn heads(titles: &[&str]) -> Vec<(String, String)> {
    titles
        .iter()
        .map(|title| ((*title).to_owned(), String::new()))
        .collect()
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

/// Begin of the names of films of a strategy.
fn film_start(strategy: &str) -> String {
    let words = strategy.split(|c: char| !c.is_ascii_alphanumeric());
    let words: Vec<&str> = words.filter(|word| !word.is_empty()).collect();
    format!("flip-{}-", words.join("-").to_ascii_lowercase())
}

/// Whether a film is of that strategy, and not of one whose name begins so.
fn is_film_of(name: &str, strategy: &str) -> bool {
    let rest = name.strip_prefix(&film_start(strategy));
    let parts = rest.and_then(|rest| rest.split_once('-'));
    parts.is_some_and(|(trial, tag)| {
        trial.bytes().all(|b| b.is_ascii_digit()) && ["as-it-is", "finer"].contains(&tag)
    })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_film_belongs_to_one_strategy() {
        let name = format!("{}1-as-it-is", film_start("push, soft 2"));
        assert_eq!(name, "flip-push-soft-2-1-as-it-is");
        assert!(is_film_of(&name, "push, soft 2") && !is_film_of(&name, "push, soft"));
    }
}
