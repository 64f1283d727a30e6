//! `bendwise evidence`.

use std::io::{self, IsTerminal};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;

use super::args::ComputeArgs;
use super::failure::Failure;
use super::run::{label, print_page};
use super::scene_words::in_words;
use super::values;
use super::{draw_on, say, say_stopped_of, setup};
use crate::evidence::{CATALOGUE, Check, Checked, EXPERIMENTS, Review, Set, Uncertain, spreads};
use crate::report::evidence::{CarriedOut, ChecksSummary, EvidenceSink, Inputs, write_checks};
use crate::report::{Setting, files};
use crate::study::store::header::claim;
use crate::study::{
    self, Folders, KeepError, Part, StudyDone, StudyError, StudyOf, StudySetup, Task, note,
};
use crate::trial::{Prepared, run_trial, strategies};
use clap::{ArgAction, Args as Group};
use std::path::PathBuf;

/// Arguments of `evidence`.
#[derive(Debug, Clone, Group)]
pub struct EvidenceArgs {
    /// Scenario file (TOML) [default: the checks alone]
    pub scenario: Option<PathBuf>,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR", required_unless_present = "list")]
    pub out: Option<PathBuf>,

    /// Explain each check and each input that is varied, and do nothing else
    #[arg(long, action = ArgAction::SetTrue)]
    pub list: bool,

    /// Only these checks, separated by commas: names as in --list
    #[arg(long, value_name = "CHECKS", value_delimiter = ',', value_parser = values::check)]
    pub only: Vec<String>,

    /// The checks that take minutes too
    #[arg(long, action = ArgAction::SetTrue)]
    pub long: bool,

    /// Draws of each technique with each wire; at least 1
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = values::trials, allow_negative_numbers = true)]
    pub trials: u32,

    /// Rows of drawn inputs, for the shares of the variance; each has two runs more than there are inputs,
    /// and 0 leaves them out
    #[arg(long, value_name = "N", default_value_t = 16, value_parser = values::rows, allow_negative_numbers = true)]
    pub rows: usize,

    /// Half of the interval in % within which a force counts as converged
    #[arg(long, value_name = "PER_CENT", default_value_t = 5.0, value_parser = values::per_cent, allow_negative_numbers = true)]
    pub within: f64,

    /// Spread of an input in place of the usual one, such as friction=0.8:1.25; may be given several times
    #[arg(long, value_name = "NAME=LOW:HIGH", value_parser = values::spread)]
    pub spread: Vec<(Uncertain, f64, f64)>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N", value_parser = values::seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// How its trials are computed.
    #[command(flatten)]
    pub compute: ComputeArgs,
}

/// Carries out the checks, and reviews a scenario where one is given.
pub(super) fn evidence(args: &EvidenceArgs) -> Result<(), Failure> {
    let (Some(out), false) = (&args.out, args.list) else {
        return say(&list());
    };
    let wanted: Vec<&Check> = CATALOGUE
        .iter()
        .filter(|check| is_wanted(args, check))
        .collect();
    let Some(path) = &args.scenario else {
        let folders = Folders::prepare(out, args.compute.overwrite).map_err(Failure::of_study)?;
        claim(&folders, "evidence of the program").map_err(Failure::of_study)?;
        let checked = carry_out(args, &wanted)?;
        let kept = |error: KeepError| {
            let what = "make room or choose another --out and run the same command again";
            Failure::Incomplete(miette::miette!(
                "the results could not be written: {error}; {what}"
            ))
        };
        write_checks(folders.partial(), &checked).map_err(kept)?;
        folders.complete().map_err(kept)?;
        if !args.compute.quiet {
            let words = ChecksSummary::new(&checked).words();
            say(&format!(
                "{words}\nwritten to {}\n",
                folders.target().display()
            ))?;
        }
        return held(&checked.checks);
    };
    let mut loaded = setup::load(path)?;
    let study = &mut loaded.scenario.study;
    study.trials = args.trials;
    study.seed = args.seed.unwrap_or(study.seed);
    let prepared = setup::prepare(&loaded)?;
    for warning in setup::warnings(&loaded.source, &loaded.warnings) {
        note(&format!("warning: {}, {warning}", path.display()));
    }
    let (sections, _) = in_words(&loaded, &prepared, &[]);
    let inputs = Inputs {
        sections,
        files: files(&loaded.source),
    };
    let review = Review::new(prepared.scenario(), spreads(&args.spread), args.rows);
    let setting = Setting::new(&prepared, loaded.imported.as_ref());
    let checked = carry_out(args, &wanted)?;
    let review = Arc::new(review);
    let sink = EvidenceSink::new(
        Arc::clone(&review),
        &prepared,
        setting,
        &checked,
        args.within,
        inputs,
    );
    let part = Part::whole(setup_of(&prepared, &review, &loaded.content_hash));
    let done = run(args, out, &part, &review, sink)?;
    if !done.complete {
        return say_stopped_of(args.compute.quiet, &done, &part);
    }
    if !args.compute.quiet {
        say(&format!("{}\n", ChecksSummary::new(&checked).words()))?;
    }
    print_page(&done.handed, &done.folder, args.compute.quiet)?;
    held(&checked.checks)
}

fn is_wanted(args: &EvidenceArgs, check: &Check) -> bool {
    if args.only.is_empty() {
        args.long || check.set == Set::Short
    } else {
        args.only.iter().any(|name| name == check.name)
    }
}

/// What the trials of a review belong to.
fn setup_of(prepared: &Prepared, review: &Review, content_hash: &str) -> StudySetup {
    let strategies = strategies(prepared.scenario());
    let labels = strategies.iter().map(|s| label(prepared, s)).collect();
    StudySetup {
        of: StudyOf::Review,
        points: review.points(),
        recorded: 0,
        design: review.design().clone(),
        ..StudySetup::of_scenario(prepared.scenario(), content_hash, labels)
    }
}

/// Runs the scenario in all ways of the review.
fn run(
    args: &EvidenceArgs,
    out: &std::path::Path,
    part: &Part,
    review: &Review,
    sink: EvidenceSink<'_>,
) -> Result<StudyDone, Failure> {
    let all = strategies(review.scenario());
    let options = args.compute.options(out);
    study::watch_for_interrupts();
    let prepare =
        |point: usize| Prepared::new(&review.scenario_at(point)).map_err(|error| error.to_string());
    let compute = |prepared: &Prepared, task: Task, recorded: bool| {
        run_trial(prepared, &all[task.strategy], task.trial, recorded)
    };
    let sinks: study::Sinks<'_> = vec![Box::new(sink)];
    study::run_study(
        part,
        &options,
        study::interrupted(),
        prepare,
        compute,
        sinks,
    )
    .map_err(Failure::of_study)
}

/// Carries out checks, and published experiments where no checks are named, on all threads, with progress on
/// stderr.
fn carry_out(args: &EvidenceArgs, wanted: &[&Check]) -> Result<CarriedOut, Failure> {
    let threads = args.compute.threads.unwrap_or(0);
    draw_on(args.compute.threads);
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let pool = pool.map_err(|error| {
        Failure::of_study(StudyError::Threads {
            threads,
            reason: error.to_string(),
        })
    })?;
    let experiments = if args.only.is_empty() {
        EXPERIMENTS
    } else {
        &[]
    };
    let total = wanted.len() + experiments.len();
    let count = AtomicUsize::new(0);
    let bar = (!args.compute.quiet && io::stderr().is_terminal()).then(|| bar(total));
    let done = |words: &str| {
        let now = count.fetch_add(1, Ordering::Relaxed) + 1;
        match &bar {
            Some(bar) => bar.inc(1),
            None if !args.compute.quiet => note(&format!("{now} of {total}, {words}")),
            None => {}
        }
    };
    let check = |check: &&Check| {
        let checked = check.run();
        let holds = if checked.holds() {
            "holds"
        } else {
            "DOES NOT HOLD"
        };
        done(&format!(
            "check {}: {holds}, {:.1} s",
            check.name, checked.seconds
        ));
        checked
    };
    let carried = pool.install(|| CarriedOut {
        checks: wanted.par_iter().with_max_len(1).map(check).collect(),
        experiments: experiments
            .iter()
            .map(|experiment| {
                let compared = experiment.run();
                done(&format!("experiment {}", experiment.name));
                compared
            })
            .collect(),
    });
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    Ok(carried)
}

fn bar(total: usize) -> ProgressBar {
    let bar = ProgressBar::new(total as u64);
    // A template that is wrong leaves the default style.
    if let Ok(style) = ProgressStyle::with_template(
        "{bar:30} {pos} of {len} checks and experiments, {elapsed} passed, {eta} left",
    ) {
        bar.set_style(style);
    }
    bar
}

/// Fails where a check does, and names what rests on it.
fn held(checked: &[Checked]) -> Result<(), Failure> {
    let failed: Vec<String> = checked
        .iter()
        .filter(|check| !check.holds())
        .map(|check| {
            format!(
                "{}: {}; what rests on it: {}",
                check.name,
                check.fault(),
                check.carries_words()
            )
        })
        .collect();
    if failed.is_empty() {
        return Ok(());
    }
    Err(Failure::Incomplete(miette::miette!(
        help = "do not use results that rest on them; say which processor, system and version this is where \
                faults of the program are reported",
        "{} of {} checks do not hold\n{}",
        failed.len(),
        checked.len(),
        failed.join("\n")
    )))
}

/// The checks and the inputs in words.
fn list() -> String {
    let mut text = String::new();
    for check in CATALOGUE {
        let long = if check.set == Set::Long {
            " (with --long)"
        } else {
            ""
        };
        text += &format!(
            "{}{long}\n  {}\n  {}.\n  Source: {}\n\n",
            check.name, check.question, check.scene, check.source
        );
    }
    text += "Inputs that are varied, with their usual spreads (--spread NAME=LOW:HIGH):\n";
    for input in Uncertain::ALL {
        let usual = input.usual();
        text += &format!(
            "  {}: {} {} to {} {}; {}\n",
            input.name(),
            input.words(),
            usual.low,
            usual.high,
            input.unit(),
            usual.source
        );
    }
    text + "\n" + crate::report::CAUTION + "\n"
}
