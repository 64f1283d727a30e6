//! A wire with friction fed through a quarter bend: how hard the solver works, and what it holds.

#![allow(clippy::print_stdout, reason = "the table of checks")]

mod common;

use bendwise::solve::{Channel, Insertion, Start, StepSettings};
use common::list_wire;
use common::lumens::BendTube;
use nalgebra::Vector3;

fn start<'a>(lumen: &'a BendTube, friction: f64, wall: f64) -> Insertion<'a> {
    let settings = StepSettings {
        edge_mm: 0.25,
        drag: 0.0,
        feed_mm: 0.25,
        tolerance: 1e-5,
        ..StepSettings::default()
    };
    let channel = Channel {
        exit: Vector3::zeros(),
        axis: Vector3::x(),
        backup: None,
    };
    let start = Start {
        outside_mm: 5.0,
        longest_mm: 60.0,
        roll_rad: 0.0,
    };
    let wire = list_wire(50.0, 0.36, friction);
    Insertion::new(&wire, lumen, wall, channel, settings, start).expect("straight")
}

#[test]
fn effort() {
    let tube = BendTube {
        lead: 5.0,
        bend: 10.0,
        angle: 90f64.to_radians(),
        radius: 1.5,
    };
    for wall in [300.0, 3e4] {
        for friction in [0.0, 0.05, 0.1, 0.3, 0.6, 1.0] {
            let t = std::time::Instant::now();
            let mut wire = start(&tube, friction, wall);
            let mut end = 0.0;
            let mut ratio: f64 = 0.0;
            let mut peak: f64 = 0.0;
            for _ in 0..160 {
                if let Err(e) = wire.feed(0.25) {
                    println!("{e}");
                    break;
                }
                end = wire.outside_mm();
                peak = peak.max(wire.push_force());
                ratio = ratio.max(wire.friction_ratio());
            }
            let l = wire.ledger();
            println!(
                "wall {wall} mu {friction}: end {end} steps {} its {:.2} halved {} released {} ratio {ratio:.4} peak/B {:.7} {:?}",
                l.steps,
                f64::from(l.iterations) / f64::from(l.steps),
                l.halved,
                l.released,
                peak / 50.0,
                t.elapsed()
            );
        }
    }
}
