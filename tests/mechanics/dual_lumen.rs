//! A dual-lumen catheter on a first wire: what the second wire does to it against a closed form,
//! where the second wire leaves, and how a folded wire lies on it.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::f64::consts::{FRAC_PI_2, TAU};
use std::path::Path;

use crate::common::{bent_wire, catheter, guide_tip, list_wire, report, wire_spec};
use bendwise::contact::WalledLumen;
use bendwise::device::Wire;
use bendwise::scenario::load;
use bendwise::scenario::model::{BendSpec, VesselSpec};
use bendwise::solve::{Assembly, Hands, PairStart, Second, SidePort, StepSettings};
use bendwise::trial::{Prepared, run_trial, strategies};
use bendwise::vessel::{FlexibleTube, Lumen, Tree, WallPoint};
use nalgebra::{Matrix3, Vector3};

/// The half space above a plane wall `below` mm under the axis, in -y.
struct Above {
    below: f64,
}

impl Lumen for Above {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let distance_mm = self.distance(p);
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: -Vector3::y(),
            velocity: Vector3::zeros(),
            hessian: Matrix3::zeros(),
        })
    }
    fn distance(&self, p: &Vector3<f64>) -> f64 {
        -self.below - p.y
    }
}

const OUTSIDE_MM: f64 = 30.0;

/// A catheter of 1 mm and `stiffness[0]` mN mm² on a first wire of `stiffness[1]`, 30 mm outside the
/// guide, with `wire` in it.
fn on_first_wire<'a>(
    stiffness: [f64; 2],
    wire: Wire,
    port: SidePort,
    lumen: &'a dyn Lumen,
    settings: StepSettings,
) -> Assembly<'a> {
    let start = PairStart {
        wire_mm: OUTSIDE_MM + 10.0,
        catheter_mm: OUTSIDE_MM,
        longest_mm: 80.0,
        wire_roll_rad: 0.0,
        catheter_roll_rad: 0.0,
    };
    let first = list_wire(stiffness[1], 0.36, 0.0);
    let around = catheter(stiffness[0], 1.0, 0.0, (0.0, 0.0));
    let carrier = Assembly::pair(
        (&first, &around),
        WalledLumen::new(lumen, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .expect("rest");
    let second = Second {
        wire,
        roll_rad: 0.0,
        port,
        lumen: WalledLumen::new(lumen, 300.0),
        longest_mm: 60.0,
        settings,
    };
    carrier.with_second_wire(second, 0.5).expect("a catheter")
}

/// The port's opening in mm and the direction in which a wire leaves it.
fn port_of(both: &Assembly<'_>) -> (Vector3<f64>, Vector3<f64>) {
    let port = both.catheter().expect("a catheter");
    (port.tip, port.direction)
}

/// Devices at rest: without the drag that the last step of a moving one leaves behind.
fn at_rest() -> StepSettings {
    StepSettings {
        drag: 0.0,
        ..StepSettings::default()
    }
}

/// A wire that leaves at a right angle and meets a wall pushes the catheter away from it. Catheter,
/// first and second wire lie side by side behind the port and bend together: a cantilever of
/// stiffness 20,000 + 5,000 + 5,000 mN mm² under the wire's force at the port.
/// Source: cantilever under an end force, w = F a³ / (3 EI), to first order (textbook).
#[test]
fn a_wire_that_meets_a_wall_bends_the_catheter_as_a_cantilever() {
    let port = SidePort {
        behind_tip_mm: 5.0,
        angle_rad: FRAC_PI_2,
        plane_rad: 0.0,
    };
    let lumen = Above { below: 5.0 };
    let straight = list_wire(5e3, 0.36, 0.0);
    let mut both = on_first_wire([2e4, 5e3], straight, port, &lumen, at_rest());
    // The port looks along +y at first: turn it down.
    let down = port_of(&both).1.dot(&Vector3::y()).acos();
    let about = if port_of(&both).1.z > 0.0 { 1.0 } else { -1.0 };
    both.move_hands(Hands {
        turn_catheter: (std::f64::consts::PI - down) * about,
        ..Hands::default()
    })
    .expect("rest");
    report(
        "port turned down, off by rad",
        port_of(&both).1.angle(&-Vector3::y()),
        1e-6,
    );
    let to_wall = port_of(&both).0.y + lumen.below;
    both.move_hands(Hands::feed(to_wall + 0.5 + 0.4))
        .expect("rest");
    let force = both.contact().total_force;
    let along = OUTSIDE_MM - port.behind_tip_mm;
    let expected = force * along.powi(3) / (3.0 * 3e4);
    let start = to_wall - lumen.below;
    let lifted = port_of(&both).0.y - start;
    println!(
        "  wall force {force:.4} mN, port lifted by {lifted:.4} mm, cantilever {expected:.4} mm"
    );
    assert!(lifted > 0.2, "the wire has met the wall");
    report(
        "lift of the port against the cantilever",
        lifted / expected - 1.0,
        0.015,
    );
}

/// The half space above a wall that rises by `slope` rad towards +x and meets the plane `below` mm
/// under the axis at `from` mm.
struct Ramp {
    below: f64,
    from: f64,
    slope: f64,
}

impl Ramp {
    fn out(&self) -> Vector3<f64> {
        Vector3::new(self.slope.sin(), -self.slope.cos(), 0.0)
    }
}

impl Lumen for Ramp {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let distance_mm = self.distance(p);
        (distance_mm >= -margin_mm).then(|| WallPoint {
            distance_mm,
            gradient: self.out(),
            velocity: Vector3::zeros(),
            hessian: Matrix3::zeros(),
        })
    }
    fn distance(&self, p: &Vector3<f64>) -> f64 {
        (p - Vector3::new(self.from, -self.below, 0.0)).dot(&self.out())
    }
}

/// A wire that leaves straight ahead under the catheter and runs up a ramp in front of it is pressed
/// on the catheter's tip: `forward` mm of it, with that Coulomb coefficient.
fn up_a_ramp(lumen: &Ramp, forward: f64, friction: f64) -> Assembly<'_> {
    let port = SidePort {
        behind_tip_mm: 8.0,
        angle_rad: 0.0,
        plane_rad: std::f64::consts::PI,
    };
    let wire = list_wire(1e3, 0.36, friction);
    let settings = StepSettings {
        edge_mm: 0.1,
        ..at_rest()
    };
    let mut both = on_first_wire([2e4, 5e3], wire, port, lumen, settings);
    assert!(
        port_of(&both).0.y < -0.5,
        "the port lies under the catheter"
    );
    both.move_hands(Hands::feed(forward + 0.5)).expect("rest");
    both
}

const RAMP: Ramp = Ramp {
    below: 0.9,
    from: 31.0,
    slope: 0.1,
};

/// The wire is a beam that is held at the port, leans on the catheter's tip and carries the ramp's
/// force at its end; the catheter's front, 8 mm from the port to its tip, is a beam that is held at
/// the port and carries what the wire presses on its tip. They meet there when the play of 0.02 mm
/// between them is taken up: F a² (2a + 3b) / (6 B) - R a³ / (3 B) = R a³ / (3 C) + play, with
/// a = 8 mm, b from there to the wire's end, B the wire's stiffness and C that of catheter and first
/// wire.
/// Source: superposition of cantilevers (textbook), to first order.
#[test]
fn a_wire_presses_on_the_catheter_beside_it_as_a_beam_on_its_support() {
    let forward = 14.0;
    let both = up_a_ramp(&RAMP, forward, 0.0);
    let force = both.contact().total_force * RAMP.slope.cos();
    let (a, b) = (8.0_f64, forward - 8.0);
    let play = 3.0 * 1e3 * 0.02 / a.powi(3);
    let expected = (force * (2.0 * a + 3.0 * b) / (2.0 * a) - play) / (1.0 + 1e3 / 2.5e4);
    let pressed = both.force_beside();
    println!("  ramp {force:.4} mN, on the catheter {pressed:.4} of {expected:.4} mN");
    assert!(force > 0.5);
    report(
        "force on the catheter's tip",
        pressed / expected - 1.0,
        0.03,
    );
}

/// Fed on, the same wire slides on the ramp and on the catheter: its push is what holds it back along
/// the port's direction. The directions of the forces are read off the shape.
/// Source: Coulomb's law.
#[test]
fn friction_on_the_catheter_adds_to_the_push() {
    let friction = 0.2;
    let both = up_a_ramp(&RAMP, 14.0, friction);
    let (force, pressed) = (both.contact().total_force, both.force_beside());
    let axis = port_of(&both).1;
    let rises = |d: Vector3<f64>| d.y.atan2(d.x) - axis.y.atan2(axis.x);
    let at_tip = both.behind_tip(5.5) - both.behind_tip(6.5);
    let back = |normal: f64, rise: f64| normal * (rise.sin() + friction * rise.cos());
    let of_catheter = back(pressed, -rises(at_tip));
    let expected = back(force, RAMP.slope - axis.y.atan2(axis.x)) + of_catheter;
    let push = both.push_force();
    println!("  push {push:.4} of {expected:.4} mN, {of_catheter:.4} mN by the catheter");
    assert!(of_catheter > 0.4 * expected);
    report("push against friction on both", push / expected - 1.0, 0.03);
}

#[test]
fn a_catheter_turned_by_a_whole_turn_brings_its_wire_back_to_where_it_was() {
    let tree = Tree::build(&VesselSpec::single_tube(
        vec![bendwise::scenario::model::PieceSpec::Straight { length_mm: 80.0 }],
        12.0,
    ))
    .expect("a tube");
    let port = SidePort {
        behind_tip_mm: 6.0,
        angle_rad: 1.2,
        plane_rad: 0.3,
    };
    let mut both = on_first_wire([400.0, 50.0], bent_wire(0.0), port, &tree, at_rest());
    both.move_hands(Hands::feed(4.5)).expect("rest");
    let (tip, out) = (both.tip(), port_of(&both).1);
    both.move_hands(Hands {
        turn_catheter: 0.5 * TAU,
        ..Hands::default()
    })
    .expect("rest");
    let half_way = port_of(&both).1.angle(&out);
    report(
        "port on the other side, angle less 2 x 1.2 rad",
        half_way - 2.4,
        1e-3,
    );
    both.move_hands(Hands {
        turn_catheter: 0.5 * TAU,
        ..Hands::default()
    })
    .expect("rest");
    report("tip from where it was, mm", (both.tip() - tip).norm(), 2e-3);
    report("turn of the wire's tip, rad", both.tip_rad(), 2e-3);
}

/// The guide aimed 15 degrees aside and 2 mm deeper, and back again, takes everything with it and
/// brings it back, without friction.
#[test]
fn a_guide_aimed_aside_and_back_brings_all_devices_back() {
    let lumen = Above { below: 20.0 };
    let port = SidePort {
        behind_tip_mm: 6.0,
        angle_rad: 1.2,
        plane_rad: 0.3,
    };
    let mut both = on_first_wire([400.0, 50.0], bent_wire(0.0), port, &lumen, at_rest());
    both.move_hands(Hands::feed(6.0)).expect("rest");
    let (tip, guide) = (both.tip(), guide_tip());
    let aside = 15f64.to_radians();
    let axis = Vector3::new(aside.cos(), aside.sin(), 0.0);
    both.aim_guide(axis * 2.0, axis, 2.0).expect("rest");
    // Nothing touches: all lies as before about the guide's axis, its end where it was.
    let turned = nalgebra::Rotation3::new(Vector3::z() * aside) * tip;
    report(
        "tip with the guide, off by mm",
        (both.tip() - turned).norm(),
        0.02,
    );
    both.aim_guide(guide.exit, guide.axis, -2.0).expect("rest");
    report("tip from where it was, mm", (both.tip() - tip).norm(), 2e-3);
}

#[test]
fn a_folded_wire_lies_on_the_catheter_with_the_fold_ahead_and_the_tip_behind() {
    let tree = Tree::build(&VesselSpec::single_tube(
        vec![bendwise::scenario::model::PieceSpec::Straight { length_mm: 100.0 }],
        4.0,
    ))
    .expect("a tube");
    let mut spec = wire_spec(20.0, 0.36, 0.02);
    spec.tip.secondary = Some(BendSpec {
        from_tip_mm: 17.0,
        length_mm: 6.0,
        angle_rad: 150f64.to_radians(),
        plane_rad: 0.0,
    });
    let wire = Wire::from_spec(&spec).expect("a folded wire");
    let port = SidePort {
        behind_tip_mm: 6.0,
        angle_rad: 0.5,
        plane_rad: 0.0,
    };
    let mut both = on_first_wire([400.0, 50.0], wire, port, &tree, StepSettings::default());
    assert!(both.fold_out(20.0).expect("rest"));
    let furthest = |both: &Assembly<'_>| both.shape().iter().map(|x| x.x).fold(0.0, f64::max);
    let port_x = port_of(&both).0.x;
    println!(
        "  port at {port_x:.2} mm, fold at {:.2} mm, tip at {:.2} mm",
        furthest(&both),
        both.tip().x
    );
    assert!(furthest(&both) > port_x + 5.0 && both.tip().x < port_x);
    let shape = both.shape();
    let lies = both.wire_shape();
    let ahead = lies.beside.expect("a first wire").nodes_mm;
    let of_catheter = lies.diameter_mm.iter().filter(|d| **d > 0.5).count();
    let line: Vec<_> = shape[..of_catheter].iter().chain(&ahead).copied().collect();
    let beside = FlexibleTube::default();
    beside.lay(&line, &vec![1.0; of_catheter + 7]);
    let deepest = shape[of_catheter..]
        .iter()
        .map(|x| beside.distance(x) + 0.18)
        .fold(f64::NEG_INFINITY, f64::max);
    report("wire into the catheter, mm", deepest.max(0.0), 0.1);
    // Fed on together, the fold leads and the tip follows.
    let tip = both.tip().x;
    both.move_hands(Hands {
        feed_wire: 10.0,
        feed_catheter: 10.0,
        ..Hands::default()
    })
    .expect("rest");
    report(
        "tip follows the catheter, off by mm",
        both.tip().x - tip - 10.0,
        0.5,
    );
}

/// In trial 2 the roll points the first wire's bend to the easy branch on the way, into which it goes
/// at first.
#[test]
fn a_first_wire_is_brought_past_the_branching_whatever_lies_on_the_way() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/dual-lumen.toml");
    let prepared = Prepared::new(&load(&file).expect("shipped").scenario).expect("shipped");
    let all = strategies(prepared.scenario());
    let aimed = all.iter().find(|s| s.name.starts_with("out of the side"));
    let record = run_trial(&prepared, aimed.expect("shipped"), 2, true);
    let beside = record.shapes[0].beside.as_ref().expect("a first wire");
    let tip = beside.nodes_mm.last().expect("nodes");
    let (branch, seen) = prepared.tree().nearest_tube(tip, &mut Vec::new());
    assert_eq!(prepared.tree().branches()[branch].name, "parent");
    println!("  tip of the first wire at {:.1} mm", seen.station_mm);
    assert!(seen.station_mm > 45.0, "the branching is at 40 mm");
    assert!(beside.diameter_mm[0] > 2.0 * beside.diameter_mm.last().expect("nodes"));
}
