//! An invented study: a vessel, strategies and trials made up without any mechanics, and the folder
//! that the report writes for it.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::sync::atomic::AtomicBool;

use bendwise::report::{OutlineBranch, OutlinePoint, SceneOutline, Setting, sinks};
use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::{Part, Sinks, StrategyLabel, StudyOf, StudySetup, Task, run_study};
use bendwise::trial::result::{Outcome, Pressed, TraceRow, TrialRecord, TrialRow, WireShape};
use nalgebra::Vector3;

use crate::sweep_common::{self, quietly};

pub const TRIALS: u32 = 32;
pub const RECORDED: u32 = 2;
pub const WIRES: [&str; 3] = [
    "soft 0.3 gf",
    "medium 1 gf",
    "stiff 3 gf, hydrophilic surface",
];
pub const TECHNIQUES: [&str; 2] = ["push", "redirect"];

/// Invented: a bent main vessel, a side branch and a second one further on.
pub fn outline() -> SceneOutline {
    let arc = |s: f64| Vector3::new(40.0 * (s / 40.0).sin(), 0.1 * s, 40.0 * (s / 40.0).cos());
    let branch = |name: &str, length: f64, radius: (f64, f64), at: &dyn Fn(f64) -> Vector3<f64>| {
        let points = (0..=80).map(|i| {
            let s = f64::from(i) / 80.0;
            OutlinePoint {
                position_mm: at(s * length),
                radius_mm: radius.0 + s * (radius.1 - radius.0),
            }
        });
        OutlineBranch {
            name: name.to_owned(),
            points: points.collect(),
        }
    };
    let side = |s: f64| arc(30.0) + Vector3::new(0.35 * s, 0.6 * s, 0.7 * s - 0.012 * s * s);
    let second = |s: f64| arc(48.0) + Vector3::new(0.9 * s, -0.35 * s, 0.1 * s);
    SceneOutline {
        branches: vec![
            branch("main", 70.0, (2.0, 1.3), &arc),
            branch("side", 26.0, (1.2, 0.9), &side),
            branch("second", 18.0, (0.9, 0.8), &second),
        ],
        bodies: Vec::new(),
        wall: None,
        target: "side".to_owned(),
        guide_end_mm: arc(8.0),
        guide_direction: Vector3::new(0.98, 0.1, -0.2).normalize(),
    }
}

pub fn setup() -> StudySetup {
    let label = |technique: &str, wire: &str| StrategyLabel {
        name: format!("{technique} {wire}"),
        slug: format!("{technique}-{}", wire.replace([' ', '.', ','], "-")),
        technique: technique.to_owned(),
        wire: wire.to_owned(),
    };
    let all = TECHNIQUES
        .iter()
        .flat_map(|t| WIRES.iter().map(|w| label(t, w)));
    StudySetup {
        of: StudyOf::Scenario,
        scenario: "invented-side-branch".to_owned(),
        content_hash: "0123456789abcdef".to_owned(),
        recorded: RECORDED,
        strategies: all.collect(),
        ..sweep_common::setup(DesignKind::Grid, Vec::new(), TRIALS, 1)
    }
}

pub fn setting() -> Setting {
    let wires = WIRES.map(|wire| (wire.to_owned(), 0.36));
    Setting::of_outline(outline(), wires.to_vec())
}

/// Length of wire outside the guide at recorded step `i` of a trial that goes to and fro.
pub fn fed(technique: usize, i: u32) -> f64 {
    let x = f64::from(i) * 0.5;
    if technique == 0 || x < 40.0 {
        x.min(52.0)
    } else if x < 56.0 {
        40.0 - (x - 40.0)
    } else {
        24.0 + (x - 56.0)
    }
}

/// The wire along the main vessel, off its axis, and in `side` into the side branch.
pub fn shape(fed_mm: f64, side: bool, off: f64) -> WireShape {
    let outline = outline();
    let along = |branch: usize, s: f64, length: f64| {
        let points = &outline.branches[branch].points;
        let x = (s / length * 80.0).clamp(0.0, 79.999);
        let i = x as usize;
        points[i]
            .position_mm
            .lerp(&points[i + 1].position_mm, x - i as f64)
    };
    let count = (fed_mm / 0.4) as usize + 2;
    let nodes_mm: Vec<Vector3<f64>> = (0..count)
        .map(|k| {
            let s = fed_mm * k as f64 / (count - 1) as f64;
            let wobble = Vector3::new(0.0, off * (s / 5.0).sin(), off * (s / 7.0).cos());
            if side && s > 22.0 {
                along(1, s - 22.0, 26.0) + wobble * 0.7
            } else {
                along(0, 8.0 + s, 70.0) + wobble
            }
        })
        .collect();
    WireShape {
        fed_mm,
        wall_force_mn: (0..count)
            .map(|k| (k as f64 / 3.0).sin().abs() / 7.0)
            .collect(),
        curvature_per_mm: (0..count).map(|k| 1.0 / (1.0 + k as f64)).collect(),
        diameter_mm: vec![0.3556; count],
        nodes_mm,
        beside: None,
    }
}

/// Invented: the main vessel is pressed all along, the side branch by some trials.
pub fn pressed(strategy: usize, trial: u32) -> Vec<Pressed> {
    let stiff = [1.0, 2.2, 4.5][strategy % WIRES.len()];
    let along = |branch: usize, from: u32, to: u32| {
        (from..to).map(move |stretch| Pressed {
            branch,
            stretch,
            force_mn: stiff * (0.3 + f64::from((stretch * 7 + trial * 3) % 11)),
        })
    };
    let deep = if trial.is_multiple_of(3) {
        4 + trial % 9
    } else {
        2
    };
    along(0, 9, 40).chain(along(1, 2, deep)).collect()
}

pub fn trial(strategy: usize, trial: u32) -> TrialRecord {
    let (technique, wire) = (strategy / WIRES.len(), strategy % WIRES.len());
    let stiff = [1.0, 2.2, 4.5][wire];
    let chance = (trial * 7 + strategy as u32 * 5) % 32;
    let outcome = if chance < [9, 14, 5][wire] + 12 * technique as u32 {
        Outcome::Reached
    } else {
        Outcome::ALL[1 + (chance as usize + wire) % 7]
    };
    let (mut trace, mut shapes) = (Vec::new(), Vec::new());
    if trial < RECORDED {
        for i in 0..(if technique == 0 { 100 } else { 170 }) {
            let fed_mm = fed(technique, i);
            let side = technique == 1 && i >= 112;
            let whole = shape(fed_mm, side, 0.3 + 0.3 * f64::from(trial));
            let tip = whole.nodes_mm[whole.nodes_mm.len() - 1];
            let ripple = (f64::from(i) / 4.0 + f64::from(trial)).sin();
            let push = stiff * (fed_mm / 6.0 + 1.5 * ripple);
            let sign = if technique == 1 && (80..112).contains(&i) {
                -0.4
            } else {
                1.0
            };
            trace.push(TraceRow {
                outside_mm: fed_mm,
                tip_x_mm: tip.x,
                tip_y_mm: tip.y,
                tip_z_mm: tip.z,
                push_force_mN: sign * push,
                torque_mN_mm: 0.1 * push,
                tip_force_mN: 0.3 * push,
                wall_force_total_mN: 3.0 * push.abs(),
                wall_force_max_mN: 0.7 * push.abs() + ripple.abs(),
                bending_energy_mN_mm: fed_mm,
                wall_force_leaving_guide_mN: if fed_mm < 8.0 { push.abs() } else { 0.0 },
                wall_force_on_the_way_mN: 0.7 * push.abs() + ripple.abs(),
                ..TraceRow::default()
            });
            if i % 4 == 3 {
                shapes.push(whole);
            }
        }
    }
    let x = f64::from(trial) / 32.0;
    let row = TrialRow {
        strategy: setup().strategies[strategy].name.clone(),
        trial,
        outcome,
        tip_branch: "main".to_owned(),
        attempts: 1 + trial % 3,
        outside_mm: 50.0 + x,
        travel_mm: 70.0 + x,
        turned_deg: 90.0 * x,
        peak_wall_force_mn: stiff * (4.0 + x),
        peak_tip_force_mn: stiff * (1.0 + x),
        peak_push_force_mn: stiff * (8.0 + x),
        peak_torque_mn_mm: stiff * x,
        peak_wall_deflection_mm: 0.02 * stiff,
        peak_strain_ratio: 0.3,
        peak_axial_strain: 1e-4,
        roll_deg: 360.0 * x,
        friction: 0.05,
        diameter_factor: 1.0,
        bend_factor: 1.0,
        steps: 400,
        newton_iterations: 2200,
        ..TrialRow::default()
    };
    TrialRecord {
        row,
        pressed: pressed(strategy, trial),
        trace,
        hands: Vec::new(),
        shapes,
        axes: Vec::new(),
    }
}

/// The folder of one whole study, made once for all tests here.
pub fn folder() -> &'static Path {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    static OUT: OnceLock<PathBuf> = OnceLock::new();
    OUT.get_or_init(|| {
        let place = FOLDER.get_or_init(|| tempfile::tempdir().unwrap());
        let out = place.path().join("study");
        make(&out, 2, None);
        out
    })
}

pub fn make(out: &Path, threads: usize, limit: Option<usize>) {
    make_with(out, threads, limit, Vec::new());
}

/// The same with sinks beside those of the program.
pub fn make_with(out: &Path, threads: usize, limit: Option<usize>, more: Sinks<'_>) {
    let mut all = more;
    all.splice(0..0, sinks(setting()));
    let options = quietly(out, threads, limit);
    let compute = |task: Task, _| trial(task.strategy, task.trial);
    let (part, stop) = (Part::whole(setup()), AtomicBool::new(false));
    run_study(&part, &options, &stop, &|_| Ok(Box::new(compute)), all).unwrap();
}
