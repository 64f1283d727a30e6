//! Where the work of the hand goes: stored, rubbed off, damped; over a push and a withdrawal.

#![allow(clippy::print_stdout, reason = "the table of checks")]

use crate::common::{into_s_bend, print_effort, report, s_bend};
use bendwise::solve::StepSettings;
use bendwise::vessel::Tree;

/// Length in mm by which the wire is fed first, from 2 mm outside its guide.
const OUT_OF_GUIDE_MM: f64 = 2.0;

#[test]
fn the_work_of_the_hand_is_found_again_over_push_and_withdrawal() {
    let tree = Tree::build(&s_bend()).expect("an S-bend");
    for (friction, feed_mm) in [(0.0, 0.2), (0.1, 0.4), (0.1, 0.2), (0.1, 0.1), (0.3, 0.2)] {
        let settings = StepSettings {
            feed_mm,
            ..StepSettings::default()
        };
        let mut insertion = into_s_bend(&tree, friction, settings);
        // The balance begins where the bend has left the guide: while its root does, the push changes by
        // its whole height within two steps, and the mean of two readings is no integral.
        insertion.feed(OUT_OF_GUIDE_MM).expect("equilibrium");
        let b = *insertion.balance();
        let begun = b.hand - insertion.stored() - b.friction - b.damping;
        let mut done = 0.0;
        let mut through: f64 = 0.0;
        for (length, turn) in [(38.0f64, 0.0f64), (0.0, 2.0), (-30.0, 0.0)] {
            let before = insertion.balance().hand;
            // No standing still in between: the drag of a moving wire sets in at once, and the
            // mean of the push force over a step that starts from rest has half of it.
            let parts = 40;
            for _ in 0..parts {
                let moved = if turn > 0.0 {
                    insertion.turn(turn / f64::from(parts))
                } else {
                    insertion.feed(length / f64::from(parts))
                };
                moved.expect("equilibrium");
                through = through.max(insertion.balance().hand);
            }
            let l = *insertion.balance();
            let found = begun + insertion.stored() + l.friction + l.damping;
            println!(
                "  mu {friction} step {feed_mm}: feed {length}, turn {turn}: work {:.4} (this leg {:.4}), stored {:.4}, friction {:.4}, damping {:.2e}; missing {:.4} mN mm",
                l.hand,
                l.hand - before,
                insertion.stored(),
                l.friction,
                l.damping,
                l.hand - found
            );
            done = l.hand - found;
        }
        print_effort("push, turn, withdraw", insertion.balance());
        report(
            &format!(
                "energy over push, turn, withdrawal, mu {friction}, steps {feed_mm} mm: not found again, % of the largest work"
            ),
            100.0 * (done / through).abs(),
            2.0,
        );
    }
}
