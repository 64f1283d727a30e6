//! `bendwise share`: one share of an array.

use std::path::PathBuf;

use clap::{ArgAction, Args as Group};

use super::array::plan_in;
use super::failure::Failure;
use super::sweep::{Opened, compute_share, is_there, setup_of};
use super::values;
use crate::study::sweep::ArrayPlan;
use crate::study::{StudyError, StudyOptions};
use crate::trial::strategies;

/// Arguments of `share`.
#[derive(Debug, Clone, Group)]
pub struct ShareArgs {
    /// Folder that sweep --array wrote
    pub array: PathBuf,

    /// Number of the share, from 1 [default: the number of the task in an array of the scheduler]
    pub number: Option<usize>,

    /// Threads to compute on; the results do not depend on it [default: one a core]
    #[arg(long, value_name = "N", value_parser = values::threads, allow_negative_numbers = true)]
    pub threads: Option<usize>,

    /// Stop after this many new trials; the same command goes on from there
    #[arg(long, value_name = "N", value_parser = values::at_most, allow_negative_numbers = true)]
    pub at_most: Option<usize>,

    /// No progress, only warnings and errors
    #[arg(long, action = ArgAction::SetTrue)]
    pub quiet: bool,
}

/// Computes one share of the array in a folder.
pub(super) fn share(args: &ShareArgs) -> Result<(), Failure> {
    let folder = &args.array;
    let wrong = |text: String| Failure::Input(miette::miette!("{text}"));
    let plan = plan_in(folder)?;
    let number = match args.number {
        Some(number) => number,
        None => values::task_number().map_err(wrong)?,
    };
    if !(1..=plan.of).contains(&number) {
        return Err(wrong(format!(
            "share {number} does not exist; this array has shares 1 to {}",
            plan.of
        )));
    }
    let part = plan.share(number);
    let out = ArrayPlan::share_folder(folder, number);
    if is_there(&out, &part, args.quiet)? {
        return Ok(());
    }
    let opened = Opened::read(&plan.sweep)?;
    if let Some(changed) = changes(&plan, &opened)? {
        return Err(wrong(format!(
            "since the array was written there have changed: {changed}; undo that, or write the array anew into \
             another folder"
        )));
    }
    let options = StudyOptions {
        out,
        threads: args.threads,
        quiet: args.quiet,
        overwrite: false,
        limit: args.at_most,
    };
    let strategies = strategies(opened.first.scenario());
    let fails = |error: StudyError| match error {
        // A share has no folder to choose, and what another process computes is no fault of the input.
        StudyError::Busy { .. } => Failure::Stopped(miette::miette!(
            "share {number}/{} is at work already, in another process; this one leaves it alone",
            plan.of
        )),
        error => Failure::of_study(error),
    };
    compute_share(&opened, &strategies, &part, &options, &fails)
}

/// What has changed since the array was written, in words; `None` if nothing has.
pub(super) fn changes(plan: &ArrayPlan, opened: &Opened) -> Result<Option<String>, Failure> {
    let strategies = strategies(opened.first.scenario());
    let setup = setup_of(opened, &strategies, None)?;
    let said: Vec<String> = plan
        .setup
        .differences(&setup)
        .iter()
        .map(|[field, then, now]| match field.as_str() {
            "content hash" => format!(
                "what {}, its scenario and the files that these name say",
                plan.sweep.display()
            ),
            "build" => "the program, by another build".to_owned(),
            "design" => "the parameters or points of the sweep".to_owned(),
            _ => format!("{field} (then {then}, now {now})"),
        })
        .collect();
    Ok((!said.is_empty()).then(|| said.join("; ")))
}
