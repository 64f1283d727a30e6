//! The vessel as an operator believes it to run.

use nalgebra::{Rotation3, Unit, Vector3};

use crate::scenario::model::{PathSpec, VesselSpec};
use crate::scenario::view::BeliefSpec;
use crate::vessel::{Tree, VesselError};

/// The tree that an operator with `beliefs` believes in; `tree` is the one that `vessel`
/// describes.
///
/// A branch that is believed to run elsewhere is turned about its parent's forward direction at
/// its start and moved along it, with all branches that leave from it.
///
/// # Errors
/// A [`VesselError`] where no vessel can run so.
pub fn believed(
    vessel: &VesselSpec,
    tree: &Tree,
    beliefs: &[BeliefSpec],
) -> Result<Tree, VesselError> {
    let mut vessel = vessel.clone();
    for belief in beliefs {
        let Some(index) = tree.branch_index(&belief.branch) else {
            continue;
        };
        let Some((parent, station)) = tree.branches()[index].parent else {
            continue;
        };
        let trunk = &tree.branches()[parent].centreline;
        let (centre, axis) = (trunk.position(station), trunk.tangent(station));
        let turn = Rotation3::from_axis_angle(&Unit::new_normalize(axis), belief.turned_rad);
        let moved = |p: &Vector3<f64>| centre + axis * belief.further_mm + turn * (p - centre);
        let mut names = vec![belief.branch.clone()];
        for branch in &mut vessel.branches {
            let itself = branch.name == belief.branch;
            let hangs = branch
                .attached
                .as_ref()
                .is_some_and(|a| names.contains(&a.parent));
            if !itself && !hangs {
                continue;
            }
            if hangs {
                names.push(branch.name.clone());
            }
            match &mut branch.path {
                PathSpec::Points(points) => {
                    for p in points.iter_mut() {
                        *p = moved(p);
                    }
                }
                PathSpec::Pieces {
                    take_off_plane_rad, ..
                } if itself => *take_off_plane_rad += belief.turned_rad,
                PathSpec::Pieces { .. } => {}
            }
            if itself && let Some(attached) = &mut branch.attached {
                attached.station_mm = attached.station_mm.map(|s| s + belief.further_mm);
            }
        }
    }
    Tree::build(&vessel)
}
