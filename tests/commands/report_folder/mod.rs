//! Is everything that a study leaves in its folder there, whole and readable by others?
#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    reason = "a failed test may panic; numbers here are small"
)]

mod film;
mod invented;
mod pictures;
mod sink;
mod tables;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

pub use invented::folder as made;
use invented::{folder, make};

fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let bytes = fs::read(&path).unwrap();
                all.insert(path.strip_prefix(folder).unwrap().to_owned(), bytes);
            }
        }
    }
    all
}

#[test]
fn a_study_in_two_halves_on_one_thread_leaves_the_same_bytes_in_every_file() {
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("halves");
    make(&out, 1, Some(90));
    assert!(!out.exists());
    make(&out, 1, None);
    let (halves, whole) = (files(&out), files(folder()));
    assert_eq!(
        halves.keys().collect::<Vec<_>>(),
        whole.keys().collect::<Vec<_>>()
    );
    for (path, bytes) in &whole {
        assert!(halves[path] == *bytes, "{} differs", path.display());
    }
}

/// Keeps the folder for looking at: `cargo test --test commands report_folder -- --ignored`.
#[test]
#[ignore = "writes into the build folder for looking at"]
fn leave_a_folder_to_look_at() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("report-to-look-at");
    let _ = fs::remove_dir_all(&out);
    make(&out, 2, None);
}
