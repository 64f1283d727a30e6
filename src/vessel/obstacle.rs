//! A body that stands in the lumen, as a scenario describes it.

use super::balloon::Balloon;
use super::tree::Tree;
use crate::scenario::model::ObstacleSpec;

/// The body that `spec` describes in a tree; `None` if its branch does not exist.
///
/// Its axis is the centreline of the branch, moved to the side by `off_axis_mm` in the plane of
/// the running normal turned by `plane_rad`.
#[must_use]
pub fn obstacle(tree: &Tree, spec: &ObstacleSpec) -> Option<Balloon> {
    let line = &tree.branches()[tree.branch_index(&spec.branch)?].centreline;
    let (from_mm, to_mm) = spec.reaches_mm();
    let (sin, cos) = spec.plane_rad.sin_cos();
    let axis = |station: f64| {
        let normal = line.normal(station);
        let aside = normal * cos + line.tangent(station).cross(&normal) * sin;
        line.position(station) + aside * spec.off_axis_mm
    };
    Some(Balloon::new(
        axis,
        from_mm,
        to_mm - from_mm,
        spec.diameter_mm,
    ))
}
