//! A session outlives its tab and its program, and replays to the same.

use std::collections::HashMap;
use std::fs;
use std::path::Path;

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::{Value, json};

use super::Server;

/// The row of the technique by hand in the results of a study file of one trial.
pub(crate) fn row_of_run(study: &Path, out: &Path) -> HashMap<String, String> {
    let run = cargo_bin_cmd!("bendwise")
        .arg("run")
        .arg(study)
        .args(["--trials", "1", "--quiet", "--out"])
        .arg(out)
        .assert();
    run.success();
    let mut rows = csv::Reader::from_path(out.join("trials.csv")).expect("the table");
    let rows = rows.deserialize().map(|row| row.expect("a row"));
    let mut rows =
        rows.filter(|row: &HashMap<String, String>| row["strategy"].starts_with("by hand"));
    rows.next().expect("the row of the session's wire")
}

/// Asserts that a row of the table says what the page was told.
pub(crate) fn same_row(told: &Value, row: &HashMap<String, String>) {
    let told = told.as_object().expect("a row");
    let mut compared = 0;
    for (name, value) in told {
        // What the study calls the session is its own.
        let Some(cell) = row.get(name).filter(|_| name != "strategy") else {
            continue;
        };
        match value {
            Value::Number(number) => {
                let cell: f64 = cell.parse().unwrap_or(f64::NAN);
                let told = number.as_f64().expect("a number");
                assert!(
                    told.to_bits() == cell.to_bits() || (told - cell).abs() <= 0.0,
                    "{name}: {told} {cell}"
                );
            }
            Value::String(text) => assert_eq!(text, cell, "{name}"),
            other => assert_eq!(&other.to_string(), cell, "{name}"),
        }
        compared += 1;
    }
    assert!(compared > 30, "only {compared} columns were compared");
}

#[test]
fn a_closed_tab_and_a_killed_program_lose_nothing_and_the_session_replays_to_the_same_numbers() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("hand");
    let server = Server::start("side-branch.toml", &out, &[]);
    let mut page = server.page();
    for line in ["feed", "feed", "turn_deg,5", "feed", "feed", "feed"] {
        page.make(line);
    }
    let before = page.make("withdraw");
    drop(page);
    // Another tab of the same server.
    let page = server.page();
    assert_eq!(page.at, 7);
    assert_eq!(page.hello["moment"]["devices"], before["moment"]["devices"]);
    assert_eq!(page.hello["felt"].as_array().map(Vec::len), Some(8));
    server.kill();
    // The same command again.
    let server = Server::start("side-branch.toml", &out, &[]);
    let mut page = server.page();
    assert_eq!(page.at, 7);
    assert_eq!(page.hello["moment"]["devices"], before["moment"]["devices"]);
    // Back to an earlier moment, and on another way from there.
    let back = page.make("back_to,3");
    assert_eq!(back["hello"]["moment"]["at"], 3);
    assert_eq!(back["hello"]["felt"].as_array().map(Vec::len), Some(4));
    for _ in 0..40 {
        page.make("feed");
    }
    page.say(&json!("finish"));
    let finished = page.hear()["finished"].clone();
    assert_eq!(page.hear()["hello"]["ended"], true);
    let refused = page.make("turn_deg,10")["refused"].clone();
    assert!(
        refused.as_str().is_some_and(|why| why.contains("ended")),
        "a trial that has been ended takes nothing by mistake: {refused}"
    );
    let back = page.make("back_to,42");
    assert_eq!(back["hello"]["ended"], false);
    let last = page.make("feed")["moment"]["felt"].clone();
    // The curves hold the peaks of the row: those of all steps, not of the ends of movements alone. The row
    // has no forces of the beginning, to which no step has led.
    let felt = back["hello"]["felt"].as_array().expect("a list");
    let felt: Vec<_> = felt.iter().skip(1).chain([&last]).collect();
    let largest = |name: &str| {
        let each = felt
            .iter()
            .filter_map(|felt| felt["largest"][name].as_f64());
        each.map(f64::abs).fold(0.0, f64::max)
    };
    let peak = |name: &str| finished[name].as_f64().expect("a peak");
    for (curve, of_row) in [
        ("push_mn", "peak_push_or_pull_mN"),
        ("torque_mn_mm", "peak_torque_mN_mm"),
    ] {
        let off = largest(curve) - peak(of_row);
        assert!(off.abs() < 1e-4, "{curve}: {off}");
    }
    let leaving = peak("peak_wall_force_leaving_guide_mN");
    let off = largest("wall_mn") - peak("peak_wall_force_mN").max(leaving);
    assert!(off.abs() < 1e-4, "{off}");
    drop(page);
    server.kill();
    let results = folder.path().join("results");
    let row = row_of_run(&out.join("study.toml"), &results);
    same_row(&finished, &row);
    let report = fs::read_to_string(results.join("report.md")).expect("a report");
    for said in [
        "Technique \"by hand\" is a session by hand",
        "the person went back to an earlier moment 2 times",
    ] {
        assert!(report.contains(said), "{said} is not in {report}");
    }
    // A session that is called otherwise is marked all the same.
    let study = fs::read_to_string(out.join("study.toml")).expect("a study");
    let study = study.replace("name = \"by hand\"", "name = \"afternoon\"");
    fs::write(out.join("study.toml"), study).expect("written");
    let results = folder.path().join("renamed");
    let run = cargo_bin_cmd!("bendwise")
        .arg("run")
        .arg(out.join("study.toml"))
        .args(["--trials", "1", "--quiet", "--out"])
        .arg(&results)
        .assert();
    run.success();
    let rows = fs::read_to_string(results.join("trials.csv")).expect("the table");
    assert!(
        rows.contains("\"afternoon (by hand), soft 0.3 gf\""),
        "{rows}"
    );
}

#[test]
fn any_earlier_moment_is_told_again_as_it_was() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::start("side-branch.toml", &folder.path().join("hand"), &[]);
    let mut page = server.page();
    let mut told = vec![page.hello["moment"].clone()];
    for line in ["feed", "feed", "turn_deg,5", "feed", "withdraw"] {
        told.push(page.make(line)["moment"].clone());
    }
    for at in [0, 3, 5, 1] {
        page.say(&json!({ "look": at }));
        assert_eq!(page.hear()["looked"], told[at], "{at}");
    }
    // One that has not been is the last one, and looking changes nothing.
    page.say(&json!({ "look": 77 }));
    assert_eq!(page.hear()["looked"], told[5]);
    assert_eq!(page.make("feed")["moment"]["at"], 6);
    // After going back the moments are those of the other way.
    page.make("back_to,1");
    let other = page.make("turn_deg,-5")["moment"].clone();
    page.say(&json!({ "look": 2 }));
    assert_eq!(page.hear()["looked"], other);
    page.say(&json!("finish"));
    assert_eq!(page.hear()["went_back"], 1);
}

#[test]
fn a_long_session_that_is_opened_again_is_shown_while_its_movements_are_made_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("hand");
    Server::start("side-branch.toml", &out, &[]).kill();
    let file = out.join("session.csv");
    let mut text = fs::read_to_string(&file).expect("a session");
    text.push_str(&"feed\n".repeat(30));
    text.push_str(&"feed\nwithdraw\n".repeat(2500));
    fs::write(&file, text).expect("written");
    let server = Server::start("side-branch.toml", &out, &[]);
    let page = server.page();
    assert_eq!(page.at, 5030);
    let first = page
        .replaying
        .first()
        .expect("it takes longer than a message");
    assert_eq!(first["opening"]["moment"]["at"], 0);
    assert_eq!(first["opening"]["scene"]["name"], "side-branch");
    let mut before = 0;
    for told in &page.replaying {
        let at = told["moment"]["at"].as_u64().expect("a moment");
        assert!(
            at >= before && told["of"] == 5030,
            "{} {}",
            told["done"],
            told["of"]
        );
        before = at;
    }
    assert!(
        page.replaying[1..]
            .iter()
            .all(|told| told["opening"].is_null())
    );
}

#[test]
fn the_techniques_of_the_study_are_run_on_the_same_draw() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::start(
        "side-branch.toml",
        &folder.path().join("hand"),
        &["--trial", "5"],
    );
    let mut page = server.page();
    page.say(&json!("compare"));
    let mut rows = Vec::new();
    let mut told = 0;
    loop {
        let heard = page.hear();
        if heard["comparing"].is_object() {
            assert_eq!(heard["comparing"]["done"].as_u64(), Some(rows.len() as u64));
            assert_eq!(heard["comparing"]["of"], 6);
            told += 1;
            continue;
        }
        if !heard["compared"].is_null() {
            assert_eq!(heard["compared"].as_u64(), Some(rows.len() as u64));
            break;
        }
        rows.push(heard["row"].clone());
    }
    assert_eq!((rows.len(), told), (6, 6));
    assert!(rows.iter().all(|row| row["trial"] == 5), "{rows:?}");
}

#[test]
fn a_balloon_is_deflated_and_inflated_by_hand_and_the_session_replays_to_the_same_numbers() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("hand");
    let technique = ["--technique", "balloon at the joint"];
    let server = Server::start("graft-entry.toml", &out, &technique);
    let mut page = server.page();
    assert_eq!(
        page.hello["scene"]["hands"]["controls"]["has_balloon"],
        true
    );
    assert_eq!(page.hello["moment"]["balloon_mm"], 3.0);
    assert!(
        page.make("inflate")["refused"]
            .as_str()
            .is_some_and(|why| why.contains("as far as"))
    );
    let mut moment = Value::Null;
    for _ in 0..15 {
        moment = page.make("deflate")["moment"].clone();
    }
    assert_eq!(moment["balloon_mm"], 0.0);
    assert!((moment["felt"]["time_s"].as_f64().expect("a time") - 3.0).abs() < 0.01);
    assert!(page.make("deflate")["refused"].is_string());
    // Without the balloon the wire runs on past the joint, to where the balloon would stand.
    for _ in 0..112 {
        moment = page.make("feed")["moment"].clone();
    }
    assert!(
        moment["seen"]["before_branching_mm"]
            .as_f64()
            .is_some_and(|mm| mm < 0.0),
        "{moment}"
    );
    assert!(
        page.make("inflate")["refused"]
            .as_str()
            .is_some_and(|why| why.contains("withdraw"))
    );
    for _ in 0..20 {
        page.make("withdraw");
    }
    for _ in 0..15 {
        moment = page.make("inflate")["moment"].clone();
    }
    assert_eq!(moment["balloon_mm"], 3.0);
    // Now it stands in the way.
    for _ in 0..30 {
        moment = page.make("feed")["moment"].clone();
        if moment["over"] == true {
            break;
        }
    }
    assert!(
        moment["felt"]["push_mn"]
            .as_f64()
            .is_some_and(|push| push > 1.0),
        "{moment}"
    );
    page.say(&json!("finish"));
    let finished = page.hear()["finished"].clone();
    drop(page);
    server.kill();
    let row = row_of_run(&out.join("study.toml"), &folder.path().join("results"));
    same_row(&finished, &row);
}

#[cfg(unix)]
#[test]
fn the_end_of_the_terminal_ends_the_program_and_the_page_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let server = Server::start("side-branch.toml", &folder.path().join("hand"), &[]);
    let mut page = server.page();
    page.make("feed");
    server.hang_up();
    let told = page.hear();
    assert!(
        told["gone"]
            .as_str()
            .is_some_and(|why| why.contains("ended")),
        "{told}"
    );
    assert_eq!(server.ends(), Some(0));
}

#[test]
fn a_session_of_another_draw_or_a_name_that_is_not_there_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let out = folder.path().join("hand");
    Server::start("side-branch.toml", &out, &[]).kill();
    let refused = |more: &[&str]| {
        let output = cargo_bin_cmd!("bendwise")
            .arg("steer")
            .arg(super::scenario("side-branch.toml"))
            .arg("--out")
            .arg(&out)
            .args(more)
            .output()
            .expect("it runs");
        assert_eq!(output.status.code(), Some(2));
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    let other = refused(&["--trial", "1"]);
    assert!(other.contains("another trial"), "{other}");
    let unknown = refused(&["--wire", "no such wire"]);
    assert!(unknown.contains("workhorse 1 gf"), "{unknown}");
    fs::write(out.join("session.csv"), "recording,9\n").expect("a file");
    let damaged = refused(&[]);
    assert!(damaged.contains("line 1"), "{damaged}");
}
