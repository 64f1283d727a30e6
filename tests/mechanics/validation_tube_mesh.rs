//! What edge length and step change: push force and wall force on an S-bend with friction.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{into_s_bend, print_effort, report, s_bend};
use bendwise::solve::StepSettings;
use bendwise::vessel::Tree;

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

#[test]
fn finer_edges_and_steps_change_the_forces_less_and_less() {
    let edges = [0.5, 0.25, 0.125, 0.0625];
    let steps = [0.4, 0.2, 0.1, 0.05];
    let finest = run(edges[3], steps[3]);
    println!("TABLE | edge mm | step mm | push peak mN | push off % | wall peak mN | wall off % |");
    let mut off = [[[0.0; 2]; 4]; 4];
    for (i, &edge) in edges.iter().enumerate() {
        for (j, &step) in steps.iter().enumerate() {
            let curve = run(edge, step);
            off[i][j] = [
                apart(&curve.push, &finest.push),
                apart(&curve.wall, &finest.wall),
            ];
            println!(
                "TABLE | {edge} | {step} | {:.4} | {:.2} | {:.4} | {:.2} |",
                peak(&curve.push),
                off[i][j][0],
                peak(&curve.wall),
                off[i][j][1]
            );
        }
    }
    let [push, wall] = off[1][1];
    report(
        "S-bend, edges 0.25, steps 0.2 mm against the finest: push force, % of its peak",
        push,
        2.0,
    );
    report(
        "S-bend, edges 0.25, steps 0.2 mm against the finest: wall force, % of its peak",
        wall,
        2.0,
    );
    // Halving both once more more than halves the distance to the finest mesh.
    let [finer_push, finer_wall] = off[2][2];
    report(
        "S-bend, edges and steps halved: push force",
        finer_push,
        0.5 * push,
    );
    report(
        "S-bend, edges and steps halved: wall force",
        finer_wall,
        0.5 * wall,
    );
}
