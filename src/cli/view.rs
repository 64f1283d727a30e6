//! `bendwise view`.

use std::path::PathBuf;

use clap::{ArgAction, Args as Group};

use super::args::AtOnceArgs;
use super::failure::Failure;
use super::run::print_page;
use super::scene_words::in_words;
use super::setup;
use crate::projection::Subject;
use crate::report::{PageInputs, ViewWriter};
use crate::scenario::view::ViewAngles;
use crate::study::{self, Part, StrategyLabel, StudyOptions, StudySetup, Task, note};
use crate::trial::{ViewRequest, ViewStudy};

/// Arguments of `view`.
#[derive(Debug, Clone, Group)]
pub struct ViewArgs {
    /// Scenario file (TOML) with a view table
    pub scenario: PathBuf,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Branch whose branching is to be seen; may be given more than once [default: what the
    /// scenario says, or its target]
    #[arg(long = "branch", value_name = "NAME")]
    pub branches: Vec<String>,

    /// Stretch of a vessel to be seen, such as LAD:10-30 (stations in mm); may be given more than
    /// once
    #[arg(long = "segment", value_name = "BRANCH:FROM-TO")]
    pub segments: Vec<String>,

    /// The view in which the operator works now, in place of the scenario's, such as "RAO 30"
    #[arg(long, value_name = "VIEW")]
    pub current: Option<String>,

    /// Only views, no trials
    #[arg(long, action = ArgAction::SetTrue)]
    pub no_runs: bool,

    /// Trials with each wire in each view, in place of the scenario's; at least 1
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub trials: Option<u32>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,

    /// How it is done.
    #[command(flatten)]
    pub work: AtOnceArgs,
}

/// Looks at a scene and runs what shows the cost of a view.
pub(super) fn view(args: &ViewArgs) -> Result<(), Failure> {
    let mut loaded = setup::load(&args.scenario)?;
    let asked = &mut loaded.scenario.study;
    asked.trials = args.trials.unwrap_or(asked.trials);
    asked.seed = args.seed.unwrap_or(asked.seed);
    asked.recorded = 0;
    let prepared = setup::prepare(&loaded)?;
    for warning in setup::warnings(&loaded.source, &loaded.warnings) {
        note(&format!("warning: {}, {warning}", args.scenario.display()));
    }
    let request = request(args)?;
    let study = ViewStudy::new(&prepared, &request)
        .map_err(|error| Failure::Input(miette::miette!("{error}")))?;
    let scenario = prepared.scenario();
    let labels = study.runs.iter().map(|run| StrategyLabel {
        name: run.strategy.name.clone(),
        slug: run.strategy.slug.clone(),
        technique: "redirect".to_owned(),
        wire: scenario.wires[run.wire].name.clone(),
    });
    let setup = StudySetup::of_scenario(scenario, &loaded.content_hash, labels.collect());
    let (sections, _) = in_words(&loaded, &prepared, &[]);
    let inputs = PageInputs::new(&prepared).described(sections, &loaded.source);
    let writer = ViewWriter::new(&study, &prepared, inputs);
    let options = StudyOptions {
        out: args.out.clone(),
        threads: args.work.threads,
        quiet: args.work.quiet,
        overwrite: args.work.overwrite,
        limit: None,
    };
    study::watch_for_interrupts();
    let compute = |task: Task, _| study.run(task.strategy, task.trial);
    let done = study::run_study(
        &Part::whole(setup),
        &options,
        study::interrupted(),
        &|_| Ok(Box::new(compute)),
        vec![Box::new(writer)],
    )
    .map_err(Failure::of_study)?;
    print_page(&done.handed, &done.folder, args.work.quiet)
}

fn request(args: &ViewArgs) -> Result<ViewRequest, Failure> {
    let wrong = |text: String| Failure::Input(miette::miette!("{text}"));
    let mut subjects: Vec<Subject> = args
        .branches
        .iter()
        .map(|branch| Subject::Branching {
            branch: branch.clone(),
        })
        .collect();
    for text in &args.segments {
        subjects.push(segment(text).ok_or_else(|| {
            wrong(format!(
                "--segment {text}: write BRANCH:FROM-TO with stations in mm, for example LAD:10-30"
            ))
        })?);
    }
    let current = match &args.current {
        None => None,
        Some(text) => Some(ViewAngles::parse(text).map_err(|reason| {
            wrong(format!(
                "--current \"{text}\": {reason}; write a view such as \"LAO 40 CRA 30\""
            ))
        })?),
    };
    Ok(ViewRequest {
        subjects,
        current,
        without_runs: args.no_runs,
    })
}

/// Reads "BRANCH:FROM-TO".
fn segment(text: &str) -> Option<Subject> {
    let (branch, stretch) = text.rsplit_once(':')?;
    let (from, to) = stretch.split_once('-')?;
    Some(Subject::Segment {
        branch: branch.to_owned(),
        from_mm: from.trim().parse().ok()?,
        to_mm: to.trim().parse().ok()?,
    })
}
