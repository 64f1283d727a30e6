//! Gradient and second derivative of the lumen distance against central differences, in single
//! tubes and where tubes blend.

use crate::vessel_common::Draw;
use bendwise::vessel::{Lumen, Tree, WallPoint};
use nalgebra::{Matrix3, Vector3};

const STEP_MM: f64 = 1e-4;

fn wall(tree: &Tree, p: &Vector3<f64>) -> WallPoint {
    tree.near_wall(p, 0.0, f64::INFINITY)
        .unwrap_or_else(|| panic!("no wall at {p}"))
}

/// A tree of tubes without taper, with one random blend width.
fn tree(seed: u64, blend: f64) -> (Tree, Draw) {
    let mut draw = Draw::new(seed);
    let mut spec = draw.tree(5, blend);
    for branch in &mut spec.branches {
        branch.diameters.truncate(1);
    }
    (Tree::build(&spec).unwrap_or_else(|e| panic!("{e}")), draw)
}

/// Whether the distance has a second derivative around `p`: no tube that has a say there has `p`
/// near its axis, or on the border between its body and one of its round ends.
fn is_regular(tree: &Tree, p: &Vector3<f64>, blend: f64) -> bool {
    let seen: Vec<_> = (0..tree.branches().len())
        .map(|i| tree.tube(i, p))
        .collect();
    let least = seen.iter().fold(f64::INFINITY, |m, t| m.min(t.distance_mm));
    tree.branches().iter().zip(&seen).all(|(b, t)| {
        let line = &b.centreline;
        let border = [0.0, line.length_mm()]
            .iter()
            .map(|&s| (p - line.position(s)).dot(&line.tangent(s)).abs())
            .fold(f64::INFINITY, f64::min);
        let from_axis = t.distance_mm + line.radius(t.station_mm);
        t.distance_mm > least + 1.1 * blend || (from_axis > 0.2 && border > 0.01)
    })
}

/// Whether the third derivative of the blend jumps within the reach of the differences: where two
/// tubes are equally near, and where the blend begins. The second derivative is continuous there,
/// but a difference across the jump is wrong by the step over the square of the blend width.
fn has_kink(apart: f64, blend: f64) -> bool {
    const REACH_MM: f64 = 4.0 * STEP_MM;
    apart < REACH_MM || (apart - blend).abs() < REACH_MM
}

#[test]
fn gradient_and_hessian_are_the_derivatives_of_the_distance() {
    let mut blended = 0;
    for (seed, blend) in [(11, 0.5), (12, 1.0), (13, 0.3), (14, 2.0)] {
        let (tree, mut draw) = tree(seed, blend);
        let mut near = Vec::new();
        let mut checked = 0;
        for _ in 0..4000 {
            let p = draw.near(&tree, 1.4);
            if !is_regular(&tree, &p, blend) {
                continue;
            }
            checked += 1;
            tree.tubes_near(&p, &mut near);
            near.sort_by(|a, b| a.1.distance_mm.total_cmp(&b.1.distance_mm));
            blended += usize::from(
                near.len() > 1 && near[1].1.distance_mm - near[0].1.distance_mm < blend,
            );
            let here = wall(&tree, &p);
            if near.len() > 1 && has_kink(near[1].1.distance_mm - near[0].1.distance_mm, blend) {
                continue;
            }
            let mut gradient = Vector3::zeros();
            let mut hessian = Matrix3::zeros();
            for i in 0..3 {
                let step = Vector3::ith(i, STEP_MM);
                let (a, b) = (wall(&tree, &(p + step)), wall(&tree, &(p - step)));
                gradient[i] = (a.distance_mm - b.distance_mm) / (2.0 * STEP_MM);
                hessian.set_column(i, &((a.gradient - b.gradient) / (2.0 * STEP_MM)));
            }
            assert!((gradient - here.gradient).norm() < 2e-6, "{p} {here:?}");
            let size = 1.0 + here.hessian.norm();
            assert!(
                (hessian - here.hessian).norm() < 1e-4 * size,
                "{p} {hessian} {here:?}"
            );
            assert!((here.hessian - here.hessian.transpose()).norm() < 1e-12 * size);
        }
        assert!(checked > 500);
    }
    assert!(blended > 500, "{blended} points in blends");
}

#[test]
fn the_gradient_knows_the_taper() {
    let mut draw = Draw::new(15);
    let tree = Tree::build(&draw.tree(5, 0.5)).unwrap_or_else(|e| panic!("{e}"));
    for _ in 0..3000 {
        let p = draw.near(&tree, 1.3);
        if !is_regular(&tree, &p, 0.5) {
            continue;
        }
        let here = wall(&tree, &p);
        let numeric = Vector3::from_fn(|i, _| {
            let step = Vector3::ith(i, STEP_MM);
            (tree.distance(&(p + step)) - tree.distance(&(p - step))) / (2.0 * STEP_MM)
        });
        assert!(
            (numeric - here.gradient).norm() < 2e-6,
            "{p} {here:?} {numeric}"
        );
    }
}

#[test]
fn without_a_blend_the_union_is_the_nearest_tube() {
    let (tree, mut draw) = tree(16, 0.0);
    for _ in 0..2000 {
        let p = draw.near(&tree, 1.4);
        let nearest = (0..tree.branches().len())
            .map(|i| tree.tube(i, &p).distance_mm)
            .fold(f64::INFINITY, f64::min);
        assert!((tree.distance(&p) - nearest).abs() < 1e-12);
    }
}
