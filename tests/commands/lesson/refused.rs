//! What a lesson may not say.

use super::{Bench, SMALL};

/// The small lesson with one text in place of another.
fn changed(from: &str, to: &str) -> String {
    assert!(SMALL.contains(from), "{from}");
    SMALL.replacen(from, to, 1)
}

/// What `check` says against a lesson.
fn refusal(text: &str) -> String {
    let bench = Bench::new(text);
    let output = assert_cmd::cargo::cargo_bin_cmd!("bendwise")
        .arg("check")
        .arg(bench.file())
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(2), "{text}");
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_claim_that_the_trials_do_not_bear_out_is_refused_and_the_trials_are_kept() {
    let wrong = changed(
        "more_than = \"wall_force of pushed\"",
        "less_than = \"wall_force of pushed\"",
    );
    let bench = Bench::new(&wrong);
    let (status, said) = bench.build("out", &["--quiet"]);
    assert_eq!(status, Some(2), "{said}");
    for part in [
        "page firmer",
        "wall_force is less than wall_force of pushed",
        "measured is",
        "mN",
        "small.toml",
    ] {
        assert!(said.contains(part), "{part} is not in: {said}");
    }
    assert!(!bench.out("out").exists());
    let rows = bench.out("out.partial").join("rows");
    let kept = |folder: &std::path::Path| -> u64 {
        let files = std::fs::read_dir(folder).expect("kept trials");
        files
            .map(|file| file.expect("a file").metadata().expect("a size").len())
            .sum()
    };
    let before = kept(&rows);
    assert!(before > 0);
    // Once it is corrected the same command goes on with the trials that are there.
    bench.write(SMALL);
    let (status, said) = bench.build("out", &["--at-most", "1", "--quiet"]);
    assert_eq!(status, Some(0), "{said}");
    assert!(
        bench.out("out").join("lesson.html").exists(),
        "no trial was left to do"
    );
}

#[test]
fn what_is_wrong_in_a_lesson_is_told_with_its_place() {
    let change = "change = { path = 'wire.\"soft 0.3 gf\".tip_load_gf', value = 1 }";
    for (from, to, why) in [
        ("In {reached} of", "In 3 of", "the number 3 is typed"),
        ("{push}", "{pish}", "called pish"),
        ("of pushed\"", "of poshed\"", "there is no page poshed"),
        ("{tip_in side}", "{tip_in slide}", "no branch slide"),
        (change, "", "change"),
        (
            change,
            "change = { wire = \"stiff 3 gf\", technique = \"redirect\" }",
            "2 things",
        ),
        (
            change,
            "change = { wire = \"stif 3 gf\" }",
            "did you mean \"stiff 3 gf\"",
        ),
        (
            change,
            "change = { wire = \"soft 0.3 gf\" }",
            "on the page before too",
        ),
        (
            change,
            "change = { path = 'wire.\"soft 0.3 gf\".tip_load_gf', value = 0.3 }",
            "on the page before too",
        ),
        (
            change,
            "change = { path = 'wire.*.tip_load_gf', value = 1 }",
            "one thing",
        ),
        (
            change,
            "change = { path = 'wire.soft.tip_load_gf', value = 1 }",
            "no place",
        ),
        (
            change,
            "change = { path = 'wire.\"soft 0.3 gf\".tip_load_gf', value = -1 }",
            "cannot be used",
        ),
        ("at_least = 0\n", "", "nothing is claimed"),
        (
            "look =",
            "opens = \"start up\"\nlook =",
            "did you mean start?",
        ),
        (
            "look =",
            "view = \"above\"\nlook =",
            "\"branching\", \"C-arm\"",
        ),
        (
            "look =",
            "view = \"C-arm\"\nlook =",
            "does not say how that stands",
        ),
        ("look =", "turned_deg = [200, 0]\nlook =", "180"),
        ("name = \"firmer\"", "name = \"pushed\"", "a page before it"),
        (
            "{set wire.\\\"soft 0.3 gf\\\".tip_load_gf}",
            "{set wire.1.tip_lode_gf}",
            "tip_load_gf",
        ),
        (
            "title = \"Pushed with {wire}\"",
            "title = \"{reached}\"",
            "before its trials",
        ),
    ] {
        let said = refusal(&changed(from, to));
        assert!(said.contains(why), "{to}: {why} is not in: {said}");
        assert!(said.contains("small.toml"), "{said}");
    }
}

#[test]
fn a_lesson_is_no_scenario_and_a_scenario_no_lesson() {
    let bench = Bench::new(SMALL);
    let ask = |command: &str, file: &std::path::Path| {
        let output = assert_cmd::cargo::cargo_bin_cmd!("bendwise")
            .args([command, file.to_str().expect("a path"), "--out"])
            .arg(bench.out("none"))
            .output()
            .expect("it runs");
        assert_eq!(output.status.code(), Some(2));
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    for command in ["run", "sweep", "assay"] {
        let said = ask(command, &bench.file());
        assert!(said.contains("lesson"), "{said}");
    }
    let scenario =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
    assert!(ask("lesson", &scenario).contains("not a lesson"));
}
