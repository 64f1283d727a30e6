//! The folder of an array: a sweep cut into shares that processes of their own compute, on one machine or
//! many, and join.
//!
//! In the folder: `array.json` (what is computed, and which share has which point), scripts for a batch
//! scheduler, `shares/K` with the results of share K, `logs`.

use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::gather_error::GatherError;
use crate::input;
use crate::study::store::record;
use crate::study::{Deal, Part, Shard, StudySetup};

/// Name of the description.
pub const ARRAY: &str = "array.json";
/// Name of the folder of shares.
const SHARES: &str = "shares";
/// Largest description in bytes: ten million points.
const MOST_BYTES: u64 = 128 << 20;

/// A sweep in shares.
#[derive(Debug, Clone)]
pub struct ArrayPlan {
    /// The sweep file, an absolute path.
    pub sweep: PathBuf,
    /// What is computed.
    pub setup: StudySetup,
    /// Number of shares.
    pub of: usize,
    /// Which share has which point.
    pub deal: Deal,
}

/// The description in its file.
#[derive(Serialize, Deserialize)]
struct Described {
    sweep: PathBuf,
    #[serde(rename = "shares")]
    of: usize,
    /// Number of the share of every point, from 1.
    deal: Vec<u32>,
    #[serde(rename = "plan")]
    setup: StudySetup,
}

impl ArrayPlan {
    /// The bytes of its description.
    ///
    /// # Errors
    ///
    /// Where it cannot be written as JSON.
    pub fn to_bytes(&self) -> serde_json::Result<Vec<u8>> {
        let described = Described {
            sweep: self.sweep.clone(),
            of: self.of,
            deal: self.deal.of_points().to_vec(),
            setup: self.setup.clone(),
        };
        record::line(0, &described)
    }

    /// Reads the description in `folder`; `None` where it has none.
    ///
    /// # Errors
    ///
    /// [`GatherError::NoArray`] where it cannot be read or does not say what an array is.
    pub fn read(folder: &Path) -> Result<Option<Self>, GatherError> {
        let path = folder.join(ARRAY);
        let refuse = |reason: String| GatherError::NoArray {
            path: path.clone(),
            reason,
        };
        if fs::symlink_metadata(&path).is_err() {
            return Ok(None);
        }
        let bytes = input::bytes(&path, MOST_BYTES).map_err(|error| refuse(error.to_string()))?;
        let text = record::record(0, &bytes);
        let text = text.ok_or_else(|| refuse("its checksum does not match".to_owned()))?;
        let described: Described =
            serde_json::from_slice(text).map_err(|error| refuse(error.to_string()))?;
        let Described {
            sweep,
            of,
            deal,
            setup,
        } = described;
        let is_of = |share: &u32| (1..=of).contains(&(*share as usize));
        if !(1..=Shard::MOST).contains(&of) || deal.len() != setup.points || !deal.iter().all(is_of)
        {
            return Err(refuse(
                "points and shares do not belong together".to_owned(),
            ));
        }
        Ok(Some(Self {
            sweep,
            setup,
            of,
            deal: Deal::listed(deal),
        }))
    }

    /// Share `number`, from 1 to [`ArrayPlan::of`].
    #[must_use]
    pub fn share(&self, number: usize) -> Part {
        let shard = Shard {
            number,
            of: self.of,
        };
        Part::share(self.setup.clone(), shard, Some(self.deal.clone()))
    }

    /// Folder of the results of share `number` of the array in `folder`.
    #[must_use]
    pub fn share_folder(folder: &Path, number: usize) -> PathBuf {
        folder.join(SHARES).join(number.to_string())
    }
}
