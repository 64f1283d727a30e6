//! The vessel without a device: a bend that a straight wire of no clearance straightens
//! (independent values, see `reference/giving.json`).
#![allow(clippy::print_stdout, reason = "the table of checks")]

use bendwise::evidence::scenes::{equilibrium_from, vessel_through};
use bendwise::vessel::{AtRest, Basis, Bed, GivingVessel, Tree, WallBeam, WallStiffness};
use nalgebra::{Matrix3, Vector3};

/// Bend between two straight pieces of 40 mm, given by points.
pub(super) fn bend(radius: f64, degrees: f64, diameter: f64) -> Tree {
    let turn = degrees.to_radians();
    let mut points: Vec<_> = (0..40).map(|i| Vector3::x() * f64::from(i)).collect();
    let arc = radius * turn;
    let count = (4.0 * arc).ceil();
    let mut k = 0.0;
    while k <= count {
        let a = turn * k / count;
        points.push(Vector3::new(
            40.0 + radius * a.sin(),
            radius * (1.0 - a.cos()),
            0.0,
        ));
        k += 1.0;
    }
    let end = points[points.len() - 1];
    let out = Vector3::new(turn.cos(), turn.sin(), 0.0);
    points.extend((1..=40).map(|i| end + out * f64::from(i)));
    vessel_through(points, diameter).expect("a vessel")
}

/// A wire without clearance in the vessel: it bends with the axis, and slides freely.
struct Within<'v> {
    vessel: &'v GivingVessel,
    tree: &'v Tree,
    bending: f64,
}

impl Within<'_> {
    /// Calls `visit` with basis, rest, weight and station of Gauss points along the axis.
    fn stations(&self) -> Vec<(Basis, AtRest, f64, f64)> {
        let (knots, line) = (self.vessel.knots()[0], &self.tree.branches()[0].centreline);
        let mut out = Vec::new();
        for k in 0..knots.intervals {
            for (at, weight) in [(-0.6_f64.sqrt(), 5.0), (0.0, 8.0), (0.6_f64.sqrt(), 5.0)] {
                let s = (k as f64 + 0.5 + 0.5 * at) * knots.spacing_mm;
                let rest = AtRest {
                    tangent: line.tangent(s),
                    curvature: Vector3::zeros(),
                    first: line.tangent(s),
                    second: line.curvature(s),
                };
                out.push((knots.basis(s), rest, knots.spacing_mm * weight / 18.0, s));
            }
        }
        out
    }

    fn jets(&self, moved: &[Vector3<f64>]) -> Vec<(Vector3<f64>, Vector3<f64>, f64, f64)> {
        let of = |(basis, rest, weight, s): (Basis, AtRest, f64, f64)| {
            let [_, first, second] = basis.jet(moved);
            (rest.first + first, rest.second + second, weight, s)
        };
        self.stations().into_iter().map(of).collect()
    }

    fn energy(&self, moved: &[Vector3<f64>]) -> f64 {
        let beam = WallBeam {
            bending: self.bending,
            axial: 0.0,
        };
        let mut sum = 0.0;
        for ((_, rest, weight, _), (v, w, ..)) in self.stations().iter().zip(self.jets(moved)) {
            sum += weight * beam.energy(rest, &v, &w);
        }
        sum
    }

    fn add_derivatives(
        &self,
        moved: &[Vector3<f64>],
        gradient: &mut [Vector3<f64>],
        add: &mut dyn FnMut(usize, usize, &Matrix3<f64>),
    ) {
        let beam = WallBeam {
            bending: self.bending,
            axial: 0.0,
        };
        for ((basis, rest, weight, _), (v, w, ..)) in self.stations().iter().zip(self.jets(moved)) {
            let here = beam.derivatives(rest, &v, &w);
            for i in 0..4 {
                let (s, c) = (basis.slope[i], basis.bend[i]);
                gradient[basis.first + i] +=
                    (here.gradient[0] * s + here.gradient[1] * c) * *weight;
                for j in 0..4 {
                    let (s2, c2) = (basis.slope[j], basis.bend[j]);
                    let block = here.hessian[0] * (s * s2)
                        + here.hessian[1] * (s * c2)
                        + here.hessian[1].transpose() * (c * s2)
                        + here.hessian[2] * (c * c2);
                    add(basis.first + i, basis.first + j, &(block * *weight));
                }
            }
        }
    }
}

/// Angle of the axis between two stations in degrees.
pub(super) fn turned(
    vessel: &GivingVessel,
    tree: &Tree,
    moved: &[Vector3<f64>],
    from: f64,
    to: f64,
) -> f64 {
    let tangent = |s: f64| {
        let [_, first, _] = vessel.knots()[0].basis(s).jet(moved);
        tree.branches()[0].centreline.tangent(s) + first
    };
    let (a, b) = (tangent(from), tangent(to));
    a.cross(&b).z.atan2(a.dot(&b)).to_degrees()
}

/// R, angle, bending of the vessel, foundation, bending of the wire; largest displacement, turn over the
/// arc, energies of wire, vessel and bed. Computed independently by a boundary value solver and by
/// energy minimisation; the bed ties in all directions, both ends are free.
const STRAIGHTENED: [[f64; 10]; 6] = [
    [
        10.0, 90.0, 200.0, 2.0, 500.0, 0.28122, 78.7064, 31.9501, 1.0143, 1.4263,
    ],
    [
        10.0, 90.0, 200.0, 10.0, 5000.0, 0.46974, 72.6621, 293.673, 2.091, 22.48,
    ],
    [
        10.0, 60.0, 200.0, 2.0, 5000.0, 0.98087, 31.1984, 111.219, 4.0305, 23.918,
    ],
    [
        10.0, 90.0, 2000.0, 10.0, 500.0, 0.064667, 87.1858, 36.9923, 0.71308, 0.33949,
    ],
    [
        10.0, 90.0, 2000.0, 2.0, 5000.0, 0.83904, 67.8764, 252.174, 21.016, 24.789,
    ],
    [
        10.0, 90.0, 200.0, 2.0, 20000.0, 1.7758, 49.4421, 731.171, 5.7611, 146.19,
    ],
];

#[test]
fn a_wire_without_clearance_straightens_a_bend_as_computed_independently() {
    for [
        radius,
        degrees,
        wall,
        foundation,
        wire,
        u_max,
        arc_turn,
        of_wire,
        of_wall,
        of_bed,
    ] in STRAIGHTENED
    {
        let tree = bend(radius, degrees, 3.0);
        let bed = Bed {
            across: foundation,
            along: foundation,
            wall: WallStiffness::Beam(WallBeam {
                bending: wall,
                axial: 3e4 * (foundation * wire).powf(0.25),
            }),
            spacing_mm: 0.2,
        };
        let vessel = GivingVessel::new(&tree, bed);
        let mut moved = vec![Vector3::zeros(); vessel.controls()];
        // The wire stiffens step by step, so that Newton's method stays near.
        for part in 1..=8 {
            let within = Within {
                vessel: &vessel,
                tree: &tree,
                bending: wire * f64::from(part) / 8.0,
            };
            moved = equilibrium_from(
                &vessel,
                moved,
                |moved, gradient, add| {
                    within.add_derivatives(moved, gradient, add);
                },
                true,
            )
            .expect("a stable vessel");
        }
        let within = Within {
            vessel: &vessel,
            tree: &tree,
            bending: wire,
        };
        let arc = radius * degrees.to_radians();
        let turn = turned(&vessel, &tree, &moved, 40.0, 40.0 + arc);
        let largest = (0..=800)
            .map(|k| {
                let s = (80.0 + arc) * f64::from(k) / 800.0;
                vessel.knots()[0].basis(s).at(&moved).norm()
            })
            .fold(0.0, f64::max);
        let e_wire = within.energy(&moved);
        let soft = GivingVessel::new(
            &tree,
            Bed {
                wall: WallStiffness::Beam(WallBeam {
                    bending: 0.0,
                    axial: 0.0,
                }),
                ..bed
            },
        );
        let e_bed = soft.energy(&moved, &[]);
        let stiff = GivingVessel::new(
            &tree,
            Bed {
                wall: WallStiffness::Beam(WallBeam {
                    axial: 0.0,
                    ..bed.wall.at(1.5)
                }),
                ..bed
            },
        );
        let e_wall = stiff.energy(&moved, &[]) - e_bed;
        let found = [largest, turn, e_wire, e_wall, e_bed];
        let expected = [u_max, arc_turn, of_wire, of_wall, of_bed];
        // The small energy of the wall counts by its share of the whole: its curvature at rest jumps.
        let scale = [u_max, arc_turn, of_wire, of_wire + of_wall + of_bed, of_bed];
        let off = std::array::from_fn::<f64, 5, _>(|k| 100.0 * (found[k] - expected[k]) / scale[k]);
        println!(
            "R {radius} {degrees} deg, Bv {wall}, k {foundation}, B {wire}: off by {off:.3?} %"
        );
        assert!(
            off.iter().all(|o| o.abs() < 1.0),
            "{found:?} instead of {expected:?}"
        );
    }
}
