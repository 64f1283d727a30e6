//! A straight wire fed into a frictionless tube bend, against an exact solution.
//!
//! Reference values: computed independently of this project by two methods (nonlinear
//! programming on a segment model with Richardson extrapolation, and shooting with piecewise
//! elastica), agreeing to 1.5e-6 in the push force. Values per unit bending stiffness.

mod common;

use bendwise::scenario::model::*;
use bendwise::solve::{Channel, Insertion, Start, StepSettings};
use bendwise::vessel::Tree;
use common::{list_wire, single_tube};
use nalgebra::Vector3;

/// `d, E/B, P/B, tip force/B`, forces in 1/mm² and energy in 1/mm per unit stiffness.
const BEND_10: [[f64; 4]; 21] = [
    [6.0, 0.00017647, 0.00049461, 0.0010247],
    [7.0, 0.00097881, 0.00109119, 0.0021687],
    [8.0, 0.00232844, 0.00159601, 0.0030473],
    [9.0, 0.00415172, 0.00204321, 0.0037533],
    [10.0, 0.00640389, 0.00245733, 0.0043501],
    [11.0, 0.00906171, 0.00285734, 0.0048830],
    [12.0, 0.01211917, 0.00325907, 0.0053873],
    [13.0, 0.01580973, 0.00419616, 0.0070229],
    [14.0, 0.02040958, 0.00495465, 0.0084671],
    [15.0, 0.02563879, 0.00547103, 0.0095166],
    [16.0, 0.03079111, 0.00466158, 0.0094760],
    [17.0, 0.03496341, 0.00370028, 0.0090359],
    [18.0, 0.03823567, 0.00286875, 0.0084665],
    [19.0, 0.04075054, 0.00218519, 0.0078555],
    [20.0, 0.04265157, 0.00163789, 0.0072531],
    [21.0, 0.04406456, 0.00120527, 0.0066851],
    [22.0, 0.04509285, 0.00086497, 0.0061628],
    [23.0, 0.04581869, 0.00059740, 0.0056890],
    [24.0, 0.04630654, 0.00038662, 0.0052621],
    [25.0, 0.04660667, 0.00022013, 0.0048786],
    [26.0, 0.04675830, 0.00008822, 0.0045342],
];
/// Largest push force over `d = 6..26`, per unit stiffness.
const PEAK: f64 = 0.0055281;

struct Row {
    d: f64,
    energy: f64,
    push: f64,
    tip: f64,
}

fn feed_through_bend(stiffness: f64, edge: f64, wall: f64) -> Vec<Row> {
    let tree = single_tube(
        vec![
            PieceSpec::Straight { length_mm: 5.0 },
            PieceSpec::Arc {
                radius_mm: 10.0,
                angle_rad: 90f64.to_radians(),
                plane_rad: 0.0,
            },
            PieceSpec::Straight { length_mm: 20.0 },
        ],
        3.0,
    );
    let tree = Tree::build(&tree).expect("a plain tube");
    let wire = list_wire(stiffness, 0.36, 0.0);
    let channel = Channel {
        exit: Vector3::zeros(),
        axis: Vector3::x(),
        backup: None,
    };
    let settings = StepSettings {
        edge_mm: edge,
        drag: 0.0,
        feed_mm: 0.25,
        ..StepSettings::default()
    };
    let mut insertion = Insertion::new(
        &wire,
        &tree,
        wall,
        channel,
        settings,
        Start {
            outside_mm: 5.0,
            longest_mm: 40.0,
            roll_rad: 0.0,
        },
    )
    .expect("straight");
    let mut rows = Vec::new();
    for step in 1..=52 {
        insertion.feed(0.5).expect("equilibrium");
        let d = insertion.outside_mm() - 5.0;
        if step % 2 == 0 && d > 5.5 {
            let elastic = insertion.elastic();
            rows.push(Row {
                d,
                energy: (elastic.bend + elastic.stretch) / stiffness,
                push: insertion.push_force() / stiffness,
                tip: insertion.contact().tip_force / stiffness,
            });
        }
    }
    rows
}

fn errors(rows: &[Row]) -> (f64, f64) {
    let mut energy: f64 = 0.0;
    let mut push: f64 = 0.0;
    for (row, exact) in rows.iter().zip(&BEND_10) {
        println!(
            "{:5.1} {:10.3} E/B {:.6} ({:.6})  P/B {:.6} ({:.6}) tip {:.6} ({:.6})",
            row.d, exact[0], row.energy, exact[1], row.push, exact[2], row.tip, exact[3]
        );
        energy = energy.max((row.energy - exact[1]).abs() / exact[1]);
        push = push.max((row.push - exact[2]).abs() / PEAK);
    }
    (energy, push)
}

#[test]
fn push_force_and_energy_follow_the_exact_solution() {
    let rows = feed_through_bend(50.0, 0.25, 3e4);
    let (energy, push) = errors(&rows);
    println!(
        "largest error: energy {:.3} %, push force {:.3} % of its peak",
        100.0 * energy,
        100.0 * push
    );
    assert!(energy < 0.01 && push < 0.02);
}
