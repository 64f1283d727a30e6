//! What can be typed on the command line.

use std::path::PathBuf;

use clap::{ArgAction, Args as Group, Parser, Subcommand};

/// Closing words of the help.
const AFTER_HELP: &str = "\
First steps:
  bendwise check scenarios/side-branch.toml
  bendwise run scenarios/side-branch.toml --out results/side-branch

Exit status:
  0  done
  1  the run could not be completed; the message says what is kept and how to resume
  2  the input is wrong; the message says where, and what is allowed

For teaching and engineering, not for clinical decisions. The model leaves out blood flow, wall
damage and heart motion. Instructions for use, local protocol and licensed operators decide.";

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
    /// Writes into --out: summary.json (success rates with intervals, forces, outcomes),
    /// trials.csv (a row a trial), traces and whole-wire shapes of some trials, and figures.
    /// Results are written beside --out and renamed into place at the end. A run that was
    /// interrupted goes on where it stopped when the same command is given again.
    Run(RunArgs),
    /// Read and validate a scenario and describe it, without running anything
    ///
    /// Prints the scene as the program understands it: branches, take-off angles, diameters,
    /// tightest bends, and the stiffness of each wire along its length.
    Check(CheckArgs),
    /// Write the vessel of a scenario in open formats
    ///
    /// Writes into --out: centrelines.vtp and centrelines.swc (centrelines with radius),
    /// branches.csv (names, lengths, take-off angles) and lumen.stl (the wall, a closed surface,
    /// for printing a phantom or for meshing). Lengths are in mm, the frame is the scene's: x to
    /// the patient's left, y to the head, z to the front.
    Export(ExportArgs),
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
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub trials: Option<u32>,

    /// Seed of the random numbers, in place of the scenario's
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,

    /// Threads to compute on; the results do not depend on it [default: one a core]
    #[arg(long, value_name = "N", value_parser = threads)]
    pub threads: Option<usize>,

    /// Stop after this many new trials; the same command goes on from there
    #[arg(long, value_name = "N")]
    pub at_most: Option<usize>,

    /// No progress, only errors
    #[arg(long, action = ArgAction::SetTrue)]
    pub quiet: bool,

    /// Replace results that are in --out already, once the new ones are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

/// Arguments of `check`.
#[derive(Debug, Clone, Group)]
pub struct CheckArgs {
    /// Scenario file (TOML)
    pub scenario: PathBuf,

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
    #[arg(long, value_name = "MM", default_value_t = 0.01, value_parser = tolerance)]
    pub tolerance: f64,

    /// Replace what is in --out already, once the new files are complete
    #[arg(long, action = ArgAction::SetTrue)]
    pub overwrite: bool,
}

fn tolerance(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(mm) if (0.001..=1.0).contains(&mm) => Ok(mm),
        _ => Err("allowed is a number from 0.001 to 1, in mm".into()),
    }
}

fn threads(text: &str) -> Result<usize, String> {
    const MOST: usize = 1024;
    match text.parse() {
        Ok(threads @ 1..=MOST) => Ok(threads),
        _ => Err(format!("allowed is a whole number from 1 to {MOST}")),
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
