//! Why shares of a sweep cannot be joined.

use std::path::PathBuf;

use thiserror::Error;

use crate::study::KeepError;

/// Why shares cannot be joined.
#[derive(Debug, Error)]
pub enum GatherError {
    /// No folder was named.
    #[error("there is nothing to gather; name the folders that bendwise sweep --shard wrote")]
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
        "of {of} shares these are missing: {missing}; compute them with --shard and name their folders too"
    )]
    Missing {
        /// Number of shares.
        of: usize,
        /// Numbers of those missing, in words.
        missing: String,
    },
}

/// What a share holds cannot be used; `what` names the file or the line.
pub(super) fn cannot_gather(what: &str, reason: String) -> KeepError {
    KeepError::Output {
        what: format!("cannot gather {what}"),
        reason,
    }
}
