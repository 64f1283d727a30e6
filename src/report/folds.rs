//! What the report says of wires whose core folds like a hinge.

use super::summary::Summary;
use crate::rod::section;
use crate::shown::listed;
use crate::study::StrategySummary;

/// What is said of cores that fold; nothing where none does.
pub(super) fn said(summary: &Summary) -> String {
    let names: Vec<&str> = (summary.strategies.iter().filter(|s| is_folded(s)))
        .map(|s| s.name.as_str())
        .collect();
    if names.is_empty() {
        return String::new();
    }
    format!(
        "\n\n**Folded wires.** With {} the wire's core was bent so far beyond its limit that the section \
         carries all but 1 % of what it can carry. It folds there like a hinge, as sharply as the edges of \
         the model allow, and a real core may break. Forces by which such a fold is fed and drawn through a \
         catheter depend on the length of the edges and are no result; wall forces change little.",
        listed(&names)
    )
}

/// Whether a core folded in a trial and kept the fold: elastic and superelastic cores keep none.
fn is_folded(strategy: &StrategySummary) -> bool {
    let most = section::moment(strategy.largest_strain_ratio);
    strategy.set_deg.p95 > 0.0 && most > 0.99 * section::COLLAPSE
}
