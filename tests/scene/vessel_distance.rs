//! The lumen distance against closed forms: cylinder, torus, cone, and a tube of straight and
//! bent parts.

use crate::vessel_common::{Draw, arc, inlet, narrowing, straight, vessel};
use bendwise::vessel::{Lumen, Tree};
use nalgebra::Vector3;

fn built(spec: &bendwise::scenario::model::VesselSpec) -> Tree {
    Tree::build(spec).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_straight_tube_is_a_cylinder_with_round_ends() {
    let tree = built(&vessel(vec![inlet("a", vec![straight(40.0)], 3.0)], 0.5));
    let mut draw = Draw::new(1);
    for _ in 0..2000 {
        let p = Vector3::new(
            draw.between(-5.0, 45.0),
            draw.between(-4.0, 4.0),
            draw.between(-4.0, 4.0),
        );
        let beyond = (-p.x).max(p.x - 40.0).max(0.0);
        let exact = (beyond * beyond + p.y * p.y + p.z * p.z).sqrt() - 1.5;
        assert!((tree.distance(&p) - exact).abs() < 1e-9, "{p}");
    }
}

#[test]
fn a_bent_tube_is_a_torus() {
    let (radius, turned) = (8.0, 270.0);
    let tree = built(&vessel(
        vec![inlet("a", vec![arc(radius, turned, 0.0)], 3.0)],
        0.5,
    ));
    let centre = Vector3::new(0.0, radius, 0.0);
    let mut draw = Draw::new(2);
    for _ in 0..2000 {
        let a = draw.between(0.1, turned.to_radians() - 0.1);
        let (out, up) = (draw.between(-2.5, 2.5), draw.between(-2.5, 2.5));
        let p = centre + Vector3::new(a.sin(), -a.cos(), 0.0) * (radius + out) + Vector3::z() * up;
        let exact = out.hypot(up) - 1.5;
        assert!((tree.distance(&p) - exact).abs() < 1e-8, "{p}");
        let station = tree.tube(0, &p).station_mm;
        assert!((station - radius * a).abs() < 1e-7);
    }
}

#[test]
fn a_tapering_tube_is_a_cone_of_its_radii() {
    let mut spec = vessel(vec![inlet("a", vec![straight(40.0)], 3.0)], 0.5);
    spec.branches[0].diameters = vec![(0.0, 4.0), (40.0, 2.0)];
    let tree = built(&spec);
    let mut draw = Draw::new(3);
    for _ in 0..2000 {
        let p = Vector3::new(
            draw.between(2.0, 38.0),
            draw.between(-2.0, 2.0),
            draw.between(-2.0, 2.0),
        );
        let exact = p.y.hypot(p.z) - (2.0 - p.x / 40.0);
        assert!((tree.distance(&p) - exact).abs() < 1e-9, "{p}");
    }
}

/// 5 mm straight, a quarter circle of 10 mm, straight: exact but for the run of curvature at the
/// joints, which moves the path by less than 0.001 mm.
#[test]
fn straight_and_bent_parts_join_within_a_micrometre() {
    let pieces = vec![straight(5.0), arc(10.0, 90.0, 0.0), straight(12.0)];
    let tree = built(&vessel(vec![inlet("a", pieces, 3.0)], 0.5));
    let exact_axis = |s: f64| {
        let bend = 10.0 * std::f64::consts::FRAC_PI_2;
        if s < 5.0 {
            Vector3::new(s, 0.0, 0.0)
        } else if s < 5.0 + bend {
            let a = (s - 5.0) / 10.0;
            Vector3::new(5.0 + 10.0 * a.sin(), 10.0 - 10.0 * a.cos(), 0.0)
        } else {
            Vector3::new(15.0, 10.0 + s - 5.0 - bend, 0.0)
        }
    };
    let line = &tree.branches()[0].centreline;
    for i in 0..=400 {
        let s = line.length_mm() * f64::from(i) / 400.0;
        let off = (line.position(s) - exact_axis(s)).norm();
        assert!(off < 1e-3, "{off} at {s}");
    }
    let turned = line.tangent(0.0).angle(&line.tangent(line.length_mm()));
    assert!((turned.to_degrees() - 90.0).abs() < 1e-5, "{turned}");
    assert!((line.curvature(12.0).norm() - 0.1).abs() < 1e-7);
    assert!((line.tightest_bend().1 - 10.0).abs() < 1e-9);
}

#[test]
fn a_narrowing_narrows_the_lumen() {
    let mut spec = vessel(vec![inlet("a", vec![straight(40.0)], 3.0)], 0.5);
    spec.narrowings = vec![narrowing("a", 20.0, 8.0, 1.0)];
    let tree = built(&spec);
    let at = |x: f64| tree.distance(&Vector3::new(x, 0.0, 0.0));
    assert!((at(20.0) + 0.5).abs() < 1e-9);
    assert!((at(18.0) + 1.0).abs() < 1e-9);
    assert!((at(15.0) + 1.5).abs() < 1e-9);
}

#[test]
fn a_point_deep_inside_has_no_wall_near() {
    let tree = built(&vessel(vec![inlet("a", vec![straight(40.0)], 3.0)], 0.5));
    let at = |y: f64| tree.near_wall(&Vector3::new(20.3, y, 0.2), 0.0, 0.3);
    assert!(at(0.0).is_none());
    assert!(at(1.18).is_none());
    assert!(at(1.19).is_some());
    assert!(at(9.0).is_some_and(|w| (w.distance_mm - (9.0_f64.hypot(0.2) - 1.5)).abs() < 1e-9));
}

#[test]
fn wider_diameters_move_the_wall_and_nothing_else() {
    let mut draw = Draw::new(4);
    let tree = built(&draw.tree(4, 0.0));
    for factor in [0.5, 0.8, 1.3, 1.6] {
        let wide = tree.with_diameter_factor(factor);
        let back = wide.with_diameter_factor(1.0 / factor);
        for _ in 0..300 {
            let p = draw.near(&tree, 1.5);
            let mut least = f64::INFINITY;
            for (i, b) in tree.branches().iter().enumerate() {
                let seen = tree.tube(i, &p);
                let radius = b.centreline.radius(seen.station_mm);
                least = least.min(seen.distance_mm + radius - factor * radius);
            }
            assert!((wide.distance(&p) - least).abs() < 1e-9);
            assert!((back.distance(&p) - tree.distance(&p)).abs() < 1e-9);
        }
    }
}
