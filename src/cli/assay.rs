//! `bendwise assay`.

use std::io::{self, IsTerminal};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

use clap::{ArgAction, Args as Group};

use super::args::AtOnceArgs;
use super::failure::Failure;
use super::setup;
use super::values;
use super::work;
use super::{draw_on, say};
use crate::assay::{self, Findings, PreparedBench, Test};
use crate::report::scene::wire_sections;
use crate::report::{assay as report, files};
use crate::study::store::header::claim;
use crate::study::{Folders, KeepError, note};

/// Arguments of `assay`.
#[derive(Debug, Clone, Group)]
pub struct AssayArgs {
    /// Scenario file, or a file with wires alone and perhaps settings of the bench (TOML)
    #[arg(required_unless_present = "list")]
    pub scenario: Option<PathBuf>,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR", required_unless_present = "list")]
    pub out: Option<PathBuf>,

    /// Explain each test in two lines, with its source, and do nothing else
    #[arg(long, action = ArgAction::SetTrue)]
    pub list: bool,

    /// Only these tests, separated by commas: names as in --list
    #[arg(long, value_name = "TESTS", value_delimiter = ',', value_parser = values::bench_test)]
    pub only: Vec<Test>,

    /// How it is done.
    #[command(flatten)]
    pub work: AtOnceArgs,
}

/// Performs the bench tests of the wires of a file, or explains them.
pub(super) fn assay(args: &AssayArgs) -> Result<(), Failure> {
    let (Some(path), Some(out), false) = (&args.scenario, &args.out, args.list) else {
        return say(&list());
    };
    let loaded = setup::load_bench(path)?;
    let prepared = setup::prepare_bench(&loaded)?;
    let wanted = if args.only.is_empty() {
        Test::ALL.to_vec()
    } else {
        args.only.clone()
    };
    let folders = Folders::prepare(out, args.work.overwrite).map_err(Failure::of_study)?;
    claim(&folders, "assay").map_err(Failure::of_study)?;
    let findings = perform(args, &prepared, &wanted)?;
    let kept = |error: KeepError| {
        let what = "make room or choose another --out and run the same command again";
        Failure::Incomplete(miette::miette!(
            "the results could not be written: {error}; {what}"
        ))
    };
    draw_on(args.work.threads);
    report::write(
        folders.partial(),
        &prepared,
        &findings,
        &loaded.content_hash,
        &report::BenchInputs {
            sections: wire_sections(&prepared.bench.wires, &prepared.wires),
            files: files(&loaded.source),
        },
    )
    .map_err(kept)?;
    folders.complete().map_err(kept)?;
    if !args.work.quiet {
        let odd = setup::warnings(&loaded.source, &loaded.warnings);
        let wires = (&prepared.bench.wires, &prepared.wires);
        let off = setup::wire_warnings(&loaded.source, wires.0, wires.1);
        for warning in odd.iter().chain(&off) {
            note(warning);
        }
        let summary = report::summary(&prepared, &findings, &loaded.content_hash);
        say(&format!(
            "{}\nwritten to {}\n",
            report::page(&summary),
            folders.target().display()
        ))?;
    }
    if findings.faults.is_empty() {
        return Ok(());
    }
    let list: Vec<String> = findings
        .faults
        .iter()
        .map(|(_, wire, fault)| format!("{}: {fault}", prepared.bench.wires[*wire].name))
        .collect();
    Err(Failure::Incomplete(miette::miette!(
        "{} of the tests could not be carried out; all others are kept in {}\n{}",
        list.len(),
        folders.target().display(),
        list.join("\n")
    )))
}

/// Carries out the tests with progress on stderr.
fn perform(
    args: &AssayArgs,
    prepared: &PreparedBench,
    wanted: &[Test],
) -> Result<Findings, Failure> {
    let pool = work::threads(args.work.threads)?;
    let total = assay::work(&prepared.bench, wanted);
    let count = AtomicUsize::new(0);
    let bar = (!args.work.quiet && io::stderr().is_terminal())
        .then(|| work::bar(total, "pieces of bench work"));
    let done = || {
        let now = count.fetch_add(1, Ordering::Relaxed) + 1;
        match &bar {
            Some(bar) => bar.inc(1),
            None if !args.work.quiet && now * 10 / total > (now - 1) * 10 / total => {
                note(&format!("{now} of {total} pieces of bench work done"));
            }
            None => {}
        }
    };
    let findings = pool.install(|| assay::run(prepared, wanted, &done));
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    Ok(findings)
}

/// The tests in words.
fn list() -> String {
    let mut text = String::new();
    for test in Test::ALL {
        let [first, second] = test.explanation();
        text += &format!(
            "{} ({})\n  {first}\n  {second}\n  Source: {}\n\n",
            test.slug(),
            test.title(),
            test.source()
        );
    }
    text + crate::report::CAUTION + "\n"
}
