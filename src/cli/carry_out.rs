//! Carries out checks and published experiments, with progress on stderr, and stops between two of them.

use std::io::{self, IsTerminal};
use std::sync::atomic::{AtomicUsize, Ordering};

use indicatif::ProgressBar;
use rayon::prelude::*;

use super::draw_on;
use super::evidence::EvidenceArgs;
use super::failure::Failure;
use super::work;
use crate::evidence::{CATALOGUE, Check, EXPERIMENTS, Experiment, KeptChecks, Set};
use crate::report::evidence::CarriedOut;
use crate::study::{self, Folders, KeepError, note};

/// Carries out the checks that are asked for, and published experiments where no checks are named, on all threads.
/// What the work folder keeps of a command that was stopped is not carried out again.
pub(super) fn carry_out(args: &EvidenceArgs, folders: &Folders) -> Result<CarriedOut, Failure> {
    draw_on(args.compute.threads);
    let pool = work::threads(args.compute.threads)?;
    let checks: Vec<&'static Check> = CATALOGUE
        .iter()
        .filter(|check| is_wanted(args, check))
        .collect();
    let experiments = if args.only.is_empty() {
        EXPERIMENTS
    } else {
        &[]
    };
    study::watch_for_interrupts();
    let kept = KeptChecks::open(folders).map_err(Failure::of_study)?;
    let total = checks.len() + experiments.len();
    let progress = Progress::new(args.compute.quiet, total);
    let check = |check: &&'static Check| {
        let (checked, is_new) = wanted(|| kept.check(check))?;
        let holds = if checked.holds() {
            "holds"
        } else {
            "DOES NOT HOLD"
        };
        let when = if is_new { "" } else { ", kept from before" };
        progress.done(&format!(
            "check {}: {holds}, {:.1} s{when}",
            check.name, checked.measured.seconds
        ));
        Ok(checked)
    };
    let experiment = |experiment: &'static Experiment| {
        let (compared, is_new) = wanted(|| kept.experiment(experiment))?;
        let when = if is_new { "" } else { ", kept from before" };
        progress.done(&format!("experiment {}{when}", experiment.name));
        Ok(compared)
    };
    let carried = pool.install(|| -> Result<CarriedOut, Stopped> {
        Ok(CarriedOut {
            checks: checks
                .par_iter()
                .with_max_len(1)
                .map(check)
                .collect::<Result<_, Stopped>>()?,
            experiments: experiments
                .iter()
                .map(experiment)
                .collect::<Result<_, Stopped>>()?,
        })
    });
    progress.finish();
    carried.map_err(|stopped| {
        let done = progress.count.load(Ordering::Relaxed);
        let partial = folders.partial();
        match stopped {
            Stopped::Failed(error) => Failure::of_study(error.into_study_error(partial, done, total)),
            Stopped::Asked => Failure::Stopped(miette::miette!(
                "interrupted; {done} of {total} checks and experiments are kept in {}: run the same command again to \
                 go on from there",
                partial.display()
            )),
        }
    })
}

fn is_wanted(args: &EvidenceArgs, check: &Check) -> bool {
    if args.only.is_empty() {
        args.long || check.set == Set::Short
    } else {
        args.only.iter().any(|name| name == check.name)
    }
}

/// Why not all was carried out.
enum Stopped {
    /// Somebody asked for it.
    Asked,
    /// Something could not be kept.
    Failed(KeepError),
}

/// Does some of the work, unless somebody has asked to stop.
fn wanted<T>(work: impl FnOnce() -> Result<T, KeepError>) -> Result<T, Stopped> {
    if study::interrupted().load(Ordering::SeqCst) {
        return Err(Stopped::Asked);
    }
    work().map_err(Stopped::Failed)
}

/// Says what is done: a bar on a terminal, lines otherwise.
struct Progress {
    bar: Option<ProgressBar>,
    is_quiet: bool,
    total: usize,
    count: AtomicUsize,
}

impl Progress {
    fn new(is_quiet: bool, total: usize) -> Self {
        Self {
            bar: (!is_quiet && io::stderr().is_terminal())
                .then(|| work::bar(total, "checks and experiments")),
            is_quiet,
            total,
            count: AtomicUsize::new(0),
        }
    }

    fn done(&self, words: &str) {
        let now = self.count.fetch_add(1, Ordering::Relaxed) + 1;
        match &self.bar {
            Some(bar) => bar.inc(1),
            None if !self.is_quiet => note(&format!("{now} of {}, {words}", self.total)),
            None => {}
        }
    }

    fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
