//! Torque response and track in tubes.

use bendwise::assay::path::{Path, TubeShape, enter, tube};
use bendwise::assay::straightening;
use bendwise::assay::torque::{self, TorqueResponse};
use bendwise::assay::track::{Way, track};
use bendwise::device::Wire;
use bendwise::scenario::bench::{PathSettings, StraighteningTest, TorqueTest};
use bendwise::scenario::model::*;
use bendwise::solve::{Load, StepSettings};
use std::f64::consts::{FRAC_PI_2, PI};

use crate::common::{guide_tip, list_wire, report, wire_spec};
use bendwise::evidence::scenes::BendTube;

fn settings() -> PathSettings {
    PathSettings {
        lumen_mm: 3.0,
        siphon_radius_mm: 7.0,
        bend_radius_mm: 10.0,
        loop_radius_mm: 10.0,
        wall_stiffness_mn_per_mm2: 300.0,
        step_mm: 0.5,
        edge_mm: 0.5,
    }
}

/// Length of the wire in the tube in mm and curvature of the tube in 1/mm.
const LENGTH: f64 = 20.0;
const TUBE_CURVATURE: f64 = 0.05;

/// Answer of a wire with a natural curvature such that `a = L sqrt(B k_i k_o / C)` in a tube of the
/// same plane that fits it closely, turned once and back.
fn precurved(a: f64) -> TorqueResponse {
    let lumen = BendTube {
        lead: 0.0,
        bend: 1.0 / TUBE_CURVATURE,
        angle: PI,
        radius: 0.5 * 0.36 + 0.0005,
    };
    let mut spec = wire_spec(50.0, 0.36, 0.0);
    let curvature = a * a * spec.torsion_ratio / (LENGTH * LENGTH * TUBE_CURVATURE);
    spec.tip.primary = Some(BendSpec {
        from_tip_mm: 0.0,
        length_mm: 30.0,
        // A bend falls off over the tenth of its length at its back, which stays in the guide.
        angle_rad: 0.95 * 30.0 * curvature,
        plane_rad: 0.0,
    });
    let wire = Wire::from_spec(&spec).expect("a curved wire");
    let steps = StepSettings {
        drag: 0.0,
        turn_rad: 2f64.to_radians(),
        edge_mm: 0.125,
        ..StepSettings::default()
    };
    let mut insertion = enter(&wire, &lumen, 1e5, guide_tip(), steps, 60.0).expect("rest");
    insertion
        .feed(LENGTH - insertion.outside_mm())
        .expect("equilibrium");
    let test = TorqueTest {
        turn_rad: 2.0 * PI,
        step_rad: 2f64.to_radians(),
    };
    torque::turn(&mut insertion, &test).expect("equilibrium")
}

#[test]
fn a_prebent_wire_whips_beyond_a_quarter_turn_of_the_pendulum() {
    // L sqrt(B k_i k_o / C) above pi/2 snaps (pendulum equation; Webster et al. 2009 and Dupont et
    // al. 2010, from memory). Below, the tip's whole curve has the slope 1/cos(a) at most.
    for (share, whips) in [(0.9, false), (1.1, true)] {
        let response = precurved(share * FRAC_PI_2);
        let [whip, width] = [response.whip_rad(), response.loop_width_rad()].map(f64::to_degrees);
        println!("CHECK | a = {share} pi/2: whip {whip:.2}, loop {width:.2} degrees");
        if whips {
            assert!(whip > 40.0 && width > 40.0, "a jump and a loop");
        } else {
            let steepest = 2.0 / (share * FRAC_PI_2).cos() - 2.0;
            assert!(whip < 1.1 * steepest && width < 2.0, "no jump and no loop");
        }
    }
}

#[test]
fn a_straight_wire_without_friction_follows_the_hand_everywhere() {
    let test = TorqueTest {
        turn_rad: 2.0 * PI,
        step_rad: 20f64.to_radians(),
    };
    for course in [TubeShape::Straight, TubeShape::Bend] {
        let path = Path::build(course, &settings()).expect("a tube");
        let wire = list_wire(50.0, 0.3556, 0.0);
        let turned = torque::respond(&wire, &path, &test, true).expect("equilibrium");
        let response = turned.response.expect("the wire does not lock");
        report(
            &format!("no friction, {}: lag in degrees", course.name()),
            response.lag_rad().to_degrees(),
            0.2,
        );
        report(
            &format!("no friction, {}: loop in degrees", course.name()),
            response.loop_width_rad().to_degrees(),
            0.2,
        );
    }
}

#[test]
fn the_hand_feels_the_wires_radius_times_friction_times_all_normal_forces_both_ways() {
    // Coulomb friction against spinning: T = mu r sum(N). Before it slides, the wire rolls up the
    // side of the lumen until the wall's slope is the angle of friction, atan(mu): by the rolling
    // condition the hand turns by a = atan(mu) (R - r)/r on that way, R the lumen's radius. The
    // torque rises linearly over a, and falls from T to -T over 2 a when the hand turns back, so
    // the loop's area is 2 T (turn) less 2.5 T a.
    // Refining turning step, feed, mesh and wall leaves the difference from the rectangle alone;
    // it goes as clearance, friction and one over the turn do. What is left is the wire's wind-up
    // (0.5 % in the tightest tube) and, in a wide one, the ends of the bend, where the straight
    // parts of the wire keep it from rolling so far.
    const LIMIT: f64 = 1.0;
    let turn_rad = 4.0 * PI;
    for (lumen_mm, friction) in [(0.6, 0.1), (1.0, 0.1), (2.0, 0.1), (3.0, 0.1), (3.0, 0.02)] {
        let path = Path::build(
            TubeShape::Bend,
            &PathSettings {
                lumen_mm,
                ..settings()
            },
        )
        .expect("a tube");
        let wire = list_wire(500.0, 0.3556, friction);
        let test = TorqueTest {
            turn_rad,
            step_rad: 10f64.to_radians(),
        };
        let turned = torque::respond(&wire, &path, &test, false).expect("equilibrium");
        let mut insertion = turned.insertion;
        let response = torque::turn(&mut insertion, &test).expect("equilibrium");
        let normal = insertion.contact().total_force;
        let [there, back] =
            [&response.there, &response.back].map(|way| way.last().expect("a reading").torque);
        let name = format!("lumen {lumen_mm} mm, friction {friction}");
        // Sliding along the tube takes a part of the friction as long as the wire still creeps.
        report(
            &format!("{name}: torque at the end of the way back off mu r sum N, %"),
            100.0 * (-back / (friction * wire.radius_mm() * normal) - 1.0),
            2.0,
        );
        report(
            &format!("{name}: torque there off torque back, %"),
            100.0 * (-there / back - 1.0),
            1.0,
        );
        let rolled = friction.atan() * (0.5 * lumen_mm - wire.radius_mm()) / wire.radius_mm();
        let area = (there - back) * turn_rad;
        println!(
            "  {name}: loop's area {:.2} % off the rectangle, {:.2} % by rolling",
            100.0 * (response.lost_energy() / area - 1.0),
            -125.0 * rolled / turn_rad
        );
        report(
            &format!("{name}: loop's area off the rectangle less rolling, % of the rectangle"),
            100.0 * (response.lost_energy() / area - 1.0 + 1.25 * rolled / turn_rad),
            LIMIT,
        );
        assert!(response.lag_rad() > 0.0 && response.loop_width_rad() > response.lag_rad());
    }
}

#[test]
fn a_snap_does_not_carry_the_tip_a_turn_further() {
    // The stiff wire of the side-branch scenario snaps over in the tortuous path. A step that began
    // by going on with the snap used to leave its tip most of a turn behind the hand.
    let file = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
    let wires = bendwise::scenario::load(&file).expect("a shipped scenario");
    // Elastic: a core that yields in the siphon lags by more, and not because of the snap.
    let spec = WireSpec {
        core_law: CoreLawSpec::Elastic,
        ..wires.scenario.wires[2].clone()
    };
    let wire = Wire::from_spec(&spec).expect("a wire");
    let path = Path::build(TubeShape::Tortuous, &settings()).expect("a tube");
    let test = TorqueTest {
        turn_rad: 6.0 * PI,
        step_rad: 10f64.to_radians(),
    };
    let turned = torque::respond(&wire, &path, &test, true).expect("equilibrium");
    let response = turned.response.expect("the wire does not lock");
    let end = response.back.last().expect("a reading").tip_rad;
    println!(
        "CHECK | snap: whip {:.1}, loop {:.1}, tip at the end {:.1} degrees",
        response.whip_rad().to_degrees(),
        response.loop_width_rad().to_degrees(),
        end.to_degrees()
    );
    assert!(response.whip_rad() > FRAC_PI_2, "it snaps");
    assert!(response.loop_width_rad() < PI && end.abs() < 0.2);
}

/// Bending stiffness in mN mm² of a wire that counts as limp.
const LIMP: f64 = 2.0;

/// Pull in mN at the hand while a wire of small stiffness, on whose tip a weight hangs along the
/// tube's end, is drawn out of a bend of half a turn.
fn pull_under_weight(friction: f64, weight: f64) -> f64 {
    let radius = 10.0;
    let tree = tube(
        "capstan",
        vec![
            PieceSpec::Straight { length_mm: 10.0 },
            PieceSpec::Arc {
                radius_mm: radius,
                angle_rad: PI,
                plane_rad: 0.0,
            },
            PieceSpec::Straight { length_mm: 30.0 },
        ],
        1.0,
    )
    .expect("a tube");
    // Pushed in and stretched without friction, which a limp wire would not overcome, and pulled
    // out with it.
    let wire = list_wire(LIMP, 0.3556, 0.0);
    let steps = StepSettings {
        feed_mm: 0.1,
        edge_mm: 0.25,
        ..StepSettings::default()
    };
    let mut insertion = enter(&wire, &tree, 1e3, guide_tip(), steps, 70.0).expect("rest");
    insertion
        .feed(62.0 - insertion.outside_mm())
        .expect("equilibrium");
    // The tube's end runs along -x; the weight pulls the tip that way.
    for share in 1..=20 {
        insertion.wire_body_mut().expect("a wire alone").loads = vec![Load {
            unknown: 0,
            force: -weight * f64::from(share) / 20.0,
        }];
        insertion.feed(-0.02).expect("equilibrium");
    }
    let body = insertion.wire_body_mut().expect("a wire alone");
    if let Some(contact) = &mut body.contact {
        contact.surface.friction = friction;
    }
    insertion.feed(-6.0).expect("equilibrium");
    -insertion.push_force()
}

#[test]
fn a_limp_wire_pulled_out_of_a_bend_obeys_the_capstan_law() {
    // Euler and Eytelwein: pull over weight = exp(mu phi), phi = pi here.
    for friction in [0.02, 0.1, 0.2] {
        // B / (T rho²) = 2 / (5 * 100): the law's correction for stiffness is below 0.4 %.
        let weight = 5.0;
        let pull = pull_under_weight(friction, weight);
        report(
            &format!("capstan, friction {friction}: pull over weight off exp(mu pi), %"),
            100.0 * (pull / weight / (friction * PI).exp() - 1.0),
            1.0,
        );
    }
}

#[test]
fn a_soft_wire_with_much_friction_locks_and_a_slippery_one_goes_through() {
    let coarse = PathSettings {
        step_mm: 1.0,
        edge_mm: 1.0,
        ..settings()
    };
    let path = Path::build(TubeShape::Tortuous, &coarse).expect("a tube");
    let slippery = track(&list_wire(30.0, 0.3556, 0.03), &path).expect("equilibrium");
    assert_eq!(slippery.way, Way::Through);
    let rough = track(&list_wire(30.0, 0.3556, 0.6), &path).expect("equilibrium");
    println!("  friction 0.6: {:?}", rough.way);
    assert_ne!(rough.way, Way::Through);
    assert!(rough.pushed.len() < slippery.pushed.len());
}

/// What a wire of that bending stiffness has done to the bend at the end; tissue, wall and its dents are
/// `times` as stiff as the shipped ones.
fn straightened(bending: f64, times: f64) -> straightening::Row {
    let shipped = StraighteningTest::default();
    let test = StraighteningTest {
        tissue_stiffness_mn_per_mm2: times * shipped.tissue_stiffness_mn_per_mm2,
        wall_modulus_mpa: times * shipped.wall_modulus_mpa,
        wall_stiffness_mn_per_mm2: times * shipped.wall_stiffness_mn_per_mm2,
        fed_mm: 80.0,
        ..shipped
    };
    let wire = list_wire(bending, 0.3556, 0.03);
    let rows = straightening::straighten(&wire, &test).expect("equilibrium");
    *rows.last().expect("the wire is past the apex")
}

#[test]
fn straightening_keeps_its_shape_and_doubles_its_force_where_all_is_twice_as_stiff() {
    let (once, twice) = (straightened(2000.0, 1.0), straightened(4000.0, 2.0));
    println!("  {once:?}, {twice:?}");
    let off = |a: f64, b: f64| 100.0 * (a / b - 1.0);
    // The drag of blood, which does not double, and the tolerance of the equilibria.
    for (what, off) in [
        ("force", off(twice.force_mn, 2.0 * once.force_mn)),
        ("movement", off(twice.moved_mm, once.moved_mm)),
        (
            "turning lost",
            off(twice.straightened_rad, once.straightened_rad),
        ),
    ] {
        report(
            &format!("straightening, all twice as stiff: {what} off, %"),
            off,
            0.5,
        );
    }
}

/// The bend's force is that of a wire bent to its shape as long as that hardly changes, and then the bend
/// moves in proportion to it; a vessel that cannot move has no movement, though its wall dents.
#[test]
fn a_stiffer_wire_moves_the_bend_further_and_a_stiff_tissue_less() {
    let (soft, stiff) = (straightened(100.0, 1.0), straightened(1000.0, 1.0));
    let held = straightened(1000.0, 500.0);
    println!("  {soft:?}, {stiff:?}, in stiffer tissue {held:?}");
    for (what, ratio) in [
        ("force", stiff.force_mn / soft.force_mn),
        ("movement", stiff.moved_mm / soft.moved_mm),
    ] {
        report(
            &format!("straightening: {what} over stiffness off, %"),
            100.0 * (ratio / 10.0 - 1.0),
            15.0,
        );
    }
    assert!(held.moved_mm < 0.01 * stiff.moved_mm && held.force_mn > stiff.force_mn);
    assert!(stiff.straightened_rad > 5.0 * soft.straightened_rad);
}

#[test]
fn a_path_that_cannot_be_built_is_refused() {
    let refused = |settings: PathSettings| match Path::build(TubeShape::Tortuous, &settings) {
        Ok(_) => String::new(),
        Err(fault) => fault.to_string(),
    };
    let tight = refused(PathSettings {
        lumen_mm: 15.0,
        ..settings()
    });
    println!("  {tight}");
    assert!(
        tight.contains("tortuous path") && tight.contains("7"),
        "{tight}"
    );
}
