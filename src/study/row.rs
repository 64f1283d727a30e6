//! Guards tables against values that are not numbers.

use super::missing::{self, fields, gaps};
use crate::trial::result::{Outcome, TrialRecord};

/// Makes a row with a value that is not a finite number an unresolved trial: the note names the
/// value, and the value is missing from then on: not-a-number in memory, null in the journal, an
/// empty field in tables, and in no median. A force on the wall that is none is left out.
pub fn reject_non_finite(record: &mut TrialRecord) {
    record
        .pressed
        .retain(|pressed| pressed.force_mn.is_finite());
    let row = &mut record.row;
    if gaps(row).is_empty() {
        return;
    }
    let broken = fields(row).unwrap_or_default().into_iter();
    let broken = broken.filter(|field| field.is_missing);
    let broken: Vec<String> = broken
        .map(|field| format!("{} was {}", field.name, field.text))
        .collect();
    if let Ok(Ok(with_gaps)) = serde_json::to_value(&*row).map(missing::row) {
        *row = with_gaps;
    }
    row.outcome = Outcome::Unresolved;
    if !row.note.is_empty() {
        row.note.push_str("; ");
    }
    let broken = broken.join("; ");
    row.note.push_str(&broken);
    row.reason = "not a number".to_owned();
    row.why = broken;
}
