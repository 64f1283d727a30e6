//! Real vascular files of other writers, which are not part of the project: what they are, and what
//! is known of them, stands beside the data in `SOURCE.md`. Without the data the tests say that they
//! skip.

use crate::anatomy_common::{put, real_data};
use bendwise::anatomy::tree::ImportSettings;
use bendwise::anatomy::{Unit, import};

/// The files and their units; nothing else is said of them.
const FILES: [(&str, Unit, &str); 5] = [
    ("227A_Centreline.vtk", Unit::Millimetre, "mm"),
    ("centerlinesANEU.vtk", Unit::Millimetre, "mm"),
    ("centerlinesCEREBRAL.vtk", Unit::Millimetre, "mm"),
    ("carotid.stl", Unit::Metre, "m"),
    ("artery.vtp", Unit::Millimetre, "mm"),
];

/// Share of trials that may be unresolved.
const UNRESOLVED: f64 = 0.02;

#[test]
fn files_of_other_writers_come_in_with_units_alone() {
    let Some(folder) = real_data("other-writers") else {
        return;
    };
    for (name, unit, _) in FILES {
        let settings = ImportSettings {
            units: Some(unit),
            ..ImportSettings::default()
        };
        let (imported, _) = import(&folder.join(name), &settings).unwrap();
        let notes = imported.changes.notes.join("\n");
        println!("{name}: {} branches\n{notes}", imported.branches.len());
        assert!(imported.branches.len() >= 3, "{name}");
        assert!(notes.contains("inlet: "), "{name}");
    }
}

/// Sixteen trials of the scenario that `check --start` writes: about two minutes for all files.
#[test]
#[ignore = "two minutes: cargo test --release --test anatomy anatomy_files -- --ignored --nocapture"]
fn files_of_other_writers_run_with_hardly_a_trial_unresolved() {
    let Some(folder) = real_data("other-writers") else {
        return;
    };
    let here = tempfile::tempdir().unwrap();
    for (name, _, unit) in FILES {
        let file = folder.join(name).canonicalize().unwrap();
        let start = here.path().join(format!("{name}.toml"));
        let output = assert_cmd::cargo::cargo_bin_cmd!("bendwise")
            .current_dir(here.path())
            .args(["check", file.to_str().unwrap(), "--units", unit, "--start"])
            .arg(&start)
            .output()
            .unwrap();
        let message = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(0), "{name}: {message}");
        let text = std::fs::read_to_string(&start).unwrap();
        put(here.path(), "scene.toml", &text);
        for (_, strategy) in crate::anatomy_common::outcomes(here.path(), &text) {
            println!("{name}: {}", strategy["outcomes"]);
            let count = |key: &str| strategy["outcomes"][key].as_f64().unwrap_or(0.0);
            let all: f64 = strategy["outcomes"]
                .as_object()
                .unwrap()
                .values()
                .filter_map(serde_json::Value::as_f64)
                .sum();
            assert!(all >= 16.0);
            assert!(count("unresolved") < UNRESOLVED * all, "{name}");
        }
    }
}
