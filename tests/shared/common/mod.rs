//! Pieces shared by the tests.
#![allow(dead_code, reason = "each test uses its share")]
#![allow(clippy::print_stdout, reason = "the table of checks")]

pub use bendwise::evidence::scenes::{guide_tip, wire_spec};

use bendwise::contact::WalledLumen;
use bendwise::device::{Catheter, Wire};
use bendwise::scenario::model::*;
use bendwise::solve::{Assembly, Start, StepSettings};
use bendwise::vessel::Tree;

/// A straight wire of uniform bending stiffness (mN mm²), diameter (mm) and friction.
pub fn list_wire(stiffness: f64, diameter_mm: f64, friction: f64) -> Wire {
    bendwise::evidence::scenes::list_wire(stiffness, diameter_mm, friction).expect("a plain wire")
}

/// Prints a line of the table of checks and asserts that the measured size keeps the limit.
#[track_caller]
pub fn report(check: &str, measured: f64, limit: f64) {
    println!("CHECK | {check} | {measured:.4} | {limit}");
    assert!(
        measured.abs() <= limit,
        "{check}: measured {measured}, limit {limit}"
    );
}

/// How many of the trials that were run do what is asked, and whether enough of all do.
pub struct Enough {
    pub holds: bool,
    yes: u32,
    run: u32,
}

impl std::fmt::Display for Enough {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} of the {} that were run", self.yes, self.run)
    }
}

/// Whether at least `least` of the trials `0..of` do what is asked; none is run any more once that is
/// decided.
pub fn at_least(least: u32, of: u32, does: impl Fn(u32) -> bool) -> Enough {
    let (mut yes, mut run) = (0, 0);
    while yes < least && run - yes <= of - least {
        yes += u32::from(does(run));
        run += 1;
    }
    let holds = yes >= least;
    Enough { holds, yes, run }
}

/// A plane tube of two arcs of 10 mm radius and 60 degrees each, one back from the other, with
/// 5 mm of straight before and 30 mm behind; lumen 2.5 mm.
pub fn s_bend() -> VesselSpec {
    VesselSpec::single_tube(
        vec![
            PieceSpec::Straight { length_mm: 5.0 },
            PieceSpec::SBend {
                radius_mm: 10.0,
                angle_rad: 60f64.to_radians(),
                plane_rad: 0.0,
            },
            PieceSpec::Straight { length_mm: 30.0 },
        ],
        2.5,
    )
}

/// A wire of 50 mN mm² and 0.36 mm with a tip bent by 45 degrees over 3 mm.
pub fn bent_wire(friction: f64) -> Wire {
    let mut spec = wire_spec(50.0, 0.36, friction);
    spec.tip.primary = Some(BendSpec {
        from_tip_mm: 0.0,
        length_mm: 3.0,
        angle_rad: 45f64.to_radians(),
        plane_rad: 0.0,
    });
    Wire::from_spec(&spec).expect("a wire with a bent tip")
}

/// Prints how hard the solver had to work.
pub fn print_effort(what: &str, balance: &bendwise::solve::EnergyBalance) {
    println!(
        "  {what}: {} steps, {:.2} Newton iterations a step, {} halved",
        balance.steps,
        f64::from(balance.iterations) / f64::from(balance.steps.max(1)),
        balance.halved
    );
}

/// A count from its value in floating point.
pub fn whole(count: f64) -> usize {
    assert!((0.0..1e6).contains(&count));
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "in range by the assertion"
    )]
    let whole = count.round() as usize;
    whole
}

/// The bent wire at the entry of the S-bend, at rest, with the given friction and settings.
pub fn into_s_bend(tree: &Tree, friction: f64, settings: StepSettings) -> Assembly<'_> {
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 50.0,
        roll_rad: 0.6,
    };
    let wire = bent_wire(friction);
    Assembly::straight(
        &wire,
        WalledLumen::new(tree, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .expect("equilibrium")
}

/// A catheter of uniform bending stiffness (mN mm²), outer diameter (mm) and friction, with a bend
/// of `angle` rad over `length` mm at its tip if that is above 0.
pub fn catheter(
    stiffness: f64,
    diameter_mm: f64,
    friction: f64,
    (length, angle): (f64, f64),
) -> Catheter {
    let spec = catheter_spec(stiffness, diameter_mm, friction, (length, angle));
    Catheter::from_spec(&spec).expect("a catheter")
}

/// The description of that catheter, whose bore is half as wide as it is and lets a wire slide for free.
pub fn catheter_spec(
    stiffness: f64,
    diameter_mm: f64,
    friction: f64,
    (length, angle): (f64, f64),
) -> CatheterSpec {
    CatheterSpec {
        name: "catheter".into(),
        outer_diameter_mm: diameter_mm,
        inner_diameter_mm: 0.5 * diameter_mm,
        stiffness: vec![(0.0, stiffness)],
        torsion_ratio: 1.0 / 1.3,
        friction,
        friction_inside: 0.0,
        tip: (length > 0.0).then_some(CatheterTipSpec {
            length_mm: length,
            angle_rad: angle,
            range_rad: None,
        }),
        side_port: None,
        place: Place::default(),
    }
}
