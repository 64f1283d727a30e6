//! The signed distance of a surface lumen against the exact distance of the shape that was
//! meshed: size of the error, order of convergence, sign, and how smoothly its gradient turns.
#![allow(
    clippy::cast_possible_truncation,
    reason = "meshes and counts of tests are small"
)]
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; measured values are printed"
)]

use crate::anatomy_common::{cone, swept, torus, with_surface};
use bendwise::anatomy::surface::Mesh;
use bendwise::scenario::model::*;
use bendwise::vessel::{Lumen, SurfaceLumen, Tree};
use bendwise::vessel::{Spacing, net};
use nalgebra::Vector3;
use std::f64::consts::{PI, TAU};

/// Distance to the wall, in mm, within which errors are looked at: where a wire touches.
const BAND: f64 = 0.4;

fn along_x(length: f64) -> Vec<Vector3<f64>> {
    vec![Vector3::x(), Vector3::x() * (length - 1.0)]
}

fn round_torus(bend: f64) -> Vec<Vector3<f64>> {
    (0..=60)
        .map(|i| {
            let (sin, cos) = (0.9 * TAU * f64::from(i) / 60.0).sin_cos();
            Vector3::new(bend * cos, bend * sin, 0.0)
        })
        .collect()
}

/// Largest error of the distance, and of the gradient's direction in rad, over points within the
/// band; `exact` gives distance and gradient.
fn errors(
    lumen: &SurfaceLumen,
    points: &[Vector3<f64>],
    exact: impl Fn(&Vector3<f64>) -> (f64, Vector3<f64>),
) -> (f64, f64) {
    let mut worst = (0.0_f64, 0.0_f64);
    for p in points {
        let (distance, gradient) = exact(p);
        if distance.abs() > BAND {
            continue;
        }
        let wall = lumen.near_wall(p, 0.0, 1.0).unwrap();
        worst.0 = worst.0.max((wall.distance_mm - distance).abs());
        worst.1 = worst.1.max(wall.gradient.angle(&gradient));
    }
    worst
}

/// Points in a shell about a curve.
fn shell(
    radius: f64,
    ring: impl Fn(f64) -> (Vector3<f64>, Vector3<f64>, Vector3<f64>),
) -> Vec<Vector3<f64>> {
    let mut points = Vec::new();
    for i in 0..200 {
        let (middle, u, v) = ring((f64::from(i) + 0.5) / 200.0);
        for k in 0..37 {
            let (sin, cos) = (TAU * (f64::from(k) + 0.013 * f64::from(i)) / 37.0).sin_cos();
            for j in -3..=3 {
                let rho = radius + 0.12 * f64::from(j);
                points.push(middle + (u * cos + v * sin) * rho);
            }
        }
    }
    points
}

/// Order of convergence from errors at sizes that halve.
fn orders(errors: &[f64]) -> Vec<f64> {
    errors.windows(2).map(|e| (e[0] / e[1]).log2()).collect()
}

#[test]
fn on_a_cylinder_the_distance_converges_in_more_than_the_third_order_and_beats_the_facets() {
    let (length, radius) = (24.0, 1.5);
    let points = shell(radius, |t| {
        (
            Vector3::x() * (4.0 + (length - 8.0) * t),
            Vector3::y(),
            Vector3::z(),
        )
    });
    let mut found = Vec::new();
    for around in [12, 24, 48] {
        let mesh = cone(length, radius, radius, 2 * around, around);
        let lumen = SurfaceLumen::new(&mesh, &with_surface(along_x(length), radius, mesh.clone()));
        let e = errors(&lumen.unwrap(), &points, |p| {
            let out = Vector3::new(0.0, p.y, p.z);
            (out.norm() - radius, out.normalize())
        });
        let facets = radius * (1.0 - (PI / f64::from(around as u32)).cos());
        println!(
            "cylinder, {around} corners: distance {:.5} mm, direction {:.5} rad (facets: {facets:.5} mm, {:.3} rad)",
            e.0,
            e.1,
            PI / around as f64
        );
        found.push(e);
    }
    // 24 corners: the facets lie 0.0128 mm off and turn by 0.131 rad each way.
    assert!(found[1].0 < 0.002 && found[1].1 < 0.01, "{found:?}");
    let order = orders(&found.iter().map(|e| e.0).collect::<Vec<_>>());
    println!("cylinder, orders: {order:?}");
    assert!(order[0] > 3.0, "{order:?}");
}

#[test]
fn on_a_cone_the_distance_is_that_of_the_cone() {
    let (length, from, to) = (24.0, 2.0, 1.0);
    let slope: f64 = (to - from) / length;
    let cosine = 1.0 / (1.0 + slope * slope).sqrt();
    let points = shell(1.5, |t| {
        (
            Vector3::x() * (6.0 + (length - 12.0) * t),
            Vector3::y(),
            Vector3::z(),
        )
    });
    let mut found = Vec::new();
    for around in [12, 24, 48] {
        let mesh = cone(length, from, to, 2 * around, around);
        let lumen = SurfaceLumen::new(&mesh, &with_surface(along_x(length), 1.5, mesh.clone()));
        let e = errors(&lumen.unwrap(), &points, |p| {
            let out = Vector3::new(0.0, p.y, p.z);
            let gradient = out.normalize() - Vector3::x() * slope;
            ((out.norm() - from - slope * p.x) * cosine, gradient)
        });
        println!(
            "cone, {around} corners: distance {:.5} mm, direction {:.5} rad",
            e.0, e.1
        );
        found.push(e);
    }
    let order = orders(&found.iter().map(|e| e.0).collect::<Vec<_>>());
    println!("cone, orders: {order:?}");
    assert!(found[1].0 < 0.002 && found[1].1 < 0.01, "{found:?}");
    assert!(order[0] > 3.0, "{order:?}");
}

#[test]
fn on_a_torus_the_distance_converges_in_more_than_the_third_order() {
    let (bend, radius) = (6.0, 1.5);
    let frame = |t: f64| {
        let (sin, cos) = (TAU * t).sin_cos();
        let out = Vector3::new(cos, sin, 0.0);
        (out * bend, out, Vector3::z())
    };
    let points = shell(radius, |t| frame(0.05 + 0.8 * t));
    let mut found = Vec::new();
    for around in [12, 24, 48] {
        let mesh = torus(bend, radius, 5 * around, around);
        let lumen = SurfaceLumen::new(
            &mesh,
            &with_surface(round_torus(bend), radius, mesh.clone()),
        );
        let e = errors(&lumen.unwrap(), &points, |p| {
            let out = Vector3::new(p.x, p.y, 0.0).normalize();
            let from = p - out * bend;
            (from.norm() - radius, from.normalize())
        });
        println!(
            "torus, {around} corners: distance {:.5} mm, direction {:.5} rad",
            e.0, e.1
        );
        found.push(e);
    }
    let order = orders(&found.iter().map(|e| e.0).collect::<Vec<_>>());
    println!("torus, orders: {order:?}");
    assert!(found[1].0 < 0.003 && found[1].1 < 0.015, "{found:?}");
    assert!(order[0] > 3.0, "{order:?}");
}

fn bifurcation() -> VesselSpec {
    let straight = |name: &str, attached, length_mm, take_off_deg: f64, diameter| BranchSpec {
        name: name.to_owned(),
        attached,
        path: PathSpec::Pieces {
            start_mm: Vector3::zeros(),
            direction: Vector3::x(),
            take_off_rad: take_off_deg.to_radians(),
            take_off_plane_rad: 0.0,
            pieces: vec![PieceSpec::Straight { length_mm }],
        },
        diameters: vec![(0.0, diameter)],
        place: Place::default(),
    };
    let on_main = AttachmentSpec {
        parent: "main".into(),
        station_mm: Some(10.0),
        place: Place::default(),
    };
    VesselSpec {
        carina_blend_mm: 1.0,
        ..VesselSpec::new(vec![
            straight("main", None, 24.0, 0.0, 3.0),
            straight("side", Some(on_main), 14.0, 60.0, 2.2),
        ])
    }
}

/// A mesh of a bifurcation whose wall is known: the smooth union of two tubes.
fn meshed(spec: &VesselSpec, cell_mm: f64) -> Mesh {
    let tree = Tree::build(spec).unwrap();
    let net = net(&tree, None, &Spacing { cell_mm }).unwrap();
    Mesh {
        points: net.points,
        triangles: net.triangles,
    }
}

#[test]
fn on_a_smooth_bifurcation_the_wall_lies_where_it_was_meshed() {
    let spec = bifurcation();
    let tree = Tree::build(&spec).unwrap();
    // Points of a fine net lie on the wall; the mean tells of the wall, the worst of the carina.
    let fine = meshed(&spec, 0.09);
    let mut means = Vec::new();
    for cell in [0.5, 0.25] {
        let mesh = meshed(&spec, cell);
        let lumen = SurfaceLumen::new(&mesh, &spec).unwrap();
        let (mut sum, mut worst) = (0.0, 0.0_f64);
        for p in &fine.points {
            let e = lumen.distance(p).abs();
            sum += e;
            worst = worst.max(e);
        }
        let mean = sum / fine.points.len() as f64;
        println!("bifurcation, cells of {cell} mm: mean {mean:.5} mm, largest {worst:.5} mm");
        assert!(worst < 0.25 * cell, "cells of {cell}: {worst}");
        means.push(mean);
    }
    let order = orders(&means)[0];
    println!("bifurcation, order of the mean: {order:.2}");
    assert!(order > 1.8 && means[1] < 0.002, "{means:?}");
    assert!(tree.distance(&fine.points[0]).abs() < 1e-6);
}

/// The winding number of a closed surface about a point: 1 inside, 0 outside.
///
/// Source: A. van Oosterom and J. Strackee, The solid angle of a plane triangle, IEEE Trans Biomed
/// Eng 30:125-126, 1983.
fn winding(mesh: &Mesh, p: &Vector3<f64>) -> f64 {
    (0..mesh.triangles.len())
        .map(|t| {
            let [a, b, c] = mesh.corners(t).map(|q| q - p);
            let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
            let over = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
            2.0 * a.dot(&b.cross(&c)).atan2(over)
        })
        .sum::<f64>()
        / (4.0 * PI)
}

#[test]
fn inside_and_outside_agree_with_the_winding_number() {
    let spec = bifurcation();
    let mesh = meshed(&spec, 0.5);
    let lumen = SurfaceLumen::new(&mesh, &spec).unwrap();
    let (mut inside, mut outside) = (0, 0);
    for i in 0..24 {
        for j in 0..12 {
            for k in 0..8 {
                let p = Vector3::new(
                    -1.3 + 1.13 * f64::from(i),
                    -1.9 + 1.21 * f64::from(j),
                    -1.9 + 0.53 * f64::from(k),
                );
                let distance = lumen.distance(&p);
                // The curved wall and the facets differ by less than this.
                if distance.abs() < 0.05 {
                    continue;
                }
                let turns = winding(&mesh, &p);
                assert_eq!(distance < 0.0, turns > 0.5, "{p} {distance} {turns}");
                if distance < 0.0 {
                    inside += 1;
                } else {
                    outside += 1;
                }
            }
        }
    }
    println!("{inside} inside, {outside} outside");
    assert!(inside > 50 && outside > 500);
}

/// Followed along the wall and round it, the normal turns as evenly as that of the exact tube; a
/// facet would turn it by steps of 0.26 rad (24 corners) at its edges and not at all between.
#[test]
fn the_normal_turns_evenly_across_facets() {
    let (bend, radius, around) = (6.0, 1.5, 24);
    let mesh = torus(bend, radius, 120, around);
    let lumen = SurfaceLumen::new(
        &mesh,
        &with_surface(round_torus(bend), radius, mesh.clone()),
    )
    .unwrap();
    let step = 0.01;
    let mut worst = 0.0_f64;
    let mut before: Option<Vector3<f64>> = None;
    for i in 0..2000 {
        // A spiral 0.1 mm inside the wall.
        let (t, a) = (0.2 + 0.0004 * f64::from(i), step * f64::from(i));
        let out = Vector3::new(t.cos(), t.sin(), 0.0);
        let p = out * bend + (out * a.cos() + Vector3::z() * a.sin()) * (radius - 0.1);
        let normal = lumen.near_wall(&p, 0.0, 1.0).unwrap().gradient.normalize();
        if let Some(before) = before {
            worst = worst.max((normal.angle(&before) - step).abs());
        }
        before = Some(normal);
    }
    println!("largest departure from an even turn: {worst:.6} rad in a step of {step} rad");
    assert!(worst < 0.2 * step, "{worst}");
}

/// The mouth in a surface that was meshed from tubes with a blunt carina ends where it does in the
/// tubes; and where the surface's branch is wider than its centreline says, the surface counts.
#[test]
fn the_whole_mouth_of_a_surface_is_that_of_its_wall() {
    let spec = bifurcation();
    let (tree, mesh) = (Tree::build(&spec).unwrap(), meshed(&spec, 0.3));
    let lumen = SurfaceLumen::new(&mesh, &spec).unwrap();
    let of_tubes = tree.whole_mouth_mm(&tree, 1);
    let of_surface = tree.whole_mouth_mm(&lumen, 1);
    println!("CHECK | whole mouth: tubes {of_tubes:.3} mm, surface {of_surface:.3} mm");
    // The wall lies within 0.02 mm; along a carina of 60 degrees that is three times as much.
    assert!(
        (of_surface - of_tubes).abs() < 0.06,
        "{of_surface} {of_tubes}"
    );
    let mut narrow = spec.clone();
    narrow.branches[1].diameters = vec![(0.0, 1.8)];
    let thin = Tree::build(&narrow).unwrap();
    let in_tubes = thin.whole_mouth_mm(&thin, 1);
    let in_surface = thin.whole_mouth_mm(&lumen, 1);
    println!("CHECK | thinner centreline: tubes {in_tubes:.3} mm, surface {in_surface:.3} mm");
    assert!(in_surface - in_tubes > 0.05, "{in_surface} {in_tubes}");
}

/// Gradient and second derivatives are those of the distance that is given.
#[test]
fn derivatives_agree_with_differences() {
    let spec = bifurcation();
    let mesh = meshed(&spec, 0.4);
    let lumen = SurfaceLumen::new(&mesh, &spec).unwrap();
    let h = 1e-4;
    let mut compared = 0;
    for i in 0..200 {
        let s = f64::from(i);
        let (x, a) = (1.0 + 0.1 * s, 0.7 * s);
        let p = Vector3::new(x, 1.4 * a.cos(), 1.4 * a.sin());
        // In the mouth of the side branch the wall is farther than a contact looks.
        let Some(wall) = lumen.near_wall(&p, 0.0, 0.6) else {
            continue;
        };
        compared += 1;
        for c in 0..3 {
            let mut e = Vector3::zeros();
            e[c] = h;
            let ahead = lumen.near_wall(&(p + e), 0.0, 0.7).unwrap();
            let behind = lumen.near_wall(&(p - e), 0.0, 0.7).unwrap();
            let slope = (ahead.distance_mm - behind.distance_mm) / (2.0 * h);
            // The numbers of the grid have 7 digits; a difference of two over 2e-4 mm has 3.
            assert!((slope - wall.gradient[c]).abs() < 2e-3, "{p}: {slope}");
            let turn = (ahead.gradient - behind.gradient) / (2.0 * h);
            let row = wall.hessian.column(c).into_owned();
            assert!((turn - row).norm() < 2e-2 * (1.0 + row.norm()), "{p}");
        }
    }
    assert!(compared > 180, "{compared}");
}

/// With all diameters multiplied, the wall moves by the local radius times the change.
#[test]
fn a_wider_surface_is_wider_by_the_factor() {
    let (length, radius) = (24.0, 1.5);
    let mesh = cone(length, radius, radius, 48, 24);
    let lumen = SurfaceLumen::new(&mesh, &with_surface(along_x(length), radius, mesh.clone()));
    let lumen = lumen.unwrap();
    for factor in [0.8, 1.25] {
        let other = lumen.with_diameter_factor(factor);
        let p = Vector3::new(11.3, 0.9, 0.8);
        let expected = p.yz().norm() - factor * radius;
        let found = other.near_wall(&p, 0.0, 2.0).unwrap();
        assert!((found.distance_mm - expected).abs() < 0.003, "{factor}");
        assert!((other.distance(&p) - expected).abs() < 0.003, "{factor}");
    }
}

/// A narrowing on a surface has its stated diameter in its middle.
#[test]
fn a_narrowing_narrows_a_surface() {
    let (length, radius) = (24.0, 1.5);
    let mesh = cone(length, radius, radius, 48, 24);
    let mut spec = with_surface(along_x(length), radius, mesh.clone());
    spec.narrowings.push(NarrowingSpec {
        branch: "tube".into(),
        station_mm: 10.0,
        length_mm: 6.0,
        diameter_mm: 1.4,
        place: Place::default(),
    });
    let lumen = SurfaceLumen::new(&mesh, &spec).unwrap();
    // The branch begins at x = 1.
    let on_axis = lumen.distance(&Vector3::new(11.0, 0.0, 0.0));
    let at_wall = lumen
        .near_wall(&Vector3::new(11.0, 0.7, 0.0), 0.0, 0.3)
        .unwrap();
    assert!(on_axis < -0.4, "{on_axis}");
    assert!(at_wall.distance_mm.abs() < 0.02, "{}", at_wall.distance_mm);
    assert!((lumen.distance(&Vector3::new(18.0, 1.4, 0.0)) + 0.1).abs() < 0.01);
    assert!(
        swept(3, 6, false, |t| (
            Vector3::x() * t,
            Vector3::y(),
            Vector3::z(),
            1.0
        ))
        .volume()
            > 0.0
    );
}
