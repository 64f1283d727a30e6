//! The local search against a slow twin that looks at every branch everywhere.

use crate::vessel_common::{Draw, arc, inlet, side, straight, vessel};
use bendwise::vessel::{Centreline, Lumen, NEAR_MM, Tree};
use nalgebra::Vector3;
use proptest::prelude::*;

/// Distance of `p` to the tube of one branch: 4001 stations, then golden-section
/// search around the best ones.
fn tube(line: &Centreline, p: &Vector3<f64>) -> f64 {
    let square = |s: f64| (p - line.position(s)).norm_squared();
    let steps = 4000;
    let at = |i: i32| line.length_mm() * f64::from(i) / f64::from(steps);
    let best = (0..=steps)
        .min_by(|&a, &b| square(at(a)).total_cmp(&square(at(b))))
        .unwrap_or(0);
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (at((best - 1).max(0)), at((best + 1).min(steps)));
    while high - low > 1e-7 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if square(a) < square(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let s = 0.5 * (low + high);
    square(s).sqrt() - line.radius(s)
}

/// The smooth union by its definition.
fn union(distances: &[f64], k: f64) -> f64 {
    distances[1..].iter().fold(distances[0], |a, &b| {
        let h = (k - (a - b).abs()).max(0.0) / k;
        a.min(b) - h.powi(3) * k / 6.0
    })
}

fn compare(tree: &Tree, p: &Vector3<f64>, blend: f64) {
    let slow: Vec<f64> = tree
        .branches()
        .iter()
        .map(|b| tube(&b.centreline, p))
        .collect();
    let expected = union(&slow, blend);
    let found = tree.distance(p);
    assert!(
        (found - expected).abs() < 1e-6,
        "{p}: {found}, twin {expected}"
    );
    for (i, d) in slow.iter().enumerate() {
        let found = tree.tube(i, p).distance_mm;
        assert!((found - d).abs() < 1e-6, "{p} tube {i}: {found}, twin {d}");
    }
    let mut near = Vec::new();
    tree.tubes_near(p, &mut near);
    assert!(near.windows(2).all(|w| w[0].0 < w[1].0));
    for (i, d) in slow.iter().enumerate() {
        let listed = near.iter().find(|n| n.0 == i);
        assert!(
            listed.is_some() || *d > NEAR_MM - 1e-6,
            "{p} misses tube {i} at {d}"
        );
    }
    for margin in [0.0, 0.2, 1.0] {
        let wall = tree.near_wall(p, 0.0, margin);
        if (expected + margin).abs() > 1e-6 {
            assert_eq!(wall.is_some(), expected > -margin, "{p} margin {margin}");
        }
        if let Some(wall) = wall {
            assert!((wall.distance_mm - expected).abs() < 1e-6);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 40,
        rng_seed: prop::test_runner::RngSeed::Fixed(2),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]
    #[test]
    fn the_local_search_finds_what_the_slow_twin_finds(
        seed in 0_u64..1_000_000,
        blend in 0.2_f64..1.5,
        factor in 0.75_f64..1.35,
    ) {
        let mut draw = Draw::new(seed);
        let Ok(tree) = Tree::build(&draw.tree(6, blend)) else {
            return Err(TestCaseError::reject("a branch that does not leave its parent"));
        };
        let tree = tree.with_diameter_factor(factor);
        for _ in 0..60 {
            compare(&tree, &draw.near(&tree, 1.6), blend);
        }
        for _ in 0..5 {
            compare(&tree, &draw.near(&tree, 12.0), blend);
        }
    }
}

/// A full loop that passes itself at 4.5 mm with a lumen of 3 mm: one branch, two passes.
#[test]
fn a_loop_that_passes_itself_is_seen_twice() {
    let helix = bendwise::scenario::model::PieceSpec::Helix {
        radius_mm: 7.0,
        pitch_mm: 4.5,
        turns: 2.0,
        plane_rad: 0.0,
    };
    let tree = Tree::build(&vessel(
        vec![inlet(
            "loop",
            vec![straight(10.0), helix, straight(10.0)],
            3.0,
        )],
        0.5,
    ))
    .unwrap_or_else(|e| panic!("{e}"));
    let mut draw = Draw::new(21);
    for _ in 0..500 {
        compare(&tree, &draw.near(&tree, 1.9), 0.5);
    }
}

/// A bend of 2 mm radius in a lumen of 1.6 mm radius: the inner wall lies near the centre of
/// curvature.
#[test]
fn a_tight_bend_is_followed() {
    let tree = Tree::build(&vessel(
        vec![inlet(
            "a",
            vec![straight(8.0), arc(2.0, 170.0, 0.0), straight(8.0)],
            3.2,
        )],
        0.5,
    ))
    .unwrap_or_else(|e| panic!("{e}"));
    let mut draw = Draw::new(22);
    for _ in 0..1000 {
        compare(&tree, &draw.near(&tree, 1.3), 0.5);
    }
}

/// A wide and long vessel with a narrow branch: its spatial hash has larger cells, so that it stays
/// small (cells of 1 mm would take more than 100 MB), and finds the same.
#[test]
fn a_wide_vessel_with_large_cells_is_seen_as_by_the_slow_twin() {
    let trunk = inlet("a", vec![arc(400.0, 120.0, 0.0)], 40.0);
    let branch = side(
        "b",
        ("a", 300.0),
        (1.0, 0.5),
        vec![straight(25.0), arc(30.0, 90.0, 40.0), straight(10.0)],
        6.0,
    );
    let tree = Tree::build(&vessel(vec![trunk, branch], 1.0)).unwrap_or_else(|e| panic!("{e}"));
    assert!(tree.bytes() < 30_000_000, "{} bytes", tree.bytes());
    let mut draw = Draw::new(23);
    for factor in [0.8, 1.0, 1.3] {
        let tree = tree.with_diameter_factor(factor);
        for _ in 0..200 {
            compare(&tree, &draw.near(&tree, 1.2), 1.0);
        }
    }
}
