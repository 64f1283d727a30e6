//! `traces/` and `hands/`: what a recorded trial and the hands did, step by step.

use std::path::Path;

use super::{folder_in, trial_name};
use crate::report::tables::{read_hands, read_trace, write_hands, write_trace};
use crate::study::{KeepError, Sink, StrategyLabel, Trial};
use crate::trial::result::TrialRecord;

/// Folder of what is measured.
const TRACES: &str = "traces";
/// Folder of what the hands had done.
const HANDS: &str = "hands";

/// Tables of recorded trials.
pub(super) struct Traces;

fn file(folder: &str, strategy: &StrategyLabel, trial: u32) -> String {
    format!("{folder}/{}.csv", trial_name(strategy, trial))
}

impl Sink for Traces {
    fn files(&self, Trial { label, record, .. }: Trial<'_>) -> Vec<String> {
        let of = |folder| file(folder, label, record.row.trial);
        let trace = (!record.trace.is_empty()).then(|| of(TRACES));
        let hands = (!record.hands.is_empty()).then(|| of(HANDS));
        trace.into_iter().chain(hands).collect()
    }

    fn write(
        &self,
        folder: &Path,
        Trial { label, record, .. }: Trial<'_>,
    ) -> Result<(), KeepError> {
        let of = |of| folder.join(file(of, label, record.row.trial));
        if !record.trace.is_empty() {
            folder_in(folder, TRACES)?;
            write_trace(&of(TRACES), &record.trace)?;
        }
        if !record.hands.is_empty() {
            folder_in(folder, HANDS)?;
            write_hands(&of(HANDS), &record.hands)?;
        }
        Ok(())
    }

    fn recall(
        &self,
        folder: &Path,
        strategy: &StrategyLabel,
        record: &mut TrialRecord,
    ) -> Result<(), KeepError> {
        let of = |of| folder.join(file(of, strategy, record.row.trial));
        let (trace, hands) = (of(TRACES), of(HANDS));
        if trace.exists() {
            record.trace = read_trace(&trace)?;
        }
        if hands.exists() {
            record.hands = read_hands(&hands)?;
        }
        Ok(())
    }
}
