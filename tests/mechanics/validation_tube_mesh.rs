//! What edge length and step change: push force and wall force on an S-bend with friction.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{into_s_bend, print_effort, report, s_bend};
use bendwise::solve::StepSettings;
use bendwise::vessel::Tree;
use rayon::prelude::*;

/// Push force and total wall force every mm of wire from 4 to 44 mm.
struct Curve {
    push: Vec<f64>,
    wall: Vec<f64>,
}

fn run(edge_mm: f64, feed_mm: f64) -> Curve {
    let tree = Tree::build(&s_bend()).expect("an S-bend");
    let settings = StepSettings {
        edge_mm,
        feed_mm,
        ..StepSettings::default()
    };
    let mut insertion = into_s_bend(&tree, 0.1, settings);
    let mut curve = Curve {
        push: Vec::new(),
        wall: Vec::new(),
    };
    for _ in 0..42 {
        insertion.feed(1.0).expect("equilibrium");
        curve.push.push(insertion.push_force());
        curve.wall.push(insertion.contact().total_force);
    }
    print_effort(
        &format!("edge {edge_mm} step {feed_mm}"),
        insertion.balance(),
    );
    curve
}

fn peak(curve: &[f64]) -> f64 {
    curve.iter().copied().fold(0.0, f64::max)
}

/// Root mean square difference over the peak of the finer curve, in %.
fn apart(coarse: &[f64], fine: &[f64]) -> f64 {
    let squares: f64 = coarse
        .iter()
        .zip(fine)
        .map(|(a, b)| (a - b) * (a - b))
        .sum();
    100.0 * (squares / coarse.len() as f64).sqrt() / peak(fine)
}

/// By how much push force and wall force may be off those of the finest mesh with the shipped edges and
/// steps, in % of their peaks: what cannot be told in a figure of forces.
const MAY_BE_OFF: f64 = 1.0;

/// Edge and step in mm of the finest mesh.
const FINEST: (f64, f64) = (0.0625, 0.05);

#[test]
fn finer_edges_and_steps_change_the_forces_less_and_less() {
    let curves: Vec<Curve> = [FINEST, (0.125, 0.1), (0.25, 0.2)]
        .into_par_iter()
        .map(|(edge, step)| run(edge, step))
        .collect();
    for (what, force) in [("push", 0), ("wall", 1)] {
        let of = |curve: &Curve| [&curve.push, &curve.wall][force].clone();
        let [finest, half, whole] = [of(&curves[0]), of(&curves[1]), of(&curves[2])];
        let off = apart(&whole, &finest);
        report(
            &format!(
                "S-bend, edges 0.25, steps 0.2 mm against the finest: {what} force, % of its peak"
            ),
            off,
            MAY_BE_OFF,
        );
        // Halving both more than halves the distance to the finest mesh.
        report(
            &format!("S-bend, edges and steps halved: {what} force"),
            apart(&half, &finest),
            0.5 * off,
        );
    }
}

#[test]
#[ignore = "sixteen pushes take a minute"]
fn table_of_edges_and_steps() {
    let edges = [0.5, 0.25, 0.125, FINEST.0];
    let steps = [0.4, 0.2, 0.1, FINEST.1];
    let pairs = edges.into_iter().flat_map(|e| steps.map(|s| (e, s)));
    let pairs: Vec<(f64, f64)> = pairs.collect();
    let curves: Vec<Curve> = pairs.par_iter().map(|&(e, s)| run(e, s)).collect();
    let finest = &curves[curves.len() - 1];
    println!("TABLE | edge mm | step mm | push peak mN | push off % | wall peak mN | wall off % |");
    for ((edge, step), curve) in pairs.into_iter().zip(&curves) {
        let push = apart(&curve.push, &finest.push);
        let wall = apart(&curve.wall, &finest.wall);
        println!(
            "TABLE | {edge} | {step} | {:.4} | {push:.2} | {:.4} | {wall:.2} |",
            peak(&curve.push),
            peak(&curve.wall)
        );
        assert!(push.max(wall) <= MAY_BE_OFF, "edge {edge}, step {step}");
    }
}
