//! The wires of a scene in words.

use super::text::{Flow, Section, Table, fixed, label, pairs, paragraph, significant};
use crate::device::Wire;
use crate::scenario::model::{BendSpec, CoreLawSpec, EndCondition, StiffnessSpec, WireSpec};
use crate::shown::degrees;
use crate::units::mn_to_gram_force;

/// Distances from the tip in mm at which a wire's stiffness is listed.
const STIFFNESS_STATIONS_MM: [f64; 7] = [0.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];

/// The sections on wires: catalogue quantities, tip shape, stiffness and core along the wire.
pub(super) fn sections(specs: &[WireSpec], wires: &[Wire]) -> Vec<Section> {
    let stiffness = station_table(wires, |wire, s| wire.bending_stiffness(s) / 1e3);
    let core = station_table(wires, |wire, s| 2.0 * wire.core_radius(s));
    vec![
        Section::new("WIRES", wire_table(specs, wires)),
        Section::new("TIP SHAPE", tip_table(specs)),
        Section::new(
            "BENDING STIFFNESS in N mm², against distance from the tip",
            stiffness + paragraph("Torsional stiffness is the bending stiffness times GJ/EI."),
        ),
        Section::new(
            "EQUIVALENT CORE DIAMETER in mm, against distance from the tip",
            core,
        ),
    ]
}

fn wire_table(specs: &[WireSpec], wires: &[Wire]) -> Flow {
    let mut table = Table::new(&[
        ("wire", ""),
        ("diameter", "mm"),
        ("fixed-pinned", "tip load gf"),
        ("fixed-free", "tip load gf"),
        ("friction", ""),
        ("GJ/EI", ""),
        ("modulus", "GPa"),
        ("strain limit", "%"),
        ("core", "beyond it"),
        ("axial cap", "N"),
    ]);
    for (spec, wire) in specs.iter().zip(wires) {
        let tip_load_gf = |end| significant(mn_to_gram_force(wire.tip_load_mn(end)));
        table.row(vec![
            spec.name.clone(),
            fixed(spec.diameter_mm, 4),
            tip_load_gf(EndCondition::FixedPinned),
            tip_load_gf(EndCondition::FixedFree),
            significant(spec.friction),
            fixed(spec.torsion_ratio, 3),
            significant(spec.stiffness.modulus_mn_per_mm2() / 1e6),
            significant(100.0 * spec.strain_limit),
            beyond_limit(spec.core_law).to_owned(),
            significant(wire.axial_stiffness_cap() / 1e3),
        ]);
    }
    let given: Vec<(&str, String)> = specs
        .iter()
        .map(|spec| (spec.name.as_str(), described_by(&spec.stiffness)))
        .collect();
    table.flow()
        + paragraph(
            "Tip loads are those at which the last 10 mm buckle, for both ways of holding the tip; \
             modulus is Young's modulus of the core, strain that of the core, axial cap the axial \
             stiffness the solver computes with.",
        )
        + label("Described by")
        + pairs(&given)
}

/// What a core does beyond its strain limit.
fn beyond_limit(law: CoreLawSpec) -> &'static str {
    match law {
        CoreLawSpec::Plastic => "plastic",
        CoreLawSpec::Superelastic { .. } => "superelastic",
        CoreLawSpec::Elastic => "elastic",
    }
}

fn described_by(stiffness: &StiffnessSpec) -> String {
    let stated = stiffness.tip_load_mn().map(|(tip_load_mn, end)| {
        let tip_load_gf = significant(mn_to_gram_force(tip_load_mn));
        format!("tip load {tip_load_gf} gf {}", end.words())
    });
    match (stiffness, stated) {
        (StiffnessSpec::TipLoad { grind, .. }, Some(stated)) => {
            let core = grind.first().map_or_else(String::new, |&(s, _)| {
                format!(", core from {} mm", significant(s))
            });
            format!("{stated}{core}")
        }
        (StiffnessSpec::TipLoad { grind, .. } | StiffnessSpec::Grind { grind, .. }, _) => {
            format!("core grind, stations: {}", grind.len())
        }
        (
            StiffnessSpec::List { values, .. } | StiffnessSpec::ListWithTipLoad { values, .. },
            stated,
        ) => {
            let beside = stated.map_or_else(String::new, |stated| {
                format!("; the catalogue says {stated}")
            });
            format!("stiffness list, stations: {}{beside}", values.len())
        }
    }
}

fn tip_table(specs: &[WireSpec]) -> Flow {
    let mut table = Table::new(&[
        ("wire", ""),
        ("bend", ""),
        ("from tip", "mm"),
        ("length", "mm"),
        ("angle", "deg"),
        ("plane", "deg"),
        ("mean radius", "mm"),
    ]);
    for spec in specs {
        let mut bend = |name: &str, bend: &BendSpec| {
            table.row(vec![
                spec.name.clone(),
                name.to_owned(),
                fixed(bend.from_tip_mm, 1),
                fixed(bend.length_mm, 1),
                degrees(bend.angle_rad),
                degrees(bend.plane_rad),
                if bend.angle_rad == 0.0 {
                    "straight".into()
                } else {
                    fixed((bend.length_mm / bend.angle_rad).abs(), 2)
                },
            ]);
        };
        match (&spec.tip.primary, &spec.tip.secondary) {
            (None, None) => {
                let straight = ["straight", "-", "-", "-", "-", "-"].map(str::to_owned);
                table.row([vec![spec.name.clone()], straight.to_vec()].concat());
            }
            (primary, secondary) => {
                primary.iter().for_each(|b| bend("primary", b));
                secondary.iter().for_each(|b| bend("secondary", b));
            }
        }
    }
    table.flow()
}

fn station_table(wires: &[Wire], value: impl Fn(&Wire, f64) -> f64) -> Flow {
    let heads = STIFFNESS_STATIONS_MM.map(|s| format!("{s} mm"));
    let columns: Vec<(&str, &str)> = [("wire", "")]
        .into_iter()
        .chain(heads.iter().map(|head| (head.as_str(), "")))
        .collect();
    let mut table = Table::new(&columns);
    for wire in wires {
        let values = STIFFNESS_STATIONS_MM.map(|s| significant(value(wire, s)));
        table.row([vec![wire.name().to_owned()], values.to_vec()].concat());
    }
    table.flow()
}
