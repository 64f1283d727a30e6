//! What a file of anatomy became.

use super::text::{Section, Table, dash, fixed, pairs, paragraph};
use crate::anatomy::Imported;
use crate::anatomy::tree::spread;
use crate::shown::degrees;

/// The sections about the file of anatomy.
pub(super) fn sections(imported: &Imported) -> Vec<Section> {
    let mut table = Table::new(&[
        ("branch", ""),
        ("by order", ""),
        ("tip", ""),
        ("ends at x", "mm"),
        ("y", "mm"),
        ("z", "mm"),
        ("from next", "deg"),
    ]);
    for (i, branch) in imported.branches.iter().enumerate() {
        let end = branch.points.last().copied().unwrap_or_default();
        table.row(vec![
            branch.name.clone(),
            branch.by_order.clone(),
            branch.tip.map_or_else(dash, |tip| tip.to_string()),
            fixed(end.x, 1),
            fixed(end.y, 1),
            fixed(end.z, 1),
            spread(&imported.branches, i).map_or_else(dash, degrees),
        ]);
    }
    vec![
        Section::new(
            "VESSEL FILE and what was changed to make the scene",
            pairs(&imported.changes.lines())
                + paragraph(
                    "tightest bend read: of the file's lines before smoothing, a point each 0.2 mm; the \
                     bends that a wire meets, of the branches as built, stand under VESSEL as tightest",
                ),
        ),
        Section::new(
            "BRANCHES OF THE FILE in the scene's frame (x left, y head, z front)",
            table.flow()
                + paragraph(
                    "from next: angle to the branch that leaves beside it, between chords of 5 to 10 mm \
                     from the branch point",
                ),
        ),
    ]
}
