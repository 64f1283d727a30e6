//! `bendwise sweep --array`: shares for a batch scheduler.

use std::fs;
use std::path::Path;
use std::sync::LazyLock;
use std::time::Instant;

use rayon::prelude::*;

use super::failure::Failure;
use super::say;
use super::sweep::SweepArgs;
use super::sweep::{Opened, setup_of};
use crate::report::sweep::{ArrayScripts, ScriptFault, duration, memory_bytes, seconds_a_trial};
use crate::scenario::point_at;
use crate::study::store::{header::claim, write_file};
use crate::study::sweep::{ARRAY, ArrayPlan, CostSample, sample_points};
use crate::study::{Deal, Folders, KeepError, Part, StudySetup, note};
use crate::trial::{Prepared, Strategy, run_trial, strategies};

/// Points at which trials are measured at most.
const MOST_SAMPLES: usize = 256;

/// Writes a folder with scripts that compute a sweep in so many shares.
pub(super) fn array(args: &SweepArgs, of: u32) -> Result<(), Failure> {
    let opened = Opened::read(&args.sweep)?;
    let strategies = strategies(opened.first.scenario());
    let setup = setup_of(&opened, &strategies, None)?;
    refuse_what_cannot(&opened, &setup, of)?;
    let input = |error: std::io::Error| Failure::Input(miette::miette!("{error}"));
    let folder = std::path::absolute(&args.out).map_err(input)?;
    let sweep = fs::canonicalize(&args.sweep).map_err(input)?;
    let folders = Folders::prepare(&args.out, args.overwrite).map_err(Failure::of_study)?;
    claim(&folders, "array").map_err(Failure::of_study)?;
    let threads = args.threads.unwrap_or(1);
    let measured = TrialTimes::of(&opened, &setup, &strategies, args);
    let costs = setup.design.costs(setup.points, &measured.samples);
    let deal = Deal::by_cost(&costs, of);
    let mut loads = vec![0.0; of as usize];
    for (cost, share) in costs.iter().zip(deal.of_points()) {
        loads[*share as usize - 1] += cost * f64::from(setup.trials);
    }
    let share_seconds = loads.iter().copied().fold(0.0, f64::max);
    let scripts = ArrayScripts {
        program: std::env::current_exe().map_err(input)?,
        folder,
        sweep: setup.of.name(),
        of: of as usize,
        threads,
        share_seconds,
        share_bytes: memory_bytes(opened.first.vessel_bytes(), threads).max(measured.bytes),
        found_by: measured.words.clone(),
        account: args.account.as_deref(),
        partition: args.partition.as_deref(),
    };
    let no_script = |fault: ScriptFault| Failure::Input(miette::miette!("{fault}"));
    let plan = ArrayPlan {
        sweep,
        setup: setup.clone(),
        of: of as usize,
        deal,
    };
    let described = plan.to_bytes().map_err(|e| input(e.into()))?;
    let submit = scripts.submit().map_err(no_script)?;
    let files = [
        (ARRAY, described),
        ("submit.sh", format!("#!/bin/bash\n{submit}").into_bytes()),
        ("array.sh", scripts.array().map_err(no_script)?.into_bytes()),
        (
            "gather.sh",
            scripts.gather().map_err(no_script)?.into_bytes(),
        ),
    ];
    let kept = |error: KeepError| Failure::Incomplete(miette::miette!("{error}"));
    for (name, bytes) in files {
        write_file(&folders.partial().join(name), bytes).map_err(kept)?;
    }
    folders.complete().map_err(kept)?;
    // The scheduler opens the logs before anything of this program runs.
    let made = fs::create_dir_all(folders.target().join("logs"));
    made.map_err(|e| kept(KeepError::at(folders.target())(e)))?;
    if args.quiet {
        return Ok(());
    }
    say(&format!(
        "{of} shares of {} points, {} trials in all\n{}\nthe longest share: about {} of one core\n\n\
         look at the scripts, then submit them:\n\n{}\nhow far it is: bendwise status {}\n",
        setup.points,
        Part::whole(setup.clone()).total().unwrap_or(0),
        measured.words,
        duration(share_seconds),
        submit,
        args.out.display()
    ))
}

/// The plan of the array in a folder.
pub(super) fn plan_in(folder: &Path) -> Result<ArrayPlan, Failure> {
    let wrong = |text: String| Failure::Input(miette::miette!("{text}"));
    let plan = ArrayPlan::read(folder).map_err(|error| wrong(error.to_string()))?;
    plan.ok_or_else(|| {
        wrong(format!(
            "{} is no folder of an array; write one with bendwise sweep SWEEP --array N --out DIR",
            folder.display()
        ))
    })
}

/// Refuses a sweep that cannot be cut so.
fn refuse_what_cannot(opened: &Opened, setup: &StudySetup, of: u32) -> Result<(), Failure> {
    let sweep = &opened.sweep;
    if let Some(search) = &sweep.spec.search {
        return Err(Failure::Input(point_at(
            &sweep.source,
            &search.place,
            "a search compares all candidates after every batch, so it cannot be cut into shares"
                .into(),
            "remove [search], or run it on one machine".into(),
        )));
    }
    if setup.points < of as usize {
        return Err(Failure::Input(point_at(
            &sweep.source,
            &sweep.spec.design_place,
            format!(
                "the design has {} points, fewer than {of} shares",
                setup.points
            ),
            format!("give --array {} or less", setup.points),
        )));
    }
    Ok(())
}

/// What trials take, measured at some points.
struct TrialTimes {
    samples: Vec<CostSample>,
    /// Most memory that was taken, in bytes; 0 where the system does not say.
    bytes: f64,
    /// How it was found.
    words: String,
}

impl TrialTimes {
    /// Runs a trial of each strategy at scattered points for about `seconds`; 0: estimates from the
    /// techniques.
    fn of(opened: &Opened, setup: &StudySetup, strategies: &[Strategy], args: &SweepArgs) -> Self {
        let seconds = args.measure_s;
        let points = sample_points(setup.points, MOST_SAMPLES);
        let prepared = |point: usize| -> Option<Prepared> {
            let scenario = opened
                .base
                .scenario_at(&setup.design.point(point), point)
                .ok()?;
            Prepared::new(&scenario).ok()
        };
        if seconds == 0 {
            let samples = points.into_par_iter().filter_map(|point| {
                let prepared = prepared(point)?;
                let seconds = seconds_a_trial(prepared.scenario()) * strategies.len() as f64;
                Some(CostSample { point, seconds })
            });
            return Self {
                samples: samples.collect(),
                bytes: 0.0,
                words: "Time is estimated from the techniques; nothing was measured.".to_owned(),
            };
        }
        if !args.quiet {
            note(&format!(
                "measuring trials at scattered points for about {seconds} s"
            ));
        }
        let begun = Instant::now();
        let limit = std::time::Duration::from_secs(u64::from(seconds));
        let mut taken: Vec<(usize, Vec<(f64, f64)>)> = Vec::new();
        for some in points.chunks(2 * rayon::current_num_threads()) {
            if begun.elapsed() > limit {
                break;
            }
            taken.par_extend(some.par_iter().filter_map(|&point| {
                let prepared = prepared(point)?;
                let each = strategies.iter().map(|strategy| {
                    let begun = thread_seconds();
                    let row = run_trial(&prepared, strategy, 0, false).row;
                    let seconds = thread_seconds() - begun;
                    (f64::from(row.newton_iterations.max(1)), seconds)
                });
                Some((point, each.collect()))
            }));
        }
        Self::from_trials(&taken, strategies.len(), setup.points)
    }

    /// A trial costs its iterations times what one of its strategy takes in the mean over all samples: so
    /// other work on this machine does not decide which points are dear.
    fn from_trials(taken: &[(usize, Vec<(f64, f64)>)], strategies: usize, points: usize) -> Self {
        let an_iteration: Vec<f64> = (0..strategies)
            .map(|strategy| {
                let each = taken.iter().map(|(_, trials)| trials[strategy]);
                let (iterations, seconds) =
                    each.fold((0.0, 0.0), |sum, trial| (sum.0 + trial.0, sum.1 + trial.1));
                seconds / f64::max(iterations, 1.0)
            })
            .collect();
        let samples = taken.iter().map(|(point, trials)| {
            let each = trials.iter().zip(&an_iteration);
            CostSample {
                point: *point,
                seconds: each
                    .map(|((iterations, _), seconds)| iterations * seconds)
                    .sum(),
            }
        });
        Self {
            samples: samples.collect(),
            bytes: most_memory().unwrap_or(0.0),
            words: format!(
                "Time and memory follow from one trial of each strategy at {} of {points} points, measured on this machine.",
                taken.len()
            ),
        }
    }
}

/// Seconds of a processor that this thread has had, from any origin; where the system does not say, seconds
/// on the clock.
fn thread_seconds() -> f64 {
    static ORIGIN: LazyLock<Instant> = LazyLock::new(Instant::now);
    let said = fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = said.and_then(|said| said.split(' ').next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| ORIGIN.elapsed().as_secs_f64(), |ns| 1e-9 * ns)
}

/// The most memory that this process has taken, in bytes, where the system says so.
fn most_memory() -> Option<f64> {
    let status = fs::read_to_string(Path::new("/proc/self/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(1024.0 * kilobytes)
}
