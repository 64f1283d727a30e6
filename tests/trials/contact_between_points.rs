//! No equilibrium lies outside the lumen by more than the deflection that it reports, anywhere along
//! the wire, and a ridge is felt as by a wire that is looked at everywhere.
//!
//! All shipped scenarios, every strategy:
//! `cargo test --release --test trials contact_between_points -- --ignored --nocapture`.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::path::{Path, PathBuf};

use bendwise::contact::{WallSpec, WalledLumen};
use bendwise::scenario::load;
use bendwise::scenario::model::{PathSpec, Scenario, StiffnessSpec};
use bendwise::solve::{Assembly, Start, StepSettings, WireShape};
use bendwise::trial::result::Outcome;
use bendwise::trial::{Prepared, run_trial, strategies};
use bendwise::vessel::Lumen;
use nalgebra::Vector3;
use proptest::prelude::*;
use rayon::prelude::*;

/// Spacing in mm at which the slow twin looks along a wire.
const TWIN_MM: f64 = 1.0 / 200.0;
/// What the twin may find deeper than is reported, in mm: the distance in a lumen is known by
/// its second derivatives between two points, and what is left is of third order in their distance.
const THIRD_ORDER_MM: f64 = 5e-4;

/// The shipped scenarios; a file of wires alone is none.
fn shipped() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let entries = std::fs::read_dir(folder).expect("the shipped scenarios");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut paths: Vec<_> = paths
        .filter(|p| p.extension().is_some_and(|e| e == "toml") && !p.ends_with("wires.toml"))
        .collect();
    paths.sort();
    paths
}

/// Depth in mm of the deepest place of a wire in a wall, looked at everywhere.
fn deepest(shape: &WireShape, distance: &dyn Fn(&Vector3<f64>) -> f64) -> f64 {
    let own = (1..shape.nodes_mm.len()).map(|i| {
        let (from, to) = (shape.nodes_mm[i - 1], shape.nodes_mm[i]);
        let radius = 0.5 * shape.diameter_mm[i - 1].min(shape.diameter_mm[i]);
        let count = ((to - from).norm() / TWIN_MM).ceil();
        let places = std::iter::successors(Some(0.0), |k| Some(k + 1.0));
        let places = places.take_while(|k| *k <= count);
        let depths = places.map(|k| distance(&from.lerp(&to, k / count)) + radius);
        depths.fold(f64::NEG_INFINITY, f64::max)
    });
    let beside = shape.beside.as_deref().map(|b| deepest(b, distance));
    own.chain(beside).fold(f64::NEG_INFINITY, f64::max)
}

/// How much deeper in mm the deepest place of any recorded shape of a trial lies than the trial
/// reports, and how many shapes there were.
fn deeper_than_reported(prepared: &Prepared, strategy: usize, trial: u32) -> (f64, usize) {
    let scenario = prepared.scenario();
    let strategy = &strategies(scenario)[strategy];
    let record = run_trial(prepared, strategy, trial, true);
    let factor = record.row.diameter_factor;
    let tree = prepared.tree().with_diameter_factor(factor);
    let surface = prepared.surface().map(|s| s.with_diameter_factor(factor));
    let lumen: &dyn Lumen = match &surface {
        Some(surface) => surface,
        None => &tree,
    };
    let guide = prepared.with_guide(lumen);
    let distance = |p: &Vector3<f64>| lumen.distance(p).min(guide.distance(p));
    let depths = record.shapes.iter().map(|shape| deepest(shape, &distance));
    let deepest = depths.fold(f64::NEG_INFINITY, f64::max);
    let more = deepest - record.row.peak_wall_deflection_mm;
    println!(
        "CHECK | {}, {}, trial {trial}: {:?}, {} shapes, deepest {deepest:.4} mm, reported {:.4} mm",
        scenario.name,
        strategy.name,
        record.row.outcome,
        record.shapes.len(),
        record.row.peak_wall_deflection_mm
    );
    (more, record.shapes.len())
}

fn check(path: &Path, pick: impl Fn(usize) -> bool, trials: u32) {
    let mut scenario = load(path).expect("a shipped scenario").scenario;
    scenario.study.record_every_mm = 0.5;
    // The twin looks at the wall where it lies at rest.
    scenario.bed = None;
    scenario.motion = None;
    let prepared = Prepared::new(&scenario).expect("a shipped scenario");
    let wanted: Vec<(usize, u32)> = (0..strategies(&scenario).len())
        .filter(|s| pick(*s))
        .flat_map(|s| (0..trials).map(move |t| (s, t)))
        .collect();
    wanted.par_iter().for_each(|&(strategy, trial)| {
        let (more, shapes) = deeper_than_reported(&prepared, strategy, trial);
        assert!(shapes > 0, "{}: nothing recorded", path.display());
        assert!(
            more <= THIRD_ORDER_MM,
            "{}, strategy {strategy}, trial {trial}: {more} mm deeper than reported",
            path.display()
        );
    });
}

#[test]
fn no_recorded_shape_lies_deeper_in_the_wall_than_its_trial_reports() {
    for path in shipped() {
        check(&path, |strategy| strategy == 0, 1);
    }
}

#[test]
#[ignore = "every strategy of every shipped scenario takes minutes"]
fn no_recorded_shape_of_any_shipped_strategy_lies_deeper_than_reported() {
    for path in shipped() {
        check(&path, |_| true, 4);
    }
}

fn side_branch() -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
    load(&path).expect("a shipped scenario").scenario
}

fn turn_branch(scenario: &mut Scenario, degrees: f64) {
    for branch in &mut scenario.vessel.branches {
        if let (Some(_), PathSpec::Pieces { take_off_rad, .. }) =
            (&branch.attached, &mut branch.path)
        {
            *take_off_rad = degrees.to_radians();
        }
    }
}

/// A sharp carina used to slip between two contact points, and the wire lay outside of both lumens.
#[test]
fn a_wire_on_a_sharp_carina_stays_in_the_lumen() {
    let mut scenario = side_branch();
    turn_branch(&mut scenario, 160.0);
    scenario.vessel.carina_blend_mm = 0.0;
    scenario.study.record_every_mm = 0.25;
    let prepared = Prepared::new(&scenario).expect("a branch backwards");
    let all = strategies(&scenario);
    let wanted: Vec<(usize, u32)> = (0..all.len())
        .flat_map(|s| (0..4).map(move |t| (s, t)))
        .collect();
    wanted.par_iter().for_each(|&(strategy, trial)| {
        let (more, _) = deeper_than_reported(&prepared, strategy, trial);
        assert!(
            more <= THIRD_ORDER_MM,
            "{}, trial {trial}: {more} mm",
            all[strategy].name
        );
    });
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 24,
        rng_seed: prop::test_runner::RngSeed::Fixed(15),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    /// Random branches, carinas, walls, wires and draws.
    #[test]
    fn a_wire_in_a_random_scene_stays_in_the_lumen(
        degrees in 30.0..165.0,
        blend in prop_oneof![Just(0.0), 0.0..0.8],
        stiffness in 100.0..3000.0,
        factor in 0.3..20.0,
        trial in 0u32..1000,
        strategy in 0usize..6,
    ) {
        let mut scenario = side_branch();
        turn_branch(&mut scenario, degrees);
        scenario.vessel.carina_blend_mm = blend;
        scenario.vessel.wall = WallSpec::from(stiffness);
        scenario.study.record_every_mm = 0.25;
        for wire in &mut scenario.wires {
            if let StiffnessSpec::TipLoad { tip_load_mn, .. } = &mut wire.stiffness {
                *tip_load_mn *= factor;
            }
        }
        let prepared = Prepared::new(&scenario).expect("a side branch");
        let (more, _) = deeper_than_reported(&prepared, strategy, trial);
        prop_assert!(more <= THIRD_ORDER_MM, "{} mm deeper than reported", more);
    }
}

/// Spacing of the contact points in mm of a wire that is looked at everywhere.
const LOOKED_AT_MM: f64 = 1.0 / 256.0;

/// Push force in mN at every step of a wire pushed over the carina into the side branch at a right
/// angle, from 32 to 38 mm of wire outside; `spacing_mm` is the largest of the contact points.
fn over_the_carina(roll_rad: f64, spacing_mm: f64) -> Vec<f64> {
    let prepared = Prepared::new(&side_branch()).expect("a shipped scenario");
    let settings = StepSettings {
        spacing_mm,
        ..prepared.step_settings()
    };
    let start = Start {
        outside_mm: 3.0,
        longest_mm: 45.0,
        roll_rad,
    };
    let (wire, tree) = (&prepared.wires()[1], prepared.tree());
    let mut insertion = Assembly::straight(
        wire,
        WalledLumen::new(tree, 300.0),
        prepared.guide_tip(),
        settings,
        start,
    )
    .expect("equilibrium at the guide");
    insertion.feed(29.0).expect("equilibrium on the way");
    let step = |_| {
        insertion.feed(0.1).expect("equilibrium at the carina");
        insertion.push_force()
    };
    (0..60).map(step).collect()
}

/// With contact points a fixed 0.25 mm apart the push force was a sawtooth: 1.53, 0.98, 1.65 mN
/// within 0.6 mm.
#[test]
fn the_push_force_at_a_carina_is_that_of_a_wire_looked_at_everywhere() {
    /// In % of the peak: by how much the peak may be off, all steps in the mean (root mean square), and
    /// any one of them. It was 19, 8 and 25 with points 0.25 mm apart.
    const PEAK: f64 = 1.0;
    const MEAN: f64 = 1.0;
    const STEP: f64 = 2.0;
    let mut felt = 0;
    let rolls = [0.0, 0.7, -0.7, 1.4];
    let curves: Vec<_> = rolls
        .into_par_iter()
        .map(|roll_rad| [0.25, LOOKED_AT_MM].map(|spacing| over_the_carina(roll_rad, spacing)))
        .collect();
    for (roll_rad, [shipped, twin]) in rolls.into_iter().zip(curves) {
        let peak = |curve: &[f64]| curve.iter().copied().fold(0.0, f64::max);
        let apart: Vec<f64> = shipped
            .iter()
            .zip(&twin)
            .map(|(a, b)| 100.0 * (a - b) / peak(&twin))
            .collect();
        let step = apart.iter().fold(0.0, |most: f64, a| most.max(a.abs()));
        let squares: f64 = apart.iter().map(|a| a * a).sum();
        let mean = (squares / apart.len() as f64).sqrt();
        let off = 100.0 * (peak(&shipped) / peak(&twin) - 1.0);
        println!(
            "CHECK | roll {roll_rad}: peak {:.4} mN, looked at everywhere {:.4} mN, off {off:.2} %, mean {mean:.2} %, any step {step:.2} %",
            peak(&shipped),
            peak(&twin)
        );
        if peak(&twin) > 0.3 {
            felt += 1;
            assert!(off.abs() <= PEAK && mean <= MEAN && step <= STEP);
        }
    }
    assert!(felt > 0, "no wire was pushed over the carina");
}

/// Trials end the same, and none is left without an equilibrium, at a carina without any blend.
#[test]
fn a_sharp_carina_leaves_no_trial_unresolved() {
    let mut scenario = side_branch();
    scenario.vessel.carina_blend_mm = 0.0;
    let prepared = Prepared::new(&scenario).expect("a side branch");
    for strategy in strategies(&scenario) {
        let unresolved = (0..8u32)
            .into_par_iter()
            .filter(|trial| {
                let row = run_trial(&prepared, &strategy, *trial, false).row;
                row.outcome == Outcome::Unresolved
            })
            .count();
        println!("CHECK | {}: {unresolved} of 8 unresolved", strategy.name);
        assert_eq!(unresolved, 0, "{}", strategy.name);
    }
}
