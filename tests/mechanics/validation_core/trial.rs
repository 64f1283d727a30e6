//! A trial says what set its wire keeps.

use bendwise::scenario::load;
use bendwise::scenario::model::CoreLawSpec;
use bendwise::trial::result::TrialRow;
use bendwise::trial::{Prepared, run_trial, strategies};
use std::path::Path;

/// A trial of the folded wire at the joint of a graft, whose fold is bent beyond its limit in the
/// guide, with cores of this law.
fn folded(law: CoreLawSpec) -> TrialRow {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/graft-entry.toml");
    let mut scenario = load(&file).expect("a shipped scenario").scenario;
    for wire in &mut scenario.wires {
        wire.core_law = law;
    }
    let prepared = Prepared::new(&scenario).expect("a sound scenario");
    let all = strategies(prepared.scenario());
    let strategy = all
        .iter()
        .find(|s| s.name == "looped-back, workhorse 1 gf")
        .expect("a folded wire");
    run_trial(&prepared, strategy, 0, false).row
}

#[test]
fn a_trial_whose_wire_yields_says_the_set_that_is_left_and_where() {
    let row = folded(CoreLawSpec::Plastic);
    println!(
        "  set {:.1} degrees, {:.1} mm from the tip, strain over limit {:.2}",
        row.set_deg, row.set_from_tip_mm, row.peak_strain_ratio
    );
    assert!(row.peak_strain_ratio > 1.0);
    assert!(row.set_deg > 1.0 && row.set_from_tip_mm > 0.0 && row.set_from_tip_mm < row.outside_mm);
    let elastic = folded(CoreLawSpec::Elastic);
    assert!(elastic.peak_strain_ratio > 1.0 && elastic.set_deg == 0.0);
}
