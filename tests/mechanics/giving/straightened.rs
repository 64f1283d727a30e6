//! A wire with clearance in a bend that gives way, against independent values: contact by an interior
//! point method on the moved axis, Richardson extrapolation (`reference/giving.json`, section C).
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::sync::Arc;

use bendwise::contact::{Contact, Surface};
use bendwise::rod::{Edge, Hinge, Rod};
use bendwise::solve::{Banded, Body, Newton, NewtonOptions};
use bendwise::vessel::{Bed, GivingVessel, MovedTree, Tree, WallBeam, WallStiffness};
use nalgebra::Vector3;

use super::alone::{bend, turned};

const RADIUS: f64 = 10.0;
pub(super) const WIRE_RADIUS: f64 = 0.18;
pub(super) const CLEARANCE: f64 = 1.3;

/// A rod along the vessel's axis from `from` mm on, free at both ends.
pub(super) fn rod_along(tree: &Tree, from: f64, length: f64, edge: f64, bending: f64) -> Rod {
    let line = &tree.branches()[0].centreline;
    let count = (length / edge).round();
    let mut nodes = Vec::new();
    let mut k = 0.0;
    while k <= count {
        nodes.push(line.position(from + length * k / count));
        k += 1.0;
    }
    let lengths: Vec<f64> = nodes.windows(2).map(|w| (w[1] - w[0]).norm()).collect();
    let edges: Vec<Edge> = lengths
        .iter()
        .map(|&rest_length| Edge {
            rest_length,
            axial_stiffness: 1e4 + 20.0 * bending,
        })
        .collect();
    let hinges = hinges(&edges, bending);
    Rod::new(&nodes, edges, hinges, Vector3::z())
}

fn hinges(edges: &[Edge], bending: f64) -> Vec<Hinge> {
    (0..=edges.len())
        .map(|i| {
            let behind = if i > 0 { edges[i - 1].rest_length } else { 0.0 };
            let ahead = edges.get(i).map_or(0.0, |e| e.rest_length);
            Hinge::uniform(0.5 * (behind + ahead), bending, bending)
        })
        .collect()
}

pub(super) struct Case<'a> {
    pub(super) body: Body<'a>,
    newton: Newton,
    options: NewtonOptions,
}

impl<'a> Case<'a> {
    pub(super) fn new(rod: Rod, lumen: &'a MovedTree, wall: f64, friction: f64) -> Self {
        let surface = Surface {
            radius: WIRE_RADIUS,
            friction,
            wall: wall.into(),
            spacing: 0.25,
        };
        let contact = Contact::new(lumen, surface, &rod, rod.edges.len(), false);
        let mut body = Body::new(rod).with_contact(contact);
        body.fix_rotation(0);
        // Nothing else holds the wire along the vessel.
        body.damping = 1e-6;
        Self {
            body,
            newton: Newton::default(),
            options: NewtonOptions {
                max_iterations: 400,
                ..NewtonOptions::with_tolerance(1e-5)
            },
        }
    }

    /// Lets some time pass, finds the equilibrium, and returns what was lost to friction in mN mm; a time
    /// in which none is found is halved.
    pub(super) fn after(&mut self, seconds: f64) -> f64 {
        assert!(seconds > 1e-5, "no equilibrium is near");
        let before = self.body.clone();
        self.body.begin();
        self.body.pass(seconds, 1e-6 * seconds);
        match self.newton.equilibrate(&mut self.body, &self.options) {
            Ok(_) => self.body.settle().sliding,
            Err(_) => {
                self.body = before;
                self.after(0.5 * seconds) + self.after(0.5 * seconds)
            }
        }
    }

    /// Finds the equilibrium from where everything is.
    pub(super) fn settle(&mut self) {
        self.body.begin();
        let found = self.newton.equilibrate(&mut self.body, &self.options);
        found.unwrap_or_else(|e| panic!("{e}"));
        self.body.settle();
    }
}

/// Foundation k, wire B; energies of wire, vessel and bed, largest displacement, turn of the vessel over
/// the arc, force on the inner wall. Vessel with Bv = 200, R = 10, 90 degrees, leads of 40 mm, free ends.
const TABLE: [[f64; 8]; 5] = [
    [
        2.0, 50.0, 1.99435, 0.00082088, 0.0021781, 0.01064, 89.9794, 0.27304,
    ],
    [
        2.0, 5000.0, 172.656, 1.8263, 8.8696, 0.54335, 87.4771, 20.271,
    ],
    [
        10.0, 500.0, 19.8256, 0.023959, 0.061827, 0.02914, 90.2303, 2.6978,
    ],
    [
        50.0, 50.0, 1.99975, 8.9575e-05, 0.00023506, 0.00105, 90.0103, 0.27457,
    ],
    [
        50.0, 5000.0, 195.548, 0.38659, 1.6488, 0.09760, 90.9795, 26.254,
    ],
];

#[test]
fn a_wire_with_clearance_straightens_a_bend_as_computed_independently() {
    let tree = Arc::new(bend(RADIUS, 90.0, 2.0 * (CLEARANCE + WIRE_RADIUS)));
    let arc = RADIUS * 90f64.to_radians();
    for [k, bending, of_wire, of_wall, of_bed, u_max, turn, inner] in TABLE {
        let bed = Bed {
            across: k,
            along: k,
            wall: WallStiffness::Beam(WallBeam {
                bending: 200.0,
                // Hardly extensible, as in the reference.
                axial: 1e6,
            }),
            spacing_mm: 0.4,
        };
        let vessel = GivingVessel::new(&tree, bed).with_free_inlet();
        let lumen = MovedTree::new(Arc::clone(&tree), Arc::new(vessel));
        let rod = rod_along(&tree, 2.0, 76.0 + arc, 0.25, bending);
        // A wall so hard that its dent is small beside the bed's displacement.
        let wall = 3e4_f64.min(200.0 * bending);
        let mut case = Case::new(rod, &lumen, wall, 0.0);
        // The wire stiffens step by step: from the axis it has far to go.
        for share in [0.03, 0.1, 0.3, 1.0] {
            case.body.rod.hinges = hinges(&case.body.rod.edges, share * bending);
            case.after(1.0);
            case.settle();
        }
        let giving = case.body.giving.as_ref().expect("a vessel");
        let (vessel, moved) = (&giving.vessel, &giving.moved);
        let stored = case.body.rod.stored();
        let soft = |wall: WallBeam| {
            GivingVessel::new(
                &tree,
                Bed {
                    wall: WallStiffness::Beam(wall),
                    ..bed
                },
            )
            .with_free_inlet()
            .energy(moved, &[])
        };
        let e_bed = soft(WallBeam {
            bending: 0.0,
            axial: 0.0,
        });
        let e_wall = soft(WallBeam {
            axial: 0.0,
            ..bed.wall.at(1.5)
        }) - e_bed;
        let largest = (0..=800)
            .map(|i| {
                vessel.knots()[0]
                    .basis((80.0 + arc) * f64::from(i) / 800.0)
                    .at(moved)
                    .norm()
            })
            .fold(0.0, f64::max);
        let turned = |moved: &[Vector3<f64>]| turned(vessel, &tree, moved, 40.0, 40.0 + arc);
        let found_turn = 90.0 + turned(moved) - turned(&vec![Vector3::zeros(); moved.len()]);
        let contact = case.body.contact.as_ref().expect("a lumen");
        let middle = 40.0 + 0.5 * arc;
        let on_inner: f64 = contact
            .active_contacts()
            .iter()
            .filter(|c| {
                let at = contact.point_position(&case.body.rod, c.point);
                (at - tree.branches()[0].centreline.position(middle)).norm() < 5.0
            })
            .map(|c| c.normal_force)
            .sum();
        let all = of_wire + of_wall + of_bed;
        let off = [
            (stored.bend - of_wire) / all,
            (e_wall - of_wall) / all,
            (e_bed - of_bed) / all,
            largest / u_max - 1.0,
            (found_turn - turn) / 90.0,
            on_inner / inner - 1.0,
        ]
        .map(|o| 100.0 * o);
        println!("k {k}, B {bending}: off by {off:.3?} %");
        assert!(off.iter().all(|o| o.abs() < 1.0), "{off:?}");
    }
}

/// Derivatives of the potential by the unknowns of the wire and of the vessel, over decades of stiffness.
#[test]
fn the_gradient_is_that_of_the_potential_in_both() {
    let tree = Arc::new(bend(RADIUS, 90.0, 2.0 * (CLEARANCE + WIRE_RADIUS)));
    for (k, bending) in [(0.5, 20.0), (5.0, 500.0), (50.0, 5000.0)] {
        let bed = Bed {
            across: k,
            along: 0.5 * k,
            wall: WallStiffness::Beam(WallBeam {
                bending: 200.0,
                axial: 1e4,
            }),
            spacing_mm: 1.0,
        };
        let vessel = GivingVessel::new(&tree, bed);
        let lumen = MovedTree::new(Arc::clone(&tree), Arc::new(vessel));
        let rod = rod_along(&tree, 2.0, 70.0, 1.0, bending);
        let mut case = Case::new(rod, &lumen, 300.0, 0.0);
        case.body.damping = 0.0;
        // Off its equilibrium, in touch with the wall.
        let q: Vec<f64> = case
            .body
            .rod
            .q
            .iter()
            .enumerate()
            .map(|(i, q)| {
                q + if i % 4 == 1 {
                    1.4
                } else {
                    0.02 * (0.7 * i as f64).sin()
                }
            })
            .collect();
        case.body.move_to(&q);
        let n = case.body.giving.as_ref().expect("a vessel").moved.len();
        let moved: Vec<Vector3<f64>> = (0..n)
            .map(|j| {
                let x = j as f64;
                let fixed = case
                    .body
                    .giving
                    .as_ref()
                    .expect("a vessel")
                    .vessel
                    .is_fixed(j);
                if fixed {
                    Vector3::zeros()
                } else {
                    Vector3::new((0.3 * x).sin(), (0.2 * x).cos(), (0.5 * x).sin()) * 0.1
                }
            })
            .collect();
        case.body.move_vessel_to(&moved);
        let (mut gradient, mut hessian) = (Vec::new(), Banded::<11>::empty());
        case.body.assemble(&mut gradient, &mut hessian);
        let of_vessel = case
            .body
            .giving
            .as_ref()
            .expect("a vessel")
            .gradient
            .clone();
        assert!(
            case.body
                .contact
                .as_ref()
                .expect("a lumen")
                .active_contacts()
                .len()
                > 5
        );
        let h = 1e-6;
        let scale = gradient.iter().fold(1.0, |m: f64, g| m.max(g.abs()));
        for j in (3..n).step_by(5) {
            for c in 0..3 {
                let mut at = |sign: f64| {
                    let mut there = moved.clone();
                    there[j][c] += sign * h;
                    case.body.move_vessel_to(&there);
                    let kinematics = case.body.rod.kinematics().clone();
                    case.body.potential(&q, &kinematics)
                };
                let slope = (at(1.0) - at(-1.0)) / (2.0 * h);
                approx::assert_relative_eq!(slope, of_vessel[j][c], epsilon = 2e-6 * scale);
            }
        }
    }
}
