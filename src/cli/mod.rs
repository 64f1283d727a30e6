//! Command line: arguments in, exit status out. One file a command; no logic beyond parsing,
//! calling and reporting.

mod args;
mod assay;
mod bare;
mod check;
mod export;
mod failure;
mod gather;
mod run;
mod setup;
mod sweep;
mod view;

use std::io::{IsTerminal, Write};
use std::process::ExitCode;

use clap::Parser;

use crate::study::note;

pub use args::{
    Args, AssayArgs, CheckArgs, Command, ExportArgs, GatherArgs, RunArgs, SweepArgs, ViewArgs,
};

/// Width in columns to which messages are wrapped on a terminal.
const TERMINAL_WIDTH: usize = 100;

/// Runs the program: reads the arguments, carries out the command and says how it went.
///
/// Exit status: 0 done; 1 the run could not be completed; 2 the input is wrong (also an unknown
/// option).
#[must_use]
pub fn main() -> ExitCode {
    let args = Args::parse();
    print_reports_plainly();
    let result = match &args.command {
        Command::Run(args) => run::run(args),
        Command::View(args) => view::view(args),
        Command::Check(args) => check::check(args),
        Command::Export(args) => export::export(args),
        Command::Sweep(args) => sweep::sweep(args),
        Command::Gather(args) => gather::gather(args),
        Command::Assay(args) => assay::assay(args),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            note(&format!("{:?}", failure.report()));
            failure.exit_code()
        }
    }
}

/// Error messages with the source line; wrapped and coloured on a terminal only, so that a log
/// holds each message on one line.
fn print_reports_plainly() {
    let terminal = std::io::stderr().is_terminal();
    // A second call finds a handler in place, which is as good.
    let _ = miette::set_hook(Box::new(move |_| {
        Box::new(
            miette::MietteHandlerOpts::new()
                .wrap_lines(terminal)
                .width(TERMINAL_WIDTH)
                .break_words(false)
                .terminal_links(false)
                .build(),
        )
    }));
}

/// Prints on standard output. A reader that has seen enough closes the pipe; that is no failure.
fn say(text: &str) {
    let _ = std::io::stdout().write_all(text.as_bytes());
}
