//! A wire pushed through a meshed tube against the same wire in the tube's closed form: the push
//! force and the wall force agree, and nothing catches on facets.
#![allow(
    clippy::cast_possible_truncation,
    reason = "meshes and counts of tests are small"
)]
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "where a helper fails the test has failed; measured values are printed"
)]

use crate::anatomy_common::{bent_line, bent_tube, with_surface};
use crate::common::{bent_wire, guide_tip};
use bendwise::contact::WalledLumen;
use bendwise::evidence::scenes::BendTube;
use bendwise::solve::{Assembly, Start, StepSettings};
use bendwise::vessel::{Lumen, SurfaceLumen};
use nalgebra::Vector3;

const LEAD: f64 = 12.0;
const BEND: f64 = 12.0;
const ANGLE: f64 = 1.6;
const RADIUS: f64 = 1.25;
/// Fed length in mm.
const FED: f64 = 36.0;
const STEP: f64 = 0.2;

/// Push force and total wall force after every step, in mN, and the wall normals at the tip.
fn pushed(lumen: &dyn Lumen) -> Vec<(f64, f64)> {
    let wire = bent_wire(0.1);
    let start = Start {
        outside_mm: 3.0,
        longest_mm: FED + 6.0,
        roll_rad: 0.7,
    };
    let settings = StepSettings {
        feed_mm: STEP,
        ..StepSettings::default()
    };
    let mut insertion = Assembly::straight(
        &wire,
        WalledLumen::new(lumen, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .unwrap();
    let mut out = Vec::new();
    let mut fed = 0.0;
    while fed < FED {
        insertion.feed(STEP).unwrap();
        fed += STEP;
        out.push((insertion.push_force(), insertion.contact().total_force));
    }
    out
}

/// The mesh begins one lead before the origin, where the guide ends.
fn meshed(around: usize) -> SurfaceLumen {
    let length = 2.0 * (LEAD + 6.0) + BEND * ANGLE;
    let rings = (length / (2.0 * std::f64::consts::PI * RADIUS / around as f64)).ceil() as usize;
    let mut mesh = bent_tube(LEAD + 6.0, BEND, ANGLE, RADIUS, rings, around);
    for p in &mut mesh.points {
        p.x -= 6.0;
    }
    let points: Vec<Vector3<f64>> = (0..=60)
        .map(|i| {
            let s = 1.0 + (length - 2.0) * f64::from(i) / 60.0;
            bent_line(LEAD + 6.0, BEND, ANGLE, s).0 - Vector3::x() * 6.0
        })
        .collect();
    SurfaceLumen::new(&mesh, &with_surface(points, RADIUS, mesh.clone())).unwrap()
}

#[test]
fn push_and_wall_force_in_a_meshed_bend_are_those_of_the_exact_one() {
    let exact = pushed(&BendTube {
        lead: LEAD,
        bend: BEND,
        angle: ANGLE,
        radius: RADIUS,
    });
    let peak =
        |of: fn(&(f64, f64)) -> f64, all: &[(f64, f64)]| all.iter().map(of).fold(0.0, f64::max);
    for around in [24, 48] {
        let found = pushed(&meshed(around));
        for (what, of) in [
            ("push force", (|s| s.0) as fn(&(f64, f64)) -> f64),
            ("wall force", |s| s.1),
        ] {
            let top = peak(of, &exact);
            let off: f64 = exact
                .iter()
                .zip(&found)
                .map(|(a, b)| (of(a) - of(b)).powi(2))
                .sum::<f64>()
                / exact.len() as f64;
            let (off, peak_off) = (off.sqrt() / top, peak(of, &found) / top - 1.0);
            println!(
                "{around} corners, {what}: off {:.2} % of the peak {top:.3} mN over the push, \
                 peak {:+.2} %",
                100.0 * off,
                100.0 * peak_off
            );
            assert!(off < 0.03 && peak_off.abs() < 0.03, "{around}, {what}");
        }
    }
}
