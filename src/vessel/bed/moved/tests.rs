use super::super::stiffness::{Bed, WallStiffness};
use super::*;
use crate::scenario::model::{AttachmentSpec, BranchSpec, PathSpec, PieceSpec, Place, VesselSpec};
use crate::vessel::bed::spline::SUPPORT;
use approx::assert_relative_eq;

/// A bent vessel with a side branch.
fn moved_tree() -> (MovedTree, Vec<Vector3<f64>>) {
    let place = Place::default;
    let branch = |name: &str, attached, pieces, take_off_rad| BranchSpec {
        name: name.into(),
        attached,
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            pieces,
            take_off_rad,
            take_off_plane_rad: 0.3,
        },
        diameters: vec![(0.0, 3.0), (20.0, 2.0)],
        place: place(),
    };
    let arc = |angle_rad| PieceSpec::Arc {
        radius_mm: 8.0,
        angle_rad,
        plane_rad: 0.0,
    };
    let straight = |length_mm| PieceSpec::Straight { length_mm };
    let attached = AttachmentSpec {
        parent: "parent".into(),
        station_mm: Some(14.0),
        place: place(),
    };
    let spec = VesselSpec::new(vec![
        branch(
            "parent",
            None,
            vec![straight(10.0), arc(1.2), straight(10.0)],
            0.0,
        ),
        branch("side", Some(attached), vec![straight(12.0)], 1.1),
    ]);
    let tree = Arc::new(Tree::build(&spec).expect("a tree"));
    let bed = Bed {
        across: 5.0,
        along: 2.0,
        wall: WallStiffness::Tube {
            modulus: 500.0,
            share: 0.2,
        },
        spacing_mm: 1.5,
    };
    let vessel = Arc::new(GivingVessel::new(&tree, bed));
    let moved = (0..vessel.controls())
        .map(|j| {
            let x = 0.4 * j as f64;
            Vector3::new(x.sin(), (1.3 * x).cos(), (0.7 * x).sin()) * 0.4
        })
        .collect();
    (MovedTree::new(tree, vessel), moved)
}

/// Points near the wall: in the bend, at the carina and in the side branch.
fn points(lumen: &MovedTree) -> Vec<Vector3<f64>> {
    let mut out = Vec::new();
    for (branch, station, aside) in [
        (0, 6.3, 1.2),
        (0, 13.1, 1.1),
        (0, 16.4, 1.0),
        (0, 24.2, 0.9),
        (1, 2.3, 1.2),
        (1, 7.7, 0.9),
    ] {
        for angle in [0.2, 1.9, 3.8, 5.1_f64] {
            let line = &lumen.tree.branches()[branch].centreline;
            let (t, n) = (line.tangent(station), line.normal(station));
            let out_of = n * angle.cos() + t.cross(&n) * angle.sin();
            out.push(lumen.position(branch, station) + out_of * aside);
        }
    }
    out
}

#[test]
fn derivatives_by_point_and_control_vectors_are_those_of_the_distance() {
    let (lumen, moved) = moved_tree();
    lumen.set(&moved);
    let h = 1e-5;
    for p in points(&lumen) {
        lumen.set(&moved);
        let (wall, hang) = lumen.hang(&p).expect("a wall");
        let near = lumen.near_wall(&p, 0.0, 10.0).expect("a wall");
        assert_relative_eq!(wall.distance_mm, near.distance_mm, epsilon = 1e-12);
        let m = hang.controls.len();
        for (k, &j) in hang.controls.iter().enumerate() {
            for c in 0..3 {
                let at = |sign: f64| {
                    let mut there = moved.clone();
                    there[j][c] += sign * h;
                    lumen.set(&there);
                    lumen.hang(&p).expect("a wall")
                };
                let (a, b) = (at(-1.0), at(1.0));
                let slope = (b.0.distance_mm - a.0.distance_mm) / (2.0 * h);
                assert_relative_eq!(slope, hang.gradient[k][c], epsilon = 1e-6);
                // The slow change of taper is left out of the second derivatives.
                let mixed = (b.0.gradient - a.0.gradient) / (2.0 * h);
                assert_relative_eq!(mixed, hang.mixed[k].column(c).into_owned(), epsilon = 0.03);
                if b.1.controls == hang.controls && a.1.controls == hang.controls {
                    for i in 0..m {
                        let second = (b.1.gradient[i] - a.1.gradient[i]) / (2.0 * h);
                        let column = hang.second[i * m + k].column(c).into_owned();
                        assert_relative_eq!(second, column, epsilon = 0.03);
                    }
                }
            }
        }
    }
}

/// Also where the two directions are the same to the last digit.
#[test]
fn a_vector_is_turned_with_its_section() {
    let from = Vector3::new(1.0, 2.0, -0.5).normalize();
    for k in 0..200 {
        let to =
            (from + Vector3::new(0.3, -0.2, 0.9) * 10f64.powf(-0.1 * f64::from(k))).normalize();
        assert_relative_eq!(turned(&from, &from, &to), to, epsilon = 1e-12);
        let v = Vector3::new(-0.3, 0.8, 1.1);
        let there = turned(&v, &from, &to);
        assert_relative_eq!(there.norm(), v.norm(), epsilon = 1e-12);
        assert_relative_eq!(turned(&there, &to, &from), v, epsilon = 1e-12);
    }
}

/// A material point of the wall keeps its station and its place in the section, which turns with the
/// axis.
#[test]
fn the_walls_material_goes_where_its_section_goes() {
    let (lumen, moved) = moved_tree();
    let still = vec![Vector3::zeros(); moved.len()];
    let share = 1e-4;
    let little: Vec<_> = moved.iter().map(|m| m * share).collect();
    for (station, angle) in [(4.2, 0.4), (12.3, 2.0), (15.5, 4.4), (23.8, 1.1_f64)] {
        let line = &lumen.tree.branches()[0].centreline;
        let (t, n) = (line.tangent(station), line.normal(station));
        let e = (n * angle.cos() + t.cross(&n) * angle.sin()) * 0.8;
        lumen.set(&still);
        let (_, hang) = lumen.hang(&(line.position(station) + e)).expect("a wall");
        if hang.controls.len() > SUPPORT {
            continue;
        }
        let [u, slope, _] = lumen.vessel.knots()[0].basis(station).jet(&little);
        let expected = u - t * e.dot(&slope);
        let found = hang.way(&little, &still);
        assert_relative_eq!(found, expected, epsilon = 1e-4 * share);
    }
}
