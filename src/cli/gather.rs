//! `bendwise gather`.

use std::path::PathBuf;

use clap::{ArgAction, Args as Group};

use super::failure::Failure;
use super::run::print_page;
use crate::report::sweep::sinks;
use crate::study::store::header::claim;
use crate::study::sweep::{ArrayPlan, GatherError, Shares};
use crate::study::{Folders, KeepError, StudyError};

/// Arguments of `gather`.
#[derive(Debug, Clone, Group)]
pub struct GatherArgs {
    /// Folder that sweep --array wrote, or the folders that sweep --shard wrote, all shares of one sweep
    pub shares: Vec<PathBuf>,

    /// Join what there is of an array whose shares are not all finished; every page and figure says so
    #[arg(long, action = ArgAction::SetTrue)]
    pub so_far: bool,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// No report, only warnings and errors
    #[arg(long, action = ArgAction::SetTrue)]
    pub quiet: bool,

    /// Replace results that are in --out already, once the new ones are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

/// Joins the shares of a sweep.
pub(super) fn gather(args: &GatherArgs) -> Result<(), Failure> {
    let wrong = |error: GatherError| Failure::Input(miette::miette!("{error}"));
    let shares = match (args.so_far, args.shares.as_slice()) {
        (false, folders) => Shares::open(folders),
        (true, [folder]) => ArrayPlan::read(folder).and_then(|plan| match plan {
            Some(plan) => Shares::of_array(folder, &plan, true),
            None => Err(GatherError::Nothing),
        }),
        (true, _) => Err(GatherError::Nothing),
    };
    let shares = shares.map_err(wrong)?;
    shares.refuse_as_target(&args.out).map_err(wrong)?;
    let setup = shares.setup();
    let folders = Folders::prepare(&args.out, args.overwrite).map_err(Failure::of_study)?;
    // What an earlier gather left unfinished is made again.
    claim(&folders, "gather").map_err(Failure::of_study)?;
    let failed = |error: KeepError| {
        let total = setup.points;
        let error = error.into_study_error(folders.partial(), total, total);
        Failure::Incomplete(miette::miette!("{}", gathering(&error)))
    };
    let handed = shares.hand_on(folders.partial(), sinks(setup));
    let handed = handed.map_err(failed)?;
    folders.complete().map_err(failed)?;
    print_page(&handed, &args.out, args.quiet)
}

/// A gather computes no trials: the shares stay as they are.
fn gathering(error: &StudyError) -> String {
    match error {
        StudyError::DiskFull { path, .. } => format!(
            "no space left while writing {}; the shares are untouched: make room and run the same \
             command again",
            path.display()
        ),
        StudyError::File { path, source, .. } => format!(
            "{}: {source}; the shares are untouched: remove the cause and run the same command again",
            path.display()
        ),
        StudyError::Output { what, reason, .. } => {
            format!("{what}: {reason}; the shares are untouched")
        }
        other => other.to_string(),
    }
}
