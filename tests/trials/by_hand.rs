//! Movements that a person made in a trial come to the same, to the last bit, when they are made again as a
//! technique.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::fs;
use std::path::Path;

use bendwise::hands::{Entry, Made, Movement};
use bendwise::scenario::{Loaded, load, load_text};
use bendwise::trial::result::{Outcome, TrialRecord};
use bendwise::trial::{DrawnTrial, Prepared, SteppedTrial, run_trial, strategies};
use tempfile::TempDir;

fn shipped(name: &str) -> Loaded {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    load(&path).unwrap()
}

/// What a trial comes to that is worked by the lines of a recording, each made on its own.
fn worked(loaded: &Loaded, technique: usize, trial: u32, lines: &[&str]) -> TrialRecord {
    let prepared = Prepared::new(&loaded.scenario).unwrap();
    let all = strategies(&loaded.scenario);
    let strategy = all.iter().find(|s| s.technique == technique).unwrap();
    let drawn = DrawnTrial::new(&prepared, strategy, trial);
    let setup = drawn.setup();
    let mut worked = SteppedTrial::begin(&drawn, &setup, true);
    for line in lines {
        // A wire alone is not moved once the target is reached.
        if worked.look().is_none() || worked.has_reached() {
            break;
        }
        worked.count_attempts(1);
        let Entry::Move(movement) = Entry::read(line).unwrap() else {
            panic!("{line} is no movement");
        };
        worked.make(movement);
    }
    if !worked.has_reached() {
        worked.look();
    }
    worked.count_attempts(1);
    worked.make(Movement::Stop);
    worked.record(1)
}

/// The scenario with the lines as one more technique, which is the last one.
fn with_recording(
    loaded: &Loaded,
    technique: usize,
    trial: u32,
    lines: &[&str],
) -> (TempDir, Loaded) {
    let scenario = &loaded.scenario;
    let made = Made {
        scenario: scenario.name.clone(),
        scene: scenario.acting_hash(&scenario.techniques[technique]),
        seed: scenario.study.seed,
        trial,
        technique: scenario.techniques[technique].name.clone(),
        wire: scenario.wires[0].name.clone(),
    };
    let folder = tempfile::tempdir().unwrap();
    let recording = made.lines() + &lines.join("\n") + "\n";
    fs::write(folder.path().join("session.csv"), recording).unwrap();
    let text = format!(
        "{}\n[[technique]]\nkind = \"recorded\"\nrecording = \"session.csv\"\n",
        loaded.source.text
    );
    let tree = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/trees");
    let text = text.replace("tree = \"trees/", &format!("tree = \"{}/", tree.display()));
    let extended = load_text(&folder.path().join("study.toml"), text).unwrap();
    (folder, extended)
}

/// Asserts that the lines come to the same, worked and made again, and gives what they come to.
fn comes_to_the_same(name: &str, technique: usize, trial: u32, lines: &[&str]) -> TrialRecord {
    let loaded = shipped(name);
    let mut by_hand = worked(&loaded, technique, trial, lines);
    let (_folder, extended) = with_recording(&loaded, technique, trial, lines);
    assert!(extended.warnings.is_empty(), "{:?}", extended.warnings);
    let prepared = Prepared::new(&extended.scenario).unwrap();
    let all = strategies(&extended.scenario);
    let last = extended.scenario.techniques.len() - 1;
    let strategy = all.iter().find(|s| s.technique == last).unwrap();
    let again = run_trial(&prepared, strategy, trial, true);
    by_hand.row.strategy.clone_from(&again.row.strategy);
    assert!(
        by_hand == again,
        "{}\nagain: {}",
        by_hand.row.why,
        again.row.why
    );
    assert!(!again.trace.is_empty() && again.trace.len() == again.shapes.len());
    let bytes = |record: &TrialRecord| serde_json::to_vec(record).unwrap();
    assert_eq!(bytes(&by_hand), bytes(&again));
    again
}

#[test]
fn a_wire_alone_fed_turned_and_withdrawn_comes_to_the_same_again() {
    let mut lines = vec!["feed"; 30];
    lines.extend(["turn_deg,5"; 12]);
    lines.extend(["withdraw"; 8]);
    lines.extend(["turn_deg,-7.5", "wait_s,0.1"]);
    lines.extend(["feed"; 25]);
    let record = comes_to_the_same("side-branch.toml", 0, 3, &lines);
    assert!((record.row.travel_mm - 63.0 * 0.4).abs() < 1e-6);
    assert!((record.row.turned_deg - 67.5).abs() < 1e-6);
}

#[test]
fn a_catheter_moved_alone_and_with_its_wire_comes_to_the_same_again() {
    let mut lines = vec!["feed"; 12];
    lines.extend(["catheter_feed"; 6]);
    lines.extend(["both_feed"; 6]);
    lines.extend(["catheter_turn_deg,5"; 4]);
    lines.extend(["catheter_withdraw"; 4]);
    lines.extend(["both_withdraw"; 2]);
    let record = comes_to_the_same("support-catheters.toml", 1, 0, &lines);
    let hands = record.hands.last().unwrap();
    assert!((hands.catheter_fed_mm - 12.0 * 0.4).abs() < 1e-6);
    assert!((hands.catheter_withdrawn_mm - 6.0 * 0.4).abs() < 1e-6);
    assert!((hands.catheter_turned_deg - 20.0).abs() < 1e-6);
}

#[test]
fn a_balloon_that_is_deflated_and_inflated_comes_to_the_same_again() {
    let mut lines = vec!["deflate"; 20];
    lines.extend(["feed"; 40]);
    lines.extend(["inflate"; 12]);
    lines.extend(["feed"; 60]);
    let record = comes_to_the_same("graft-entry.toml", 1, 0, &lines[..15]);
    assert!(record.hands.last().unwrap().balloon_mm.abs() < 1e-9);
    assert!(record.hands[0].balloon_mm > 2.9);
    // More than it can be deflated by is refused, and ends a recording.
    lines.drain(..5);
    let record = comes_to_the_same("graft-entry.toml", 1, 0, &lines);
    let hands = record.hands.last().unwrap();
    assert!((hands.balloon_mm - 2.4).abs() < 1e-9);
    assert!((hands.waited_s - 27.0 * 0.2).abs() < 1e-9);
}

#[test]
fn a_target_that_is_reached_ends_both() {
    // Fed on until it is decided: in the shipped draws a pushed wire reaches this branch.
    let record = comes_to_the_same("side-branch.toml", 0, 0, &["feed"; 400]);
    assert_eq!(record.row.outcome, Outcome::Reached, "{}", record.row.why);
}

#[test]
fn a_recording_is_refused_or_warned_of_where_it_does_not_belong() {
    let loaded = shipped("side-branch.toml");
    let (folder, _) = with_recording(&loaded, 0, 3, &["feed"]);
    let path = folder.path().join("study.toml");
    let with = |table: &str, before: &str, after: &str| {
        let text = loaded.source.text.replace(before, after);
        load_text(
            &path,
            format!("{text}\n[[technique]]\nkind = \"recorded\"\n{table}\n"),
        )
    };
    let refused = |table: &str| with(table, "", "").unwrap_err().to_string();
    let gone = refused("recording = \"gone.csv\"");
    assert!(gone.contains("cannot be read"), "{gone}");
    let session = folder.path().join("session.csv");
    let text = fs::read_to_string(&session).unwrap();
    fs::write(
        folder.path().join("bad.csv"),
        text.replace("\nfeed\n", "\nfeed\nfly\n"),
    )
    .unwrap();
    let bad = refused("recording = \"bad.csv\"");
    assert!(
        bad.contains("line 9") && bad.contains("no movement"),
        "{bad}"
    );
    let aided =
        refused("recording = \"session.csv\"\nballoon = { diameter_mm = 3, length_mm = 10 }");
    assert!(aided.contains("recording takes it"), "{aided}");
    fs::write(
        folder.path().join("other.csv"),
        text.replace("\ntechnique,", "\ntechnique,no "),
    )
    .unwrap();
    let other = refused("recording = \"other.csv\"");
    assert!(other.contains("none of that name"), "{other}");
    // Another seed, or another scene, is told and the movements are made all the same.
    let table = "recording = \"session.csv\"";
    let warned = |before: &str, after: &str| {
        let warnings = with(table, before, after).unwrap().warnings;
        assert_eq!(warnings.len(), 1, "{warnings:?}");
        warnings[0].message.clone()
    };
    let scene = warned("diameter_mm = 3.0", "diameter_mm = 2.9");
    assert!(scene.contains("a scene that differs"), "{scene}");
}
