//! Overlap against a slow twin that asks every vessel everywhere.

use bendwise::projection::{Camera, Measurer, Site, Subject};
use bendwise::scenario::view::ViewAngles;
use bendwise::vessel::Tree;
use nalgebra::Vector2;

use crate::vessel_common::{arc, inlet, side, straight, vessel};
use crate::view_projection::c_arm;

/// A winding trunk with branches to several sides.
fn scene() -> Tree {
    Tree::build(&vessel(
        vec![
            inlet("trunk", vec![straight(20.0), arc(25.0, 100.0, 30.0)], 3.5),
            side(
                "first",
                ("trunk", 18.0),
                (0.9, 0.4),
                vec![straight(25.0)],
                2.2,
            ),
            side(
                "second",
                ("trunk", 30.0),
                (1.2, 2.6),
                vec![straight(25.0)],
                2.0,
            ),
            side(
                "third",
                ("first", 12.0),
                (0.7, 4.0),
                vec![straight(15.0)],
                1.6,
            ),
        ],
        0.3,
    ))
    .unwrap()
}

/// Share of the branch's lumen from its ostium to 10 mm beyond that other vessels cover: a fine
/// grid across and along, every other vessel a string of discs a twentieth of a mm apart.
fn slow(tree: &Tree, branch: usize, camera: &Camera) -> f64 {
    let own = &tree.branches()[branch];
    let target: Vec<_> = (0..100)
        .map(|k| {
            let at = own.ostium_mm + 0.1 * (f64::from(k) + 0.5);
            (
                own.centreline.position(at),
                own.centreline.tangent(at),
                own.centreline.radius(at),
            )
        })
        .collect();
    let mut discs: Vec<(Vector2<f64>, f64)> = Vec::new();
    for (_, other) in tree
        .branches()
        .iter()
        .enumerate()
        .filter(|(b, _)| *b != branch)
    {
        let mut station = 0.0;
        while station <= other.centreline.length_mm() {
            let p = other.centreline.position(station);
            let inside = target.iter().any(|(t, _, r)| (t - p).norm() < *r);
            if !inside {
                discs.push((
                    camera.image(&p),
                    other.centreline.radius(station) * camera.scale(&p),
                ));
            }
            station += 0.05;
        }
    }
    let (mut covered, mut all) = (0.0, 0.0);
    for (p, tangent, radius) in &target {
        let seen = camera.beam.flat(tangent);
        let normal = Vector2::new(-seen.y, seen.x).normalize();
        for strip in 0..21 {
            let across = (f64::from(strip) - 10.0) / 10.5;
            let q = camera.image(p) + normal * (across * radius * camera.scale(p));
            all += radius;
            if discs.iter().any(|(at, r)| (at - q).norm() < *r) {
                covered += radius;
            }
        }
    }
    covered / all
}

#[test]
fn overlap_agrees_with_the_slow_twin_in_all_directions() {
    let tree = scene();
    let (mut largest, mut seen) = (0.0_f64, 0.0_f64);
    for (name, source) in [("first", None), ("second", Some(600.0))] {
        let subject = Subject::Branching {
            branch: name.to_owned(),
        };
        let site = Site::new(&tree, &subject, 10.0).unwrap();
        let arm = c_arm(source);
        let mut measurer = Measurer::new(&site);
        for primary in [-80, -50, -20, 0, 15, 40, 75] {
            for secondary in [-70, -35, 0, 20, 55] {
                let view = ViewAngles::from_degrees(f64::from(primary), f64::from(secondary));
                let camera = arm.at(&site, &view);
                let fast = measurer.measure(&camera).overlap;
                let twin = slow(&tree, site.branch, &camera);
                largest = largest.max((fast - twin).abs());
                seen = seen.max(twin);
            }
        }
    }
    println!("largest difference {largest:.3}, largest overlap {seen:.2}");
    // Five strips and half a mm against a fine grid: half a strip over part of the length.
    assert!(largest < 0.06, "{largest}");
    assert!(seen > 0.5, "no view of the test has any overlap");
}
