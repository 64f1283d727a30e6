//! The command line itself: version and wrong options.

use assert_cmd::cargo::cargo_bin_cmd;
use predicates::str::contains;

#[test]
fn version_is_that_of_the_package() {
    cargo_bin_cmd!("bendwise")
        .arg("--version")
        .assert()
        .success()
        .stdout(format!("bendwise {}\n", env!("CARGO_PKG_VERSION")));
}

#[test]
fn wrong_options_end_with_status_2_and_name_the_option() {
    for (args, says) in [
        (vec!["run", "a.toml"], "--out"),
        (
            vec!["run", "a.toml", "--out", "d", "--trials", "0"],
            "invalid value '0' for '--trials <N>': allowed is a whole number from 1 to 1000000",
        ),
        (
            vec!["run", "a.toml", "--out", "d", "--trials", "-1"],
            "invalid value '-1' for '--trials <N>': allowed is a whole number from 1 to 1000000",
        ),
        (
            vec!["run", "a.toml", "--out", "d", "--trials", "1.5"],
            "invalid value '1.5' for '--trials <N>': allowed is a whole number from 1 to 1000000",
        ),
        (
            vec!["run", "a.toml", "--out", "d", "--seed", "-1"],
            "invalid value '-1' for '--seed <N>': allowed is a whole number from 0 to",
        ),
        (
            vec!["run", "a.toml", "--out", "d", "--at-most", "0"],
            "invalid value '0' for '--at-most <N>': allowed is a whole number from 1 to",
        ),
        (
            vec!["run", "a.toml", "--out", "d", "--threads", "0"],
            "invalid value '0' for '--threads <N>': allowed is a whole number from 1 to 1024",
        ),
        (vec!["run", "a.toml", "--out", "d", "--sed", "1"], "--seed"),
        (vec!["chek", "a.toml"], "check"),
    ] {
        cargo_bin_cmd!("bendwise")
            .args(args)
            .assert()
            .code(2)
            .stderr(contains(says));
    }
}

#[test]
fn a_scenario_that_is_not_there_ends_a_run_with_status_2() {
    cargo_bin_cmd!("bendwise")
        .args(["run", "nothing.toml", "--out", "never-made"])
        .assert()
        .code(2)
        .stderr(contains("cannot read the scenario nothing.toml"));
}
