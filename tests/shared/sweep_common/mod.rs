//! Studies and sweeps without mechanics.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]
#![allow(dead_code, reason = "each test uses a part of it")]

use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex};

use bendwise::scenario::model::Place;
use bendwise::scenario::sweep::model::{
    DesignKind, Distribution, ParameterSpec, SearchSpec, TargetPath, Values,
};
use bendwise::study::sweep::Design;
use bendwise::study::{
    KeepError, Making, Part, Point, Sink, Sinks, StrategyLabel, StudyDone, StudyError, StudyOf,
    StudyOptions, StudySetup, Task, run_study,
};
use bendwise::trial::result::{Outcome, TrialRecord, TrialRow};

/// A parameter that is a list of numbers.
pub fn listed(column: &str, levels: &[f64]) -> ParameterSpec {
    ParameterSpec {
        column: column.to_owned(),
        label: column.to_owned(),
        unit: String::new(),
        targets: vec![TargetPath {
            path: column.to_owned(),
            times: 1.0,
            plus: 0.0,
        }],
        values: Values::Listed {
            levels: levels
                .iter()
                .map(|&level| toml::Value::Float(level))
                .collect(),
            weights: vec![1.0 / levels.len() as f64; levels.len()],
        },
        place: Place::default(),
    }
}

/// A parameter that is spread evenly.
pub fn uniform(column: &str, low: f64, high: f64) -> ParameterSpec {
    ParameterSpec {
        values: Values::Spread {
            distribution: Distribution::Uniform { low, high },
            whole: false,
        },
        ..listed(column, &[0.0])
    }
}

/// A sweep without mechanics: one strategy.
pub fn setup(
    kind: DesignKind,
    parameters: Vec<ParameterSpec>,
    trials: u32,
    seed: u64,
) -> StudySetup {
    let design = Design {
        kind,
        seed,
        parameters,
    };
    StudySetup {
        version: "test".to_owned(),
        build: "test".to_owned(),
        of: StudyOf::Sweep("made-up".to_owned()),
        description: "A sweep without mechanics.".to_owned(),
        scenario: "made-up".to_owned(),
        origin: "invented".to_owned(),
        content_hash: "0123".to_owned(),
        seed,
        points: design.count().unwrap(),
        trials,
        recorded: 0,
        until_width: None,
        strategies: vec![StrategyLabel {
            name: "push, wire".to_owned(),
            slug: "push-wire".to_owned(),
            technique: "push".to_owned(),
            wire: "wire".to_owned(),
        }],
        design,
        map: None,
        search: None,
        files: Vec::new(),
    }
}

/// A search with these settings.
pub fn search(batch: u32, most_trials: u32, confirm: u32) -> SearchSpec {
    SearchSpec {
        wall_force_limit_mn: 10.0,
        confidence: 0.95,
        batch,
        most_trials,
        confirm,
        place: bendwise::scenario::model::Place::default(),
    }
}

/// A row of a trial.
pub fn row(trial: u32, success: bool) -> TrialRow {
    let outcome = if success {
        Outcome::Reached
    } else {
        Outcome::Stalled
    };
    TrialRow {
        strategy: "push, wire".to_owned(),
        trial,
        outcome,
        tip_branch: "main, \"quoted\"".to_owned(),
        attempts: 1,
        outside_mm: 0.1 + f64::from(trial) / 3.0,
        travel_mm: 1e-17,
        turned_deg: 0.0,
        peak_wall_force_mn: 1.0,
        peak_tip_force_mn: 1.0,
        peak_push_force_mn: 1.0,
        peak_torque_mn_mm: 1.0,
        peak_wall_deflection_mm: 0.01,
        peak_strain_ratio: 0.1,
        peak_axial_strain: 1e-5,
        roll_deg: 0.0,
        friction: 0.05,
        diameter_factor: 1.0,
        bend_factor: 1.0,
        steps: 100,
        newton_iterations: 600,
        ..TrialRow::default()
    }
}

/// A number in (0, 1) that depends on all of its arguments as if by chance.
pub fn chance(seed: u64, a: u64, b: u64) -> f64 {
    let mut x =
        seed ^ a.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ b.wrapping_mul(0xd1b5_4a32_d192_ed03);
    for _ in 0..3 {
        x = (x ^ (x >> 31))
            .wrapping_mul(0xbf58_476d_1ce4_e5b9)
            .wrapping_add(1);
    }
    ((x >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// A quiet run into a folder.
pub fn quietly(out: &Path, threads: usize, limit: Option<usize>) -> StudyOptions {
    StudyOptions {
        out: out.to_owned(),
        threads: Some(threads),
        quiet: true,
        limit,
        ..StudyOptions::default()
    }
}

/// Runs trials of which only the rows are made up; points that `refuse` names cannot be built.
pub fn run(
    part: &Part,
    options: &StudyOptions,
    refuse: impl Fn(usize) -> Option<&'static str> + Sync,
    trial: impl Fn(Task) -> TrialRow + Sync,
    sinks: Sinks<'_>,
) -> Result<StudyDone, StudyError> {
    run_study(
        part,
        options,
        &AtomicBool::new(false),
        &|point| match refuse(point) {
            Some(reason) => Err(reason.to_owned()),
            None => Ok(Box::new(|task, _| TrialRecord {
                row: trial(task),
                ..TrialRecord::default()
            })),
        },
        sinks,
    )
}

/// Number of a point, why it was refused, and its rows by strategy.
pub type PointRows = (usize, Option<String>, Vec<Vec<TrialRow>>);

/// Keeps what the points of a finished study are.
#[derive(Clone, Default)]
pub struct Seen(Arc<Mutex<Vec<PointRows>>>);

impl Seen {
    /// A sink alone.
    pub fn sinks(&self) -> Sinks<'static> {
        vec![Box::new(self.clone())]
    }

    /// The points in the order in which they came.
    pub fn points(&self) -> Vec<PointRows> {
        self.0.lock().unwrap().clone()
    }
}

impl Sink for Seen {
    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let refused = point.refused.map(str::to_owned);
        let seen = (point.number, refused, point.rows.to_vec());
        self.0.lock().unwrap().push(seen);
        Ok(Vec::new())
    }
}
