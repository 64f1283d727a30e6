//! `bendwise share`: one share of an array.

use super::args::ShareArgs;
use super::array::plan_in;
use super::failure::Failure;
use super::sweep::{Opened, compute_share, is_there, setup_of};
use super::values;
use crate::study::StudyOptions;
use crate::study::sweep::ArrayPlan;
use crate::trial::strategies;

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
    let strategies = strategies(opened.first.scenario());
    let setup = setup_of(&opened, &strategies, None)?;
    let differences = plan.setup.differences(&setup);
    if !differences.is_empty() {
        let said = differences
            .iter()
            .map(|[field, then, now]| format!("{field}: then {then}, now {now}"));
        return Err(wrong(format!(
            "the array was written for another sweep, or by another build of the program ({}); write it anew \
             into another folder",
            said.collect::<Vec<_>>().join("; ")
        )));
    }
    let options = StudyOptions {
        out,
        threads: args.threads,
        quiet: args.quiet,
        overwrite: false,
        limit: args.at_most,
    };
    compute_share(&opened, &strategies, &part, &options)
}
