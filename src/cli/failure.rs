//! How a command can fail, and the exit status that says so.

use std::process::ExitCode;

use miette::Report;

use crate::study::{STOPPED, StudyError, StudyErrorClass};

/// A command that did not reach its end.
#[derive(Debug)]
pub(super) enum Failure {
    /// The input is wrong: exit status 2.
    Input(Report),
    /// The run could not be completed: exit status 1.
    Incomplete(Report),
    /// Somebody stopped it, and the same command goes on from there: exit status 75.
    Stopped(Report),
}

impl Failure {
    /// A study that could not be started or finished.
    #[expect(
        clippy::needless_pass_by_value,
        reason = "it stands in map_err, which gives the error away"
    )]
    pub(super) fn of_study(error: StudyError) -> Self {
        match error.class() {
            StudyErrorClass::Input => Self::Input(miette::miette!("{error}")),
            StudyErrorClass::Incomplete => Self::Incomplete(miette::miette!("{error}")),
            StudyErrorClass::Stopped => Self::Stopped(miette::miette!("{error}")),
        }
    }

    /// The message for the person.
    pub(super) fn report(&self) -> &Report {
        match self {
            Self::Input(report) | Self::Incomplete(report) | Self::Stopped(report) => report,
        }
    }

    /// The exit status.
    pub(super) fn exit_code(&self) -> ExitCode {
        match self {
            Self::Incomplete(_) => ExitCode::from(1),
            Self::Input(_) => ExitCode::from(2),
            Self::Stopped(_) => ExitCode::from(STOPPED),
        }
    }
}
