//! A superelastic round core bent in one plane: flag law, symmetric, upper plateau at 450 N/mm², lower at
//! 150 N/mm², 5 % long, modulus 50 GPa.
//!
//! Values from outside are the check `core` of the catalogue (`src/evidence/checks`).

use bendwise::rod::{CoreCell, CoreLaw, Flag};

use super::CHORDS;
use super::fibres::{Fibre, Section};
use crate::common::report;

const LOWER: f64 = 150.0 / 450.0;
const LENGTH: f64 = 0.05 / 0.009;

pub fn core(limit: f64) -> CoreCell {
    let flag = Flag {
        lower_over_upper: LOWER,
        length: LENGTH,
    };
    CoreCell::new(CoreLaw::Superelastic(flag), limit, [0.0; 2], Vec::new())
}

#[test]
fn any_path_in_one_plane_is_that_of_a_section_of_fibres() {
    let mut core = core(1.0);
    let mut twin = Section::new(Fibre::Flag(LOWER, LENGTH), 400, 400);
    let mut worst: f64 = 0.0;
    let mut at = 0.0;
    for to in [
        1.5, 0.2, 2.8, -1.9, 1.2, 9.0, 4.0, 7.0, -8.0, -0.5, 3.0, 0.0,
    ] {
        for part in 1..=20 {
            let k = at + (to - at) * f64::from(part) / 20.0;
            core.settle([k, 0.0]);
            worst = worst.max((core.moment([k, 0.0])[0] - twin.bend([k, 0.0])[0]).abs());
        }
        at = to;
    }
    report(
        "superelastic core against fibres over a path in one plane, % of the moment at first yield",
        100.0 * worst,
        3.0 * CHORDS,
    );
}
