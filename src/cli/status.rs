//! `bendwise status`: how far the shares of an array have come.

use std::fmt::Write as _;

use super::args::StatusArgs;
use super::array::plan_in;
use super::failure::Failure;
use super::say;
use crate::shown::counted;
use crate::study::Part;
use crate::study::statistics::wilson_interval;
use crate::study::sweep::{ArrayPlan, ShareState, ShareTally, ranges};

/// Says how far the shares of the array in a folder have come, and what the result is so far.
pub(super) fn status(args: &StatusArgs) -> Result<(), Failure> {
    let folder = &args.array;
    let plan = plan_in(folder)?;
    let mut sum = ShareTally::new(plan.setup.strategies.len());
    let (mut done, mut begun, mut missing) = (Vec::new(), Vec::new(), Vec::new());
    let mut faults = Vec::new();
    for number in 1..=plan.of {
        match plan.state(folder, number) {
            Ok(ShareState::Done(tally)) => {
                sum.add(&tally);
                done.push(number);
            }
            Ok(ShareState::Begun(tally)) => {
                sum.add(&tally);
                begun.push((number, tally.all_trials()));
            }
            Ok(ShareState::Missing) => missing.push(number),
            Err(fault) => faults.push((number, fault.to_string())),
        }
    }
    let mut text = format!(
        "ARRAY {}: {} of {} points\n",
        plan.setup.of.name(),
        counted(plan.of, "share", "shares"),
        plan.setup.points
    );
    let line = |text: &mut String, what: &str, numbers: &[usize]| {
        let _ = writeln!(text, "  {what:<9}{:>6}  {}", numbers.len(), ranges(numbers));
    };
    line(&mut text, "done", &done);
    let numbers: Vec<usize> = begun.iter().map(|(number, _)| *number).collect();
    line(&mut text, "begun", &numbers);
    for (number, trials) in &begun {
        let all = plan.share(*number).total().unwrap_or(0);
        let _ = writeln!(
            text,
            "{:17}share {number}: {trials} of {all} trials are kept",
            ""
        );
    }
    line(&mut text, "missing", &missing);
    if !faults.is_empty() {
        let numbers: Vec<usize> = faults.iter().map(|(number, _)| *number).collect();
        line(&mut text, "damaged", &numbers);
        for (number, fault) in &faults {
            let share = ArrayPlan::share_folder(folder, *number);
            let share = share.display();
            let _ = writeln!(
                text,
                "{:17}{fault}\n{:17}remove {share} and submit share {number} again",
                "", ""
            );
        }
    }
    result(&mut text, &plan, &sum);
    let mut open: Vec<usize> = missing.into_iter().chain(numbers).collect();
    open.sort_unstable();
    next(
        &mut text,
        &open,
        faults.is_empty(),
        &args.array.display().to_string(),
    );
    say(&text)
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
        let counts = [reached, trials].map(|n| u32::try_from(n).unwrap_or(u32::MAX));
        let (low, high) = wilson_interval(counts[0], counts[1], 0.95);
        let rate = match trials {
            0 => "no trial yet".to_owned(),
            _ => format!(
                "reached {reached} of {trials}, {:.0} % (95 % interval of independent trials {:.0} to {:.0} %), unresolved {}",
                100.0 * reached as f64 / trials as f64,
                100.0 * low,
                100.0 * high,
                sum.unresolved[i]
            ),
        };
        let _ = writeln!(text, "  {}: {rate}", strategy.name);
    }
}

/// What to do next.
fn next(text: &mut String, open: &[usize], is_sound: bool, folder: &str) {
    if open.is_empty() && is_sound {
        let _ = writeln!(
            text,
            "\nALL SHARES ARE DONE\n  bendwise gather {folder} --out RESULT"
        );
    } else if !open.is_empty() {
        let list = ranges(open).replace(' ', "");
        let _ = writeln!(
            text,
            "\nSUBMIT AGAIN what is not queued or running\n  sbatch --array={list} {folder}/array.sh\n\
             \nJOIN WHAT THERE IS\n  bendwise gather {folder} --so-far --out RESULT"
        );
    }
}
