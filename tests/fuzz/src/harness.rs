//! What the fuzzer runs, and what the replay of its seeds runs in the ordinary tests: one function a
//! reader, which may refuse the bytes but must not panic.

use std::fmt::Write as _;
use std::path::Path;

use bendwise::anatomy::{Arrays, parse};
use bendwise::scenario::sweep::load_sweep_text;
use bendwise::scenario::{ScenarioError, load_text};
use bendwise::study::sweep::Base;
use bendwise::trial::Prepared;
use miette::{GraphicalReportHandler, GraphicalTheme};

/// Takes the bytes of a file.
pub type Harness = fn(&[u8]);

/// All harnesses by name.
pub const ALL: [(&str, Harness); 10] = [
    ("vtp", |data| anatomy("vtp", data)),
    ("vtk", |data| anatomy("vtk", data)),
    ("swc", |data| anatomy("swc", data)),
    ("csv", |data| anatomy("csv", data)),
    ("stl", |data| anatomy("stl", data)),
    ("ply", |data| anatomy("ply", data)),
    ("obj", |data| anatomy("obj", data)),
    ("scenario", scenario),
    ("vessel", vessel),
    ("sweep", sweep),
];

/// The harness of a name.
#[must_use]
pub fn named(name: &str) -> Option<Harness> {
    let found = ALL.iter().find(|(known, _)| *known == name);
    found.map(|(_, harness)| *harness)
}

fn anatomy(ending: &str, data: &[u8]) {
    if let Err((at, fault)) = parse(ending, data, &Arrays::default()) {
        let said = fault.at(Path::new("a"), at);
        assert!(said.to_string().len() < 10_000 && !said.fault.help().is_empty());
    }
}

/// A text that counts as standing where no other file is.
fn text_of(data: &[u8]) -> String {
    String::from_utf8_lossy(data).into_owned()
}

/// A refusal is drawn as a person would see it.
fn drawn(error: &ScenarioError) {
    let mut text = String::new();
    let handler = GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor());
    let drawn = handler.render_report(&mut text, error);
    let _ = write!(text, "{drawn:?}");
    assert!(text.len() < 20_000, "{text}");
}

/// Reads a scenario.
fn scenario(data: &[u8]) {
    if let Err(error) = load_text(Path::new("/nowhere/a.toml"), text_of(data)) {
        drawn(&error);
    }
}

/// Reads a scenario and builds its vessel and wires.
fn vessel(data: &[u8]) {
    if let Ok(loaded) = load_text(Path::new("/nowhere/a.toml"), text_of(data)) {
        match Prepared::new(&loaded.scenario) {
            Ok(prepared) => assert!(!prepared.tree().branches().is_empty()),
            Err(error) => assert!(error.to_string().len() < 20_000),
        }
    }
}

/// Reads a sweep over a shipped scenario and makes the scenario of its first and its last point.
fn sweep(data: &[u8]) {
    let mut sweep = match load_sweep_text(Path::new("/nowhere/a.toml"), text_of(data)) {
        Ok(sweep) => sweep,
        Err(error) => return drawn(&error),
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let shipped = Path::new("scenarios/side-branch.toml");
    // From the crate of the program, and from that of the fuzzer two folders below it.
    let places = [root.join(shipped), root.join("../..").join(shipped)];
    let Some(base) = places.into_iter().find(|path| path.exists()) else {
        return;
    };
    sweep.spec.scenario = base;
    let base = match Base::read(&sweep) {
        Ok(base) => base,
        Err(error) => {
            assert!(error.to_string().len() < 20_000);
            return;
        }
    };
    let design = bendwise::study::sweep::Design {
        kind: sweep.spec.design,
        seed: base.seed(),
        parameters: sweep.spec.parameters.clone(),
    };
    if let Some(last) = design.count().and_then(|count| count.checked_sub(1)) {
        for point in [0, last] {
            let _ = base.scenario_at(&design.point(point), point);
        }
    }
}
