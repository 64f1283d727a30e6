//! `bendwise sweep`.

use std::path::Path;

use super::args::SweepArgs;
use super::failure::Failure;
use super::run::label;
use super::setup;
use super::{draw_on, say, say_stopped};
use crate::report::sweep::{SweepSummary, sweep_page, trial_columns, write_sweep};
use crate::scenario::sweep::{LoadedSweep, load_sweep};
use crate::scenario::{ScenarioError, point_at};
use crate::study::sweep::{
    Base, Design, Race, Shard, SweepError, SweepPlan, Task, UntilWidth, run_sweep, write_share,
};
use crate::study::{self, KeepError, StudyOptions};
use crate::trial::{Prepared, Strategy, run_trial, strategies};

/// Points above which a sweep wants --yes.
pub(super) const MANY_POINTS: usize = 10_000;
/// Most trials of a strategy at one point for a wanted interval width.
const MOST_FOR_WIDTH: u32 = 100_000;
/// Most points of a sweep.
const MOST_POINTS: usize = 1_000_000_000;

/// Runs a sweep, or a share of it.
pub(super) fn sweep(args: &SweepArgs) -> Result<(), Failure> {
    let opened = Opened::read(&args.sweep)?;
    let strategies = strategies(opened.first.scenario());
    let plan = plan(args, &opened, &strategies)?;
    let base = &opened.base;
    let shard = args.shard.unwrap_or(Shard::WHOLE);
    let options = StudyOptions {
        out: args.out.clone(),
        threads: args.threads,
        quiet: args.quiet,
        overwrite: args.overwrite,
        limit: args.at_most,
    };
    study::watch_for_interrupts();
    let prepare = |point: usize| {
        let scenario = base.scenario_at(&plan.design.point(point), point)?;
        Prepared::new(&scenario).map_err(|error| error.to_string())
    };
    let compute = |prepared: &Prepared, task: Task| {
        run_trial(prepared, &strategies[task.strategy], task.trial, false).row
    };
    let mut run = run_sweep(
        &plan,
        shard,
        &options,
        study::interrupted(),
        prepare,
        compute,
    )
    .map_err(Failure::of_study)?;
    let kept = run.resumed + run.computed;
    if !run.complete {
        let folder = run.folders.partial();
        return say_stopped(args.quiet, run.computed, &kept.to_string(), folder);
    }
    let partial = run.folders.partial().to_owned();
    let failed = |error: KeepError| Failure::of_study(error.into_study_error(&partial, kept, kept));
    if args.shard.is_some() {
        let rows = run.store.in_order(plan.points, shard);
        write_share(&partial, (&plan, shard), rows).map_err(failed)?;
        run.folders.complete().map_err(failed)?;
        if !args.quiet {
            say(&format!(
                "share {}/{} written to {}; join all shares with bendwise gather\n",
                shard.number,
                shard.of,
                args.out.display()
            ))?;
        }
        return Ok(());
    }
    let race = match &plan.search {
        Some(search) => Some(Race::result(&plan, search, &mut run.store).map_err(failed)?),
        None => None,
    };
    let rows = run.store.in_order(plan.points, Shard::WHOLE);
    draw_on(args.threads);
    let summary = write_sweep(&partial, &plan, rows, race).map_err(failed)?;
    run.folders.complete().map_err(failed)?;
    report(&summary, &args.out, args.quiet)?;
    if summary.not_built.points == plan.points {
        return Err(Failure::Incomplete(miette::miette!(
            "no point of the sweep could be built; report.md in {} says why",
            args.out.display()
        )));
    }
    Ok(())
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

/// The plan of a sweep that is to run, refused where it is too large for the options.
fn plan(args: &SweepArgs, opened: &Opened, strategies: &[Strategy]) -> Result<SweepPlan, Failure> {
    let until_width = args.until_width.map(|width| UntilWidth {
        width,
        most_trials: MOST_FOR_WIDTH,
    });
    let plan = plan_of(opened, strategies, until_width)?;
    let spec = &opened.sweep.spec;
    if plan.points > MANY_POINTS && !args.yes {
        return Err(Failure::Input(point_at(
            &opened.sweep.source,
            &spec.design_place,
            format!(
                "the design has {} points, more than {MANY_POINTS}",
                plan.points
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
    Ok(plan)
}

/// The plan of a sweep, refused where no machine could run it or its tables could not be told
/// apart.
pub(super) fn plan_of(
    opened: &Opened,
    strategies: &[Strategy],
    until_width: Option<UntilWidth>,
) -> Result<SweepPlan, Failure> {
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
    let plan = SweepPlan {
        version: String::new(),
        build: String::new(),
        name: spec.name.clone(),
        description: spec.description.clone(),
        scenario: first.scenario().name.clone(),
        origin: first.scenario().origin.clone(),
        content_hash: base.content_hash(sweep),
        seed: base.seed(),
        points,
        trials: batch,
        until_width,
        strategies: strategies.iter().map(|s| label(first, s)).collect(),
        design,
        map: spec.map.clone(),
        search: spec.search.clone(),
    }
    .stamped();
    let columns = trial_columns(&plan);
    for parameter in &plan.design.parameters {
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
    Ok(plan)
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

/// Prints the page of a finished sweep.
pub(super) fn report(summary: &SweepSummary, out: &Path, quiet: bool) -> Result<(), Failure> {
    if quiet {
        return Ok(());
    }
    let page = sweep_page(summary);
    let short = page.split("## Columns").next().unwrap_or_default();
    say(&format!(
        "{short}{}\n\nwritten to {}\n",
        summary.caution,
        out.display()
    ))
}
