//! Do the forces of a trial mean what their names say: where they act, in which sense, and at which
//! recorded step?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]
#![allow(clippy::print_stdout, reason = "the table of checks")]

mod patches;
mod peaks;
mod places;

use std::path::Path;

use bendwise::scenario::load_text;
use bendwise::scenario::model::Scenario;

/// The shipped side branch on a parent of 4 mm, leaving at so many degrees, every trial in vessels
/// of the same size.
fn side_branch(take_off_deg: u32) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
    let mut text = std::fs::read_to_string(&path).unwrap();
    for (was, is) in [
        ("diameter_mm = 3.0", "diameter_mm = 4.0".to_owned()),
        (
            "take_off_deg = 90",
            format!("take_off_deg = {take_off_deg}"),
        ),
        ("diameter_cv = 0.05", "diameter_cv = 0".to_owned()),
    ] {
        assert!(text.contains(was), "{was}");
        text = text.replacen(was, &is, 1);
    }
    load_text(&path, text).unwrap().scenario
}
