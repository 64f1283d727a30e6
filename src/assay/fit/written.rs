//! A fitted wire as a `[[wire]]` table.

use std::fmt::Write as _;

use super::reach::in_words;
use super::{ErrorSource, Fitted};
use crate::scenario::model::{BendSpec, CoreLawSpec, StiffnessSpec, WireSpec};
use crate::units::mn_to_gram_force;

/// The wire as a `[[wire]]` table that a scenario can use; sets of readings, intervals, remarks and
/// the stretches that no reading reaches stand in comments. `described` is the name of the wire
/// whose stiffness was kept there.
#[must_use]
pub fn as_toml(fitted: &Fitted, described: &str) -> String {
    let mut text = String::new();
    let _ = writeln!(
        text,
        "# Stiffness fitted by bendwise to {} readings; scatter {:.2} % of a reading.",
        fitted.readings,
        100.0 * fitted.relative_scatter
    );
    for set in &fitted.sets {
        let source = match set.source {
            ErrorSource::Stated => "stated",
            ErrorSource::Estimated => "from its scatter",
            ErrorSource::Assumed => "assumed",
        };
        let _ = writeln!(
            text,
            "#   {}: readings {}, error {:.2} % ({source}), chi-square {:.2} where {:.2} is expected",
            set.name,
            set.readings.len(),
            100.0 * set.error,
            set.chi_square,
            set.expected
        );
    }
    let _ = writeln!(
        text,
        "# Reached by the readings: {}. 95 % intervals in N mm²:",
        in_words(&fitted.reach.stretches)
    );
    for knot in &fitted.knots {
        let _ = writeln!(
            text,
            "#   {} mm from the tip: {:.6} to {:.6}",
            knot.station_mm,
            knot.low / 1e3,
            knot.high / 1e3
        );
    }
    for remark in &fitted.remarks {
        let _ = writeln!(text, "# {}", remark.replace(['\n', '\r'], " "));
    }
    let wire = &fitted.wire;
    let quoted = toml::Value::String(wire.name.clone());
    let _ = writeln!(
        text,
        "[[wire]]\nname = {quoted}\ndiameter_mm = {}",
        wire.diameter_mm
    );
    text.push_str(&stiffness(fitted, described));
    let _ = writeln!(
        text,
        "modulus_GPa = {}\ntorsion_ratio = {}\nfriction = {}\nstrain_limit = {}\n{}",
        wire.stiffness.modulus_mn_per_mm2() / 1e6,
        wire.torsion_ratio,
        wire.friction,
        wire.strain_limit,
        core_law(wire.core_law)
    );
    if let Some((tip_load_mn, end)) = wire.stiffness.tip_load_mn() {
        let _ = writeln!(
            text,
            "# What the stiffness above is compared with; it does not change it.\n\
             tip_load_gf = {}\nend_condition = \"{}\"",
            (1e9 * mn_to_gram_force(tip_load_mn)).round() / 1e9,
            end.words()
        );
    }
    text + &bends(wire)
}

/// The list with a comment at each stretch that the readings do not reach.
fn stiffness(fitted: &Fitted, described: &str) -> String {
    let (StiffnessSpec::List { values, .. } | StiffnessSpec::ListWithTipLoad { values, .. }) =
        &fitted.wire.stiffness
    else {
        unreachable!("a fitted wire is described by a list")
    };
    let mut text = String::from("stiffness_N_mm2 = [\n");
    let mut before = None;
    for (&(station, stiffness), &reached) in values.iter().zip(&fitted.station_reached) {
        if before != Some(reached) {
            let _ = if reached {
                writeln!(text, "  # fitted:")
            } else {
                writeln!(
                    text,
                    "  # not reached by any reading, the stiffness of {described:?}:"
                )
            };
        }
        before = Some(reached);
        let _ = writeln!(text, "  [{station}, {:.6e}],", stiffness / 1e3);
    }
    text + "]\n"
}

fn bends(wire: &WireSpec) -> String {
    let mut text = String::new();
    let bend = |b: &BendSpec| {
        format!(
            "length_mm = {}, angle_deg = {}, plane_deg = {}",
            b.length_mm,
            b.angle_rad.to_degrees(),
            b.plane_rad.to_degrees()
        )
    };
    if let Some(b) = &wire.tip.primary {
        let _ = writeln!(text, "bend = {{ {} }}", bend(b));
    }
    if let Some(b) = &wire.tip.secondary {
        let _ = writeln!(
            text,
            "secondary_bend = {{ from_tip_mm = {}, {} }}",
            b.from_tip_mm,
            bend(b)
        );
    }
    text
}

/// The law of a core as a scenario says it.
fn core_law(law: CoreLawSpec) -> String {
    match law {
        CoreLawSpec::Elastic => "core_law = \"elastic\"".into(),
        CoreLawSpec::Plastic => "core_law = \"plastic\"".into(),
        CoreLawSpec::Superelastic {
            lower_over_upper,
            plateau_strain,
        } => format!(
            "core_law = \"superelastic\"\nplateau_strain = {plateau_strain}\n\
             lower_over_upper = {lower_over_upper}"
        ),
    }
}
