//! The union of balls and its cells, against slow twins.

use super::*;
use crate::scenario::model::{BranchSpec, PathSpec};

fn tree(points: Vec<Vector3<f64>>, diameters: Vec<(f64, f64)>) -> (Tree, VesselSpec) {
    let spec = VesselSpec {
        folds: true,
        ..VesselSpec::new(vec![BranchSpec {
            name: "bent".into(),
            attached: None,
            path: PathSpec::Points(points),
            diameters,
            place: Place::default(),
        }])
    };
    (Tree::build(&spec).expect("a tree"), spec)
}

/// A half circle of 1.2 mm radius in a lumen of 2 mm radius, between straight pieces of 12 mm.
fn fold() -> (Tree, VesselSpec) {
    let mut points: Vec<Vector3<f64>> = (0..24)
        .map(|i| Vector3::new(0.5 * f64::from(i) - 12.0, 0.0, 0.0))
        .collect();
    points.extend((0..=8).map(|i| {
        let a = std::f64::consts::PI * f64::from(i) / 8.0;
        Vector3::new(1.2 * a.sin(), 1.2 - 1.2 * a.cos(), 0.0)
    }));
    points.extend((1..=24).map(|i| Vector3::new(-0.5 * f64::from(i), 2.4, 0.0)));
    tree(points, vec![(0.0, 4.0)])
}

#[test]
fn a_union_of_too_many_cells_is_refused_before_it_is_made() {
    let (fine, _) = fold();
    assert!(affordable(&fine, &Spacing::of(&fine, BALLS_WITHIN_MM), Place::whole()).is_ok());
    let finest = Spacing { cell_mm: 1e-3 };
    let refused = affordable(&fine, &finest, Place::whole()).unwrap_err();
    assert!(refused.to_string().contains("million cells"), "{refused}");
    let points = |x: f64| Vector3::new(x, 0.0, 0.0);
    let (wide, _) = tree(
        vec![points(0.0), points(4000.0), points(9000.0)],
        vec![(0.0, 60.0)],
    );
    let spacing = Spacing { cell_mm: 2.0 };
    let refused = affordable(&wide, &spacing, Place::whole()).unwrap_err();
    assert!(refused.to_string().contains("million entries"), "{refused}");
}

/// A fold, a step of diameter, and a ball that is hardly longer than wide: the entries are no more
/// than estimated, and the points of the net, one for each cell that the wall cuts, no more than √3
/// times the estimate, which is what a wall that lies aslant to all axes cuts.
#[test]
fn a_union_has_at_most_as_many_cells_as_its_tubes() {
    let points = |x: f64| Vector3::new(x, 0.0, 0.0);
    let step = tree(
        vec![points(0.0), points(6.0), points(12.0)],
        vec![(0.0, 8.0), (6.0, 8.0), (6.3, 1.0)],
    );
    let ball = tree(
        vec![points(0.0), points(0.5), points(1.0)],
        vec![(0.0, 6.0)],
    );
    for (name, (tree, spec)) in [("fold", fold()), ("step", step), ("ball", ball)] {
        let balls = Balls::new(&tree, spec.carina_blend_mm);
        let made: usize = balls.cells.values().flatten().map(Range::len).sum();
        assert!(
            entries(&tree) >= made as f64,
            "{name}: {} < {made}",
            entries(&tree)
        );
        let spacing = Spacing { cell_mm: 0.25 };
        let net = net_around(&tree, &balls, &spacing, MOST_CELLS).expect("a net");
        let share = net.points.len() as f64 / wall_cells(&tree, &spacing);
        println!("CHECK | cells of a {name} over their estimate | {share:.2}");
        assert!((0.8..3_f64.sqrt()).contains(&share), "{name}: {share}");
    }
}

/// The slow twin: the least over balls every 0.01 mm.
#[test]
fn the_wall_of_a_fold_is_that_of_the_union_of_its_balls() {
    let (tree, spec) = fold();
    let folds = folds(&tree);
    assert_eq!(folds.len(), 1);
    assert!(folds[0].bend_mm < 1.3 && folds[0].lumen_mm > 1.9);
    let lumen = lumen_of_balls(&tree, &spec, &folds).expect("a lumen");
    let line = &tree.branches()[0].centreline;
    let steps = 100.0 * line.length_mm();
    let slow = |p: &Vector3<f64>| {
        let mut least = f64::INFINITY;
        let mut k = 0.0;
        while k <= steps {
            let s = line.length_mm() * k / steps;
            least = least.min((p - line.position(s)).norm() - line.radius(s));
            k += 1.0;
        }
        least
    };
    let (mut worst, mut at_fold) = (0.0_f64, 0.0_f64);
    for i in 0..400 {
        let i = f64::from(i);
        let p = Vector3::new(
            -10.0 + 13.5 * ((0.618 * i) % 1.0),
            -2.2 + 6.8 * ((0.755 * i) % 1.0),
            -2.2 + 4.4 * ((0.57 * i) % 1.0),
        );
        let exact = slow(&p);
        if exact.abs() > 0.5 {
            continue;
        }
        let off = (lumen.distance(&p) - exact).abs();
        // The fold is the edge between the two straight pieces: y = 1.2, x below 0.
        if p.x < 0.3 && (p.y - 1.2).abs() < 0.3 {
            at_fold = at_fold.max(off);
        } else {
            worst = worst.max(off);
        }
    }
    // Facets lie within that of the wall; an edge is rounded over a cell of the grid.
    assert!(worst < 2.0 * BALLS_WITHIN_MM, "{worst}");
    assert!(at_fold < 0.15, "{at_fold}");
}

#[test]
fn a_cone_of_balls_is_as_near_as_its_nearest_ball() {
    let ends = [Vector3::zeros(), Vector3::x() * 4.0];
    let piece = TaperedSegment::new(0, ends, 4.0, [2.0, 0.5]);
    for i in 0..50 {
        let p = Vector3::new(0.2 * f64::from(i) - 3.0, 0.07 * f64::from(i), 1.0);
        let least = (0..=4000)
            .map(|k| {
                let x = 0.001 * f64::from(k);
                (p - Vector3::x() * x).norm() - (2.0 - 1.5 * x / 4.0)
            })
            .fold(f64::INFINITY, f64::min);
        approx::assert_relative_eq!(piece.distance(&p).0, least, epsilon = 1e-6);
    }
}

/// The slow twin looks at every piece; where radii change by more than the length too.
#[test]
fn pieces_that_are_passed_over_are_no_nearer_than_the_nearest() {
    let (bent, _) = fold();
    let points = |x: f64| Vector3::new(x, 0.3 * x, 0.0);
    let (steps, _) = tree(
        vec![points(0.0), points(6.0), points(12.0)],
        vec![(0.0, 5.0), (6.0, 4.0), (6.3, 1.0), (9.0, 3.0)],
    );
    for tree in [bent, steps] {
        let balls = Balls::new(&tree, 0.0);
        let mut seen = 0;
        for i in 0..4000 {
            let i = f64::from(i);
            let p = Vector3::new(
                -14.0 + 28.0 * ((0.618 * i) % 1.0),
                -4.0 + 10.0 * ((0.755 * i) % 1.0),
                -4.0 + 8.0 * ((0.57 * i) % 1.0),
            );
            let Some(wall) = balls.wall(&p) else { continue };
            let all = balls.pieces.iter().map(|piece| piece.distance(&p).0);
            let least = all.fold(f64::INFINITY, f64::min);
            if least < REACH_MM {
                seen += 1;
                assert_eq!(wall.distance_mm.to_bits(), least.to_bits(), "{p}");
            }
        }
        assert!(seen > 500, "{seen}");
    }
}
