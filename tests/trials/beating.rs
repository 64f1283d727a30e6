//! Trials in a vessel that beats: the same on any number of threads, those of a vessel that stands where the
//! heart moves nothing, and hands that wait for diastole.
#![allow(clippy::print_stdout, reason = "the table of checks")]
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::path::Path;

use bendwise::scenario::load_text;
use bendwise::scenario::model::Scenario;
use bendwise::trial::result::{Outcome, TrialRecord};
use bendwise::trial::{Prepared, run_trial, strategies};
use rayon::prelude::*;

const TRIALS: u32 = 3;
const BEAT_S: f64 = 60.0 / 70.0;

const HEART: &str =
    "[vessel.motion.heart]\nbeats_per_minute = 70\nover_muscle = [\"parent\", \"side\"]\n";

/// The shipped side branch, with a shallower take-off, so that a wire comes in, and with this movement.
fn beating(motion: &str) -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    let text = text.replace("take_off_deg = 90", "take_off_deg = 60");
    let text = text.replacen("[guide]", &format!("{motion}\n[guide]"), 1);
    load_text(&path, text).unwrap().scenario
}

fn run(scenario: &Scenario, name: &str, threads: usize) -> Vec<TrialRecord> {
    let prepared = Prepared::new(scenario).unwrap();
    let strategies = strategies(scenario);
    let strategy = strategies.iter().find(|s| s.name == name).unwrap();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let trial = |trial| run_trial(&prepared, strategy, trial, true);
    pool.unwrap()
        .install(|| (0..TRIALS).into_par_iter().map(trial).collect())
}

#[test]
fn a_trial_in_a_beating_vessel_is_the_same_on_one_thread_and_on_two() {
    let scenario = beating(HEART);
    let name = "redirect, workhorse 1 gf";
    let (one, two) = (run(&scenario, name, 1), run(&scenario, name, 2));
    for (a, b) in one.iter().zip(&two) {
        assert_eq!(
            serde_json::to_string(a).unwrap(),
            serde_json::to_string(b).unwrap()
        );
        let row = &a.row;
        println!(
            "{}: {:.1} s, {:.1} beats, {} steps, {:.1} iterations a step; {}",
            row.outcome.key(),
            row.time_s,
            row.beats,
            row.steps,
            f64::from(row.newton_iterations) / f64::from(row.steps),
            row.why
        );
        assert_ne!(row.outcome, Outcome::Unresolved);
        // Hands feed at 10 mm/s, and turn by half a turn in a second.
        let least = (row.travel_mm / 10.0).max(row.turned_deg / 180.0);
        assert!(row.time_s >= least - 1e-6, "{} s of {least} s", row.time_s);
        assert!((row.beats * BEAT_S - row.time_s).abs() < 1e-9);
        let times: Vec<f64> = a.trace.iter().map(|t| t.time_s).collect();
        assert!(times.windows(2).all(|pair| pair[0] <= pair[1]));
        assert!(times.last().unwrap() <= &(row.time_s + 1e-9));
    }
    assert!(one.iter().any(|r| r.row.outcome == Outcome::Reached));
}

#[test]
fn a_heart_that_moves_nothing_changes_nothing() {
    let still = beating("");
    let unmoved = beating(&format!("{HEART}curvature_gain_per_cm = 0\n"));
    let name = "redirect, workhorse 1 gf";
    let both = run(&still, name, 2).into_iter().zip(run(&unmoved, name, 2));
    for (still, unmoved) in both {
        let (a, b) = (&still.row, &unmoved.row);
        assert_eq!(a.outcome, b.outcome, "trial {}", a.trial);
        assert!((a.travel_mm - b.travel_mm).abs() < 1e-9);
        // Steps are cut at other places, and equilibria are found to a tolerance.
        for (what, a, b) in [
            ("wall", a.peak_wall_force_mn, b.peak_wall_force_mn),
            ("push", a.peak_push_force_mn, b.peak_push_force_mn),
        ] {
            println!("trial {}: {what} {a:.3} {b:.3} mN", still.row.trial);
            assert!((a - b).abs() < 0.02 * a.abs().max(0.1), "{what} {a} {b}");
        }
    }
}

#[test]
fn a_breath_alone_moves_nothing_against_the_guide() {
    let breath = "[vessel.motion.breath]\nbreaths_per_minute = 15\ntowards = [0, 0, -1]\nturns_about = [0, 1, 0]\n";
    let name = "push, soft 0.3 gf";
    let (still, breathing) = (run(&beating(""), name, 1), run(&beating(breath), name, 1));
    assert_eq!(
        serde_json::to_string(&still).unwrap(),
        serde_json::to_string(&breathing).unwrap()
    );
}

#[test]
fn hands_that_wait_for_diastole_take_longer_and_feed_while_the_heart_rests() {
    let mut scenario = beating(HEART);
    let name = "redirect, soft 0.3 gf";
    scenario.study.record_every_mm = 0.2;
    let at_any_time = run(&scenario, name, 2);
    let technique = scenario
        .techniques
        .iter_mut()
        .find(|t| t.name == "redirect");
    let bendwise::technique::PlanSpec::Redirect(redirect) = &mut technique.unwrap().plan else {
        panic!("redirect is a redirect");
    };
    redirect.feeds = bendwise::technique::Feeds::InDiastole;
    for (any, waits) in at_any_time.iter().zip(run(&scenario, name, 2)) {
        let waited = waits.hands.last().unwrap().waited_s;
        assert!(any.hands.iter().all(|h| h.waited_s.abs() < 1e-12));
        assert!(waited > 0.2, "waited {waited} s");
        assert_ne!(waits.row.outcome, Outcome::Unresolved);
        let moving = waits.row.time_s - waited;
        let least = waits.row.travel_mm / 10.0;
        assert!(moving >= least - 1e-6, "{moving} s of {least} s");
        // Between 1 mm before the branching, which lies at 30 mm, and 3 mm behind it no wire is fed in systole:
        // of a feed the whole 0.04 s may lie behind the rest's end, not more.
        let steps = waits.hands.windows(2).zip(waits.trace.windows(2));
        for (hands, trace) in steps {
            let at_branching =
                (29.0..=33.0).contains(&trace[0].tip_x_mm) && trace[0].tip_y_mm < 3.0;
            if at_branching && hands[1].fed_sum_mm > hands[0].fed_sum_mm + 1e-9 {
                let share = (trace[1].time_s / BEAT_S).rem_euclid(1.0);
                let late = 0.05 / BEAT_S;
                assert!(share > 0.7 || share < late, "fed at {share} of a beat");
            }
        }
    }
}

fn shipped() -> Scenario {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/beating-tree.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    load_text(&path, text).unwrap().scenario
}

/// Measured: 22.4 to 108.6 mm/s (Mao et al., J. Comput. Assist. Tomogr. 2000;24:253-258).
#[test]
fn walls_of_the_shipped_beating_tree_go_no_faster_than_measured() {
    let prepared = Prepared::new(&shipped()).unwrap();
    let swings = prepared.swings();
    let fastest = swings.iter().map(|s| s.speed_mm_per_s).fold(0.0, f64::max);
    println!("CHECK | fastest wall of the beating tree, mm/s | {fastest:.1} | 108.6");
    assert!((22.4..=108.6).contains(&fastest), "{fastest} mm/s");
}

/// The roadmap is a still of end diastole, while the vessel and the wire in it move: an operator who reads it
/// in rest brings the wire in as often as one who works by the same picture in a vessel that stands.
#[test]
fn an_operator_who_looks_comes_in_at_once_in_a_beating_vessel_too() {
    let beating = shipped();
    let mut still = beating.clone();
    still.motion = None;
    let looking = strategies(&beating)
        .into_iter()
        .find(|s| s.name.starts_with("turned in the recommended view"))
        .unwrap();
    for scenario in [&beating, &still] {
        for record in run(scenario, &looking.name, 2).into_iter().take(2) {
            let row = &record.row;
            println!(
                "{}: {}, attempts {}",
                row.strategy,
                row.outcome.key(),
                row.attempts
            );
            assert_eq!((row.outcome, row.attempts), (Outcome::Reached, 1));
        }
    }
}
