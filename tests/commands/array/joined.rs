//! Shares of an array give the bytes of the whole sweep, and say how far they are.

use predicates::str::contains;

use super::{array, assert_same, bendwise, folder, share, status, text, whole};

#[test]
fn shares_by_number_or_by_task_join_to_the_whole_sweep() {
    let folder = folder(2);
    array(&folder, 3);
    whole(&folder);
    let said = status(&folder);
    assert!(said.contains("missing       3  1-3"), "{said}");
    assert!(said.contains("--array=1-3 array/array.sh"), "{said}");
    share(&folder, 1).assert().success();
    bendwise(&folder, &["share", "array", "--quiet"])
        .env("SLURM_ARRAY_TASK_ID", "3")
        .assert()
        .success();
    let said = status(&folder);
    assert!(said.contains("done          2  1, 3"), "{said}");
    assert!(said.contains("RESULT SO FAR: 8 of 12 trials"), "{said}");
    let again = "array=$(sbatch --parsable --array=2 array/array.sh) &&\n  \
                 sbatch --dependency=afterany:$array array/gather.sh";
    assert!(said.contains(again), "{said}");

    bendwise(&folder, &["gather", "array", "--out", "joined"])
        .assert()
        .code(2)
        .stderr(contains("of 3 shares 1 is not finished; 1 not begun: 2;"));
    let so_far = ["gather", "array", "--so-far", "--quiet", "--out", "so-far"];
    bendwise(&folder, &so_far).assert().success();
    for name in ["report.md", "sweep.json", "figures/main-effects.svg"] {
        let said = text(&folder, &format!("so-far/{name}"));
        assert!(said.contains("so far: 2 of 3 shares"), "{name}");
    }
    let trials = text(&folder, "so-far/trials.csv");
    let mut lines = trials.lines();
    assert!(lines.next().unwrap().ends_with(",so_far"), "{trials}");
    assert!(
        lines.all(|line| line.ends_with(",2 of 3 shares")),
        "{trials}"
    );
    let points = text(&folder, "so-far/points.csv");
    assert!(
        points.lines().next().unwrap().ends_with(",so_far"),
        "{points}"
    );
    assert_eq!(points.matches("not computed yet").count(), 2, "{points}");

    share(&folder, 2).assert().success();
    assert!(status(&folder).contains("ALL SHARES ARE DONE"));
    // One that is finished is done at once, and nothing is written.
    bendwise(&folder, &["share", "array", "2"])
        .assert()
        .success()
        .stdout("share 2/3 is finished already\n");
    let joined = ["gather", "array", "--quiet", "--out", "joined"];
    bendwise(&folder, &joined).assert().success();
    assert_same(&folder, "whole", "joined");
}

#[test]
fn a_share_of_a_sweep_takes_its_number_from_a_scheduler_and_is_done_once() {
    let folder = folder(1);
    let words = [
        "sweep",
        "sweep.toml",
        "--shard",
        "array/2",
        "--out",
        "second",
    ];
    for said in [
        "share 2/2 written to second",
        "share 2/2 is finished already",
    ] {
        bendwise(&folder, &words)
            .env("PBS_ARRAY_INDEX", "2")
            .assert()
            .success()
            .stdout(contains(said));
    }
    bendwise(&folder, &words)
        .assert()
        .code(2)
        .stderr(contains("no batch scheduler says one"));
}

#[test]
fn gather_names_every_share_that_is_missing() {
    let folder = folder(1);
    array(&folder, 6);
    share(&folder, 5).assert().success();
    bendwise(&folder, &["gather", "array", "--out", "joined"])
        .assert()
        .code(2)
        .stderr(contains(
            "of 6 shares 5 are not finished; 5 not begun: 1-4, 6;",
        ));
}
