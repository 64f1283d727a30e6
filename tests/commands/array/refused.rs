//! What cannot be cut into shares, and shares that do not belong together.

use std::fs;

use predicates::prelude::*;
use predicates::str::contains;

use super::{array, array_of, bendwise, folder, share, status};

#[test]
fn more_shares_than_points_and_a_search_are_refused() {
    let folder = folder(1);
    array_of(&folder, "7")
        .code(2)
        .stderr(contains("6 points, fewer than 7 shares").and(contains("--array 6 or less")));
    array_of(&folder, "0")
        .code(2)
        .stderr(contains("from 1 to 100000"));
    let path = folder.path().join("sweep.toml");
    let search = fs::read_to_string(&path).unwrap()
        + "\n[search]\nbatch = 1\nmost_trials = 8\nconfirm = 8\nwall_force_limit_mN = 100\n";
    fs::write(&path, search).unwrap();
    array_of(&folder, "2")
        .code(2)
        .stderr(contains("cannot be cut into shares"));
    assert!(!folder.path().join("array").exists());
}

#[test]
fn a_sweep_that_was_changed_and_a_share_that_does_not_exist_are_refused() {
    let folder = folder(1);
    array(&folder, 2);
    share(&folder, 3)
        .assert()
        .code(2)
        .stderr(contains("this array has shares 1 to 2"));
    let scenario = folder.path().join("short.toml");
    let text = fs::read_to_string(&scenario).unwrap();
    fs::write(&scenario, text.clone() + "\n# changed\n").unwrap();
    let changed = "sweep.toml, its scenario and the files that these name say";
    share(&folder, 1).assert().code(2).stderr(contains(changed));
    assert!(status(&folder).contains(changed));
    fs::remove_file(&scenario).unwrap();
    share(&folder, 1)
        .assert()
        .code(2)
        .stderr(contains("short.toml"));
    fs::write(&scenario, text).unwrap();
    assert!(!status(&folder).contains("CHANGED"));
    share(&folder, 1).assert().success();
}

/// A share that another process is at work on is left alone, and status says so.
#[test]
fn a_share_that_is_at_work_is_left_alone() {
    let folder = folder(1);
    array(&folder, 2);
    let shares = folder.path().join("array/shares");
    fs::create_dir_all(&shares).unwrap();
    let lock = fs::File::create(shares.join("1.lock")).unwrap();
    lock.lock().unwrap();
    share(&folder, 1)
        .assert()
        .code(75)
        .stderr(contains("share 1/2 is at work already"));
    let said = status(&folder);
    assert!(said.contains("at work       1  1"), "{said}");
    assert!(said.contains("--array=2 array/array.sh"), "{said}");
    drop(lock);
    share(&folder, 1).assert().success();
}

/// No changed byte of what describes an array or a share is taken for what was written.
#[test]
fn changed_descriptions_are_refused() {
    let folder = folder(1);
    array(&folder, 2);
    share(&folder, 1).assert().success();
    let description = folder.path().join("array/shares/1/share.json");
    let text = fs::read_to_string(&description).unwrap();
    let changed = text.replacen("\"refused\": 0", "\"refused\": 3", 1);
    assert_ne!(text, changed);
    fs::write(&description, changed).unwrap();
    let said = status(&folder);
    assert!(said.contains("damaged       1  1"), "{said}");
    assert!(said.contains("remove array/shares/1"), "{said}");
    assert!(
        said.contains("the checksum in share.json does not match"),
        "{said}"
    );
    fs::write(&description, text).unwrap();
    let array = folder.path().join("array/array.json");
    let mut bytes = fs::read(&array).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&array, bytes).unwrap();
    bendwise(&folder, &["status", "array"])
        .assert()
        .code(2)
        .stderr(contains(
            "does not describe an array: its checksum does not match",
        ));
    bendwise(&folder, &["status", "."])
        .assert()
        .code(2)
        .stderr(contains("is no folder of an array"));
}

#[test]
fn a_share_of_an_array_alone_is_refused_by_gather() {
    let folder = folder(1);
    array(&folder, 2);
    share(&folder, 1).assert().success();
    bendwise(&folder, &["gather", "array/shares/1", "--out", "joined"])
        .assert()
        .code(2)
        .stderr(contains("name the folder of the array"));
}
