//! Where the work of the hand goes when the core yields: stored, rubbed off, damped, lost to flow.

use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::scenario::model::CoreLawSpec;
use bendwise::solve::{Assembly, Start, StepSettings};
use bendwise::vessel::Tree;

use crate::common::{guide_tip, report, s_bend, wire_spec};

/// A wire whose core yields at a strain of 0.0006: at a radius of 40 mm.
fn wire(law: CoreLawSpec, friction: f64) -> Wire {
    let mut spec = wire_spec(50.0, 0.36, friction);
    spec.strain_limit = 0.0006;
    spec.core_law = law;
    Wire::from_spec(&spec).expect("a wire")
}

const LAWS: [CoreLawSpec; 2] = [
    CoreLawSpec::Plastic,
    CoreLawSpec::Superelastic {
        lower_over_upper: 1.0 / 3.0,
        plateau_strain: 0.003,
    },
];

#[test]
fn the_work_of_the_hand_is_found_again_where_the_core_yields() {
    let tree = Tree::build(&s_bend()).expect("an S-bend");
    for law in LAWS {
        for (friction, feed_mm) in [(0.0, 0.2), (0.1, 0.2), (0.1, 0.1)] {
            let settings = StepSettings {
                feed_mm,
                ..StepSettings::default()
            };
            let start = Start {
                outside_mm: 2.0,
                longest_mm: 50.0,
                roll_rad: 0.6,
            };
            let wire = wire(law, friction);
            let mut insertion = Assembly::straight(
                &wire,
                WalledLumen::new(&tree, 300.0),
                guide_tip(),
                settings,
                start,
            )
            .expect("rest");
            let mut through: f64 = 0.0;
            for (length, turn) in [(40.0_f64, 0.0), (0.0, 2.0), (-30.0, 0.0)] {
                for _ in 0..40 {
                    let moved = if turn > 0.0 {
                        insertion.turn(turn / 40.0)
                    } else {
                        insertion.feed(length / 40.0)
                    };
                    moved.expect("equilibrium");
                    through = through.max(insertion.balance().hand);
                }
                let l = *insertion.balance();
                let found = insertion.stored() + l.friction + l.damping + l.yielding;
                assert!(found.is_finite(), "{law:?} mu {friction}: {found}");
                println!(
                    "  {law:?} mu {friction} step {feed_mm}: feed {length}, turn {turn}: work {:.4}, stored {:.4}, friction {:.4}, flow {:.4}, damping {:.1e}; missing {:.4} mN mm; set {:.1} degrees",
                    l.hand,
                    insertion.stored(),
                    l.friction,
                    l.yielding,
                    l.damping,
                    l.hand - found,
                    insertion.set().angle_rad.to_degrees()
                );
            }
            let l = *insertion.balance();
            let missing = l.hand - insertion.stored() - l.friction - l.damping - l.yielding;
            assert!(l.yielding > 0.05 * through, "the core yields");
            report(
                &format!(
                    "{law:?}, mu {friction}, steps {feed_mm} mm: energy not found again, % of the largest work"
                ),
                100.0 * missing / through,
                2.0,
            );
        }
    }
}
