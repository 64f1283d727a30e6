//! A first wire that cannot be brought past the branching ends its trial with that reason.

use std::path::Path;

use bendwise::scenario::load;
use bendwise::trial::result::Outcome;
use bendwise::trial::{Prepared, run_trial, strategies};

/// Friction at which a bent tip digs into the wall of a straight vessel in whatever direction it lies.
const FRICTION: f64 = 2.0;

/// Before the first wire was watched it was fed on into a coil of 80 mm in 9 mm of vessel, eight times, for
/// more than an hour.
#[test]
fn a_first_wire_whose_tip_stays_is_drawn_back_turned_and_given_up() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/dual-lumen.toml");
    let mut scenario = load(&path).expect("a shipped scenario").scenario;
    scenario.variation.friction_cv = 0.0;
    for wire in &mut scenario.wires {
        wire.friction = FRICTION;
    }
    let prepared = Prepared::new(&scenario).expect("a shipped scenario");
    let all = strategies(&scenario);
    let carried = all.iter().find(|s| s.name.starts_with("folded, out"));
    let row = run_trial(&prepared, carried.expect("a carried fold"), 0, false).row;
    assert_eq!(row.outcome, Outcome::Stalled, "{}", row.why);
    assert_eq!(row.reason, "first wire did not pass", "{}", row.why);
    assert!(
        row.why.contains("the tip stayed where it was, in parent"),
        "{}",
        row.why
    );
    assert!(
        row.peak_wall_force_mn.is_nan(),
        "{}",
        row.peak_wall_force_mn
    );
}
