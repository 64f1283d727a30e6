//! Why shares of a sweep cannot be joined.

use std::path::PathBuf;

use thiserror::Error;

use crate::study::KeepError;

/// Why shares cannot be joined.
#[derive(Debug, Error)]
pub enum GatherError {
    /// No folder was named.
    #[error(
        "there is nothing to gather; name the folder that bendwise sweep --array wrote (--so-far takes that alone), or those that bendwise sweep --shard wrote"
    )]
    Nothing,
    /// A folder holds no share.
    #[error("{} holds no share of a sweep ({reason}); name folders that bendwise sweep --shard wrote{hint}", .folder.display())]
    NoShare {
        /// The folder.
        folder: PathBuf,
        /// What is missing or wrong.
        reason: String,
        /// What may help.
        hint: &'static str,
    },
    /// Two shares belong to different sweeps.
    #[error("{} and {} do not belong together: {differences}; gather shares that one version computed from one sweep with one seed", .first.display(), .second.display())]
    Mixed {
        /// A folder.
        first: PathBuf,
        /// Another.
        second: PathBuf,
        /// What differs.
        differences: String,
    },
    /// A share is there twice.
    #[error("share {number}/{of} stands in both {} and {}; name each share once", .first.display(), .second.display())]
    Overlap {
        /// Number of the share.
        number: usize,
        /// Number of shares.
        of: usize,
        /// A folder.
        first: PathBuf,
        /// Another.
        second: PathBuf,
    },
    /// The result would replace a share.
    #[error("{} is one of the shares, which the result would replace; choose another --out", .folder.display())]
    OntoShare {
        /// The share.
        folder: PathBuf,
    },
    /// Shares are missing.
    #[error(
        "of {of} shares these {count} are missing: {missing}; compute them with --shard and name their folders too"
    )]
    Missing {
        /// Number of shares.
        of: usize,
        /// How many are missing.
        count: usize,
        /// Numbers of those missing, in words.
        missing: String,
    },
    /// Shares of an array are not finished.
    #[error(
        "of {of} shares {} not finished{}{}; compute them with bendwise share, or submit them again: \
         bendwise status {} says how; --so-far joins what there is",
        are(.missing.len() + .begun.len()), not_begun(.missing), are_begun(.begun), .folder.display()
    )]
    Unfinished {
        /// Folder of the array.
        folder: PathBuf,
        /// Number of shares.
        of: usize,
        /// Numbers of those of which nothing is kept.
        missing: Vec<usize>,
        /// Numbers of those that are begun, with the trials that are kept.
        begun: Vec<(usize, usize)>,
    },
    /// A share of an array is given without the array.
    #[error("{} is a share of an array, whose points are dealt by cost; name the folder of the array", .folder.display())]
    Dealt {
        /// The share.
        folder: PathBuf,
    },
    /// A folder among the shares of an array holds something else.
    #[error("{} is no share of this array: {differences}; remove it or write the array anew into another folder", .folder.display())]
    NotOfArray {
        /// The folder.
        folder: PathBuf,
        /// What differs.
        differences: String,
    },
    /// A description of an array cannot be read.
    #[error("{} does not describe an array: {reason}; write it anew with bendwise sweep --array", .path.display())]
    NoArray {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
}

fn are(count: usize) -> String {
    format!("{count} {}", if count == 1 { "is" } else { "are" })
}

fn not_begun(missing: &[usize]) -> String {
    match missing.len() {
        0 => String::new(),
        count => format!("; {count} not begun: {}", ranges(missing)),
    }
}

fn are_begun(begun: &[(usize, usize)]) -> String {
    if begun.is_empty() {
        return String::new();
    }
    let shares = begun.iter();
    let shares: Vec<String> = shares
        .map(|(number, trials)| format!("{number} ({trials} trials)"))
        .collect();
    format!("; {} begun: {}", begun.len(), shares.join(", "))
}

/// Rising numbers in words, with runs as ranges, such as `3, 7-9`; a scheduler takes the same without
/// spaces.
#[must_use]
pub fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &number in numbers {
        match runs.last_mut() {
            Some((_, end)) if *end + 1 == number => *end = number,
            _ => runs.push((number, number)),
        }
    }
    let words = runs.into_iter().map(|(from, to)| match to - from {
        0 => from.to_string(),
        _ => format!("{from}-{to}"),
    });
    words.collect::<Vec<_>>().join(", ")
}

/// What a share holds cannot be used; `what` names the file or the line.
pub(super) fn cannot_gather(what: &str, reason: String) -> KeepError {
    KeepError::Output {
        what: format!("cannot gather {what}"),
        reason,
    }
}
