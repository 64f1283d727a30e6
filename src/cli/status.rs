//! `bendwise status`: how far the shares of an array have come.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use clap::Args as Group;

use super::array::plan_in;
use super::failure::Failure;
use super::say;
use super::share::changes;
use super::sweep::Opened;
use crate::report::sweep::{ScriptFault, shell_path, submit};
use crate::shown::counted;
use crate::study::Part;
use crate::study::sweep::{ArrayPlan, ShareState, ShareTally, ranges};

/// Arguments of `status`.
#[derive(Debug, Clone, Group)]
pub struct StatusArgs {
    /// Folder that sweep --array wrote
    pub array: PathBuf,
}

/// The shares of an array by how far they have come, each with its trials.
#[derive(Default)]
struct Shares {
    done: Vec<usize>,
    at_work: Vec<(usize, usize)>,
    begun: Vec<(usize, usize)>,
    missing: Vec<usize>,
    /// Damaged ones, with what is wrong.
    damaged: Vec<(usize, String)>,
    tally: ShareTally,
}

impl Shares {
    fn look(plan: &ArrayPlan, folder: &Path) -> Self {
        let mut shares = Self {
            tally: ShareTally::new(plan.setup.strategies.len()),
            ..Self::default()
        };
        for number in 1..=plan.of {
            match plan.state(folder, number) {
                Ok(ShareState::Done(tally)) => {
                    shares.tally.add(&tally);
                    shares.done.push(number);
                }
                Ok(ShareState::AtWork(tally)) => {
                    shares.tally.add(&tally);
                    shares.at_work.push((number, tally.all_trials()));
                }
                Ok(ShareState::Begun(tally)) => {
                    shares.tally.add(&tally);
                    shares.begun.push((number, tally.all_trials()));
                }
                Ok(ShareState::Missing) => shares.missing.push(number),
                Err(fault) => shares.damaged.push((number, fault.to_string())),
            }
        }
        shares
    }

    /// Those that nobody is at work on and that are not done, damaged ones aside.
    fn open(&self) -> Vec<usize> {
        let begun = self.begun.iter().map(|(number, _)| *number);
        let mut open: Vec<usize> = self.missing.iter().copied().chain(begun).collect();
        open.sort_unstable();
        open
    }
}

/// Says how far the shares of the array in a folder have come, and what the result is so far.
pub(super) fn status(args: &StatusArgs) -> Result<(), Failure> {
    let folder = &args.array;
    let plan = plan_in(folder)?;
    let shares = Shares::look(&plan, folder);
    let mut text = format!(
        "ARRAY {}: {} of {} points\n",
        plan.setup.of.name(),
        counted(plan.of, "share", "shares"),
        plan.setup.points
    );
    counts(&mut text, &plan, folder, &shares);
    result(&mut text, &plan, &shares.tally);
    let is_open = shares.done.len() < plan.of;
    if is_open && let Some(changed) = changed(&plan) {
        let _ = writeln!(
            text,
            "\nCHANGED since the array was written, so that no share runs: {changed}"
        );
    }
    next(&mut text, &shares, folder).map_err(|fault| Failure::Input(miette::miette!("{fault}")))?;
    say(&text)
}

/// How many shares have come how far, and which.
fn counts(text: &mut String, plan: &ArrayPlan, folder: &Path, shares: &Shares) {
    let line = |text: &mut String, what: &str, numbers: &[usize]| {
        let _ = writeln!(text, "  {what:<9}{:>6}  {}", numbers.len(), ranges(numbers));
    };
    line(text, "done", &shares.done);
    for (what, some) in [("at work", &shares.at_work), ("begun", &shares.begun)] {
        let numbers: Vec<usize> = some.iter().map(|(number, _)| *number).collect();
        line(text, what, &numbers);
        for (number, trials) in some {
            let all = plan.share(*number).total().unwrap_or(0);
            let _ = writeln!(
                text,
                "{:17}share {number}: {trials} of {all} trials are kept",
                ""
            );
        }
    }
    line(text, "missing", &shares.missing);
    if shares.damaged.is_empty() {
        return;
    }
    let numbers: Vec<usize> = shares.damaged.iter().map(|(number, _)| *number).collect();
    line(text, "damaged", &numbers);
    for (number, fault) in &shares.damaged {
        let share = ArrayPlan::share_folder(folder, *number);
        let share = share.display();
        let _ = writeln!(
            text,
            "{:17}{fault}\n{:17}remove {share} and submit share {number} again",
            "", ""
        );
    }
}

/// What the result would be now.
fn result(text: &mut String, plan: &ArrayPlan, sum: &ShareTally) {
    let all = Part::whole(plan.setup.clone()).total().unwrap_or(0);
    let _ = writeln!(
        text,
        "\nRESULT SO FAR: {} of {all} trials{}",
        sum.all_trials(),
        match sum.refused {
            0 => String::new(),
            refused => format!(
                "; {} could not be built",
                counted(refused, "point", "points")
            ),
        }
    );
    for (i, strategy) in plan.setup.strategies.iter().enumerate() {
        let (trials, reached) = (sum.trials[i], sum.reached[i]);
        let rate = match trials {
            0 => "no trial yet".to_owned(),
            _ => format!(
                "reached {reached} of {trials}, {:.0} %, unresolved {}",
                100.0 * reached as f64 / trials as f64,
                sum.unresolved[i]
            ),
        };
        let _ = writeln!(text, "  {}: {rate}", strategy.name);
    }
    if sum.all_trials() > 0 {
        text.push_str(
            "  Intervals, which count draws and not trials, are in the report of what is joined.\n",
        );
    }
}

/// What has changed since the array was written, in words; a share would refuse to run.
fn changed(plan: &ArrayPlan) -> Option<String> {
    match Opened::read(&plan.sweep) {
        Ok(opened) => changes(plan, &opened).ok().flatten(),
        Err(error) => Some(error.report().to_string()),
    }
}

/// What to do next.
fn next(text: &mut String, shares: &Shares, folder: &Path) -> Result<(), ScriptFault> {
    let at = shell_path(folder)?;
    let open = shares.open();
    let is_sound = shares.damaged.is_empty();
    if open.is_empty() && shares.at_work.is_empty() && is_sound {
        let _ = match folder.join("result").is_dir() {
            true => writeln!(
                text,
                "\nALL SHARES ARE DONE AND JOINED in {}",
                folder.join("result").display()
            ),
            false => writeln!(
                text,
                "\nALL SHARES ARE DONE; join them by one of\n  sbatch {at}/gather.sh\n  bendwise gather {at} --out {at}/result"
            ),
        };
        return Ok(());
    }
    if !open.is_empty() {
        let list = ranges(&open).replace(' ', "");
        let lines = submit(folder, Some(&list))?.replace('\n', "\n  ");
        let _ = writeln!(
            text,
            "\nSUBMIT AGAIN, without those that wait in a queue\n  {}",
            lines.trim_end()
        );
    }
    let _ = writeln!(
        text,
        "\nJOIN WHAT THERE IS\n  bendwise gather {at} --so-far --out {at}/so-far"
    );
    Ok(())
}
