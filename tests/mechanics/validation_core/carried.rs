//! The set is the material's: it goes with the wire, into the guide, through a catheter and out again.

use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::scenario::model::{CoreLawSpec, PieceSpec, VesselSpec};
use bendwise::solve::{Assembly, Hands, PairStart, Start, StepSettings};
use bendwise::vessel::Tree;
use std::f64::consts::PI;

use crate::common::{catheter, guide_tip, report, wire_spec};

/// A quarter turn of 4 mm radius behind 30 mm of straight tube.
fn bend() -> Tree {
    let pieces = vec![
        PieceSpec::Straight { length_mm: 30.0 },
        PieceSpec::Arc {
            radius_mm: 4.0,
            angle_rad: 0.5 * PI,
            plane_rad: 0.0,
        },
        PieceSpec::Straight { length_mm: 40.0 },
    ];
    Tree::build(&VesselSpec::single_tube(pieces, 0.8)).expect("a tube")
}

fn wire() -> Wire {
    let mut spec = wire_spec(200e6 * PI * 0.12_f64.powi(4) / 64.0, 0.3556, 0.0);
    spec.core_law = CoreLawSpec::Plastic;
    Wire::from_spec(&spec).expect("a wire")
}

fn settings() -> StepSettings {
    StepSettings {
        feed_mm: 0.2,
        edge_mm: 0.25,
        ..StepSettings::default()
    }
}

#[test]
fn a_set_goes_into_the_guide_and_comes_out_again() {
    let tree = bend();
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let mut insertion = Assembly::straight(
        &wire(),
        WalledLumen::new(&tree, 3000.0),
        guide_tip(),
        settings(),
        start,
    )
    .expect("rest");
    insertion.feed(44.0).expect("equilibrium");
    insertion.feed(-22.0).expect("equilibrium");
    // The bent part lies in the straight tube now; let it shake down once.
    for way in [-18.0, 18.0] {
        insertion.feed(way).expect("equilibrium");
    }
    let (set, wall) = (insertion.set(), insertion.contact().total_force);
    let lost = insertion.balance().yielding;
    insertion.feed(-18.0).expect("equilibrium");
    let inside = insertion.set();
    insertion.feed(18.0).expect("equilibrium");
    println!(
        "  set {:.2} degrees {:.1} mm from the tip, in the guide {:.2}, out again {:.2}; wall force {wall:.3} and {:.3} mN",
        set.angle_rad.to_degrees(),
        set.from_tip_mm,
        inside.angle_rad.to_degrees(),
        insertion.set().angle_rad.to_degrees(),
        insertion.contact().total_force
    );
    assert!(set.angle_rad.to_degrees() > 5.0);
    let same = insertion.set().angle_rad / set.angle_rad - 1.0;
    report(
        "set after a way into the guide and out: changed, %",
        100.0 * same,
        1.0,
    );
    let pressed = insertion.contact().total_force / wall - 1.0;
    report(
        "wall force of the bent part there and back: changed, %",
        100.0 * pressed,
        1.0,
    );
    report(
        "flow on a way that was gone before, % of all",
        100.0 * (insertion.balance().yielding / lost - 1.0),
        1.0,
    );
}

#[test]
fn a_set_goes_through_a_catheter_and_another_wire_has_none() {
    let tree = bend();
    let start = PairStart {
        wire_mm: 8.0,
        catheter_mm: 3.0,
        longest_mm: 60.0,
        wire_roll_rad: 0.0,
        catheter_roll_rad: 0.0,
    };
    let catheter = catheter(300.0, 0.7, 0.0, (0.0, 0.0));
    let devices = (&wire(), &catheter);
    let mut pair = Assembly::pair(
        devices,
        WalledLumen::new(&tree, 3000.0),
        guide_tip(),
        settings(),
        start,
    )
    .expect("rest");
    let feed = |feed_wire: f64, feed_catheter: f64| Hands {
        feed_wire,
        feed_catheter,
        ..Hands::default()
    };
    pair.move_hands(feed(38.0, 0.0)).expect("equilibrium");
    let bent = pair.set();
    pair.move_hands(feed(-20.0, 0.0)).expect("equilibrium");
    // Over the bent part and back, in the straight tube; once to shake down.
    for way in [16.0, -16.0] {
        pair.move_hands(feed(0.0, way)).expect("equilibrium");
    }
    let (set, lost) = (pair.set(), pair.balance().yielding);
    for way in [16.0, -16.0] {
        pair.move_hands(feed(0.0, way)).expect("equilibrium");
    }
    let l = pair.balance();
    println!(
        "  set beyond the bend {:.2} degrees, drawn back {:.2}, catheter over it and back {:.2}; flow {lost:.2} and {:.2}; missing {:.3} of {:.3} mN mm",
        bent.angle_rad.to_degrees(),
        set.angle_rad.to_degrees(),
        pair.set().angle_rad.to_degrees(),
        l.yielding,
        l.hand - pair.stored() - l.friction - l.damping - l.yielding,
        l.hand,
    );
    assert!(set.angle_rad.to_degrees() > 5.0);
    let same = pair.set().angle_rad / set.angle_rad - 1.0;
    report(
        "set after a catheter went over it and back: changed, %",
        100.0 * same,
        1.0,
    );
    pair.exchange_wire(&wire(), 0.0).expect("another wire");
    assert!(pair.set().angle_rad == 0.0, "another wire is straight");
}
