//! A wire at rest in a winding tube, for benches of an iteration.

use bendwise::contact::{Contact, Surface};
use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::scenario::model::{PieceSpec, VesselSpec};
use bendwise::solve::{Body, Newton, NewtonOptions, Update};
use bendwise::vessel::Tree;
use nalgebra::Vector3;

/// Stiffness of the tube's wall.
pub const WALL_MN_PER_MM2: f64 = 300.0;

/// Bends of 60 degrees and 6 mm radius, one to the left and one to the right in turn.
pub fn winding_tube() -> Tree {
    let bends = (0..10).map(|_| PieceSpec::SBend {
        radius_mm: 6.0,
        angle_rad: 60f64.to_radians(),
        plane_rad: 0.0,
    });
    let spec = VesselSpec::single_tube(bends.collect(), 1.2);
    match Tree::build(&spec) {
        Ok(tree) => tree,
        Err(error) => panic!("{error}"),
    }
}

/// A wire of `nodes` nodes a quarter of a millimetre apart that has come to rest in the tube, held
/// at its end, and then a little off its equilibrium, as within a step: every node moved by some
/// hundredths of a micrometre, so that an iteration takes its full step.
pub fn resting(tube: &Tree, nodes: usize) -> Body<'_> {
    const EDGE_MM: f64 = 0.25;
    const BENDING: f64 = 50.0;
    let line = &tube.branches()[0].centreline;
    let places: Vec<_> = (0..nodes)
        .rev()
        .map(|i| line.position(1.0 + EDGE_MM * i as f64))
        .collect();
    let edge = Edge {
        rest_length: EDGE_MM,
        axial_stiffness: 5e4,
    };
    let hinge = Hinge::uniform(EDGE_MM, BENDING, BENDING / 1.3);
    let hinges = (0..nodes)
        .map(|i| {
            if i < 16 {
                hinge.curved([0.2, 0.0])
            } else {
                hinge
            }
        })
        .collect();
    let rod = Rod::new(&places, vec![edge; nodes - 1], hinges, Vector3::z());
    let surface = Surface {
        radius: 0.18,
        friction: 0.05,
        wall: WALL_MN_PER_MM2.into(),
        spacing: EDGE_MM + 1e-9,
    };
    let contact = Contact::new(tube, surface, &rod, nodes - 2, true);
    let mut body = Body::new(rod).with_contact(contact);
    body.update = Update::FromLastNode;
    body.fix_node(nodes - 2);
    body.fix_node(nodes - 1);
    body.fix_rotation(nodes - 2);
    Newton::default()
        .equilibrate(&mut body, &NewtonOptions::with_tolerance(1e-4))
        .unwrap_or_else(|error| panic!("{error}"));
    let touching = body
        .contact
        .as_ref()
        .map_or(0, |c| c.active_contacts().len());
    assert!(
        20 * touching > nodes,
        "{touching} contacts on {nodes} nodes"
    );
    body.settle();
    body.begin();
    let mut q = body.rod.q.clone();
    for i in 0..nodes - 2 {
        q[4 * i + 2] += 2e-5 * (0.3 * i as f64).sin();
    }
    body.move_to(&q);
    body
}
