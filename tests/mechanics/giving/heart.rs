//! A wire fed into a vessel that beats: the work of the hand and of the vessel is stored or lost, on a bed and
//! on none.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::sync::Arc;

use bendwise::contact::WalledLumen;
use bendwise::scenario::model::{HeartCourse, HeartSpec, Place};
use bendwise::solve::{Assembly, Hands, Start, StepSettings};
use bendwise::vessel::{Beat, Bed, GivingVessel, MovedTree, Tree, WallStiffness};
use nalgebra::Vector3;

use crate::common::{bent_wire, guide_tip, print_effort, report, s_bend};

const BEAT_S: f64 = 0.85;
/// Phases of a beat at which the balance is looked at.
const LOOKS: u32 = 17;

/// The S-bend over contracting muscle, on fat or on nothing that gives way.
fn beating(tree: &Arc<Tree>, gives: bool) -> MovedTree {
    let vessel = if gives {
        let bed = Bed {
            across: 5.0,
            along: 2.5,
            wall: WallStiffness::Tube {
                modulus: 500.0,
                share: 0.2,
            },
            spacing_mm: 1.0,
        };
        GivingVessel::new(tree, bed)
    } else {
        GivingVessel::carried(tree)
    };
    let heart = HeartSpec {
        period_s: BEAT_S,
        course: HeartCourse::ByKind {
            over_muscle: vec![0],
            curvature_per_mm: 0.033,
            bends_every_mm: 30.0,
            in_groove: Vec::new(),
            groove_mm: 0.0,
            towards: Vector3::zeros(),
        },
        place: Place::default(),
    };
    let beat = Beat::of(&heart, tree, vessel.knots(), (0, 0.0)).expect("a beat");
    MovedTree::new(Arc::clone(tree), Arc::new(vessel.with_motion(beat.motion)))
}

/// Feeds wire through a beat and a half, then holds it through one beat; returns the largest amount of work
/// that is not found again over all that was done, the energy with the vessel at rest before and after the
/// beat that is waited for, and what was lost in it.
fn run(friction: f64, gives: bool) -> (f64, [f64; 2], f64) {
    let tree = Arc::new(Tree::build(&s_bend()).expect("a tree"));
    let lumen = beating(&tree, gives);
    let start = Start {
        outside_mm: 6.0,
        longest_mm: 60.0,
        roll_rad: 0.6,
    };
    let settings = StepSettings::default();
    let wire = bent_wire(friction);
    let mut wire = Assembly::straight(
        &wire,
        WalledLumen::new(&lumen, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .expect("rest");
    let (mut worst, mut done): (f64, f64) = (0.0, 0.0);
    let mut before = wire.balance().vessel;
    let mut look = |wire: &Assembly<'_>| {
        let balance = wire.balance();
        let lost = balance.friction + balance.damping;
        let error = balance.hand + balance.vessel - wire.stored() - lost;
        done += (balance.vessel - before).abs();
        before = balance.vessel;
        worst = worst.max(error.abs());
        println!(
            "  {:.3} s: hand {:.4}, vessel {:.4}, stored {:.4}, lost {lost:.4}, off {error:.4} mN mm",
            wire.time_s(),
            balance.hand,
            balance.vessel,
            wire.stored()
        );
    };
    // Two beats at 10 mm/s, so that the vessel is at rest again at the end.
    let feed = 2.0 * BEAT_S * 10.0 / f64::from(LOOKS);
    for _ in 0..LOOKS {
        wire.move_hands(Hands::feed(feed)).expect("equilibrium");
        look(&wire);
    }
    let (stored, lost) = (wire.stored(), wire.balance().friction);
    for _ in 0..LOOKS {
        let wait = Hands::wait(BEAT_S / f64::from(LOOKS));
        wire.move_hands(wait).expect("equilibrium");
        look(&wire);
    }
    print_effort("beating", wire.balance());
    let all = done + wire.balance().hand.abs();
    let lost = wire.balance().friction - lost;
    (worst / all, [stored, wire.stored()], lost)
}

#[test]
fn the_work_of_hand_and_heart_is_stored_or_lost() {
    for (friction, gives) in [(0.0, false), (0.1, false), (0.1, true)] {
        let (worst, [before, after], lost) = run(friction, gives);
        let on = if gives { "fat" } else { "nothing" };
        report(
            &format!("balance of work in a beat, friction {friction}, on {on}"),
            worst,
            0.03,
        );
        if friction > 0.0 {
            assert!(lost > 1e-3, "a wire that is rubbed loses energy: {lost}");
        } else {
            // The hand holds still, and the vessel comes back.
            report(
                "energy after a beat without friction, change",
                (after / before - 1.0).abs(),
                0.01,
            );
            assert!(lost.abs() < 1e-12, "{lost}");
        }
    }
}
