//! What can be typed on the command line.

use std::path::{Path, PathBuf};

use clap::{ArgAction, Args as Group, Parser, Subcommand};

use super::values;
use crate::anatomy::{Frame, Unit};
use crate::assay::Test;
use crate::evidence::Uncertain;
use crate::scenario::Document;
use crate::study::{Shard, StudyOptions};

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

/// Arguments of `assay`.
#[derive(Debug, Clone, Group)]
pub struct AssayArgs {
    /// Scenario file, or a file with wires alone and perhaps settings of the bench (TOML)
    #[arg(required_unless_present = "list")]
    pub scenario: Option<PathBuf>,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR", required_unless_present = "list")]
    pub out: Option<PathBuf>,

    /// Explain each test in two lines, with its source, and do nothing else
    #[arg(long, action = ArgAction::SetTrue)]
    pub list: bool,

    /// Only these tests, separated by commas: names as in --list
    #[arg(long, value_name = "TESTS", value_delimiter = ',', value_parser = values::bench_test)]
    pub only: Vec<Test>,

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

/// Arguments of `evidence`.
#[derive(Debug, Clone, Group)]
pub struct EvidenceArgs {
    /// Scenario file (TOML) [default: the checks alone]
    pub scenario: Option<PathBuf>,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR", required_unless_present = "list")]
    pub out: Option<PathBuf>,

    /// Explain each check and each input that is varied, and do nothing else
    #[arg(long, action = ArgAction::SetTrue)]
    pub list: bool,

    /// Only these checks, separated by commas: names as in --list
    #[arg(long, value_name = "CHECKS", value_delimiter = ',', value_parser = values::check)]
    pub only: Vec<String>,

    /// The checks that take minutes too
    #[arg(long, action = ArgAction::SetTrue)]
    pub long: bool,

    /// Draws of each technique with each wire; at least 1
    #[arg(long, value_name = "N", default_value_t = 8, value_parser = values::trials, allow_negative_numbers = true)]
    pub trials: u32,

    /// Rows of drawn inputs, for the shares of the variance; each has two runs more than there are inputs,
    /// and 0 leaves them out
    #[arg(long, value_name = "N", default_value_t = 16, value_parser = values::rows, allow_negative_numbers = true)]
    pub rows: usize,

    /// Half of the interval in % within which a force counts as converged
    #[arg(long, value_name = "PER_CENT", default_value_t = 5.0, value_parser = values::per_cent, allow_negative_numbers = true)]
    pub within: f64,

    /// Spread of an input in place of the usual one, such as friction=0.8:1.25; may be given several times
    #[arg(long, value_name = "NAME=LOW:HIGH", value_parser = values::spread)]
    pub spread: Vec<(Uncertain, f64, f64)>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N", value_parser = values::seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// How its trials are computed.
    #[command(flatten)]
    pub compute: ComputeArgs,
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

/// Arguments of `run`.
#[derive(Debug, Clone, Group)]
pub struct RunArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Trials of each technique with each wire, in place of the scenario's; at least 1
    #[arg(long, value_name = "N", value_parser = values::trials, allow_negative_numbers = true)]
    pub trials: Option<u32>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N", value_parser = values::seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// How its trials are computed.
    #[command(flatten)]
    pub compute: ComputeArgs,
}

/// Arguments of `steer`.
#[derive(Debug, Clone, Group)]
pub struct SteerArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

    /// Folder for the session; it must not exist yet, be empty, or hold a session of the same scenario
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Technique whose devices are used: its catheter, balloon, fold and sight [default: the first]
    #[arg(long, value_name = "NAME")]
    pub technique: Option<String>,

    /// Wire with which the trial begins [default: the first]
    #[arg(long, value_name = "NAME")]
    pub wire: Option<String>,

    /// Number of the trial whose draw of roll, friction and size is worked, from 0
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u32).range(0..1_000_000))]
    pub trial: u32,

    /// Port of this machine on which the page is served [default: one that is free]
    #[arg(long, value_name = "N", default_value_t = 0, hide_default_value = true)]
    pub port: u16,
}

/// Arguments of `lesson`.
#[derive(Debug, Clone, Group)]
pub struct LessonArgs {
    /// Lesson file (TOML)
    pub lesson: PathBuf,

    /// Folder for the lesson; it must not exist yet, be empty, or with --live hold this lesson
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Serve the lesson on a page of this machine, with a wire in hand; sessions are kept in DIR-by-hand
    #[arg(long, action = ArgAction::SetTrue)]
    pub live: bool,

    /// Port of this machine on which it is served [default: one that is free]
    #[arg(
        long,
        value_name = "N",
        default_value_t = 0,
        hide_default_value = true,
        requires = "live"
    )]
    pub port: u16,

    /// How its trials are computed.
    #[command(flatten)]
    pub compute: ComputeArgs,
}

/// Arguments of `view`.
#[derive(Debug, Clone, Group)]
pub struct ViewArgs {
    /// Scenario file (TOML) with a view table
    pub scenario: PathBuf,

    /// Folder for the results; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Branch whose branching is to be seen; may be given more than once [default: what the
    /// scenario says, or its target]
    #[arg(long = "branch", value_name = "NAME")]
    pub branches: Vec<String>,

    /// Stretch of a vessel to be seen, such as LAD:10-30 (stations in mm); may be given more than
    /// once
    #[arg(long = "segment", value_name = "BRANCH:FROM-TO")]
    pub segments: Vec<String>,

    /// The view in which the operator works now, in place of the scenario's, such as "RAO 30"
    #[arg(long, value_name = "VIEW")]
    pub current: Option<String>,

    /// Only views, no trials
    #[arg(long, action = ArgAction::SetTrue)]
    pub no_runs: bool,

    /// Trials with each wire in each view, in place of the scenario's; at least 1
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub trials: Option<u32>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,

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

/// Arguments of `schema`.
#[derive(Debug, Clone, Group)]
pub struct SchemaArgs {
    /// Which document: scenario, sweep, lesson, wires, tree (branches named by vessel.tree) or spread
    /// (places named by anatomy.spread)
    #[arg(default_value = "scenario", value_parser = values::document)]
    pub document: Document,

    /// Print a page with every field in Markdown instead
    #[arg(long)]
    pub markdown: bool,
}

/// Arguments of `check`.
#[derive(Debug, Clone, Group)]
pub struct CheckArgs {
    /// Scenario, sweep, lesson or file of wires (TOML), or a bare file of anatomy (.vtp, .vtk, .swc,
    /// .csv, .stl, .ply, .obj)
    pub scenario: PathBuf,

    /// Write a scenario to start from for a bare file of anatomy, every choice with its reason; the
    /// file must not exist yet
    #[arg(long, value_name = "FILE")]
    pub start: Option<PathBuf>,

    /// Unit of a bare file of anatomy: mm, cm or m [default: guessed from its size, and said]
    #[arg(long, value_name = "UNIT", value_parser = values::unit)]
    pub units: Option<Unit>,

    /// Which way the axes of a bare file of anatomy point: left-posterior-superior (LPS),
    /// right-anterior-superior (RAS) or scene [default: what the file states, else guessed]
    #[arg(long, value_name = "FRAME", value_parser = values::frame)]
    pub frame: Option<Frame>,

    /// Also draw the tree into this folder: names, diameters, take-off angles and tightest bends
    /// in two projections (tree.png, tree.svg)
    #[arg(long, value_name = "DIR")]
    pub picture: Option<PathBuf>,
}

/// Arguments of `export`.
#[derive(Debug, Clone, Group)]
pub struct ExportArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

    /// Folder for the files; it must not exist yet, or be empty
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,

    /// Largest distance of the facets of lumen.stl from the wall, in mm, 0.001 to 1
    #[arg(long, value_name = "MM", default_value_t = 0.01, value_parser = values::tolerance)]
    pub tolerance: f64,

    /// Replace what is in --out already, once the new files are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

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

/// Arguments of `status`.
#[derive(Debug, Clone, Group)]
pub struct StatusArgs {
    /// Folder that sweep --array wrote
    pub array: PathBuf,
}

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

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_well_formed() {
        Args::command().debug_assert();
    }
}
