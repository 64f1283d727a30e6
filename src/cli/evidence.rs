//! `bendwise evidence`.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::{ArgAction, Args as Group};

use super::args::ComputeArgs;
use super::carry_out::carry_out;
use super::failure::Failure;
use super::run::{label, print_page};
use super::scene_words::in_words;
use super::values;
use super::{say, say_stopped_of, setup};
use crate::evidence::{CATALOGUE, Checked, Review, Set, Uncertain, spreads};
use crate::report::evidence::{ChecksSummary, EvidenceSink, Inputs, write_checks};
use crate::report::{Setting, files};
use crate::study::store::header;
use crate::study::{
    self, Folders, KeepError, Part, StudyDone, StudyOf, StudySetup, build_fingerprint, note,
    reserve,
};
use crate::trial::{Prepared, run_trial, strategies};

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

    /// Draws of each technique with each wire, of a scenario; at least 1
    #[arg(long, value_name = "N", requires = "scenario", default_value_t = 8, value_parser = values::trials, allow_negative_numbers = true)]
    pub trials: u32,

    /// Rows of drawn inputs, for the shares of the variance; each has two runs more than there are inputs,
    /// and 0 leaves them out
    #[arg(long, value_name = "N", requires = "scenario", default_value_t = 16, value_parser = values::rows, allow_negative_numbers = true)]
    pub rows: usize,

    /// Half of the interval in % within which a force counts as converged
    #[arg(long, value_name = "PER_CENT", requires = "scenario", default_value_t = 5.0, value_parser = values::per_cent, allow_negative_numbers = true)]
    pub within: f64,

    /// Spread of an input in place of the usual one, such as friction=0.8:1.25; may be given several times
    #[arg(long, value_name = "NAME=LOW:HIGH", requires = "scenario", value_parser = values::spread)]
    pub spread: Vec<(Uncertain, f64, f64)>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N", requires = "scenario", value_parser = values::seed, allow_negative_numbers = true)]
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
    match &args.scenario {
        Some(path) => review(args, path, out),
        None => checks_alone(args, out),
    }
}

/// Carries out the checks and writes what came of them.
fn checks_alone(args: &EvidenceArgs, out: &Path) -> Result<(), Failure> {
    if args.compute.at_most.is_some() {
        return Err(Failure::Input(miette::miette!(
            help = "name a scenario, or leave --at-most out",
            "--at-most counts trials, and without a scenario there are none"
        )));
    }
    let folders = Folders::prepare(out, args.compute.overwrite).map_err(Failure::of_study)?;
    // What is kept is kept of this build.
    let build = build_fingerprint();
    let other = |kept: &String| match *kept == build {
        true => String::new(),
        false => format!("build: kept '{kept}', asked for '{build}'"),
    };
    header::open(&folders, "evidence of the program", &build, &other).map_err(Failure::of_study)?;
    let carried = carry_out(args, &folders)?;
    let kept =
        |error: KeepError| Failure::of_study(error.into_study_error(folders.partial(), 0, 1));
    write_checks(folders.partial(), &carried, &options(args)).map_err(kept)?;
    folders.complete().map_err(kept)?;
    if !args.compute.quiet {
        let words = ChecksSummary::new(&carried).words();
        say(&format!(
            "{words}\nwritten to {}\n",
            folders.target().display()
        ))?;
    }
    held(&carried.checks)
}

/// Reviews a scenario.
fn review(args: &EvidenceArgs, path: &Path, out: &Path) -> Result<(), Failure> {
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
        options: options(args),
    };
    let review = Review::new(prepared.scenario(), spreads(&args.spread), args.rows);
    let setting = Setting::new(&prepared, loaded.imported.as_ref());
    let part = Part::whole(setup_of(&prepared, &review, &loaded.content_hash));
    let carried = {
        let folders = reserve(&part, &args.compute.options(out)).map_err(Failure::of_study)?;
        carry_out(args, &folders)?
    };
    let review = Arc::new(review);
    let sink = EvidenceSink::new(
        Arc::clone(&review),
        &prepared,
        setting,
        &carried,
        args.within,
        inputs,
    );
    let done = run(args, out, &part, &review, sink)?;
    if !done.complete {
        return say_stopped_of(args.compute.quiet, &done, &part);
    }
    if !args.compute.quiet {
        say(&format!("{}\n", ChecksSummary::new(&carried).words()))?;
    }
    print_page(&done.handed, &done.folder, args.compute.quiet)?;
    held(&carried.checks)
}

/// The options that decide what the page says, in words.
fn options(args: &EvidenceArgs) -> Vec<(String, String)> {
    let mut all = Vec::new();
    let mut add = |name: &str, value: String| all.push((name.to_owned(), value));
    if args.scenario.is_some() {
        add("--trials", args.trials.to_string());
        add("--rows", args.rows.to_string());
        add("--within", args.within.to_string());
        if let Some(seed) = args.seed {
            add("--seed", seed.to_string());
        }
        for (input, low, high) in &args.spread {
            add("--spread", format!("{}={low}:{high}", input.name()));
        }
    }
    if args.long {
        add("--long", String::new());
    }
    if !args.only.is_empty() {
        add("--only", args.only.join(","));
    }
    all
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
    out: &Path,
    part: &Part,
    review: &Review,
    sink: EvidenceSink<'_>,
) -> Result<StudyDone, Failure> {
    let all = &strategies(review.scenario());
    let options = args.compute.options(out);
    study::watch_for_interrupts();
    let prepare = |point: usize| -> Result<study::RunTrial<'_>, String> {
        let prepared = Prepared::new(&review.scenario_at(point)).map_err(|e| e.to_string())?;
        Ok(Box::new(move |task, recorded| {
            run_trial(&prepared, &all[task.strategy], task.trial, recorded)
        }))
    };
    let sinks: study::Sinks<'_> = vec![Box::new(sink)];
    study::run_study(part, &options, study::interrupted(), &prepare, sinks)
        .map_err(Failure::of_study)
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
