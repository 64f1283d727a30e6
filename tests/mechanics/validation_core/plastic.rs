//! An elastic, perfectly plastic round core bent in one plane.
//!
//! Values from outside are the check `core` of the catalogue (`src/evidence/checks`).

use bendwise::rod::{CoreCell, CoreLaw, section};

use super::CHORDS;
use super::fibres::{Fibre, Section};
use crate::common::report;

/// A core whose outermost fibre yields at the curvature `limit`, integrated over its cell.
pub fn core(limit: f64) -> CoreCell {
    CoreCell::new(CoreLaw::Plastic, limit, [0.0; 2], Vec::new())
}

#[test]
fn any_path_in_one_plane_is_that_of_a_section_of_fibres() {
    let mut core = core(1.0);
    let mut twin = Section::new(Fibre::Plastic, 400, 400);
    let mut worst: f64 = 0.0;
    let mut at = 0.0;
    for to in [1.5, 0.2, 2.8, -1.9, 1.2, 6.0, -3.0, 0.0, 4.0] {
        for part in 1..=20 {
            let k = at + (to - at) * f64::from(part) / 20.0;
            core.settle([k, 0.0]);
            worst = worst.max((core.moment([k, 0.0])[0] - twin.bend([k, 0.0])[0]).abs());
        }
        at = to;
    }
    report(
        "plastic core against fibres over a path in one plane, % of the collapse moment",
        100.0 * worst / section::COLLAPSE,
        3.0 * CHORDS,
    );
}

#[test]
fn the_work_of_a_closed_cycle_is_what_was_lost() {
    let mut core = core(1.0);
    let (mut work, mut lost, mut before) = (0.0, 0.0, [0.0; 2]);
    // Out and back along a triangle in the plane of curvatures, several times over.
    let corners = [[2.0, 0.0], [0.5, 2.5], [-1.0, -1.0], [0.0, 0.0]];
    let mut at = [0.0; 2];
    let (mut first, mut cycle) = (0.0, 0.0);
    for round in 0..6 {
        let begun = work;
        for to in corners {
            for part in 1..=400 {
                let share = f64::from(part) / 400.0;
                let d = [0, 1].map(|c| at[c] + (to[c] - at[c]) * share);
                let last = [0, 1].map(|c| at[c] + (to[c] - at[c]) * (share - 1.0 / 400.0));
                lost += core.settle(d);
                let moment = core.moment(d);
                work += (0..2)
                    .map(|c| 0.5 * (moment[c] + before[c]) * (d[c] - last[c]))
                    .sum::<f64>();
                before = moment;
            }
            at = to;
        }
        cycle = work - begun;
        assert!(cycle > 0.0, "round {round}: work {cycle}");
        if round == 1 {
            first = cycle;
        }
    }
    let stored = core.stored_at([0.0; 2]);
    // The mean of the moments over a part leaves an error of its square.
    report(
        "plastic core over closed cycles: work less losses and stored energy, %",
        100.0 * (1.0 - (lost + stored) / work),
        0.2,
    );
    report(
        "plastic core over closed cycles: last cycle against the second, %",
        100.0 * (cycle / first - 1.0),
        0.2,
    );
}
