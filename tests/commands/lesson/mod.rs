//! `bendwise lesson`: what is claimed is what the trials measure, and nothing else gets on a page.

mod live;
mod refused;
mod shipped;

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::Value;

/// A lesson of two pages on the shipped side branch, four trials each.
pub(crate) const SMALL: &str = r#"
name = "small"
title = "A small lesson"
description = "What redirecting adds."
scenario = "SCENARIO"
trials = 4
recorded = 1
technique = "push"
wire = "soft 0.3 gf"

[[page]]
name = "pushed"
title = "Pushed with {wire}"
text = "In {reached} of {trials} trials."
look = "The mouth."
question = { ask = "Why?", answer = "Because of {push}." }

[[page.claim]]
say = "It presses with {wall_force}."
value = "wall_force"
at_least = 0

[[page]]
name = "firmer"
title = "A tip load of {set wire.\"soft 0.3 gf\".tip_load_gf}"
change = { path = 'wire."soft 0.3 gf".tip_load_gf', value = 1 }
text = "{wall_force / wall_force of pushed} times the force."
look = "The mouth."
question = { ask = "Why?", answer = "It is firmer." }

[[page.claim]]
say = "It presses with {wall_force}, not {wall_force of pushed}."
value = "wall_force"
more_than = "wall_force of pushed"

[[page.claim]]
say = "In {tip_in side} of {trials} trials the tip lies in the branch."
value = "tip_in side"
at_least = "reached"
"#;

/// A folder with a lesson of this text in it.
pub(crate) struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub(crate) fn new(text: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let bench = Self { folder };
        bench.write(text);
        bench
    }

    /// Writes the text of the lesson, which names its scenario.
    pub(crate) fn write(&self, text: &str) {
        let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
        let text = text.replace("SCENARIO", scenario.to_str().expect("a path"));
        fs::write(self.file(), text).expect("written");
    }

    pub(crate) fn file(&self) -> PathBuf {
        self.folder.path().join("small.toml")
    }

    pub(crate) fn out(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Builds it: exit status and what is said on standard error.
    pub(crate) fn build(&self, out: &str, more: &[&str]) -> (Option<i32>, String) {
        let output = cargo_bin_cmd!("bendwise")
            .arg("lesson")
            .arg(self.file())
            .arg("--out")
            .arg(self.out(out))
            .args(more)
            .output()
            .expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code(), said)
    }
}

pub(crate) fn json(folder: &Path) -> Value {
    let text = fs::read_to_string(folder.join("lesson.json")).expect("lesson.json");
    serde_json::from_str(&text).expect("JSON")
}

/// The middle of a column of `trials.csv` over the trials of a page.
pub(crate) fn middle(folder: &Path, strategy: &str, column: &str) -> f64 {
    let mut reader = csv::Reader::from_path(folder.join("trials.csv")).expect("trials.csv");
    let heads = reader.headers().expect("heads").clone();
    let place = |name: &str| {
        heads
            .iter()
            .position(|head| head == name)
            .expect("a column")
    };
    let (name, value) = (place("strategy"), place(column));
    let mut values: Vec<f64> = reader
        .records()
        .map(|row| row.expect("a row"))
        .filter(|row| &row[name] == strategy)
        .map(|row| row[value].parse().expect("a number"))
        .collect();
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 {
        values[middle]
    } else {
        0.5 * (values[middle - 1] + values[middle])
    }
}

#[test]
fn what_a_page_says_is_what_its_trials_measure() {
    let bench = Bench::new(SMALL);
    let (status, said) = bench.build("whole", &["--quiet"]);
    assert_eq!(status, Some(0), "{said}");
    let out = bench.out("whole");
    let built = json(&out);
    let force = |page: &str| middle(&out, page, "peak_wall_force_mN");
    let [pushed, firmer] = ["page 1, pushed", "page 2, firmer"].map(force);
    let claims = &built["pages"][1]["claims"];
    assert!((claims[0]["value"].as_f64().expect("a value") - firmer).abs() < 1e-9);
    // The sentences hold the numbers of the table, to three digits.
    let three = |value: f64| {
        if value < 1.0 {
            format!("{value:.3}")
        } else {
            format!("{value:.2}")
        }
    };
    let says = claims[0]["says"].as_str().expect("a sentence");
    assert_eq!(
        says,
        format!(
            "It presses with {} mN (median), not {} mN.",
            three(firmer),
            three(pushed)
        )
    );
    let text = built["pages"][1]["text"].as_str().expect("a text");
    assert_eq!(
        text,
        format!("{} (by medians) times the force.", three(firmer / pushed))
    );
    assert_eq!(built["pages"][1]["title"], "A tip load of 1 gf");
    let changed = &built["pages"][1]["changed"];
    assert_eq!(
        [&changed["from"], &changed["to"]],
        ["0.3 gf", "1 gf"],
        "{changed}"
    );
    // The page says what the file for programs says, and one file is all of it.
    let page = fs::read_to_string(out.join("lesson.html")).expect("lesson.html");
    assert!(page.contains(says) && page.contains("not for clinical decisions"));
    assert!(!page.contains("src=\"http") && !page.contains("href=\"http"));
}

#[test]
fn a_lesson_that_was_stopped_goes_on_to_the_same_bytes_on_any_number_of_threads() {
    let bench = Bench::new(SMALL);
    let (status, said) = bench.build("whole", &["--quiet", "--threads", "1"]);
    assert_eq!(status, Some(0), "{said}");
    let (status, _) = bench.build("parts", &["--quiet", "--at-most", "3", "--threads", "2"]);
    assert_eq!(status, Some(0));
    assert!(!bench.out("parts").exists());
    let (status, said) = bench.build("parts", &["--quiet", "--threads", "2"]);
    assert_eq!(status, Some(0), "{said}");
    for file in ["lesson.json", "lesson.html", "trials.csv"] {
        let [whole, parts] =
            ["whole", "parts"].map(|out| fs::read(bench.out(out).join(file)).expect("a file"));
        assert!(whole == parts, "{file} differs");
    }
    // What is there stays, until it is to be replaced.
    let (status, said) = bench.build("whole", &["--quiet"]);
    assert_eq!(status, Some(2));
    assert!(said.contains("--overwrite"), "{said}");
}

#[test]
fn the_lesson_in_the_page_of_fields_builds_as_it_stands() {
    let folder = tempfile::tempdir().expect("a folder");
    let example = |document: &str| {
        let output = cargo_bin_cmd!("bendwise")
            .args(["schema", document, "--markdown"])
            .output()
            .expect("it runs");
        let page = String::from_utf8(output.stdout).expect("a text");
        let behind = page.split_once("```toml\n").expect("an example").1;
        behind.split_once("```").expect("its end").0.to_owned()
    };
    for (document, file) in [("scenario", "small.toml"), ("lesson", "lesson.toml")] {
        fs::write(folder.path().join(file), example(document)).expect("written");
    }
    cargo_bin_cmd!("bendwise")
        .current_dir(folder.path())
        .args(["lesson", "lesson.toml", "--quiet", "--out", "out"])
        .assert()
        .success();
    let built = json(&folder.path().join("out"));
    assert_eq!(built["pages"][1]["opening"]["view"], "branching");
    assert_eq!(built["pages"][1]["opening"]["moment"], "mouth");
    let answer = built["pages"][1]["answer"].as_str().expect("a text");
    assert!(answer.contains("median"), "{answer}");
}
