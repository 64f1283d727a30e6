//! Coulomb friction of a wire that is drawn round a bend: the capstan law.

use std::f64::consts::{PI, TAU};

use super::cord::{
    BEND_MM, DEAD_LOAD, EDGE_MM, LUMEN_MM, cord, draw, may_be_off, planar, stations,
};
use crate::evidence::scenes::{BendTube, Cord, Pulled, order};
use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::scenario::model::{PieceSpec, VesselSpec};
use crate::vessel::Tree;

/// Frictions, and turns of the planar bends in degrees with the way in which the end leaves: coordinate, sign.
const FRICTIONS: [f64; 2] = [0.05, 0.2];
const BENDS: [(f64, usize, f64); 2] = [(90.0, 1, 1.0), (180.0, 0, -1.0)];

pub const CHECK: Check = Check {
    name: "capstan",
    question: "By how much does friction in a bend raise the force with which a wire is drawn?",
    origin: Origin::ClosedForm,
    source: "capstan law, exp(mu phi) (Euler and Eytelwein)",
    scene: "A soft wire drawn round a bend of 10 mm radius by 90, 180 and 360 degrees against a dead load; edges \
            of 0.2 mm",
    carries: &[Rests::Push, Rests::Wall, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    vec![
        Covered::over(Input::Device, &[2.0 * cord(0.0).radius]),
        Covered::over(Input::Lumen, &[2.0 * LUMEN_MM]),
        Covered::over(Input::Turn, &[BENDS[0].0, 360.0]),
        Covered::over(Input::Friction, &[FRICTIONS[0], 0.5]),
        Covered::over(Input::Clearance, &[(LUMEN_MM - cord(0.0).radius) / BEND_MM]),
        Covered::over(Input::Curvature, &[1.0 / BEND_MM]),
        Covered::over(Input::Wall, &[cord(0.0).wall, 3000.0]),
    ]
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    for (degrees, lead, sign) in BENDS {
        let tube = BendTube {
            lead: 8.0,
            bend: BEND_MM,
            angle: degrees.to_radians(),
            radius: LUMEN_MM,
        };
        for friction in FRICTIONS {
            let nodes = planar(degrees.to_radians(), EDGE_MM);
            let (wire, drift) = draw(&cord(friction), &tube, &nodes, lead, sign)?;
            compare(readings, &wire, drift, degrees, friction);
        }
    }
    full_loop(readings)?;
    mesh_error_falls(readings)
}

fn full_loop(readings: &mut Readings) -> Result<(), Broken> {
    let spec = VesselSpec::single_tube(
        vec![
            PieceSpec::Straight { length_mm: 8.0 },
            PieceSpec::Helix {
                radius_mm: BEND_MM,
                pitch_mm: 1.5,
                turns: 1.0,
                plane_rad: 0.0,
            },
            PieceSpec::Straight { length_mm: 6.0 },
        ],
        2.0 * LUMEN_MM,
    );
    let tree = Tree::build(&spec)?;
    let rise = 1.5 / TAU;
    let angle = TAU * BEND_MM / BEND_MM.hypot(rise);
    let axis = &tree.branches()[0].centreline;
    let length = axis.length_mm() - 3.0;
    let nodes: Vec<_> = stations(length, EDGE_MM)
        .into_iter()
        .rev()
        .map(|s| {
            // On the inner wall of the bend.
            axis.position(s) + axis.curvature(s) * (BEND_MM * (LUMEN_MM - 0.1))
        })
        .collect();
    for friction in FRICTIONS {
        let (wire, drift) = draw(&cord(friction), &tree, &nodes, 0, 1.0)?;
        compare(readings, &wire, drift, angle.to_degrees(), friction);
    }
    Ok(())
}

/// Compares the force ratio with `exp(mu phi)`.
fn compare(readings: &mut Readings, wire: &Pulled<'_>, drift: f64, degrees: f64, friction: f64) {
    let ratio = wire.force() / DEAD_LOAD;
    let angle = degrees.to_radians();
    let exact = (friction * angle).exp();
    let may_be_off = may_be_off(&cord(friction), angle);
    let what = format!("{degrees:.0} degrees, friction {friction}");
    readings.share(format!("{what}: force still changing"), drift, may_be_off);
    readings.share(
        format!("{what}: ratio of the forces"),
        ratio / exact - 1.0,
        may_be_off,
    );
}

/// The order of what [`may_be_off`] allows for the mesh, at a wall so stiff and edges so long that it is
/// the largest; the mean over a node's way past the ends of the bend.
fn mesh_error_falls(readings: &mut Readings) -> Result<(), Broken> {
    let tube = BendTube {
        lead: 8.0,
        bend: BEND_MM,
        angle: PI,
        radius: LUMEN_MM,
    };
    let cord = Cord {
        wall: 3000.0,
        ..cord(0.5)
    };
    let mut errors = Vec::new();
    for edge in [1.6, 0.8, 0.4] {
        let nodes = planar(PI, edge);
        let (mut wire, _) = draw(&cord, &tube, &nodes, 0, -1.0)?;
        let mut forces = 0.0;
        for _ in 0..8 {
            wire.pull(edge / 8.0)?;
            forces += wire.force();
        }
        let ratio: f64 = forces / 8.0 / DEAD_LOAD;
        errors.push(ratio.ln() - cord.friction * PI);
    }
    readings.order(
        "logarithm of the ratio, edges of 1.6 to 0.4 mm",
        order(&errors),
        1.8,
    );
    Ok(())
}
