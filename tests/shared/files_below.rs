//! What a folder holds.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// Every file below a folder with its bytes, by its path from there.
pub fn files_below(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if path.is_dir() {
            let inner = files_below(&path).into_iter();
            found.extend(inner.map(|(inner, bytes)| (format!("{name}/{inner}"), bytes)));
        } else {
            found.insert(name, fs::read(&path).unwrap());
        }
    }
    found
}
