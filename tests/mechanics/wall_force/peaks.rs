//! Peaks of a trial against its trace, and signs against what the hands do.

use std::path::Path;

use bendwise::contact::WalledLumen;
use bendwise::scenario::load;
use bendwise::solve::{Assembly, Hands, PairStart, Start, StepSettings};
use bendwise::trial::result::{TraceRow, TrialRecord, TrialRow};
use bendwise::trial::{Prepared, run_trial, strategies};
use bendwise::vessel::Tree;
use rayon::prelude::*;

use crate::common::{bent_wire, catheter, guide_tip, s_bend};

/// What a row says, and which value of a recorded step it is the largest of.
type Peak = (&'static str, fn(&TrialRow) -> f64, fn(&TraceRow) -> f64);

const PEAKS: [Peak; 24] = [
    (
        "leaving",
        |r| r.peak_wall_force_leaving_guide_mn,
        |t| t.wall_force_leaving_guide_mN,
    ),
    (
        "way",
        |r| r.peak_wall_force_on_the_way_mn,
        |t| t.wall_force_on_the_way_mN,
    ),
    (
        "mouth",
        |r| r.peak_wall_force_at_mouth_mn,
        |t| t.wall_force_at_mouth_mN,
    ),
    (
        "beyond",
        |r| r.peak_wall_force_beyond_mn,
        |t| t.wall_force_beyond_mN,
    ),
    (
        "any place",
        |r| r.peak_wall_force_mn.max(r.peak_wall_force_leaving_guide_mn),
        |t| t.wall_force_max_mN,
    ),
    ("tip", |r| r.peak_tip_force_mn, |t| t.tip_force_mN.abs()),
    (
        "tip backward",
        |r| r.peak_tip_force_backward_mn,
        |t| t.tip_force_mN,
    ),
    (
        "tip forward",
        |r| r.peak_tip_force_forward_mn,
        |t| -t.tip_force_mN,
    ),
    ("push", |r| r.peak_push_force_mn, |t| t.push_force_mN),
    ("pull", |r| r.peak_pull_force_mn, |t| -t.push_force_mN),
    (
        "push or pull",
        |r| r.peak_push_or_pull_mn,
        |t| t.push_force_mN.abs(),
    ),
    ("torque", |r| r.peak_torque_mn_mm, |t| t.torque_mN_mm.abs()),
    (
        "torque forward",
        |r| r.peak_torque_forward_mn_mm,
        |t| t.torque_mN_mm,
    ),
    (
        "torque backward",
        |r| r.peak_torque_backward_mn_mm,
        |t| -t.torque_mN_mm,
    ),
    (
        "deflection",
        |r| r.peak_wall_deflection_mm,
        |t| t.wall_deflection_max_mm,
    ),
    ("strain", |r| r.peak_strain_ratio, |t| t.strain_ratio),
    ("axial strain", |r| r.peak_axial_strain, |t| t.axial_strain),
    (
        "catheter on wall",
        |r| r.peak_catheter_wall_force_mn,
        |t| t.catheter_wall_force_max_mN,
    ),
    (
        "catheter push",
        |r| r.peak_catheter_push_force_mn,
        |t| t.catheter_push_force_mN,
    ),
    (
        "catheter pull",
        |r| r.peak_catheter_pull_force_mn,
        |t| -t.catheter_push_force_mN,
    ),
    (
        "catheter push or pull",
        |r| r.peak_catheter_push_or_pull_mn,
        |t| t.catheter_push_force_mN.abs(),
    ),
    (
        "catheter torque",
        |r| r.peak_catheter_torque_mn_mm,
        |t| t.catheter_torque_mN_mm.abs(),
    ),
    (
        "catheter torque forward",
        |r| r.peak_catheter_torque_forward_mn_mm,
        |t| t.catheter_torque_mN_mm,
    ),
    (
        "catheter torque backward",
        |r| r.peak_catheter_torque_backward_mn_mm,
        |t| -t.catheter_torque_mN_mm,
    ),
];

/// Trial 0 of the first wire with every technique of a shipped scenario (of the named ones, if any
/// are), recorded and not.
fn first_trials(file: &str, techniques: &[&str]) -> Vec<(String, TrialRecord, TrialRow)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(file);
    let mut scenario = load(&path).unwrap().scenario;
    scenario.wires.truncate(1);
    scenario
        .techniques
        .retain(|t| techniques.is_empty() || techniques.contains(&t.name.as_str()));
    let prepared = Prepared::new(&scenario).unwrap();
    let all = strategies(&scenario);
    all.par_iter()
        .map(|strategy| {
            let record = run_trial(&prepared, strategy, 0, true);
            let row = run_trial(&prepared, strategy, 0, false).row;
            (format!("{file}, {}", strategy.name), record, row)
        })
        .collect()
}

#[test]
fn every_peak_of_a_row_stands_in_its_trace_and_the_trace_has_none_above_it() {
    let mut pulled = 0;
    let mut pushed_catheter = 0;
    let mut all = first_trials("side-branch.toml", &[]);
    all.extend(first_trials("published-tree-m1.toml", &["redirect"]));
    all.extend(first_trials("backward-branch.toml", &[]));
    all.extend(first_trials("support-catheters.toml", &[]));
    for (what, record, unrecorded) in &all {
        assert_eq!(&record.row, unrecorded, "{what}: recording changes the row");
        assert_eq!(record.trace.len(), record.shapes.len());
        assert_eq!(record.trace.len(), record.hands.len());
        for (name, of_row, of_step) in PEAKS {
            let largest = record.trace.iter().map(of_step).fold(0.0, f64::max);
            let told = of_row(&record.row);
            assert_eq!(told.to_bits(), largest.to_bits(), "{what}, {name}");
        }
        // What a catheter presses with while it is turned stands at a step at which it has been.
        let turning = record.row.peak_turning_wall_force_mn;
        let has_it = record.trace.iter().zip(&record.hands).any(|(step, hands)| {
            step.catheter_wall_force_max_mN.to_bits() == turning.to_bits()
                && hands.catheter_turned_deg > 0.0
        });
        assert!(turning <= 0.0 || has_it, "{what}");
        // Steps stand in the order in which they were made.
        let sums = record
            .hands
            .iter()
            .map(|h| h.fed_sum_mm + h.withdrawn_mm + h.turned_deg);
        assert!(sums.is_sorted(), "{what}");
        pulled += usize::from(record.row.peak_pull_force_mn > 0.0);
        pushed_catheter += usize::from(record.row.peak_catheter_push_force_mn > 0.0);
    }
    assert!(
        pulled > 2 && pushed_catheter > 1,
        "{pulled}, {pushed_catheter}"
    );
}

#[test]
fn no_more_steps_are_kept_than_those_of_the_travel_and_one_a_peak() {
    for (what, record, _) in first_trials("side-branch.toml", &["redirect"]) {
        // A step every mm of travel, of which turning makes some more.
        let last = record.hands.last().unwrap();
        let turns = last.turned_deg / 0.175_f64.to_degrees() + f64::from(last.attempt);
        let most = last.fed_sum_mm + last.withdrawn_mm + 0.2 * turns + 2.0 + PEAKS.len() as f64;
        assert!(
            (record.trace.len() as f64) < most,
            "{what}: {}",
            record.trace.len()
        );
    }
}

/// Friction resists: fed, a wire is pushed and its tip pushed back; drawn back, it is pulled, and
/// its tip is pushed back less, if at all.
#[test]
fn push_is_positive_when_the_wire_is_fed_and_negative_when_it_is_drawn_back() {
    let tree = Tree::build(&s_bend()).unwrap();
    let start = Start {
        outside_mm: 2.0,
        longest_mm: 50.0,
        roll_rad: 0.0,
    };
    let settings = StepSettings::default();
    let mut wire = Assembly::straight(
        &bent_wire(0.3),
        WalledLumen::new(&tree, 300.0),
        guide_tip(),
        settings,
        start,
    )
    .unwrap();
    wire.feed(25.0).unwrap();
    let fed = (wire.push_force(), wire.contact().tip_force);
    wire.feed(-3.0).unwrap();
    let drawn = (wire.push_force(), wire.contact().tip_force);
    wire.turn(0.5).unwrap();
    let forward = wire.torque();
    wire.turn(-3.0).unwrap();
    let backward = wire.torque();
    println!("CHECK | fed {fed:?}, drawn back {drawn:?}, turned {forward}, {backward}");
    assert!(fed.0 > 0.0 && fed.1 > 0.0);
    assert!(drawn.0 < 0.0 && drawn.1 < fed.1);
    assert!(forward > 0.0 && backward < 0.0);
}

/// A catheter that alone is fed over a resting wire takes the push itself: both forces are told
/// apart, and the larger is not the wire's.
#[test]
fn the_push_on_a_catheter_is_not_that_on_the_wire() {
    let tree = Tree::build(&s_bend()).unwrap();
    let start = PairStart {
        wire_mm: 24.0,
        catheter_mm: 2.0,
        longest_mm: 60.0,
        wire_roll_rad: 0.0,
        catheter_roll_rad: 0.0,
    };
    let tube = catheter(20.0, 0.9, 0.3, (0.0, 0.0));
    let mut pair = Assembly::pair(
        (&bent_wire(0.0), &tube),
        WalledLumen::new(&tree, 300.0),
        guide_tip(),
        StepSettings::default(),
        start,
    )
    .unwrap();
    let feed = Hands {
        feed_catheter: 0.5,
        ..Hands::default()
    };
    for _ in 0..30 {
        pair.move_hands(feed).unwrap();
    }
    let on_catheter = pair.catheter().unwrap().push_force;
    assert!(
        on_catheter > 0.1 && on_catheter > pair.push_force(),
        "{on_catheter}"
    );
}
