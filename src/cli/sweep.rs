//! `bendwise sweep`.

use std::path::{Path, PathBuf};

use clap::{ArgAction, Args as Group};

use super::failure::Failure;
use super::run::{label, print_page};
use super::setup;
use super::values;
use super::{array, say, say_stopped};
use crate::report::files;
use crate::report::sweep::{sinks, trial_columns};
use crate::scenario::sweep::{LoadedSweep, load_sweep};
use crate::scenario::{ScenarioError, point_at};
use crate::study::sweep::{Base, Design, ShareSink, SweepError, is_finished};
use crate::study::{
    self, Part, Shard, Sinks, StudyDone, StudyError, StudyOf, StudyOptions, StudySetup, UntilWidth,
};
use crate::trial::result::TrialRecord;
use crate::trial::{Prepared, Strategy, run_trial, strategies};

/// Arguments of `sweep`.
#[derive(Debug, Clone, Group)]
pub struct SweepArgs {
    /// Sweep file (TOML); some come with the program under scenarios/sweeps/
    pub sweep: PathBuf,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Compute only share K of N (every N-th point), to be joined with gather; for K, "array" takes
    /// the number of the task in an array of a batch scheduler
    #[arg(long, value_name = "K/N", value_parser = values::shard)]
    pub shard: Option<Shard>,

    /// Compute nothing but write into --out what computes the sweep in N shares on a cluster: scripts for
    /// the scheduler Slurm, and which share has which point, dealt so that all take about as long
    #[arg(long, value_name = "N", value_parser = values::shares,
          conflicts_with_all = ["shard", "until_width", "at_most"])]
    pub array: Option<u32>,

    /// With --array: seconds for which trials at scattered points are measured; 0: none
    #[arg(long = "measure", value_name = "SECONDS", default_value_t = 30, requires = "array",
          value_parser = clap::value_parser!(u32).range(0..=86_400))]
    pub measure_s: u32,

    /// With --array: account that the scheduler charges
    #[arg(long, value_name = "NAME", requires = "array")]
    pub account: Option<String>,

    /// With --array: partition of the cluster
    #[arg(long, value_name = "NAME", requires = "array")]
    pub partition: Option<String>,

    /// Go on at each point until the 95 % interval of every rate is no wider than this, such as
    /// 0.05; batches of the sweep's trials, up to 100000 a point and strategy (a technique with
    /// a wire)
    #[arg(long, value_name = "WIDTH", value_parser = values::width, allow_negative_numbers = true)]
    pub until_width: Option<f64>,

    /// Threads to compute on; the results do not depend on it [default: one a core; of a share of an
    /// array: one]
    #[arg(long, value_name = "N", value_parser = values::threads, allow_negative_numbers = true)]
    pub threads: Option<usize>,

    /// Stop after this many new trials; the same command goes on from there
    #[arg(long, value_name = "N", value_parser = values::at_most, allow_negative_numbers = true)]
    pub at_most: Option<usize>,

    /// Allow a design of more than 10000 points, which is refused otherwise
    #[arg(long, action = ArgAction::SetTrue)]
    pub yes: bool,

    /// No progress and no report, only warnings and errors
    #[arg(long, action = ArgAction::SetTrue)]
    pub quiet: bool,

    /// Replace results that are in --out already, once the new ones are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

/// Points above which a sweep wants --yes.
pub(super) const MANY_POINTS: usize = 10_000;
/// Most trials of a strategy at one point for a wanted interval width.
const MOST_FOR_WIDTH: u32 = 100_000;
/// Most points of a sweep.
const MOST_POINTS: usize = 1_000_000_000;

/// Runs a sweep, or a share of it, or writes what computes it in shares.
pub(super) fn sweep(args: &SweepArgs) -> Result<(), Failure> {
    if let Some(of) = args.array {
        return array::array(args, of);
    }
    let opened = Opened::read(&args.sweep)?;
    let strategies = strategies(opened.first.scenario());
    let setup = checked_setup(args, &opened, &strategies)?;
    let part = Part::share(setup, args.shard.unwrap_or(Shard::WHOLE), None);
    let options = StudyOptions {
        out: args.out.clone(),
        threads: args.threads,
        quiet: args.quiet,
        overwrite: args.overwrite,
        limit: args.at_most,
    };
    if args.shard.is_some() {
        if !args.overwrite && is_there(&args.out, &part, args.quiet)? {
            return Ok(());
        }
        return compute_share(&opened, &strategies, &part, &options, &Failure::of_study);
    }
    let setup = &part.setup;
    let fails = &Failure::of_study;
    let done = compute(&opened, &strategies, &part, &options, sinks(setup), fails)?;
    let Some(done) = done else {
        return Ok(());
    };
    print_page(&done.handed, &args.out, args.quiet)?;
    if done.handed.refused == setup.points {
        return Err(Failure::Incomplete(miette::miette!(
            "no point of the sweep could be built; report.md in {} says why",
            args.out.display()
        )));
    }
    Ok(())
}

/// Whether a share is finished in this folder, which is said.
pub(super) fn is_there(folder: &Path, part: &Part, quiet: bool) -> Result<bool, Failure> {
    let is_finished = is_finished(folder, part);
    if is_finished && !quiet {
        say(&format!("share {} is finished already\n", part.shard))?;
    }
    Ok(is_finished)
}

/// What a study that cannot be begun or finished is to a command.
type Fails<'f> = &'f dyn Fn(StudyError) -> Failure;

/// Computes a share and writes it into the folder of the options.
pub(super) fn compute_share(
    opened: &Opened,
    strategies: &[Strategy],
    part: &Part,
    options: &StudyOptions,
    fails: Fails<'_>,
) -> Result<(), Failure> {
    let sinks: Sinks<'_> = vec![Box::new(ShareSink::new(part))];
    let done = compute(opened, strategies, part, options, sinks, fails)?;
    if done.is_none() || options.quiet {
        return Ok(());
    }
    say(&format!(
        "share {} written to {}; join all shares with bendwise gather\n",
        part.shard,
        options.out.display()
    ))
}

/// Computes a part of a sweep; `None` where it stopped as it was asked to, which is said.
fn compute(
    opened: &Opened,
    strategies: &[Strategy],
    part: &Part,
    options: &StudyOptions,
    sinks: Sinks<'_>,
    fails: Fails<'_>,
) -> Result<Option<StudyDone>, Failure> {
    study::watch_for_interrupts();
    let prepare = |point: usize| -> Result<study::RunTrial<'_>, String> {
        let values = part.setup.design.point(point);
        let scenario = opened.base.scenario_at(&values, point)?;
        let prepared = Prepared::new(&scenario).map_err(|error| error.to_string())?;
        // Where trials press is no part of a sweep's tables.
        Ok(Box::new(move |task, recorded| TrialRecord {
            pressed: Vec::new(),
            ..run_trial(&prepared, &strategies[task.strategy], task.trial, recorded)
        }))
    };
    let stop = study::interrupted();
    let done = study::run_study(part, options, stop, &prepare, sinks);
    let done = done.map_err(fails)?;
    if !done.complete {
        let kept = (done.resumed + done.computed).to_string();
        say_stopped(options.quiet, done.computed, &kept, &done.folder)?;
        return Ok(None);
    }
    Ok(Some(done))
}

/// A sweep file that was read, with its base scenario.
pub(super) struct Opened {
    pub(super) sweep: LoadedSweep,
    pub(super) base: Base,
    /// The base scenario, built.
    pub(super) first: Prepared,
}

impl Opened {
    /// Reads a sweep and its base scenario and builds that.
    pub(super) fn read(path: &Path) -> Result<Self, Failure> {
        setup::expect_sweep(path)?;
        let sweep = load_sweep(path).map_err(|error| match error {
            ScenarioError::Unreadable { path, cause } => Failure::Input(miette::miette!(
                help = "give the path of a readable sweep file, for example scenarios/sweeps/bend-shape.toml",
                "cannot read the sweep {}: {cause}",
                path.display()
            )),
            faulty @ ScenarioError::Faulty(_) => Failure::Input(faulty.into()),
        })?;
        let base = Base::read(&sweep).map_err(|error| faulty(&sweep, &error))?;
        let first = Prepared::new(&base.loaded().scenario).map_err(|error| {
            let changed = if sweep.spec.changes() {
                ", with what this sweep removes and sets,"
            } else {
                ""
            };
            Failure::Input(point_at(
                &sweep.source,
                &sweep.spec.scenario_place,
                format!("the base scenario{changed} cannot be built: {error}"),
                error.remedy().into(),
            ))
        })?;
        Ok(Self { sweep, base, first })
    }
}

/// The setup of a sweep that is to run, refused where it is too large for the options.
fn checked_setup(
    args: &SweepArgs,
    opened: &Opened,
    strategies: &[Strategy],
) -> Result<StudySetup, Failure> {
    let until_width = args.until_width.map(|width| UntilWidth {
        width,
        most_trials: MOST_FOR_WIDTH,
    });
    let setup = setup_of(opened, strategies, until_width)?;
    let spec = &opened.sweep.spec;
    if setup.points > MANY_POINTS && !args.yes {
        return Err(Failure::Input(point_at(
            &opened.sweep.source,
            &spec.design_place,
            format!(
                "the design has {} points, more than {MANY_POINTS}",
                setup.points
            ),
            "pass --yes if that is meant, or choose fewer levels or points".into(),
        )));
    }
    if let Some(search) = &spec.search
        && (args.shard.is_some() || args.until_width.is_some())
    {
        return Err(Failure::Input(point_at(
            &opened.sweep.source,
            &search.place,
            "a search compares all candidates after every batch, so it takes neither --shard nor --until-width"
                .into(),
            "remove [search] or the option".into(),
        )));
    }
    Ok(setup)
}

/// The setup of a sweep, refused where no machine could run it or its tables could not be told
/// apart.
pub(super) fn setup_of(
    opened: &Opened,
    strategies: &[Strategy],
    until_width: Option<UntilWidth>,
) -> Result<StudySetup, Failure> {
    let Opened { sweep, base, first } = opened;
    let spec = &sweep.spec;
    let design = Design {
        kind: spec.design,
        seed: base.seed(),
        parameters: spec.parameters.clone(),
    };
    let points = design.count().unwrap_or(usize::MAX);
    if points > MOST_POINTS {
        let found = match design.count() {
            Some(points) => points.to_string(),
            None => "uncountably many".to_owned(),
        };
        return Err(Failure::Input(point_at(
            &sweep.source,
            &spec.design_place,
            format!("the design has {found} points; allowed are up to {MOST_POINTS}"),
            "choose fewer levels or points".into(),
        )));
    }
    let batch = spec
        .search
        .as_ref()
        .map_or(base.trials(), |search| search.batch);
    let setup = StudySetup {
        version: String::new(),
        build: String::new(),
        of: StudyOf::Sweep(spec.name.clone()),
        description: spec.description.clone(),
        scenario: first.scenario().name.clone(),
        origin: first.scenario().origin.clone(),
        content_hash: base.content_hash(sweep),
        seed: base.seed(),
        points,
        trials: batch,
        recorded: 0,
        until_width,
        strategies: strategies.iter().map(|s| label(first, s)).collect(),
        design,
        map: spec.map.clone(),
        search: spec.search.clone(),
        files: copies(opened),
    }
    .stamped();
    let columns = trial_columns(&setup);
    for parameter in &setup.design.parameters {
        let same = columns.iter().filter(|c| c.name == parameter.column);
        if same.count() > 1 {
            return Err(faulty(
                sweep,
                &SweepError::TakenName {
                    column: parameter.column.clone(),
                    place: parameter.place.clone(),
                },
            ));
        }
    }
    Ok(setup)
}

/// Copies of the sweep file and of the files of its scenario, as they are on the disk; none where they are long.
fn copies(opened: &Opened) -> Vec<(String, String)> {
    /// Most bytes of all copies: each share of an array has them.
    const MOST_BYTES: usize = 65_536;
    let base = opened.base.original();
    let all: Vec<_> = [&opened.sweep.source, base]
        .into_iter()
        .flat_map(files)
        .collect();
    let bytes: usize = all.iter().map(|(_, text)| text.len()).sum();
    if bytes > MOST_BYTES { Vec::new() } else { all }
}

/// Points at the sweep file where a fault stands there; a fault of the base scenario alone is shown
/// in that.
fn faulty(sweep: &LoadedSweep, error: &SweepError) -> Failure {
    Failure::Input(match error {
        SweepError::Base(ScenarioError::Faulty(located)) => point_at(
            &sweep.source,
            &sweep.spec.scenario_place,
            format!("the base scenario has a fault: {located}"),
            located.advice(),
        ),
        error => point_at(
            &sweep.source,
            error.place().unwrap_or(&sweep.spec.scenario_place),
            error.to_string(),
            error.remedy().into(),
        ),
    })
}
