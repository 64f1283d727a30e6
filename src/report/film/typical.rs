//! Which trial of a strategy is worth a film.

use crate::trial::result::{Outcome, TrialRow};

/// A typical success if there is one, else a typical failure: among the successes, or among the
/// failures of the most frequent kind, the trial in the middle by attempts and, among equal
/// attempts, by the travel of the hand. `None` without trials or where nothing but unresolved
/// trials is there.
#[must_use]
pub fn typical(rows: &[TrialRow]) -> Option<&TrialRow> {
    let of = |outcome: Outcome| -> Vec<&TrialRow> {
        rows.iter().filter(|row| row.outcome == outcome).collect()
    };
    let reached = of(Outcome::Reached);
    let mut alike = if reached.is_empty() {
        let failures = Outcome::ALL.into_iter();
        let resolved = failures.filter(|o| !matches!(o, Outcome::Reached | Outcome::Unresolved));
        // The first of equally frequent kinds, so that the choice is one.
        resolved.map(of).rev().max_by_key(Vec::len)?
    } else {
        reached
    };
    alike.sort_by(|a, b| {
        let travel = a.travel_mm.total_cmp(&b.travel_mm);
        a.attempts.cmp(&b.attempts).then(travel)
    });
    alike.get(alike.len().saturating_sub(1) / 2).copied()
}
