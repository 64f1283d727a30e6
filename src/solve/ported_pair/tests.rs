//! The potential of catheter and second wire against its derivatives.

use nalgebra::{Matrix3, Vector3};

use super::coupled_solve::CoupledSolve;
use super::{PortedPair, Second};
use crate::contact::WalledLumen;
use crate::device::{Catheter, Wire};
use crate::scenario::model::{CatheterSpec, CoreLawSpec, Place, StiffnessSpec, TipSpec, WireSpec};
use crate::solve::consistent::Consistent;
use crate::solve::pair_rod::PairRod;
use crate::solve::search::Search;
use crate::solve::{EnergyBalance, GuideTip, Hands, PairStart, SidePort, StepSettings};
use crate::vessel::{Lumen, WallPoint};

/// A straight tube about the x axis.
struct Narrow {
    radius_mm: f64,
}

impl Lumen for Narrow {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let out = Vector3::new(0.0, p.y, p.z);
        let from_axis = out.norm();
        let normal = out / from_axis;
        let across = Matrix3::from_diagonal(&Vector3::new(0.0, 1.0, 1.0));
        let distance_mm = from_axis - self.radius_mm;
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: normal,
            velocity: Vector3::zeros(),
            hessian: (across - normal * normal.transpose()) / from_axis,
        })
    }
    fn distance(&self, p: &Vector3<f64>) -> f64 {
        p.yz().norm() - self.radius_mm
    }
}

fn wire(stiffness: f64) -> Wire {
    Wire::from_spec(&WireSpec {
        name: "wire".into(),
        diameter_mm: 0.36,
        stiffness: StiffnessSpec::List {
            values: vec![(0.0, stiffness)],
            modulus_mn_per_mm2: 200e6,
        },
        torsion_ratio: 1.0 / 1.3,
        friction: 0.1,
        tip: TipSpec {
            primary: None,
            secondary: None,
        },
        strain_limit: 0.01,
        core_law: CoreLawSpec::Elastic,
        place: Place::default(),
    })
    .expect("a plain wire")
}

/// Steps in which the second wire is fed.
const FEEDS: u32 = 48;

/// A catheter in a tube in which its second wire, which leaves at half a radian, has no place beside
/// it.
fn squeezed(lumen: &Narrow) -> PortedPair<'_> {
    let catheter = Catheter::from_spec(&CatheterSpec {
        name: "catheter".into(),
        outer_diameter_mm: 1.0,
        inner_diameter_mm: 0.5,
        stiffness: vec![(0.0, 400.0)],
        torsion_ratio: 1.0 / 1.3,
        friction: 0.1,
        friction_inside: 0.0,
        tip: None,
        side_port: None,
        place: Place::default(),
    })
    .expect("a catheter");
    let guide_tip = GuideTip {
        exit: Vector3::zeros(),
        axis: Vector3::x(),
        backup: None,
    };
    let settings = StepSettings::default();
    let start = PairStart {
        wire_mm: 35.0,
        catheter_mm: 25.0,
        longest_mm: 60.0,
        wire_roll_rad: 0.0,
        catheter_roll_rad: 0.0,
    };
    let mut balance = EnergyBalance::default();
    let carrier = PairRod::straight(
        (&wire(50.0), &catheter),
        WalledLumen::new(lumen, 300.0),
        guide_tip,
        settings,
        start,
        &mut balance,
    )
    .expect("rest");
    let second = Second {
        wire: wire(50.0),
        roll_rad: 0.0,
        port: SidePort {
            behind_tip_mm: 8.0,
            angle_rad: 0.5,
            plane_rad: 0.1,
        },
        lumen: WalledLumen::new(lumen, 300.0),
        longest_mm: 40.0,
        settings,
    };
    let mut both = PortedPair::new(carrier, second, 0.5);
    for _ in 0..FEEDS {
        both.advance(Hands::feed(12.0 / f64::from(FEEDS)), 0, &mut balance)
            .expect("rest");
    }
    both
}

/// Calls `check` with catheter and wire of [`squeezed`].
fn with_both(both: &mut PortedPair<'_>, check: impl FnOnce(&mut CoupledSolve<'_, '_>)) {
    let seat = both.seat();
    let options = both.carrier.options;
    let mut wire = both.out.take().expect("outside");
    let mut coupled = CoupledSolve {
        carrier: &mut both.carrier,
        wire: &mut wire,
        adjacent: &mut both.adjacent,
        seat,
        memory: &mut both.memory,
        options,
    };
    coupled.assess().expect("finite");
    let pairs = coupled.adjacent.pairs().len();
    assert!(pairs > 3, "wire and catheter touch");
    check(&mut coupled);
}

/// A step of all unknowns in waves of that length.
fn waves(seed: u32) -> impl Fn(usize) -> f64 {
    let wave = f64::from(seed);
    move |k| {
        let x = f64::from(u32::try_from(k).expect("few unknowns"));
        1e-2 * (0.03 * (1.0 + wave) * x + wave).sin()
    }
}

/// Along a step of all unknowns, the wire's end following the port, the potential falls as its
/// gradient says, with friction, wherever the two are.
#[test]
fn the_gradient_is_the_derivative_of_the_potential_of_both() {
    let lumen = Narrow { radius_mm: 0.67 };
    let mut both = squeezed(&lumen);
    with_both(&mut both, |coupled| {
        for seed in 0..6 {
            coupled.along(waves(seed + 1));
            coupled.try_step(1.0);
            coupled.commit();
            coupled.assess().expect("finite");
            let (slope, _) = coupled.along(waves(seed));
            let h = 1e-5;
            let measured = (coupled.try_step(h) - coupled.try_step(-h)) / (2.0 * h);
            println!("  slope {measured:.8e} of {slope:.8e}");
            approx::assert_relative_eq!(measured, slope, max_relative = 1e-6);
        }
    });
}

/// Along the step that the consistent tangent asks for, the forces fall to first order as they stand,
/// friction and its change with the normal forces included. What the tangent leaves out, the turning of
/// normals between the devices, is small.
#[test]
fn the_consistent_step_takes_the_forces_away_to_first_order() {
    let lumen = Narrow { radius_mm: 0.67 };
    let mut both = squeezed(&lumen);
    with_both(&mut both, |coupled| {
        coupled.couple_friction(true);
        let mut checked = 0;
        for seed in 0..6 {
            let here = coupled.unknowns();
            coupled.along(waves(seed + 1));
            coupled.try_step(1e-4);
            coupled.commit();
            coupled.assess().expect("finite");
            let forces = coupled.free_gradient();
            if coupled.consistent_direction() {
                checked += 1;
                let h = 1e-5;
                let mut at = |share: f64| {
                    let here = coupled.unknowns();
                    coupled.try_step(share);
                    coupled.commit();
                    coupled.assess().expect("finite");
                    let forces = coupled.free_gradient();
                    coupled.put_back(&here);
                    forces
                };
                let (ahead, behind) = (at(h), at(-h));
                let largest = forces.iter().fold(0.0, |m: f64, f| m.max(f.abs()));
                let off = (0..forces.len()).map(|k| {
                    let fall = (ahead[k] - behind[k]) / (2.0 * h);
                    (fall + forces[k]).abs()
                });
                let off = off.fold(0.0, f64::max);
                println!("  forces of {largest:.4e} fall but for {off:.4e}");
                assert!(off < 0.02 * largest, "{off} of {largest}");
            }
            coupled.put_back(&here);
            coupled.assess().expect("finite");
        }
        assert!(checked > 3, "{checked}");
    });
}

/// At an equilibrium the potential bends along such a step as the Hessian says. Friction is left
/// out, whose normal forces are held while the potential is differentiated. What is solved for is
/// the answer of that Hessian: loads do the work that it takes.
#[test]
fn the_hessian_is_the_second_derivative_of_the_potential_of_both() {
    let lumen = Narrow { radius_mm: 0.67 };
    let mut both = squeezed(&lumen);
    both.adjacent.surface.friction = 0.0;
    let wire = &mut both.out.as_mut().expect("outside").body;
    for contact in wire.contacts_mut() {
        contact.surface.friction = 0.0;
    }
    for contact in both.carrier.body.contacts_mut() {
        (contact.surface.friction, contact.cover.friction) = (0.0, 0.0);
    }
    both.advance(Hands::default(), 0, &mut EnergyBalance::default())
        .expect("rest");
    with_both(&mut both, |coupled| {
        for seed in 0..6 {
            let (_, curvature) = coupled.along(waves(seed));
            let h = 1e-3;
            let [ahead, here, behind] = [h, 0.0, -h].map(|share| coupled.try_step(share));
            let bent = (ahead - 2.0 * here + behind) / (h * h);
            println!("  curvature {bent:.6e} of {curvature:.6e}");
            approx::assert_relative_eq!(bent, curvature, max_relative = 1e-4);
            coupled.assess().expect("finite");
            let (work, form) = coupled.answer(waves(seed));
            println!("  work of loads {work:.8e}, of the Hessian {form:.8e}");
            approx::assert_relative_eq!(work, form, max_relative = 1e-6);
            coupled.assess().expect("finite");
        }
    });
}
