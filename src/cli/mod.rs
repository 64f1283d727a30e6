//! Command line: arguments in, exit status out. One file a command; no logic beyond parsing,
//! calling and reporting.

mod args;
mod array;
mod assay;
mod bare;
mod carry_out;
mod check;
mod check_lesson;
mod check_sweep;
mod evidence;
mod export;
mod failure;
mod gather;
mod lesson;
mod run;
mod scene_words;
mod schema;
mod setup;
mod share;
mod status;
mod steer;
mod sweep;
mod values;
mod view;
mod work;

use std::io::{ErrorKind, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use clap::Parser;
use clap::builder::StyledStr;

use crate::study::{Part, StudyDone, note};
use failure::Failure;

pub use args::{Args, AtOnceArgs, Command, ComputeArgs};
pub use assay::AssayArgs;
pub use check::CheckArgs;
pub use evidence::EvidenceArgs;
pub use export::ExportArgs;
pub use gather::GatherArgs;
pub use lesson::LessonArgs;
pub use run::RunArgs;
pub use schema::SchemaArgs;
pub use share::ShareArgs;
pub use status::StatusArgs;
pub use steer::SteerArgs;
pub use sweep::SweepArgs;
pub use view::ViewArgs;

/// Width in columns to which messages are wrapped on a terminal.
const TERMINAL_WIDTH: usize = 100;

/// Runs the program: reads the arguments, carries out the command and says how it went.
///
/// Exit status: 0 done; 1 the run could not be completed; 2 the input is wrong (also an unknown
/// option); 75 stopped, to go on when the same command is given again.
#[must_use]
pub fn main() -> ExitCode {
    print_reports_plainly();
    let result = match Args::try_parse() {
        Ok(args) => carry_out(&args.command),
        // Help and version are answers, and standard output may be full for them too.
        Err(answer) if !answer.use_stderr() => say(&styled(&answer.render())),
        Err(error) => error.exit(),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            note(&format!("{:?}", failure.report()));
            failure.exit_code()
        }
    }
}

/// A text of the parser, with its colours where a terminal shows them.
fn styled(text: &StyledStr) -> String {
    if std::io::stdout().is_terminal() {
        text.ansi().to_string()
    } else {
        text.to_string()
    }
}

fn carry_out(command: &Command) -> Result<(), Failure> {
    match command {
        Command::Run(args) => run::run(args),
        Command::Steer(args) => steer::steer(args),
        Command::Lesson(args) => lesson::lesson(args),
        Command::View(args) => view::view(args),
        Command::Check(args) => check::check(args),
        Command::Export(args) => export::export(args),
        Command::Sweep(args) => sweep::sweep(args),
        Command::Share(args) => share::share(args),
        Command::Status(args) => status::status(args),
        Command::Gather(args) => gather::gather(args),
        Command::Assay(args) => assay::assay(args),
        Command::Evidence(args) => evidence::evidence(args),
        Command::Schema(args) => schema::schema(args),
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

/// Holds what is made at the end, outside the pool of the trials, to the threads that were asked for.
fn draw_on(threads: Option<usize>) {
    // Where a pool is in place already, it stays.
    let _ = rayon::ThreadPoolBuilder::new()
        .num_threads(threads.unwrap_or(0))
        .build_global();
}

/// Prints on standard output. A reader that has seen enough closes the pipe; that is no failure.
///
/// # Errors
/// What cannot be written, such as on a full disk.
fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout();
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    match written {
        Err(cause) if cause.kind() != ErrorKind::BrokenPipe => {
            Err(Failure::Incomplete(miette::miette!(
                help = "make room where standard output goes, or send it elsewhere, and run the \
                        same command again",
                "standard output cannot be written: {cause}; what was asked for is not all there"
            )))
        }
        _ => Ok(()),
    }
}

/// Says that a study stopped where it was told to, with what is kept of all its trials.
fn say_stopped_of(quiet: bool, done: &StudyDone, part: &Part) -> Result<(), Failure> {
    let kept = done.resumed + done.computed;
    let of = part
        .total()
        .map_or(String::new(), |all| format!(" of {all}"));
    say_stopped(quiet, done.computed, &format!("{kept}{of}"), &done.folder)
}

/// Says that a run stopped where it was told to, with what is kept.
fn say_stopped(quiet: bool, new: usize, kept: &str, folder: &Path) -> Result<(), Failure> {
    if quiet {
        return Ok(());
    }
    say(&format!(
        "stopped after {new} new trials, as --at-most asks; {kept} trials are kept in {}\nrun the \
         same command again to go on from there\n",
        folder.display()
    ))
}
