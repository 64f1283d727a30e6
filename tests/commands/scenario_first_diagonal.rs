//! Why a wire without any bend enters the first diagonal branch of the published tree: coming from
//! the left main it lies on that branch's side of the lumen.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use bendwise::contact::WalledLumen;
use bendwise::scenario::load;
use bendwise::solve::{Assembly, Start};
use bendwise::trial::Prepared;
use nalgebra::Vector3;
use std::path::Path;

#[test]
fn a_straight_tip_arrives_at_the_first_diagonal_on_its_side_of_the_lumen() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/published-tree-d1.toml");
    let scenario = load(&path).unwrap().scenario;
    let prepared = Prepared::new(&scenario).unwrap();
    let wire = &prepared.wires()[0];
    assert!(scenario.wires[0].tip.primary.is_none());
    let tree = prepared.tree();
    let branch = &tree.branches()[prepared.target_branch()];
    let (parent, station) = branch.parent.unwrap();
    let along = &tree.branches()[parent].centreline;
    let tangent = along.tangent(station);
    let leaves = branch.centreline.position(10.0) - branch.centreline.position(0.0);
    let side: Vector3<f64> = (leaves - tangent * leaves.dot(&tangent)).normalize();

    let mut insertion = Assembly::straight(
        wire,
        WalledLumen::new(tree, scenario.vessel.wall),
        prepared.guide_tip(),
        prepared.step_settings(),
        Start {
            outside_mm: 3.0,
            longest_mm: 60.0,
            roll_rad: 0.0,
        },
    )
    .unwrap();
    while (insertion.tip() - along.position(station)).dot(&tangent) < 0.0 {
        insertion.feed(0.25).unwrap();
    }
    let offset = insertion.tip() - along.position(station);
    let off_axis = offset - tangent * offset.dot(&tangent);
    let free = along.radius(station) - wire.radius_mm();
    let share = off_axis.dot(&side) / free;
    assert!(
        share > 0.5,
        "the tip lies {share:.2} of the free radius towards the branch"
    );
}
