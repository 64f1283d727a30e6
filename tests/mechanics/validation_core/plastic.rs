//! An elastic, perfectly plastic round core bent in one plane.
//!
//! First loading, residual curvature, reversal: integral of the stress over the section, standard
//! plasticity (Hill 1950); the numbers were computed independently by the closed form and by 4,000
//! fibres, which agree to 2.1e-7.

use bendwise::rod::{CoreCell, CoreLaw, section};

use super::fibres::{Fibre, Section};
use super::{CHORDS, LEFT_BY_CHORDS};
use crate::common::report;

/// Curvature, moment and residual curvature over those at first yield.
const FIRST_LOADING: [[f64; 3]; 4] = [
    [1.0, 1.0, 0.0],
    [1.25, 1.211_563_2, 0.038_436_8],
    [2.0, 1.493_660_0, 0.506_340_0],
    [5.0, 1.663_904_4, 3.336_095_6],
];

/// Moments on the way back from the curvature 2.
const REVERSED: [[f64; 2]; 8] = [
    [2.0, 1.493_660],
    [1.0, 0.493_660],
    [0.5, -0.006_340],
    [0.0, -0.506_340],
    [-0.5, -0.929_466],
    [-1.0, -1.200_522],
    [-1.5, -1.375_633],
    [-2.0, -1.493_660],
];

/// A core whose outermost fibre yields at the curvature `limit`, integrated over its cell.
pub fn core(limit: f64) -> CoreCell {
    CoreCell::new(CoreLaw::Plastic, limit, [0.0; 2], Vec::new())
}

#[test]
fn first_loading_and_springback_are_those_of_the_closed_form() {
    for [k, moment, residual] in FIRST_LOADING {
        let limit = 0.07;
        let mut core = core(limit);
        let found = core.moment([k * limit, 0.0])[0] / limit;
        report(
            &format!("plastic core, kappa/kappa_y {k}: moment off, %"),
            100.0 * (found / moment - 1.0),
            CHORDS,
        );
        core.settle([k * limit, 0.0]);
        let left = core.residual()[0] / limit;
        if residual > 0.0 {
            report(
                &format!("plastic core, kappa/kappa_y {k}: residual curvature off, %"),
                100.0 * (left / residual - 1.0),
                LEFT_BY_CHORDS,
            );
        } else {
            assert!(left == 0.0);
        }
    }
}

#[test]
fn a_reversed_load_follows_masings_rule_and_a_second_cycle_repeats_the_first() {
    let mut core = core(1.0);
    core.settle([2.0, 0.0]);
    for [k, moment] in REVERSED {
        let found = core.moment([k, 0.0])[0];
        report(
            &format!("plastic core back from 2, kappa/kappa_y {k}: moment off, % of the largest"),
            100.0 * (found - moment) / 1.493_660,
            CHORDS,
        );
    }
    core.settle([-2.0, 0.0]);
    report(
        "plastic core reversed to -2 and released: residual off, %",
        100.0 * (core.residual()[0] / -0.506_340 - 1.0),
        LEFT_BY_CHORDS,
    );
    let once = core.pieces()[0].flow.clone();
    for _ in 0..50 {
        core.settle([2.0, 0.0]);
        core.settle([-2.0, 0.0]);
    }
    let drift = once.iter().zip(&core.pieces()[0].flow);
    let drift = drift.map(|(a, b)| (a[0] - b[0]).abs()).fold(0.0, f64::max);
    report(
        "plastic core, drift of the flow over 50 cycles",
        drift,
        1e-12,
    );
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
