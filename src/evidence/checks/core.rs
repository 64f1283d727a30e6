//! Elastic, perfectly plastic and superelastic round cores bent in one plane.
//!
//! Plastic, first loading, residual curvature, reversal: integral of the stress over the section, standard
//! plasticity (Hill 1950); the numbers were computed independently by the closed form and by 4,000
//! fibres, which agree to 2.1e-7. Superelastic, flag law, symmetric, upper plateau at 450 N/mm², lower at
//! 150 N/mm², 5 % long, modulus 50 GPa: exact integration of the stress over the section and 20,000 fibres,
//! which agree to 1e-8 of the moment at first yield.

use crate::evidence::{Broken, Check, Covered, Input, Origin, Readings, Rests, Set};
use crate::rod::{CoreCell, CoreLaw, Flag};

/// By how much a moment of a core may be off the closed form: the curve of moment against curvature
/// is met at knots that lie 14 % of the curvature beyond yield apart (`rod::section`), and a chord of
/// that length lies below a curve of curvature `M''` by `h² |M''| / 8`, which is largest, 7e-4 of the
/// moment at first yield, at twice the curvature of first yield. A path that turns back doubles the scale.
const CHORDS: f64 = 1e-3;
/// The same for what is a small difference of such moments: a residual curvature, the energy lost in a
/// narrow loop.
const LEFT_BY_CHORDS: f64 = 3e-3;

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

pub const CHECK: Check = Check {
    name: "core",
    question: "What moment does a core need that yields, and what set does it keep?",
    origin: Origin::Computed,
    source: "Hill 1950 (closed form of the round section) and 4,000 fibres; flag law integrated exactly and by \
             20,000 fibres",
    scene: "A section of a plastic core bent to 5 times the curvature of first yield and back, of a superelastic \
            one to 8 times",
    carries: &[Rests::Set, Rests::Wall, Rests::Outcome],
    set: Set::Short,
    covers,
    measure,
};

fn covers() -> Vec<Covered> {
    let plastic = FIRST_LOADING.map(|row| row[0]);
    let superelastic = LOADING.map(|row| row[0]);
    vec![Covered::over(
        Input::Strain,
        &[0.0, plastic[3], superelastic[5]],
    )]
}

fn plastic(limit: f64) -> CoreCell {
    CoreCell::new(CoreLaw::Plastic, limit, [0.0; 2], Vec::new())
}

fn superelastic() -> CoreCell {
    let flag = Flag {
        lower_over_upper: LOWER,
        length: LENGTH,
    };
    CoreCell::new(CoreLaw::Superelastic(flag), 1.0, [0.0; 2], Vec::new())
}

fn measure(readings: &mut Readings) -> Result<(), Broken> {
    first_loading(readings);
    reversed(readings);
    plateaus(readings);
    loops(readings);
    Ok(())
}

fn first_loading(readings: &mut Readings) {
    let limit = 0.07;
    for [k, moment, residual] in FIRST_LOADING {
        let mut core = plastic(limit);
        let found = core.moment([k * limit, 0.0])[0] / limit;
        readings.share(
            format!("plastic, curvature {k}: moment"),
            found / moment - 1.0,
            CHORDS,
        );
        core.settle([k * limit, 0.0]);
        let left = core.residual()[0] / limit;
        let what = format!("plastic, curvature {k}: residual curvature");
        if residual > 0.0 {
            readings.share(what, left / residual - 1.0, LEFT_BY_CHORDS);
        } else {
            readings.error(what, left, "", 1e-12);
        }
    }
}

/// A reversed load follows Masing's rule, and further cycles repeat the first.
fn reversed(readings: &mut Readings) {
    let mut core = plastic(1.0);
    core.settle([2.0, 0.0]);
    for [k, moment] in REVERSED {
        let found = core.moment([k, 0.0])[0];
        let what = format!("plastic, back from 2 to {k}: moment, of the largest");
        readings.share(what, (found - moment) / REVERSED[0][1], CHORDS);
    }
    core.settle([-2.0, 0.0]);
    let residual = core.residual()[0] / -FIRST_LOADING[2][2];
    readings.share(
        "plastic, reversed to -2 and released: residual",
        residual - 1.0,
        LEFT_BY_CHORDS,
    );
    let once = core.pieces()[0].flow.clone();
    for _ in 0..50 {
        core.settle([2.0, 0.0]);
        core.settle([-2.0, 0.0]);
    }
    let drift = once.iter().zip(&core.pieces()[0].flow);
    let drift = drift.map(|(a, b)| (a[0] - b[0]).abs()).fold(0.0, f64::max);
    readings.error(
        "plastic, drift of the flow over 50 cycles",
        drift,
        "",
        1e-12,
    );
}

fn plateaus(readings: &mut Readings) {
    for [k, moment] in LOADING {
        let found = superelastic().moment([k, 0.0])[0];
        readings.share(
            format!("superelastic, curvature {k}: moment"),
            found / moment - 1.0,
            CHORDS,
        );
    }
    for (most, back) in UNLOADING {
        let mut core = superelastic();
        core.settle([most, 0.0]);
        for [k, moment] in back {
            core.settle([*k, 0.0]);
            let found = core.moment([*k, 0.0])[0];
            let off = if *moment > 0.0 {
                found / moment - 1.0
            } else {
                found
            };
            readings.share(
                format!("superelastic, back from {most} to {k}: moment"),
                off,
                CHORDS,
            );
        }
        let [k1, k2] = core.residual();
        let what = format!("superelastic, loaded to {most}: residual curvature");
        readings.error(what, k1.hypot(k2), "", 1e-9);
    }
}

fn loops(readings: &mut Readings) {
    for [most, exact] in LOOPS {
        let mut core = superelastic();
        let parts = 400;
        let mut lost = 0.0;
        for part in (1..=parts).chain((0..parts).rev()) {
            lost += core.settle([most * f64::from(part) / f64::from(parts), 0.0]);
        }
        let what = format!("superelastic, loop to {most}: energy lost");
        readings.share(what, lost / exact - 1.0, LEFT_BY_CHORDS);
        // A core on which no plateau is left holds no flow.
        let left = f64::from(u8::from(!core.is_untouched()));
        readings.error(
            format!("superelastic, loop to {most}: flow left"),
            left,
            "",
            0.0,
        );
    }
}
