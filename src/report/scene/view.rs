//! How the scene is looked at, in words.

use super::text::{Flow, pairs};
use crate::scenario::view::ViewSpec;
use crate::shown::degrees;

/// The section of a scenario's `[view]` table.
pub(super) fn section(view: &ViewSpec) -> Flow {
    let [a, b] = view.reach.primary_rad.map(degrees);
    let [c, d] = view.reach.secondary_rad.map(degrees);
    let branches = if view.branches.is_empty() {
        "the target".to_owned()
    } else {
        view.branches.join(", ")
    };
    let mut lines = vec![
        ("current", view.current.to_string()),
        ("branchings", branches),
        (
            "within reach",
            format!(
                "primary {a} to {b} deg, secondary {c} to {d} deg, together {} deg at most",
                degrees(view.reach.combined_rad)
            ),
        ),
        (
            "X-ray source",
            format!(
                "{} mm from the isocentre, {} mm from the detector",
                view.source_object_mm, view.source_detector_mm
            ),
        ),
    ];
    for belief in &view.beliefs {
        let text = format!(
            "{} leaves turned by {} deg about its parent and {} mm further along it",
            belief.branch,
            degrees(belief.turned_rad),
            belief.further_mm
        );
        lines.push(("believed", text));
    }
    pairs(&lines)
}
