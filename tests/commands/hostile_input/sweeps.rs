//! Sweeps: what `check` says of them, and refusals with file and line.

use std::fs;
use std::path::Path;

use crate::hostile_input::{bounded, folder_with, said, scenario};

const SWEEP: &str = r#"name = "loads"
description = "which tip load"
scenario = "a.toml"

[design]
kind = "grid"
trials = 3

[[parameter]]
path = 'wire.soft.tip_load_gf'
levels = [0.5, 1, 2]

[[parameter]]
path = 'vessel.branch.side.take_off_deg'
low = 40
high = 100
steps = 4
"#;

#[test]
fn check_says_what_a_sweep_will_be_without_running_it() {
    let folder = folder_with("a.toml", scenario(&[]));
    fs::write(folder.path().join("s.toml"), SWEEP).unwrap();
    let (code, text) = said(&bounded(folder.path(), &["check", "s.toml"]));
    assert_eq!(code, Some(0), "{text}");
    for word in [
        "points      12",
        "strategies  1",
        "3 of each strategy at every point, 36 in all",
        "3 levels: 0.5, 1, 2",
        "4 levels: 40",
        "time    about",
        "memory  about",
        "disk    about",
        "8 of 8 over the whole design can be built",
    ] {
        assert!(text.contains(word), "no {word:?} in {text}");
    }
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        2,
        "nothing is written"
    );
}

#[test]
fn check_reads_every_shipped_sweep() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let sweeps = fs::read_dir(root.join("scenarios/sweeps")).unwrap();
    let mut read = 0;
    for sweep in sweeps {
        let path = sweep.unwrap().path();
        let (code, text) = said(&bounded(root, &["check", path.to_str().unwrap()]));
        assert_eq!(code, Some(0), "{text}");
        assert!(text.contains("ESTIMATES"), "{text}");
        read += 1;
    }
    assert!(read >= 7);
}

/// A sweep with a part replaced, its base scenario beside it.
fn refusals(sweep: &str, base: &str, line: usize, words: &[&str]) {
    let folder = folder_with("a.toml", base);
    fs::write(folder.path().join("s.toml"), sweep).unwrap();
    for args in [&["check", "s.toml"][..], &["sweep", "s.toml", "--out", "o"]] {
        let (code, text) = said(&bounded(folder.path(), args));
        assert_eq!(code, Some(2), "{text}");
        let place = format!("s.toml:{line}:");
        assert!(text.contains(&place), "no {place} in {text}");
        for word in words {
            assert!(text.contains(word), "no {word:?} in {text}");
        }
        assert!(text.contains("help: "), "{text}");
    }
}

#[test]
fn every_refusal_of_a_sweep_names_file_and_line() {
    let base = scenario(&[]);
    let good = |from: &str, to: &str| {
        assert!(SWEEP.contains(from), "{from}");
        SWEEP.replacen(from, to, 1)
    };
    let with = |text: &str| format!("{SWEEP}\n{text}");
    // The base scenario is missing, or faulty, or cannot be built.
    refusals(&good("a.toml", "none.toml"), &base, 3, &["none.toml"]);
    let faulty = scenario(&[("max_fed_mm = 60", "max_fed_mm = -1")]);
    refusals(
        SWEEP,
        &faulty,
        3,
        &["the base scenario has a fault", "a.toml, line 28"],
    );
    let odd = scenario(&[(
        "take_off_deg = 60\ndiameter_mm = 2",
        "take_off_deg = 0\ndiameter_mm = 2",
    )]);
    refusals(
        SWEEP,
        &odd,
        3,
        &["the base scenario cannot be built", "never"],
    );
    // A change that the base scenario does not bear, and one that leads nowhere.
    refusals(
        &with(
            "[[set]]\npath = 'wire.soft.name'\nvalue = \"soft\"\n[[set]]\npath = 'target.max_fed_mm'\nvalue = 5\n",
        ),
        &base,
        23,
        &["cannot be used", "max_fed_mm"],
    );
    refusals(
        &good("[design]", "remove = ['guide']\n\n[design]"),
        &base,
        5,
        &["cannot be used"],
    );
    refusals(
        &good("[design]", "remove = ['gide']\n\n[design]"),
        &base,
        5,
        &["does not exist"],
    );
    refusals(
        &good("wire.soft.tip", "wire.sof.tip"),
        &base,
        10,
        &["did you mean"],
    );
    refusals(
        &good("0.5, 1, 2", "0.5, 1, 99"),
        &base,
        10,
        &["cannot be 99"],
    );
    // Anatomies that cannot be drawn.
    refusals(
        &with("[anatomy.spread]\nfile = \"places.toml\"\n"),
        &base,
        20,
        &["places.toml cannot be read"],
    );
    // More points than anyone can count.
    let grid = good(
        "low = 40\nhigh = 100\nsteps = 4",
        "low = 40\nhigh = 100\nsteps = 100000",
    );
    let grid = grid
        + "[[parameter]]\npath = 'wire.soft.friction'\nlow = 0.1\nhigh = 0.2\nsteps = 100000\n";
    refusals(
        &grid,
        &base,
        5,
        &["the design has", "allowed are up to 1000000000"],
    );
    refusals(
        &good("kind = \"grid\"", "kind = \"gird\""),
        &base,
        6,
        &["did you mean grid?"],
    );
}

/// A fault in the file of spreads names its line there.
#[test]
fn a_fault_in_a_file_of_spreads_names_its_line() {
    let sweep = format!("{SWEEP}\n[anatomy.spread]\nfile = \"places.toml\"\n");
    let folder = folder_with("a.toml", scenario(&[]));
    fs::write(folder.path().join("s.toml"), sweep).unwrap();
    let places =
        "[[place]]\nat = [1, 2, 3]\nsd = [1, 1, 1]\n[[place]]\nat = [1, 2]\nsd = [1, 1, 1]\n";
    fs::write(folder.path().join("places.toml"), places).unwrap();
    let (code, text) = said(&bounded(folder.path(), &["check", "s.toml"]));
    assert_eq!(code, Some(2), "{text}");
    assert!(text.contains("places.toml, line 5"), "{text}");
}

#[test]
fn sweeps_that_would_eat_memory_are_refused_or_taken_within_the_bounds() {
    let folder = folder_with("a.toml", scenario(&[]));
    let with = |text: &str| format!("{SWEEP}\n{text}");
    let bends = |mm: &str| {
        with(&format!(
            "[[anatomy.curvature]]\nbranch = \"parent\"\nmean_per_mm = 0.05\nbend_mm = {mm}\n"
        ))
    };
    let levels: String = (0..100_000).map(|i| format!("{i}.5, ")).collect();
    let sets = "[[set]]\npath = 'study.seed'\nvalue = 1\n".repeat(2000);
    for (number, text) in [
        bends("1e-9"),
        bends("1e-300"),
        SWEEP.replace("0.5, 1, 2", &levels),
        SWEEP.replace("0.5, 1, 2", &levels[..levels.len() / 12]),
        with(&sets),
        SWEEP.replace("steps = 4", "steps = 100000"),
        SWEEP
            .replace(
                "kind = \"grid\"",
                "kind = \"latin-hypercube\"\npoints = 10000000",
            )
            .replace("steps = 4\n", ""),
        SWEEP.replace("trials = 3", "trials = 1000000"),
        SWEEP.replace("low = 40", "low = -1e12"),
        SWEEP.replace(
            "'wire.soft.tip_load_gf'",
            &format!("'wire.{}.a'", "x".repeat(200_000)),
        ),
        SWEEP.replace(
            "'wire.soft.tip_load_gf'",
            &format!("'{}a'", "a.".repeat(200_000)),
        ),
    ]
    .iter()
    .enumerate()
    {
        fs::write(folder.path().join("s.toml"), text).unwrap();
        let (code, said) = said(&bounded(folder.path(), &["check", "s.toml"]));
        assert!(
            matches!(code, Some(0 | 2)),
            "sweep {number}: {code:?} {said}"
        );
        assert!(said.len() < 12_000, "sweep {number}: {} bytes", said.len());
    }
}
