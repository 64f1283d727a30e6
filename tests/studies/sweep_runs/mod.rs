//! Does a sweep give the same bytes whole, in shares, interrupted, and on any number of threads, and
//! does it build only what it needs?
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod points;
mod said;
mod shares;
mod tables;

use std::fs;
use std::path::Path;

use bendwise::report::sweep::{SweepSummary, sinks};
use bendwise::scenario::sweep::model::{DesignKind, MapSpec};
use bendwise::study::sweep::ShareSink;
use bendwise::study::{Part, Shard, Sinks, StudyDone, StudyError, StudySetup, Task};
use bendwise::trial::result::TrialRow;

use crate::sweep_common::{chance, listed, quietly, row, run, setup};

fn grid() -> StudySetup {
    let lengths = listed("length_mm", &[1.0, 2.0, 3.0]);
    let angles = listed("angle_deg", &[30.0, 60.0]);
    let mut setup = setup(DesignKind::Grid, vec![lengths, angles], 5, 9);
    setup.map = Some(MapSpec {
        x: "length_mm".to_owned(),
        y: "angle_deg".to_owned(),
        panel: None,
    });
    setup
}

fn lucky(task: Task) -> TrialRow {
    let chance = chance(1, task.point as u64, u64::from(task.trial));
    row(task.trial, chance < 0.2 + 0.1 * task.point as f64)
}

/// Runs trials whose success depends on point and trial; point 4 cannot be built. Writes what a
/// sweep or a share of it leaves behind.
fn run_part(
    part: &Part,
    out: &Path,
    threads: usize,
    limit: Option<usize>,
) -> Result<StudyDone, StudyError> {
    let sinks: Sinks<'_> = match part.shard {
        Shard::WHOLE => sinks(&part.setup),
        _ => vec![Box::new(ShareSink::new(part))],
    };
    let refuse = |point| (point == 4).then_some("too narrow");
    run(part, &quietly(out, threads, limit), refuse, lucky, sinks)
}

/// Computes trials without mechanics and reads what a sweep leaves behind.
fn written(
    setup: &StudySetup,
    out: &Path,
    trial: impl Fn(usize, u32) -> TrialRow + Sync,
) -> SweepSummary {
    let part = Part::whole(setup.clone());
    let trial = |task: Task| trial(task.point, task.trial);
    run(&part, &quietly(out, 2, None), |_| None, trial, sinks(setup)).unwrap();
    let text = fs::read_to_string(out.join("sweep.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}
