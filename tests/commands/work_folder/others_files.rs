//! Files that the program did not write.

use std::fs;
use std::path::Path;

use predicates::prelude::*;
use predicates::str::contains;

use crate::work_folder::{COMMANDS, bendwise, files, folder, make_share, names, with_out};

#[test]
fn overwrite_replaces_results_and_nothing_else() {
    let folder = folder();
    make_share(&folder);
    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    fs::write(out.join("thesis.tex"), "years").unwrap();
    let check_refused = |command: &[&str], name: &str| {
        let before = files(&out);
        with_out(&folder, command, &["--overwrite"])
            .assert()
            .code(2)
            .stderr(contains("did not write").and(contains(name)));
        assert!(files(&out) == before, "{command:?}");
    };
    for command in COMMANDS {
        check_refused(command, "thesis.tex");
    }
    fs::remove_file(out.join("thesis.tex")).unwrap();
    // Each takes the place of the one before, and of nothing that was added or changed since.
    for command in COMMANDS {
        with_out(&folder, command, &["--overwrite"])
            .assert()
            .success();
        assert!(out.join("manifest.jsonl").exists());
        fs::create_dir(out.join("empty")).unwrap();
        check_refused(command, "empty/");
        fs::remove_dir(out.join("empty")).unwrap();
    }
    let first = files(&out).into_keys().next().unwrap();
    let mut bytes = fs::read(out.join(&first)).unwrap();
    bytes.push(b' ');
    fs::write(out.join(&first), bytes).unwrap();
    check_refused(COMMANDS[0], &first);
    let expected = ["out", "share", "short.toml", "sweep.toml"];
    assert_eq!(names(folder.path()), expected);
}

#[test]
fn folders_beside_the_target_that_are_somebodys_own_stay() {
    let folder = folder();
    make_share(&folder);
    let beside = folder.path().join("out.previous");
    fs::create_dir(&beside).unwrap();
    fs::write(beside.join("mine.txt"), "mine").unwrap();
    for command in COMMANDS {
        with_out(&folder, command, &["--overwrite"])
            .assert()
            .success();
        assert_eq!(fs::read_to_string(beside.join("mine.txt")).unwrap(), "mine");
    }
    let work = folder.path().join("out.partial");
    fs::create_dir(&work).unwrap();
    fs::write(work.join("mine.txt"), "mine").unwrap();
    for command in COMMANDS {
        with_out(&folder, command, &["--overwrite"])
            .assert()
            .code(2)
            .stderr(contains("out.partial").and(contains("mine.txt")));
        assert_eq!(fs::read_to_string(work.join("mine.txt")).unwrap(), "mine");
    }
}

#[cfg(unix)]
#[test]
fn a_target_that_is_a_link_is_followed() {
    use std::os::unix::fs::symlink;
    let folder = folder();
    make_share(&folder);
    let (link, real) = (folder.path().join("out"), folder.path().join("disk/real"));
    fs::create_dir_all(&real).unwrap();
    symlink("disk/real", &link).unwrap();
    for command in COMMANDS {
        with_out(&folder, command, &["--overwrite"])
            .assert()
            .success();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert!(real.join("manifest.jsonl").exists());
        assert_eq!(names(&folder.path().join("disk")), ["real"]);
    }
    fs::remove_file(&link).unwrap();
    symlink("nowhere", &link).unwrap();
    for command in COMMANDS {
        with_out(&folder, command, &[])
            .assert()
            .code(2)
            .stderr(contains("is a link that cannot be followed").and(contains("--out")));
    }
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
}

#[test]
fn a_picture_replaces_only_pictures_that_it_drew() {
    let folder = folder();
    let picture = || bendwise(&folder, &["check", "short.toml", "--picture", "out"]);
    let out: &Path = &folder.path().join("out");
    with_out(&folder, COMMANDS[3], &[]).assert().success();
    fs::write(out.join("notes.txt"), "notes").unwrap();
    let before = files(out);
    picture().assert().success();
    let tree = fs::read(out.join("tree.png")).unwrap();
    picture().assert().success();
    assert_eq!(fs::read(out.join("tree.png")).unwrap(), tree);
    let after = files(out);
    let stayed = before.iter().filter(|(name, _)| *name != "manifest.jsonl");
    assert!(stayed.clone().count() == 5 && stayed.clone().all(|(n, b)| after[n] == *b));
    fs::write(out.join("tree.svg"), "drawn by hand").unwrap();
    picture()
        .assert()
        .code(1)
        .stderr(contains("tree.svg").and(contains("did not write it")));
    assert_eq!(fs::read(out.join("tree.svg")).unwrap(), b"drawn by hand");
    // All files of the program are known, those of the export too.
    with_out(&folder, COMMANDS[3], &["--overwrite"])
        .assert()
        .code(2)
        .stderr(contains("since: notes.txt, tree.svg;"));
}
