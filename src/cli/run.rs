//! `bendwise run`.

use super::args::RunArgs;
use super::failure::Failure;
use super::setup;
use super::{say, say_stopped};
use crate::report::{self, Setting};
use crate::study::{self, Plan, StrategyLabel, StudyOptions, note};
use crate::trial::{Prepared, Strategy, run_trial, strategies};

/// Runs every technique of a scenario with every wire.
pub(super) fn run(args: &RunArgs) -> Result<(), Failure> {
    let mut loaded = setup::load(&args.scenario)?;
    let study = &mut loaded.scenario.study;
    study.trials = args.trials.unwrap_or(study.trials);
    study.seed = args.seed.unwrap_or(study.seed);
    let prepared = setup::prepare(&loaded)?;
    loaded.warnings.extend(prepared.folds());
    loaded.warnings.extend(prepared.crossings());
    loaded.warnings.extend(prepared.short_of_wire());
    for warning in setup::warnings(&loaded.source, &loaded.warnings) {
        note(&format!("warning: {}, {warning}", args.scenario.display()));
    }
    let scenario = prepared.scenario();
    let strategies = strategies(scenario);
    let labels = strategies.iter().map(|s| label(&prepared, s)).collect();
    let plan = Plan::new(scenario, &loaded.content_hash, labels);
    let setting = Setting::new(&prepared, loaded.imported.as_ref());
    let anatomy_as_read = setting.anatomy_as_read.clone();
    let sinks = report::sinks(setting);
    let options = StudyOptions {
        out: args.out.clone(),
        threads: args.threads,
        quiet: args.quiet,
        overwrite: args.overwrite,
        limit: args.at_most,
    };
    study::watch_for_interrupts();
    let compute = |strategy: usize, trial: u32, recorded: bool| {
        run_trial(&prepared, &strategies[strategy], trial, recorded)
    };
    let done = study::run_batch(&plan, &options, study::interrupted(), compute, sinks)
        .map_err(Failure::of_study)?;
    if !done.complete {
        let kept = format!("{} of {}", done.resumed + done.computed, plan.total());
        return say_stopped(args.quiet, done.computed, &kept, &done.folder);
    }
    if !args.quiet {
        let summary = report::summary(&plan, &done.rows, &anatomy_as_read);
        let page = report::report_page(&summary);
        let text = format!("{page}\nwritten to {}\n", done.folder.display());
        say(&text)?;
    }
    Ok(())
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
