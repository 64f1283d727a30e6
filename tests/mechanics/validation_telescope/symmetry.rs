//! A turned vessel with turned devices gives the turned result; so does a mirrored one.

use crate::common::{bent_wire, catheter, guide_tip, report};
use bendwise::contact::WalledLumen;
use bendwise::scenario::model::{PieceSpec, VesselSpec};
use bendwise::solve::{Assembly, Hands, PairStart, StepSettings};
use bendwise::vessel::Tree;
use nalgebra::{Rotation3, Vector3};

/// The pair in a tube that bends to the side at `plane` rad, rolled with it, its hands' turns times
/// `sense`; returns front, catheter's tip and the largest wall force.
fn run(plane: f64, sense: f64, friction: f64) -> ([Vector3<f64>; 2], f64) {
    let tree = Tree::build(&VesselSpec::single_tube(
        vec![
            PieceSpec::Straight { length_mm: 8.0 },
            PieceSpec::Arc {
                radius_mm: 12.0,
                angle_rad: 1.2,
                plane_rad: plane,
            },
            PieceSpec::Straight { length_mm: 20.0 },
        ],
        3.0,
    ))
    .expect("a tube");
    let mut pair = Assembly::pair(
        (
            &bent_wire(friction),
            &catheter(400.0, 0.7, friction, (4.0, 0.8)),
        ),
        WalledLumen::new(&tree, 300.0),
        guide_tip(),
        StepSettings::default(),
        PairStart {
            wire_mm: 6.0,
            catheter_mm: 3.0,
            longest_mm: 60.0,
            wire_roll_rad: plane + 0.5 * sense,
            catheter_roll_rad: plane - 0.9 * sense,
        },
    )
    .expect("equilibrium");
    for (feed_wire, feed_catheter, turn_wire, turn_catheter) in [
        (8.0, 6.0, 0.0, 0.0),
        (0.0, 0.0, 0.7, 0.0),
        (0.0, 4.0, 0.0, 0.9),
        (4.0, 0.0, 0.0, 0.0),
    ] {
        pair.move_hands(Hands {
            feed_wire,
            feed_catheter,
            turn_wire: sense * turn_wire,
            turn_catheter: sense * turn_catheter,
            steer: 0.0,
            wait_s: 0.0,
        })
        .expect("equilibrium");
    }
    (
        [pair.tip(), pair.catheter().expect("a catheter").tip],
        pair.contact().largest_force,
    )
}

#[test]
fn a_turned_vessel_with_turned_devices_gives_the_turned_result() {
    for friction in [0.0, 0.05] {
        let (here, force) = run(0.0, 1.0, friction);
        for plane in [0.8, -2.1] {
            let turned = Rotation3::new(Vector3::x() * plane);
            let (there, other) = run(plane, 1.0, friction);
            for k in 0..2 {
                report(
                    &format!("pair turned by {plane} rad, friction {friction}: tips apart (mm)"),
                    (turned * here[k] - there[k]).norm(),
                    2e-3,
                );
            }
            report(
                "pair turned: error of the wall force",
                other / force - 1.0,
                1e-2,
            );
        }
    }
}

#[test]
fn a_mirrored_pair_gives_the_mirrored_result() {
    for friction in [0.0, 0.05] {
        let (here, force) = run(0.0, 1.0, friction);
        let (there, other) = run(0.0, -1.0, friction);
        for k in 0..2 {
            let mirrored = Vector3::new(here[k].x, here[k].y, -here[k].z);
            report(
                &format!("pair mirrored, friction {friction}: tips apart (mm)"),
                (mirrored - there[k]).norm(),
                2e-3,
            );
        }
        report(
            "pair mirrored: error of the wall force",
            other / force - 1.0,
            1e-2,
        );
    }
}
