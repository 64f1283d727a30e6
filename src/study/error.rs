//! Why a study could not be started or finished.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Which exit status an error belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StudyErrorClass {
    /// The request was wrong; nothing was computed (exit status 2).
    Input,
    /// The run could not be completed; what is finished is kept (exit status 1).
    Incomplete,
    /// Somebody stopped it; what is finished is kept (exit status 75).
    Stopped,
}

/// Why a study could not be started or finished.
#[derive(Debug, Error)]
pub enum StudyError {
    /// There is already something at the target.
    #[error(
        "the output folder {} exists and is not empty; \
         choose another --out, or pass --overwrite to replace it once the new result is complete",
        .path.display()
    )]
    TargetExists {
        /// The target.
        path: PathBuf,
    },
    /// The target holds what this program did not write.
    #[error(
        "the output folder {} holds what this program did not write, or what was changed since: \
         {names}; --overwrite replaces nothing of that: move it away or choose another --out",
        .path.display()
    )]
    TargetHoldsOthers {
        /// The target.
        path: PathBuf,
        /// What it holds.
        names: String,
    },
    /// The work folder was not made by this program.
    #[error(
        "the work folder {} is in the way: this program did not write what it holds ({names}); \
         move it away or choose another --out",
        .path.display()
    )]
    WorkHoldsOthers {
        /// The work folder.
        path: PathBuf,
        /// What it holds.
        names: String,
    },
    /// The target is a link that leads nowhere.
    #[error(
        "the output {} is a link that cannot be followed ({source}); create the folder that it \
         leads to, or choose another --out",
        .path.display()
    )]
    TargetLeadsNowhere {
        /// The link.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The target is a file.
    #[error("the output {} is not a folder; choose another --out", .path.display())]
    TargetIsNoFolder {
        /// The target.
        path: PathBuf,
    },
    /// The target has no name of its own ("/", "..", empty).
    #[error("the output '{}' does not name a folder; choose another --out", .path.display())]
    TargetHasNoName {
        /// The target.
        path: PathBuf,
    },
    /// A file or folder may not be written.
    #[error(
        "cannot write {}: {source}; choose an --out in a folder that you may write to",
        .path.display()
    )]
    NotWritable {
        /// What could not be written.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// An unfinished result of something else stands in the way.
    #[error(
        "{} holds an unfinished run of something else ({differences}); choose another --out, \
         remove that folder, or pass --overwrite to start afresh",
        .path.display()
    )]
    OtherRun {
        /// The work folder.
        path: PathBuf,
        /// What differs: field, value kept, value asked for.
        differences: String,
    },
    /// The first line of the journal is damaged, and nothing else tells to what it belongs.
    #[error(
        "{}, line {line}: {reason}, so nothing tells which run it belongs to; the file was changed \
         from outside: move the folder {} away or pass --overwrite to start afresh",
        .path.display(), .path.parent().unwrap_or(Path::new(".")).display()
    )]
    DamagedJournal {
        /// The journal.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// What is wrong with it.
        reason: String,
    },
    /// Another process works on the same output.
    #[error(
        "another run is writing {}; wait for it to end or choose another --out",
        .path.display()
    )]
    Busy {
        /// The work folder.
        path: PathBuf,
    },
    /// The number of threads cannot be used.
    #[error("cannot start {threads} threads: {reason}; pass a smaller number to --threads")]
    Threads {
        /// Threads asked for.
        threads: usize,
        /// What the thread pool says.
        reason: String,
    },
    /// The disk is full.
    #[error(
        "no space left while writing {}; {}: \
         make room and run the same command again to go on from there",
        .path.display(), kept_in(.partial, *.kept, *.total)
    )]
    DiskFull {
        /// What could not be written.
        path: PathBuf,
        /// The work folder.
        partial: PathBuf,
        /// Trials kept.
        kept: usize,
        /// Trials asked for; 0 before the work began.
        total: usize,
    },
    /// Stopped by the user.
    #[error(
        "interrupted; {kept}{} trials are kept in {}: \
         run the same command again to go on from there",
        of_all(*.total), .partial.display()
    )]
    Interrupted {
        /// The work folder.
        partial: PathBuf,
        /// Trials kept.
        kept: usize,
        /// Trials asked for; 0 where results decide their number.
        total: usize,
    },
    /// A figure could not be drawn or a table not be made.
    #[error(
        "{what}: {reason}; the trials are kept in {}: run the same command again to repeat this step",
        .partial.display()
    )]
    Output {
        /// What could not be made.
        what: String,
        /// Why.
        reason: String,
        /// The work folder.
        partial: PathBuf,
    },
    /// Any other failure of a file operation.
    #[error(
        "{}: {source}; {}: remove the cause and run the same command again to go on from there",
        .path.display(), kept_in(.partial, *.kept, *.total)
    )]
    File {
        /// What was read or written.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
        /// The work folder.
        partial: PathBuf,
        /// Trials kept.
        kept: usize,
        /// Trials asked for; 0 before the work began.
        total: usize,
    },
}

/// " of" the trials asked for, if their number is known.
fn of_all(total: usize) -> String {
    match total {
        0 => String::new(),
        _ => format!(" of {total}"),
    }
}

/// What is safe after a failure, in words.
fn kept_in(partial: &Path, kept: usize, total: usize) -> String {
    let partial = partial.display();
    match total {
        0 => format!("nothing was computed, and what an earlier run left in {partial} stays"),
        _ => format!("{kept} of {total} trials are kept in {partial}"),
    }
}

impl StudyError {
    /// The exit status class of this error.
    #[must_use]
    pub fn class(&self) -> StudyErrorClass {
        match self {
            Self::TargetExists { .. }
            | Self::TargetHoldsOthers { .. }
            | Self::WorkHoldsOthers { .. }
            | Self::TargetLeadsNowhere { .. }
            | Self::TargetIsNoFolder { .. }
            | Self::TargetHasNoName { .. }
            | Self::NotWritable { .. }
            | Self::OtherRun { .. }
            | Self::DamagedJournal { .. }
            | Self::Busy { .. }
            | Self::Threads { .. } => StudyErrorClass::Input,
            Self::Interrupted { .. } => StudyErrorClass::Stopped,
            Self::DiskFull { .. } | Self::Output { .. } | Self::File { .. } => {
                StudyErrorClass::Incomplete
            }
        }
    }
}

/// Why something could not be kept: what a [`super::Sink`] or a file operation reports.
#[derive(Debug, Error)]
pub enum KeepError {
    /// A file operation failed.
    #[error("{}: {source}", .path.display())]
    File {
        /// What was read or written.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// Something else than a file operation failed, such as drawing a figure.
    #[error("{what}: {reason}")]
    Output {
        /// What could not be made.
        what: String,
        /// Why.
        reason: String,
    },
}

impl KeepError {
    /// Turns the error of a file operation on `path` into a `KeepError`.
    pub fn at(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        move |source| Self::File {
            path: path.to_owned(),
            source,
        }
    }

    /// The study's error for this failure, with `kept` of `total` trials safe in `partial`;
    /// `total` is 0 before the work began.
    #[must_use]
    pub fn into_study_error(self, partial: &Path, kept: usize, total: usize) -> StudyError {
        let (path, source) = match self {
            Self::Output { what, reason } => {
                return StudyError::Output {
                    what,
                    reason,
                    partial: partial.to_owned(),
                };
            }
            Self::File { path, source } => (path, source),
        };
        match source.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => StudyError::DiskFull {
                path,
                partial: partial.to_owned(),
                kept,
                total,
            },
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem if total == 0 => {
                StudyError::NotWritable { path, source }
            }
            _ => StudyError::File {
                path,
                source,
                partial: partial.to_owned(),
                kept,
                total,
            },
        }
    }
}
