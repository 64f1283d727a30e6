//! What the hands on wire and catheter feel of a load across.

use crate::common::{catheter, guide_tip, list_wire, report};
use bendwise::contact::WalledLumen;
use bendwise::scenario::model::{PieceSpec, VesselSpec};
use bendwise::solve::{Assembly, Hands, Load, PairStart, StepSettings};
use bendwise::vessel::Tree;

const WIRE: f64 = 300.0;
const CATHETER: f64 = 900.0;

/// A vessel so wide that nothing touches it.
fn open_space() -> Tree {
    Tree::build(&VesselSpec::single_tube(
        vec![PieceSpec::Straight { length_mm: 60.0 }],
        40.0,
    ))
    .expect("a tube")
}

/// A straight pair with `wire` and `catheter` mm outside, edges of that length and a load on its front: along the
/// axis (positive: pushing back) and across it; in equilibrium.
fn loaded(tree: &Tree, outside: [f64; 2], edge_mm: f64, back: f64, across: f64) -> Assembly<'_> {
    let mut pair = Assembly::pair(
        (
            &list_wire(WIRE, 0.36, 0.0),
            &catheter(CATHETER, 0.9, 0.0, (0.0, 0.0)),
        ),
        WalledLumen::new(tree, 300.0),
        guide_tip(),
        StepSettings {
            tolerance: 1e-9,
            drag: 0.0,
            edge_mm,
            ..StepSettings::default()
        },
        PairStart {
            wire_mm: outside[0],
            catheter_mm: outside[1],
            longest_mm: 30.0,
            wire_roll_rad: 0.0,
            catheter_roll_rad: 0.0,
        },
    )
    .expect("equilibrium");
    for (unknown, force) in [(0, -back), (1, across)] {
        let body = pair.pair_body_mut().expect("a pair");
        body.loads.push(Load { unknown, force });
    }
    pair.move_hands(Hands::default()).expect("equilibrium");
    pair
}

/// Equation: a load `F` across the front of a wire that stands out of the catheter by `a` and of the guide
/// by `L` has the potential `-F²/6 [(L³ - a³)/(B + C) + a³/B]` where deflections are small. The hands feel
/// its derivatives: with the wire `a` and `L` grow, with the catheter `a` shrinks. They go with the squares of
/// the moments at the catheter's tip and at the guide, which cells take a quarter of an edge `h` aside: off by `h/(2 a)`
/// at most; the deflection's own square adds 1e-3.
#[test]
fn the_hands_feel_how_a_load_across_draws_wire_and_catheter_out_whatever_the_edges() {
    let tree = open_space();
    let (length, load) = (20.0, 0.02);
    for covered in [8.0_f64, 12.1, 15.03] {
        let a = length - covered;
        let (bare, both) = (a * a / WIRE, 1.0 / (WIRE + CATHETER));
        let wire = -0.5 * load * load * ((length * length - a * a) * both + bare);
        let catheter = 0.5 * load * load * (bare - a * a * both);
        for edge_mm in [0.5, 0.125, 0.03125] {
            let pair = loaded(&tree, [length, covered], edge_mm, 0.0, load);
            let push = pair.catheter().expect("a catheter").push_force;
            let limit = 0.5 * edge_mm / a + 1e-3;
            let what =
                format!("covered over {covered} mm of 20, edges {edge_mm} mm: error of the push");
            report(
                &format!("wire {what}"),
                pair.push_force() / wire - 1.0,
                limit,
            );
            report(&format!("catheter {what}"), push / catheter - 1.0, limit);
        }
    }
}
