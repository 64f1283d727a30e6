//! Coulomb friction of a wire that is drawn along: capstan, pull test, sticking.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::lumens::{BendTube, Floor};
use crate::common::pulled::{Cord, Pulled};
use crate::common::{report, single_tube, whole};
use bendwise::contact::{Contact, Surface};
use bendwise::scenario::model::PieceSpec;
use bendwise::solve::Banded;
use bendwise::vessel::{Lumen, Tree};
use nalgebra::Vector3;
use std::f64::consts::{PI, TAU};

/// Radius of the tube's bend and of its lumen in mm.
const BEND_MM: f64 = 10.0;
const LUMEN_MM: f64 = 0.6;
/// Dead load on the trailing end in mN.
const DEAD_LOAD: f64 = 10.0;

/// Distance of the cord's axis from the centre of the bend in mm, the cord lying on the inner wall.
const RHO_MM: f64 = BEND_MM - LUMEN_MM + 0.1;
/// Length of the cord's edges in mm.
const EDGE_MM: f64 = 0.2;

/// A cord so soft that its bending stiffness hardly counts; see [`may_be_off`].
fn cord(friction: f64) -> Cord {
    Cord {
        radius: 0.1,
        bending: 0.05,
        axial: 1e4,
        friction,
        wall: 300.0,
        tolerance: 1e-6,
    }
}

/// Draws the cord through a lumen until the force no longer changes; returns the wire, and by which
/// share of the force its last step has changed it.
fn draw<'a>(
    cord: &Cord,
    lumen: &'a dyn Lumen,
    nodes: &[Vector3<f64>],
    lead: usize,
    sign: f64,
) -> (Pulled<'a>, f64) {
    let mut wire = Pulled::new(cord, lumen, nodes, lead, sign);
    wire.load(nodes.len() - 1, 0, -DEAD_LOAD);
    wire.pull(0.0);
    let mut drift = f64::INFINITY;
    for _ in 0..60 {
        let before = wire.force();
        wire.pull(0.05);
        drift = (wire.force() - before).abs() / wire.force();
        if drift < 1e-6 {
            break;
        }
    }
    (wire, drift)
}

/// Nodes along a planar bend at the inner wall, leading end first.
fn planar(angle: f64, edge: f64) -> Vec<Vector3<f64>> {
    let (lead, tail) = (4.0, 8.0);
    let length = tail + RHO_MM * angle + lead;
    let count = (length / edge).round();
    let centre = Vector3::new(tail, BEND_MM, 0.0);
    let (sin, cos) = angle.sin_cos();
    (0..=whole(count))
        .rev()
        .map(|i| {
            let s = length * i as f64 / count;
            if s < tail {
                return Vector3::new(s, BEND_MM - RHO_MM, 0.0);
            }
            let turned = ((s - tail) / RHO_MM).min(angle);
            let beyond = s - tail - RHO_MM * turned;
            centre
                + Vector3::new(turned.sin(), -turned.cos(), 0.0) * RHO_MM
                + Vector3::new(cos, sin, 0.0) * beyond
        })
        .collect()
}

#[test]
fn tension_grows_by_the_capstan_law_in_a_bend() {
    for (degrees, lead, sign) in [(90.0f64, 1, 1.0), (180.0, 0, -1.0)] {
        let tube = BendTube {
            lead: 8.0,
            bend: BEND_MM,
            angle: degrees.to_radians(),
            radius: LUMEN_MM,
        };
        for friction in [0.05, 0.2] {
            let nodes = planar(degrees.to_radians(), EDGE_MM);
            let (wire, drift) = draw(&cord(friction), &tube, &nodes, lead, sign);
            capstan(&wire, drift, degrees, friction);
        }
    }
}

#[test]
fn tension_grows_by_the_capstan_law_in_a_full_loop() {
    let spec = single_tube(
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
    let tree = Tree::build(&spec).expect("a helix");
    let rise = 1.5 / TAU;
    let angle = TAU * BEND_MM / BEND_MM.hypot(rise);
    println!("turn of the axis {:.3} degrees", angle.to_degrees());
    let axis = &tree.branches()[0].centreline;
    let length = axis.length_mm() - 3.0;
    let count = (length / EDGE_MM).round();
    let nodes: Vec<_> = (0..=whole(count))
        .rev()
        .map(|i| {
            // On the inner wall of the bend.
            let s = length * i as f64 / count;
            axis.position(s) + axis.curvature(s) * (BEND_MM * (LUMEN_MM - 0.1))
        })
        .collect();
    for friction in [0.05, 0.2] {
        let (wire, drift) = draw(&cord(friction), &tree, &nodes, 0, 1.0);
        capstan(&wire, drift, angle.to_degrees(), friction);
    }
}

/// By which share the force ratio of a cord may be off `exp(mu phi)`, to first order in each of what
/// the capstan law leaves out (`T1` is the dead load, `T2` the force of the hand):
///
/// - The cord is a polygon that turns by `d = h / rho` at each node. The balance of forces there is
///   `T2 / T1 = (1 + mu tan(d/2)) / (1 - mu tan(d/2))`, so that the logarithm of the ratio is larger
///   by `mu phi (1 + mu²) d² / 12`.
/// - While a node passes an end of the bend, the path shortens and lengthens by up to `h d² / 24`
///   within half an edge, which changes the force by up to `d² / 12` of it. A test below asks for the
///   order of both.
/// - The wall gives way by `T / (k rho)`. Integrating the slope of the cord on it along the bend gives
///   `(T2 - T1) / (2 k rho²)`.
/// - The bending stiffness takes `B / (2 rho²)` off the tension at both ends, and so
///   `B (1 - T1 / T2) / (2 T1 rho²)` off the ratio.
fn may_be_off(cord: &Cord, angle: f64) -> f64 {
    let mu_phi = cord.friction * angle;
    let turn = EDGE_MM / RHO_MM;
    let mesh = turn.powi(2) / 12.0 * (1.0 + mu_phi * (1.0 + cord.friction.powi(2)));
    let grown = mu_phi.exp() - 1.0;
    let wall = DEAD_LOAD * grown / (2.0 * cord.wall * RHO_MM.powi(2));
    let lost = grown / (grown + 1.0);
    let bending = cord.bending * lost / (2.0 * DEAD_LOAD * RHO_MM.powi(2));
    mesh + wall + bending
}

/// Compares the force ratio with `exp(mu phi)`.
fn capstan(wire: &Pulled<'_>, drift: f64, degrees: f64, friction: f64) {
    let ratio = wire.force() / DEAD_LOAD;
    let angle = degrees.to_radians();
    let exact = (friction * angle).exp();
    println!(
        "  ratio {ratio:.6} exact {exact:.6}; wire turns by {:.2} degrees; last change {drift:.1e}; {:.1} iterations a step, {} steps",
        wire.turned().to_degrees(),
        wire.mean_iterations(),
        wire.iterations.len()
    );
    let may_be_off = may_be_off(&cord(friction), angle);
    assert!(drift < may_be_off, "sliding is steady: {drift:e}");
    report(
        &format!("capstan {degrees:.0} degrees, mu {friction}: ratio off exp(mu phi), %"),
        100.0 * (ratio / exact - 1.0).abs(),
        100.0 * may_be_off,
    );
}

/// The order of what [`may_be_off`] allows for the mesh, at a wall so stiff and edges so long that it is
/// the largest; the mean over a node's way past the ends of the bend.
#[test]
fn the_mesh_error_of_the_capstan_falls_fourfold_or_more_when_edges_halve() {
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
    let errors = [1.6, 0.8, 0.4].map(|edge: f64| {
        let nodes = planar(PI, edge);
        let (mut wire, _) = draw(&cord, &tube, &nodes, 0, -1.0);
        let forces = (0..8).map(|_| {
            wire.pull(edge / 8.0);
            wire.force()
        });
        let ratio = forces.sum::<f64>() / 8.0 / DEAD_LOAD;
        let error = ratio.ln() - cord.friction * PI;
        println!("CHECK | capstan, edges of {edge} mm: off {error:.3e}");
        error
    });
    for pair in errors.windows(2) {
        let order = (pair[0] / pair[1]).log2();
        assert!(order > 1.8, "order {order:.2}");
    }
}

/// Friction coefficients of a steel, a PTFE-coated and a hydrophilic wire in the ratio 6 : 3 : 1
/// of Schroeder, *Cardiovasc. Intervent. Radiol.* 16:93, 1993.
const SURFACES: [f64; 3] = [0.18, 0.09, 0.03];

#[test]
fn a_pull_test_finds_the_published_friction_ratio_of_surfaces() {
    // A wire pressed onto a plane by a given load, half a mN per mm, and drawn along.
    let nodes: Vec<_> = (0..=40)
        .map(|i| Vector3::new(-0.5 * f64::from(i), 0.0, 0.18))
        .collect();
    let forces = SURFACES.map(|friction| {
        let cord = Cord {
            radius: 0.18,
            bending: 50.0,
            ..cord(friction)
        };
        let mut wire = Pulled::new(&cord, &Floor, &nodes, 0, 1.0);
        for i in 0..=40 {
            wire.load(i, 2, if i == 0 || i == 40 { -0.125 } else { -0.25 });
        }
        for _ in 0..20 {
            wire.pull(0.05);
        }
        println!("  clamp mu {friction}: {:.6} mN", wire.force());
        wire.force()
    });
    // The plane is exact: what is left is the residual allowed at each node.
    let residuals = nodes.len() as f64 * cord(0.0).tolerance;
    for (force, friction) in forces.iter().zip(SURFACES) {
        report(
            &format!("pull test between plates, mu {friction}: force off mu N, mN"),
            (force - friction * 10.0).abs(),
            residuals,
        );
    }

    // Through a right-angled bend at a tenth of the friction, where the capstan law is all but
    // linear: what the friction adds to the dead load.
    let tube = BendTube {
        lead: 8.0,
        bend: BEND_MM,
        angle: 0.5 * PI,
        radius: LUMEN_MM,
    };
    let nodes = planar(0.5 * PI, EDGE_MM);
    let added = SURFACES.map(|friction| {
        let (wire, _) = draw(&cord(0.1 * friction), &tube, &nodes, 1, 1.0);
        println!(
            "  bend mu {:.3}: {:.6} mN over the dead load",
            0.1 * friction,
            wire.force() - DEAD_LOAD
        );
        wire.force() - DEAD_LOAD
    });
    for (added, friction) in added.iter().zip(SURFACES.map(|mu| 0.1 * mu)) {
        let exact = (friction * 0.5 * PI).exp_m1();
        report(
            &format!(
                "pull test round a bend, mu {friction:.3}: off the dead load times exp(mu phi) - 1, mN"
            ),
            (added - DEAD_LOAD * exact).abs(),
            DEAD_LOAD * (exact + 1.0) * may_be_off(&cord(friction), 0.5 * PI),
        );
    }
    // To first order in the friction the ratio is larger by `mu phi / 2`.
    for (surface, ratio) in [(0, 6.0), (1, 3.0)] {
        let mu_phi = 0.1 * SURFACES[surface] * 0.5 * PI;
        let off = DEAD_LOAD * may_be_off(&cord(0.1 * SURFACES[surface]), 0.5 * PI);
        report(
            &format!("pull test round a bend: ratio to hydrophilic, off {ratio}, %"),
            100.0 * (added[surface] / added[2] / ratio - 1.0).abs(),
            100.0 * (0.5 * mu_phi + off / added[surface] + off / added[2]),
        );
    }
}

/// A wire of 4 mm on the plane, pressed down with 1 mN/mm and pushed in the plane with `share` of
/// the Coulomb limit at `angle` to its axis, all nodes alike; damped by `damping` in mN/mm² a
/// step. Friction coefficient 0.2.
fn on_the_floor<'a>(share: f64, angle: f64, damping: f64) -> Pulled<'a> {
    let nodes: Vec<_> = (0..=8)
        .map(|i| Vector3::new(-0.5 * f64::from(i), 0.0, 0.18))
        .collect();
    let cord = Cord {
        radius: 0.18,
        bending: 50.0,
        tolerance: 1e-10,
        ..cord(0.2)
    };
    let mut wire = Pulled::new(&cord, &Floor, &nodes, 0, 1.0);
    // No hand: the wire is free but for its spin.
    wire.body.fixed.retain(|&k| k != 0);
    wire.body.damping = damping;
    for i in 0..=8 {
        let pressed = if i == 0 || i == 8 { 0.25 } else { 0.5 };
        wire.load(i, 2, -pressed);
        wire.load(i, 0, 0.2 * share * pressed * angle.cos());
        wire.load(i, 1, 0.2 * share * pressed * angle.sin());
    }
    wire
}

#[test]
fn a_wire_below_the_coulomb_limit_does_not_creep() {
    for angle in [0.0, 0.7] {
        let mut wire = on_the_floor(0.9, angle, 0.0);
        // A first step sets the normal force and the elastic deflection of the wall.
        wire.pull(0.0);
        wire.pull(0.0);
        let first = wire.body.rod.q.clone();
        for _ in 0..1000 {
            wire.pull(0.0);
        }
        let creep = wire
            .body
            .rod
            .q
            .iter()
            .zip(&first)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        // Rounding only: positions of a few mm, a thousand steps.
        println!("CHECK | creep over 1000 steps at 0.9 of the limit, mm | {creep:.2e} | 1e-10");
        assert!(creep < 1e-10);
        let iterations: u32 = wire.iterations[2..].iter().sum();
        println!(
            "  iterations in 1000 steps: {iterations}, lost {:.1e}",
            wire.lost
        );
    }
}

#[test]
fn friction_has_no_preferred_direction() {
    // Above the limit the wire slides against the damping: the excess over mu N is
    // damping times length times distance, in the direction of the load.
    let (damping, share) = (2.0, 1.5);
    let excess = 0.2 * (share - 1.0) * 4.0;
    let expected = excess / (damping * 4.0);
    let mut worst: f64 = 0.0;
    for k in 0..16 {
        let angle = f64::from(k) * PI / 8.0;
        let mut wire = on_the_floor(share, angle, damping);
        for _ in 0..5 {
            wire.pull(0.0);
        }
        let before = wire.body.rod.node(4);
        wire.pull(0.0);
        let moved = wire.body.rod.node(4) - before;
        let along = Vector3::new(angle.cos(), angle.sin(), 0.0) * expected;
        worst = worst.max((moved - along).norm() / expected);
    }
    println!(
        "CHECK | sliding in 16 directions: speed and direction off, relative | {worst:.1e} | 1e-6"
    );
    assert!(worst < 1e-6);
}

/// Where a wire's end stands on a wall, its contact lies nearer to the axis than the wire's radius:
/// at the angle `a` between axis and normal the arm is `r sin a`, and spinning meets the moment
/// `mu N r sin a` (Coulomb's law with the arm of the contact).
#[test]
fn a_tip_resists_spinning_with_the_arm_of_its_contact() {
    let (radius, depth) = (0.18, 0.02);
    let cord = Cord {
        radius,
        bending: 50.0,
        ..cord(0.2)
    };
    let mut worst: f64 = 0.0;
    for angle in [0.02, 0.2, 0.8, 1.3, 0.5 * PI] {
        let along = Vector3::new(f64::sin(angle), 0.0, f64::cos(angle));
        let nodes: Vec<_> = (0..4)
            .map(|i| Vector3::z() * (radius - depth) + along * (0.5 * f64::from(i)))
            .collect();
        let mut rod = Pulled::new(&cord, &Floor, &nodes, 0, 1.0).body.rod;
        let surface = Surface {
            radius,
            friction: cord.friction,
            wall: cord.wall.into(),
            spacing: 1.0,
        };
        let mut contact = Contact::new(&Floor, surface, &rod, 0, true);
        contact.begin(&rod.q);
        rod.q[3] += 10.0;
        rod.refresh();
        let mut gradient = vec![0.0; rod.q.len()];
        let mut hessian = Banded::<11>::empty();
        hessian.reset(rod.q.len());
        contact.add_derivatives(&rod, &mut gradient, &mut hessian);
        let normal = cord.wall * radius * depth;
        let expected = cord.friction * normal * radius * angle.sin();
        println!(
            "  axis {angle:.2} rad from the normal: moment {:.6} mN mm, expected {expected:.6}",
            gradient[3]
        );
        worst = worst.max((gradient[3].abs() - expected).abs() / (cord.friction * normal * radius));
    }
    report(
        "moment that a standing tip meets, off, %",
        100.0 * worst,
        1e-6,
    );
}
