//! A superelastic round core bent in one plane: flag law, symmetric, upper plateau at 450 N/mm², lower at
//! 150 N/mm², 5 % long, modulus 50 GPa.
//!
//! The numbers were computed independently by exact integration of the stress over the section and
//! by 20,000 fibres, which agree to 1e-8 of the moment at first yield.

use bendwise::rod::{CoreCell, CoreLaw, Flag};

use super::fibres::{Fibre, Section};
use super::{CHORDS, LEFT_BY_CHORDS};
use crate::common::report;

/// Curvature and moment over those at which the plateau begins, on loading.
const LOADING: [[f64; 2]; 6] = [
    [0.5, 0.5],
    [1.25, 1.211_563],
    [2.0, 1.493_660],
    [4.0, 1.645_102],
    [6.0, 1.674_173],
    [8.0, 1.877_048],
];

/// Largest curvature; curvature and moment on the way back from it.
const UNLOADING: [(f64, &[[f64; 2]]); 5] = [
    (
        1.5,
        &[
            [1.25, 1.097_091],
            [0.75, 0.602_670],
            [0.3333, 0.333_333],
            [0.0, 0.0],
        ],
    ),
    (
        2.0,
        &[
            [1.25, 0.749_239],
            [0.75, 0.515_732],
            [0.3333, 0.333_333],
            [0.0, 0.0],
        ],
    ),
    (
        3.0,
        &[
            [1.5, 0.581_548],
            [1.0, 0.534_977],
            [0.5, 0.449_030],
            [0.2, 0.2],
        ],
    ),
    (
        5.0,
        &[
            [4.0, 0.765_844],
            [2.0, 0.559_873],
            [1.25, 0.545_980],
            [0.75, 0.511_692],
            [0.3333, 0.333_333],
            [0.0, 0.0],
        ],
    ),
    (
        8.0,
        &[
            [5.0, 0.580_389],
            [3.0, 0.562_686],
            [1.5, 0.552_016],
            [1.0, 0.534_977],
            [0.5, 0.449_030],
            [0.2, 0.2],
        ],
    ),
];

/// Largest curvature and work of the loop, over the moment times the curvature at first yield.
const LOOPS: [[f64; 2]; 5] = [
    [1.5, 0.118_70],
    [2.0, 0.427_54],
    [3.0, 1.289_22],
    [5.0, 3.330_57],
    [8.0, 6.460_29],
];

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
fn plateaus_are_those_of_the_exact_section_and_nothing_is_left() {
    for [k, moment] in LOADING {
        let found = core(1.0).moment([k, 0.0])[0];
        report(
            &format!("superelastic core, loading, kappa/kappa_y {k}: moment off, %"),
            100.0 * (found / moment - 1.0),
            CHORDS,
        );
    }
    for (most, back) in UNLOADING {
        let mut core = core(1.0);
        core.settle([most, 0.0]);
        for [k, moment] in back {
            core.settle([*k, 0.0]);
            let found = core.moment([*k, 0.0])[0];
            let off = if *moment > 0.0 {
                found / moment - 1.0
            } else {
                found
            };
            report(
                &format!("superelastic core, back from {most} to {k}: moment off, %"),
                100.0 * off,
                CHORDS,
            );
        }
        let [k1, k2] = core.residual();
        report(
            &format!("superelastic core, loaded to {most}: residual curvature"),
            k1.hypot(k2),
            1e-9,
        );
    }
}

#[test]
fn the_loop_loses_what_the_exact_section_loses() {
    for [most, exact] in LOOPS {
        let mut core = core(1.0);
        let parts = 400;
        let mut lost = 0.0;
        for part in (1..=parts).chain((0..parts).rev()) {
            lost += core.settle([most * f64::from(part) / f64::from(parts), 0.0]);
        }
        report(
            &format!("superelastic core, loop to {most}: energy lost off, %"),
            100.0 * (lost / exact - 1.0),
            LEFT_BY_CHORDS,
        );
        assert!(core.is_untouched(), "nothing is left");
    }
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
