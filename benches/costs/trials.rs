//! Whole trials: of the main job, and of the techniques against each other.

use std::path::Path;

use bendwise::device::mesh;
use bendwise::scenario::load;
use bendwise::trial::{Prepared, Strategy, run_trial, strategies};
use rayon::prelude::*;

use super::iteration::factor_and_solve;
use super::{Limit, Line, by_clock, seconds};

/// Trials of every strategy in a round.
const TRIALS: u32 = 2;
const ROUNDS: usize = 3;

fn prepared(scene: &str) -> Prepared {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("scenarios/{scene}.toml"));
    let loaded = load(&file).unwrap_or_else(|error| panic!("{error}"));
    Prepared::new(&loaded.scenario).unwrap_or_else(|error| panic!("{error}"))
}

/// The main job: trials a second, what each iteration costs with all that a trial does, and two threads.
pub fn main_job() -> Vec<Line> {
    let scene = prepared("published-tree-m1");
    let strategies = strategies(scene.scenario());
    let tasks: Vec<_> = strategies
        .iter()
        .flat_map(|strategy| (0..TRIALS).map(move |trial| (strategy, trial)))
        .collect();
    let work = |&(strategy, trial): &(&Strategy, u32)| {
        run_trial(&scene, strategy, trial, false)
            .row
            .newton_iterations
    };
    let iterations: u32 = tasks.iter().map(work).sum();
    let one = seconds(ROUNDS, || tasks.iter().map(work).sum::<u32>());
    let pool = rayon::ThreadPoolBuilder::new().num_threads(2).build();
    let pool = pool.unwrap_or_else(|error| panic!("{error}"));
    let one_by_clock = by_clock(ROUNDS, || tasks.iter().map(work).sum::<u32>());
    let two = by_clock(ROUNDS, || {
        pool.install(|| tasks.par_iter().with_max_len(1).map(work).sum::<u32>())
    });
    let per_iteration = one / f64::from(iterations);
    vec![
        Line {
            what: "main job, trials a second on one thread, without output",
            measured: tasks.len() as f64 / one,
            limit: (40.0, Limit::AtLeast),
        },
        Line {
            what: "main job, all of a trial for each iteration over factor and solve",
            measured: per_iteration / factor_and_solve(mean_nodes(&scene, &tasks)),
            limit: (3.0, Limit::AtMost),
        },
        Line {
            what: "main job, two threads over one, without output",
            measured: one_by_clock / two,
            limit: (1.9, Limit::AtLeast),
        },
    ]
}

/// Nodes of the rod, on average over the recorded steps of some trials.
fn mean_nodes(scene: &Prepared, tasks: &[(&Strategy, u32)]) -> usize {
    let scenario = scene.scenario();
    let longest_mm = scenario.target.max_fed_mm + 4.0;
    let (mut nodes, mut steps) = (0, 0);
    for (strategy, trial) in tasks.iter().filter(|(_, trial)| *trial == 0) {
        let stations = mesh(
            &scene.wires()[strategy.wire],
            scenario.solver.edge_mm,
            longest_mm,
        );
        for row in run_trial(scene, strategy, *trial, true).trace {
            nodes += stations.partition_point(|s| *s < row.outside_mm) + 2;
            steps += 1;
        }
    }
    nodes / steps.max(1)
}

/// What a hand step and a trial of the other techniques cost against those of redirect, in the phantom with
/// all of them.
pub fn techniques() -> Vec<Line> {
    let scene = prepared("angle-phantom");
    let all = strategies(scene.scenario());
    let cost = |slug: &str| {
        let strategy = all.iter().find(|s| s.wire == 0 && s.slug.starts_with(slug));
        let strategy = strategy.unwrap_or_else(|| panic!("the phantom has no {slug}"));
        let work = || {
            let row = |trial| run_trial(&scene, strategy, trial, false).row.steps;
            (0..TRIALS).map(row).sum::<u32>()
        };
        let steps = work();
        let taken = seconds(1, work);
        (taken, taken / f64::from(steps))
    };
    let redirect = cost("redirect-");
    let mut lines = Vec::new();
    for (slug, trial, step) in [
        (
            "looped-back-carried",
            "carried fold, a trial over one of redirect",
            "carried fold, a hand step over one of redirect",
        ),
        (
            "loop-made-inside",
            "loop made inside, a trial over one of redirect",
            "loop made inside, a hand step over one of redirect",
        ),
    ] {
        let other = cost(slug);
        for (what, measured, limit) in [
            (trial, other.0 / redirect.0, 5.0),
            (step, other.1 / redirect.1, 3.0),
        ] {
            lines.push(Line {
                what,
                measured,
                limit: (limit, Limit::AtMost),
            });
        }
    }
    lines
}
