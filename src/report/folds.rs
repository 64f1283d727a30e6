//! What the report says of wires whose core folds like a hinge where a catheter carries them.

use super::summary::Summary;
use crate::rod::section;
use crate::shown::listed;
use crate::study::StrategySummary;

/// Share of the collapse moment from which on a section hardly resists being bent further.
const SPENT: f64 = 0.95;

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
         carries all but {:.0} % of what it can carry. At the tip of a catheter it may fold there like a hinge, \
         as sharply as the edges of the model allow, and a real core may break. Forces by which such a fold is \
         fed and drawn through the catheter depend on the length of the edges: take them for an order of \
         magnitude. Wall forces change little.",
        listed(&names),
        100.0 * (1.0 - SPENT)
    )
}

/// Whether a catheter carried a wire whose core folded and kept the fold: elastic and superelastic cores keep
/// none.
fn is_folded(strategy: &StrategySummary) -> bool {
    strategy.has_catheter() && strategy.set_deg.p95 > 0.0 && is_spent(strategy.largest_strain_ratio)
}

/// Whether a section that is bent to so many times its limit hardly resists being bent further.
fn is_spent(strain_ratio: f64) -> bool {
    section::moment(strain_ratio) > SPENT * section::COLLAPSE
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments over that at first yield of 1.4937 at twice the limit and 1.6639 at five times, of 1.6977 at
    /// most: 88 % and 98 % (closed form of [`section`], fibres summed).
    #[test]
    fn a_section_is_spent_between_twice_and_five_times_its_limit() {
        assert!(!is_spent(2.0) && is_spent(5.0) && !is_spent(f64::NAN));
    }
}
