//! Does a study, of one point or of many, keep what is finished, go on from it, and never spoil an
//! older result?
#![allow(
    clippy::unwrap_used,
    reason = "a failed test may panic; numbers here are small"
)]

mod going_on;
mod missing_numbers;
mod refused;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use bendwise::scenario::sweep::model::DesignKind;
use bendwise::study::store::write_file;
use bendwise::study::{
    KeepError, Making, Part, Point, Sink, Sinks, StrategyLabel, StudyDone, StudyError, StudyOf,
    StudyOptions, StudySetup, Task, Trial, run_study,
};
use bendwise::trial::result::{Outcome, Pressed, TrialRecord, TrialRow};

use crate::sweep_common::{self, listed};

const TRIALS: u32 = 12;
const STRATEGIES: usize = 3;

const TOTAL: usize = 36;

fn strategies(count: usize) -> Vec<StrategyLabel> {
    let label = |i: usize| StrategyLabel {
        name: format!("strategy {i}"),
        slug: format!("strategy-{i}"),
        technique: "push".to_owned(),
        wire: format!("wire {i}"),
    };
    (0..count).map(label).collect()
}

/// Three strategies at one point.
fn one_point(seed: u64) -> Part {
    Part::whole(StudySetup {
        of: StudyOf::Scenario,
        recorded: 2,
        strategies: strategies(STRATEGIES),
        ..sweep_common::setup(DesignKind::Grid, Vec::new(), TRIALS, seed)
    })
}

/// As many trials of one strategy at each of three points.
fn three_points(seed: u64) -> Part {
    let levels = listed("length_mm", &[1.0, 2.0, 3.0]);
    Part::whole(StudySetup {
        recorded: 2,
        strategies: strategies(1),
        ..sweep_common::setup(DesignKind::Grid, vec![levels], TRIALS, seed)
    })
}

/// A trial whose numbers need all digits of a double to survive the journal.
fn trial(kind: usize, trial: u32) -> TrialRecord {
    let x = (f64::from(trial) + 0.1) * (kind as f64 + 0.3);
    let row = TrialRow {
        strategy: format!("strategy {kind}"),
        trial,
        outcome: Outcome::ALL[(kind + trial as usize) % Outcome::ALL.len()],
        tip_branch: "main, \"quoted\"".to_owned(),
        attempts: 1 + trial % 4,
        outside_mm: x.sin(),
        travel_mm: x.exp(),
        turned_deg: x / 3.0,
        peak_wall_force_mn: 1.0 / x,
        peak_tip_force_mn: x.sqrt(),
        peak_push_force_mn: 1e-17 * x,
        peak_torque_mn_mm: 1e17 * x,
        peak_wall_deflection_mm: x.ln(),
        peak_strain_ratio: 0.1 * x,
        peak_axial_strain: 1e-5 * x,
        roll_deg: 360.0 * x.cos(),
        friction: 0.05 * x,
        diameter_factor: 1.0,
        bend_factor: 1.0,
        steps: 100,
        newton_iterations: 600 + trial,
        ..TrialRow::default()
    };
    TrialRecord {
        row,
        pressed: vec![Pressed {
            branch: kind,
            stretch: trial,
            force_mn: x.exp(),
        }],
        ..TrialRecord::default()
    }
}

fn made_up(task: Task, _: bool) -> TrialRecord {
    trial(task.point + task.strategy, task.trial)
}

/// Writes a file for each trial and one for each point, with all that is known of it.
struct Files;

impl Sink for Files {
    fn write(&self, folder: &Path, trial: Trial<'_>) -> Result<(), KeepError> {
        let row = &trial.record.row;
        let path = folder.join(format!("{}-{}.txt", row.strategy, row.trial));
        write_file(&path, format!("{row:?}"))
    }

    fn point(&mut self, point: &Point<'_>) -> Result<Vec<Making>, KeepError> {
        let expected = |s: usize, t: u32| trial(point.number + s, t).pressed;
        let all = (0..point.rows.len()).map(|s| (0..TRIALS).map(|t| expected(s, t)).collect());
        assert_eq!(point.pressed, all.collect::<Vec<Vec<_>>>());
        let (seed, rows) = (point.setup.seed, point.rows);
        let path = point.folder.join(format!("point-{}.txt", point.number));
        write_file(&path, format!("{seed} {rows:#?} {:?}", point.pressed))?;
        Ok(Vec::new())
    }
}

/// Runs trials of one point or of many.
fn compute(
    part: &Part,
    options: &StudyOptions,
    trial: &(dyn Fn(Task, bool) -> TrialRecord + Sync),
    sinks: Sinks<'_>,
) -> Result<StudyDone, StudyError> {
    let stop = AtomicBool::new(false);
    run_study(part, options, &stop, &|_| Ok(Box::new(trial)), sinks)
}

fn run(options: &StudyOptions, part: &Part) -> Result<StudyDone, StudyError> {
    compute(part, options, &made_up, vec![Box::new(Files)])
}

/// Every file under `folder` with its bytes.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap();
    entries
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            (name, fs::read(&path).unwrap())
        })
        .collect()
}

fn partial(out: &Path) -> PathBuf {
    out.with_extension("partial")
}
