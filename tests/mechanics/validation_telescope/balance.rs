//! The hands' work is what is stored and lost; a catheter that is not there changes nothing.

use crate::common::{bent_wire, catheter, catheter_spec, guide_tip, print_effort, report, s_bend};
use bendwise::contact::WalledLumen;
use bendwise::device::Catheter;
use bendwise::solve::{Assembly, Hands, PairStart, Start, StepSettings};
use bendwise::vessel::Tree;

fn start(wire_mm: f64, catheter_mm: f64) -> PairStart {
    PairStart {
        wire_mm,
        catheter_mm,
        longest_mm: 60.0,
        wire_roll_rad: 0.6,
        catheter_roll_rad: -0.3,
    }
}

/// Feeds wire ahead, catheter after it, turns both, draws the wire back into the catheter and
/// feeds it again; prints work, store and losses and returns the largest amount of work that is
/// not found again, over the largest work.
fn run(friction: f64, inside: f64, angle: f64) -> f64 {
    let tree = Tree::build(&s_bend()).expect("a tree");
    let mut spec = catheter_spec(400.0, 0.7, friction, (4.0, angle));
    spec.inner_diameter_mm = 0.45;
    spec.friction_inside = inside;
    let catheter = Catheter::from_spec(&spec).expect("a catheter");
    let mut pair = Assembly::pair(
        (&bent_wire(friction), &catheter),
        WalledLumen::new(&tree, 300.0),
        guide_tip(),
        StepSettings {
            feed_mm: 0.1,
            ..StepSettings::default()
        },
        start(6.0, 3.0),
    )
    .expect("equilibrium");
    let moves = [
        (9.0, 0.0, 0.0, 0.0),
        (0.0, 8.0, 0.0, 0.0),
        (0.0, 0.0, 1.2, 0.0),
        (0.0, 0.0, 0.0, 1.5),
        (7.0, 7.0, 0.0, 0.0),
        (-14.0, 0.0, 0.0, 0.0),
        (0.0, 0.0, 0.0, -0.8),
        (14.0, 0.0, 0.0, 0.0),
    ];
    let mut worst: f64 = 0.0;
    let mut most = pair.balance().hand;
    for (feed_wire, feed_catheter, turn_wire, turn_catheter) in moves {
        pair.move_hands(Hands {
            feed_wire,
            feed_catheter,
            turn_wire,
            turn_catheter,
            steer: 0.0,
            wait_s: 0.0,
        })
        .expect("equilibrium");
        let (balance, catheter) = (pair.balance(), pair.catheter().expect("a catheter"));
        let lost = balance.friction + balance.damping;
        let error = balance.hand - pair.stored() - lost;
        most = most.max(balance.hand);
        println!(
            "  wire {feed_wire:+} mm {turn_wire:+} rad, catheter {feed_catheter:+} mm {turn_catheter:+} rad: work {:.3}, stored {:.3}, lost {lost:.3}; wire {:.1} catheter {:.1} mm out; push {:?} torque {:?}",
            balance.hand,
            pair.stored(),
            pair.outside_mm(),
            catheter.outside_mm,
            [pair.push_force(), catheter.push_force],
            [pair.torque(), catheter.torque],
        );
        worst = worst.max(error.abs());
    }
    print_effort("pair", pair.balance());
    worst / most
}

#[test]
fn the_hands_work_is_stored_or_lost() {
    let cases = [
        (0.0, 0.0, 0.0),
        (0.0, 0.0, 0.8),
        (0.05, 0.0, 0.8),
        (0.0, 0.1, 0.8),
        (0.05, 0.2, 0.8),
    ];
    for (friction, inside, angle) in cases {
        let worst = run(friction, inside, angle);
        report(
            &format!(
                "balance of the hands' work, friction {friction}, inside {inside}, tip bent by {angle} rad"
            ),
            worst,
            0.02,
        );
    }
}

#[test]
fn a_catheter_that_resists_nothing_leaves_the_wire_as_it_is_alone() {
    for friction in [0.0, 0.05] {
        let tree = Tree::build(&s_bend()).expect("a tree");
        let settings = StepSettings::default();
        let wire = bent_wire(friction);
        let alone_start = Start {
            outside_mm: 6.0,
            longest_mm: 60.0,
            roll_rad: 0.6,
        };
        let mut alone = Assembly::straight(
            &wire,
            WalledLumen::new(&tree, 300.0),
            guide_tip(),
            settings,
            alone_start,
        )
        .expect("rest");
        let ghost = catheter(1e-6, 0.36, friction, (0.0, 0.0));
        let mut pair = Assembly::pair(
            (&wire, &ghost),
            WalledLumen::new(&tree, 300.0),
            guide_tip(),
            settings,
            start(6.0, 0.0),
        )
        .expect("rest");
        let mut apart: f64 = 0.0;
        let mut push: f64 = 0.0;
        let mut largest: f64 = 0.0;
        for (feed, turn) in [(18.0, 0.0), (0.0, 1.5), (8.0, 0.0), (-10.0, 0.0)] {
            alone.feed(feed).expect("rest");
            alone.turn(turn).expect("rest");
            pair.move_hands(Hands::feed(feed)).expect("rest");
            pair.move_hands(Hands::turn(turn)).expect("rest");
            apart = apart.max((alone.tip() - pair.tip()).norm());
            push = push.max((alone.push_force() - pair.push_force()).abs());
            largest = largest.max(alone.push_force().abs());
        }
        report(
            &format!("ghost catheter, friction {friction}: tips apart (mm)"),
            apart,
            0.05,
        );
        report(
            &format!(
                "ghost catheter, friction {friction}: error of the push force over the largest"
            ),
            push / largest,
            0.05,
        );
    }
}
