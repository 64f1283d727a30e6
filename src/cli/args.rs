//! The commands, and what those that run trials have in common; the arguments of a command stand in its file.

use std::path::Path;

use clap::{ArgAction, Args as Group, Parser, Subcommand};

use super::assay::AssayArgs;
use super::check::CheckArgs;
use super::evidence::EvidenceArgs;
use super::export::ExportArgs;
use super::gather::GatherArgs;
use super::lesson::LessonArgs;
use super::run::RunArgs;
use super::schema::SchemaArgs;
use super::share::ShareArgs;
use super::status::StatusArgs;
use super::steer::SteerArgs;
use super::sweep::SweepArgs;
use super::values;
use super::view::ViewArgs;
use crate::study::StudyOptions;

/// Closing words of the help.
const AFTER_HELP: &str = "\
First steps:
  bendwise check scenarios/side-branch.toml
  bendwise schema --markdown        (every field, and a small whole scenario)
  bendwise check tree.vtp --picture pictures --start my.toml
  bendwise run scenarios/side-branch.toml --out results/side-branch
  bendwise steer scenarios/side-branch.toml --out results/by-hand
  bendwise assay scenarios/wires.toml --out results/wires

Exit status:
  0  done, or stopped where --at-most says
  1  the run could not be completed; the message says what is kept and how to resume
  2  the input is wrong; the message says where, and what is allowed
  75 stopped by Ctrl-C, a scheduler or its warning; the same command goes on from there

For teaching and engineering, not for clinical decisions. The model leaves out blood flow, wall
damage and, unless stated, heart motion. Instructions for use, local protocol and licensed operators decide.";

/// Simulates a guidewire tip in a curved, branching vessel.
///
/// A wire with a shaped tip is fed, turned and withdrawn by one technique or another, many times
/// over; the result says which technique and which wire reach a target branch how often, with
/// what force on the wall, and why they fail when they fail. Vessel, wires and techniques stand
/// in a scenario file (TOML); several come with the program under scenarios/.
#[derive(Debug, Clone, Parser)]
#[command(name = "bendwise", version, after_help = AFTER_HELP, max_term_width = 100)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Clone, Subcommand)]
pub enum Command {
    /// Run every technique of a scenario with every wire, many trials each
    ///
    /// Writes into --out: report.md (one page to read first), summary.json (the same for programs:
    /// success rates with intervals, forces, outcomes), trials.csv (a row a trial), traces and
    /// whole-wire shapes of some trials, and figures.
    /// Results are written beside --out and renamed into place at the end. A run that was
    /// interrupted goes on where it stopped when the same command is given again.
    Run(RunArgs),
    /// Steer a wire through a scenario by hand, on a page of this machine
    ///
    /// Serves a page to a browser of this machine, on which one trial is worked in real time: the arrow
    /// keys push, withdraw and turn, buttons move a catheter. Mechanics, limits and outcome are those of
    /// `run`. Every movement is kept in --out: a session goes on when the same command is given again.
    /// Writes into --out: session.csv (the movements) and study.toml (the scenario with the movements as
    /// one more technique, for `bendwise run`).
    Steer(SteerArgs),
    /// Build a lesson: pages that change one thing each, with playback, and every claim held against trials
    ///
    /// Runs the trials of each page of a lesson file and writes into --out: lesson.html (one file that opens
    /// in any browser, plays and prints), lesson.json (each claim with its measured value), trials.csv, traces,
    /// shapes and films. A claim that the trials do not bear out ends it with the measured value. With --live
    /// the lesson is then served to a browser of this machine, with a wire in hand on each page.
    Lesson(LessonArgs),
    /// Find the C-arm angles from which a branching is seen best, and what a poor view costs
    ///
    /// Writes into --out: report.md and summary.json (best view, best within reach, customary
    /// views, a second view, the view of both branches beyond a fork, the ostium from two views), a table and a map of all
    /// views, outline drawings of the current and the recommended view, and trials in which the
    /// operator sees nothing but one of the two. The scenario must have a view table.
    View(ViewArgs),
    /// Read and validate a scenario, a sweep or a lesson and describe it, without running anything
    ///
    /// Prints the scene as the program understands it: branches, take-off angles, diameters,
    /// tightest bends, and the stiffness of each wire along its length. Of a sweep it prints
    /// parameters, points, trials, and about how much time, memory and disk it will take. Takes a
    /// bare file of anatomy too, guesses what it does not say, and says so.
    Check(CheckArgs),
    /// Write the vessel of a scenario as centrelines and as a surface, in open formats
    ///
    /// Writes into --out: centrelines.vtp and centrelines.swc (centrelines with radius),
    /// branches.csv (names, lengths, take-off angles) and lumen.stl (the wall, a closed surface,
    /// for printing a phantom or for meshing). Lengths are in mm, the frame is the scene's: x to
    /// the patient's left, y to the head, z to the front.
    Export(ExportArgs),
    /// Run a scenario at many values of any of its parameters
    ///
    /// A sweep file names a scenario, the parameters that vary and the design: a full grid, a Latin
    /// hypercube, a Sobol sequence, or pick-freeze rows for sensitivity indices; or it asks for the
    /// best point under a wall-force limit. Writes into --out: trials.csv and trials.parquet (a row
    /// a trial), points.csv, sweep.json, report.md and figures. Rows go to disk as they finish: a
    /// sweep that was interrupted or killed goes on when the same command is given again.
    Sweep(SweepArgs),
    /// Compute one share of an array that sweep --array wrote
    ///
    /// Which one is said by its number, or by the number of the task in an array of a batch scheduler. A
    /// share that is finished is done at once; one that was stopped or killed goes on where it was.
    Share(ShareArgs),
    /// Say how far the shares of an array have come, what the result is so far, and what to submit again
    Status(StatusArgs),
    /// Join the parts of a sweep that share or sweep --shard computed, for example on several machines
    ///
    /// The result is the same, byte for byte, as that of the whole sweep. Shares that do not belong
    /// together, are missing or are there twice are refused.
    Gather(GatherArgs),
    /// Perform bench tests of the wires of a scenario, or of a file with wires alone
    ///
    /// Tip load, tip flexibility, three-point bending, torque response, track, pinch, kink,
    /// straightening of a vessel bend, and fits to measured curves, simulated with the same rod,
    /// contact and friction as the trials. Writes into --out: assay.json, report.md (a table, wires
    /// as columns), curves (CSV), figures with all wires, and fitted wires. It takes some seconds a wire;
    /// one that is interrupted begins anew.
    Assay(AssayArgs),
    /// Say what was checked, and how far the result of a scenario can be trusted
    ///
    /// Without a scenario: carries out the checks against values from outside on this machine. Writes into
    /// --out: report.html and checks.json. With one: runs it also with every setting of the solver made finer,
    /// singly and together, and with its uncertain inputs varied, always on the same draws. The page says by
    /// how much each force may be off, which outcomes change, what the result hangs on, and which inputs lie
    /// outside what was checked. Writes evidence.json and figures too. It goes on where it was interrupted
    /// when the same command is given again. A check that does not hold ends it with status 1.
    Evidence(EvidenceArgs),
    /// Print every field that may stand in a file, for an editor or as a page to read
    ///
    /// Prints the JSON Schema of a document, with which an editor completes and checks a file while
    /// it is written; or, with --markdown, a page with every field, its unit, range, default and
    /// meaning. The shipped files name their schema in their first line, and the schemas stand in
    /// scenarios/schema.
    Schema(SchemaArgs),
}

// How trials are computed; no comment for the help, where it would stand in place of a command's own.
#[derive(Debug, Clone, Group)]
#[allow(
    missing_docs,
    reason = "a comment here would be the help of each command"
)]
pub struct ComputeArgs {
    /// Threads to compute on; the results do not depend on it [default: one a core]
    #[arg(long, value_name = "N", value_parser = values::threads, allow_negative_numbers = true)]
    pub threads: Option<usize>,

    /// Stop after this many new trials; the same command goes on from there
    #[arg(long, value_name = "N", value_parser = values::at_most, allow_negative_numbers = true)]
    pub at_most: Option<usize>,

    /// No progress and no report, only warnings and errors
    #[arg(long, action = ArgAction::SetTrue)]
    pub quiet: bool,

    /// Replace results that are in --out already, once the new ones are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

// How work is done of which nothing is kept before its end; no comment for the help either.
#[derive(Debug, Clone, Group)]
#[allow(
    missing_docs,
    reason = "a comment here would be the help of each command"
)]
pub struct AtOnceArgs {
    /// Threads to compute on; the results do not depend on it [default: one a core]
    #[arg(long, value_name = "N", value_parser = values::threads)]
    pub threads: Option<usize>,

    /// No progress, only errors
    #[arg(long, action = ArgAction::SetTrue)]
    pub quiet: bool,

    /// Replace results that are in --out already, once the new ones are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

impl ComputeArgs {
    /// The same for a study whose results come into `out`.
    #[must_use]
    pub(super) fn options(&self, out: &Path) -> StudyOptions {
        StudyOptions {
            out: out.to_owned(),
            threads: self.threads,
            quiet: self.quiet,
            overwrite: self.overwrite,
            limit: self.at_most,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Args::command().debug_assert();
    }
}
