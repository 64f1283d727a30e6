//! `bendwise run`.

use std::path::{Path, PathBuf};

use clap::Args as Group;

use super::args::ComputeArgs;
use super::failure::Failure;
use super::scene_words::in_words;
use super::setup;
use super::values;
use super::{say, say_stopped_of};
use crate::report::{self, Setting};
use crate::study::{self, Handed, Part, StrategyLabel, StudySetup, Task, note};
use crate::trial::{Prepared, Strategy, run_trial, strategies};

/// Arguments of `run`.
#[derive(Debug, Clone, Group)]
pub struct RunArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Trials of each technique with each wire, in place of the scenario's; at least 1
    #[arg(long, value_name = "N", value_parser = values::trials, allow_negative_numbers = true)]
    pub trials: Option<u32>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N", value_parser = values::seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// How its trials are computed.
    #[command(flatten)]
    pub compute: ComputeArgs,
}

/// Runs every technique of a scenario with every wire.
pub(super) fn run(args: &RunArgs) -> Result<(), Failure> {
    let mut loaded = setup::load(&args.scenario)?;
    let study = &mut loaded.scenario.study;
    study.trials = args.trials.unwrap_or(study.trials);
    study.seed = args.seed.unwrap_or(study.seed);
    let prepared = setup::prepare(&loaded)?;
    let (sections, _) = in_words(&loaded, &prepared, &[]);
    loaded.warnings.extend(prepared.folds());
    loaded.warnings.extend(prepared.crossings());
    loaded.warnings.extend(prepared.fast_walls());
    loaded.warnings.extend(prepared.short_of_wire());
    for warning in setup::warnings(&loaded.source, &loaded.warnings) {
        note(&format!("warning: {}, {warning}", args.scenario.display()));
    }
    let scenario = prepared.scenario();
    let strategies = strategies(scenario);
    let labels = strategies.iter().map(|s| label(&prepared, s)).collect();
    let setup = StudySetup::of_scenario(scenario, &loaded.content_hash, labels);
    let part = Part::whole(setup);
    let mut setting = Setting::new(&prepared, loaded.imported.as_ref());
    setting.page = setting.page.described(sections, &loaded.source);
    let sinks = report::sinks(setting);
    let options = args.compute.options(&args.out);
    study::watch_for_interrupts();
    let compute = |task: Task, recorded: bool| {
        run_trial(&prepared, &strategies[task.strategy], task.trial, recorded)
    };
    let done = study::run_study(
        &part,
        &options,
        study::interrupted(),
        &|_| Ok(Box::new(compute)),
        sinks,
    )
    .map_err(Failure::of_study)?;
    if !done.complete {
        return say_stopped_of(args.compute.quiet, &done, &part);
    }
    print_page(&done.handed, &done.folder, args.compute.quiet)
}

/// Prints the page of what is finished, and where it is.
pub(super) fn print_page(handed: &Handed, folder: &Path, quiet: bool) -> Result<(), Failure> {
    if quiet {
        return Ok(());
    }
    say(&format!(
        "{}\nwritten to {}\n",
        handed.page,
        folder.display()
    ))
}

/// How tables and files name a strategy.
pub(super) fn label(prepared: &Prepared, strategy: &Strategy) -> StrategyLabel {
    let scenario = prepared.scenario();
    StrategyLabel {
        name: strategy.name.clone(),
        slug: strategy.slug.clone(),
        technique: scenario.techniques[strategy.technique].name.clone(),
        wire: scenario.wires[strategy.wire].name.clone(),
    }
}
