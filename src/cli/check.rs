//! `bendwise check`.

use std::io::{self, Write};

use super::args::CheckArgs;
use super::failure::Failure;
use crate::scenario;

/// Reads and validates a scenario and prints what it says.
pub(super) fn check(args: &CheckArgs) -> Result<(), Failure> {
    let loaded = scenario::load(&args.scenario).map_err(|error| Failure::Input(error.into()))?;
    for warning in &loaded.warnings {
        let line = loaded.source.line(warning.place);
        eprintln!("warning: line {line}: {}", warning.message);
    }
    let scenario = &loaded.scenario;
    let text = format!(
        "{}: {} branches, {} wires, {} techniques, {} trials each\n",
        scenario.name,
        scenario.vessel.branches.len(),
        scenario.wires.len(),
        scenario.techniques.len(),
        scenario.study.trials,
    );
    // A reader that has seen enough closes the pipe; that is no failure.
    let _ = io::stdout().write_all(text.as_bytes());
    Ok(())
}
