//! A sweep in parts, interrupted and joined.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use bendwise::report::sweep::sinks;
use bendwise::study::store::header::claim;
use bendwise::study::sweep::Shares;
use bendwise::study::{Folders, Part, Shard, StudySetup};

use super::{grid, run_part};
use crate::files_below::files_below;
use crate::sweep_common::listed;

fn assert_same(first: &Path, second: &Path) {
    let (first, second) = (files_below(first), files_below(second));
    let names = |files: &BTreeMap<String, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&first), names(&second));
    for (name, bytes) in &first {
        assert!(second[name] == *bytes, "{name} differs");
    }
    assert!(first.contains_key("figures/map.png"));
}

#[test]
fn threads_interruptions_and_shares_change_no_byte() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let whole = Part::whole(grid());
    run_part(&whole, &at("whole"), 1, None).unwrap();
    run_part(&whole, &at("threads"), 4, None).unwrap();
    assert_same(&at("whole"), &at("threads"));

    let mut parts = 0;
    while !run_part(&whole, &at("parts"), 1, Some(3)).unwrap().complete {
        parts += 1;
        assert!(parts < 20, "the run makes no progress");
    }
    assert!(parts > 5);
    assert_same(&at("whole"), &at("parts"));

    let folders: Vec<PathBuf> = [3, 1, 2]
        .map(|number| share(&grid(), &at(&format!("share-{number}")), number, 3))
        .into();
    let gathered = Shares::open(&folders).unwrap();
    let joined = Folders::prepare(&at("joined"), false).unwrap();
    claim(&joined, "gather").unwrap();
    let handed = gathered.hand_on(joined.partial(), sinks(gathered.setup()));
    assert_eq!(handed.unwrap().refused, 1);
    joined.complete().unwrap();
    assert_same(&at("whole"), &at("joined"));
}

/// Computes a share and returns its folder.
fn share(setup: &StudySetup, out: &Path, number: usize, of: usize) -> PathBuf {
    let part = Part {
        setup: setup.clone(),
        shard: Shard { number, of },
        deal: None,
    };
    run_part(&part, out, 1, None).unwrap();
    out.to_owned()
}

#[test]
fn shares_that_do_not_belong_together_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let setup = grid();
    share(&setup, &at("1of2"), 1, 2);
    share(&setup, &at("2of3"), 2, 3);
    let other_seed = StudySetup {
        seed: 77,
        ..setup.clone()
    };
    share(&other_seed, &at("seed"), 2, 2);
    let other_version = StudySetup {
        version: "older".to_owned(),
        ..setup.clone()
    };
    share(&other_version, &at("version"), 2, 2);
    let mut other_design = setup.clone();
    other_design.design.parameters[0] = listed("length_mm", &[1.0, 2.0, 4.0]);
    share(&other_design, &at("design"), 2, 2);
    let refused = |names: &[&str]| {
        let folders: Vec<_> = names.iter().map(|name| at(name)).collect();
        Shares::open(&folders).unwrap_err().to_string()
    };
    assert!(refused(&[]).contains("nothing to gather"));
    assert!(refused(&["1of2"]).contains("missing: 2"));
    assert!(refused(&["1of2", "1of2"]).contains("stands in both"));
    assert!(refused(&["1of2", "2of3"]).contains("number of shares: 2 and 3"));
    assert!(refused(&["1of2", "seed"]).contains("seed: 9 and 77"));
    assert!(refused(&["1of2", "version"]).contains("version"));
    assert!(refused(&["1of2", "design"]).contains("design"));
    assert!(refused(&["1of2", "nowhere"]).contains("holds no share"));
}

#[test]
fn a_share_with_lost_rows_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let folders: Vec<PathBuf> = [1, 2]
        .map(|number| share(&grid(), &folder.path().join(number.to_string()), number, 2))
        .into();
    let rows = folders[1].join("rows.jsonl");
    let text = fs::read_to_string(&rows).unwrap();
    let kept: Vec<&str> = text.lines().skip(1).collect();
    fs::write(&rows, kept.join("\n") + "\n").unwrap();
    let shares = Shares::open(&folders).unwrap();
    let bad = shares.in_order().unwrap().find_map(Result::err).unwrap();
    assert!(bad.to_string().contains("4 of 5 trials"), "{bad}");
}
