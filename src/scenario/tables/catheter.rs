//! `[[catheter]]`: a support catheter as a catalogue describes it.

use super::wire::{exclusive, friction, torsion_ratio};
use super::{allowed, unique_name};
use crate::scenario::error::Checked;
use crate::scenario::model::{CatheterSpec, CatheterTipSpec, SidePortSpec};
use crate::scenario::read::{Fields, Table};
use crate::units;

/// Fields of the table.
pub(in crate::scenario) const CATHETER: Fields = &[
    ("name", "\"straight\""),
    ("outer_diameter_mm", "0.8"),
    ("outer_diameter_fr", "2.4"),
    ("inner_diameter_mm", "0.45"),
    ("inner_diameter_fr", "1.35"),
    ("stiffness_N_mm2", "[[0, 0.3], [100, 3]]"),
    ("poisson_ratio", "0.3"),
    ("torsion_ratio", "0.77"),
    ("surface", "\"hydrophilic\""),
    ("friction", "0.03"),
    ("tip", "{ length_mm = 6, angle_deg = 90 }"),
    ("length_mm", "1350"),
    ("side_port", "{ behind_tip_mm = 8, angle_deg = 30 }"),
];
const SIDE_PORT: Fields = &[
    ("behind_tip_mm", "8"),
    ("angle_deg", "30"),
    ("plane_deg", "0"),
];
/// Length of a catheter for the coronary arteries in mm, where none is said (common practice, no
/// source).
const USUAL_LENGTH_MM: f64 = 1350.0;
const TIP: Fields = &[
    ("length_mm", "6"),
    ("angle_deg", "90"),
    ("steerable_deg", "[0, 90]"),
];

/// Reads every `[[catheter]]`; there may be none.
pub(super) fn catheters(root: &Table<'_>) -> Checked<Vec<CatheterSpec>> {
    let mut catheters: Vec<CatheterSpec> = Vec::new();
    for table in root.tables("catheter", "[[catheter]]", CATHETER)? {
        let names: Vec<&str> = catheters.iter().map(|c| c.name.as_str()).collect();
        let name = unique_name(&table, &names, None)?;
        let outer_diameter_mm = diameter(&table, "outer_diameter_mm", "outer_diameter_fr")?;
        let inner_diameter_mm = diameter(&table, "inner_diameter_mm", "inner_diameter_fr")?;
        if inner_diameter_mm >= outer_diameter_mm {
            let field = if table.has("inner_diameter_fr") {
                "inner_diameter_fr"
            } else {
                "inner_diameter_mm"
            };
            return Err(table.disagreement(
                field,
                format!(
                    "the catheter is {outer_diameter_mm:.3} mm thick outside; allowed is below that"
                ),
                "exchange the two diameters, or correct one".into(),
            ));
        }
        let stiffness = table.required("stiffness_N_mm2")?;
        catheters.push(CatheterSpec {
            name,
            outer_diameter_mm,
            inner_diameter_mm,
            stiffness: stiffness
                .profile(&allowed::BENDING)?
                .into_iter()
                .map(|(from_tip, ei)| (from_tip, units::n_mm2_to_mn_mm2(ei)))
                .collect(),
            torsion_ratio: torsion_ratio(&table)?,
            friction: friction(&table)?,
            tip: tip(&table)?,
            side_port: side_port(&table)?,
            place: table.place,
        });
    }
    Ok(catheters)
}

/// A diameter in mm, said in mm or in French.
fn diameter(table: &Table<'_>, in_mm: &str, in_french: &str) -> Checked<f64> {
    exclusive(table, in_french, in_mm)?;
    match table.number_if(in_french, &allowed::CATHETER_FRENCH)? {
        Some(french) => Ok(units::french_to_mm(french)),
        None => table.number(in_mm, &allowed::CATHETER),
    }
}

fn side_port(table: &Table<'_>) -> Checked<Option<SidePortSpec>> {
    let length_mm = table.number_or("length_mm", &allowed::LENGTH, USUAL_LENGTH_MM)?;
    let Some(port) = table.table("side_port", SIDE_PORT)? else {
        return Ok(None);
    };
    let behind_tip_mm = port.number("behind_tip_mm", &allowed::LENGTH)?;
    if behind_tip_mm >= length_mm {
        return Err(port.disagreement(
            "behind_tip_mm",
            format!("the catheter is {length_mm} mm long; allowed is a port on it"),
            format!("choose behind_tip_mm below {length_mm}, or correct length_mm"),
        ));
    }
    Ok(Some(SidePortSpec {
        behind_tip_mm,
        angle_rad: port.angle_or("angle_deg", &allowed::SIDE_PORT, 30.0)?,
        plane_rad: port.angle_or("plane_deg", &allowed::PLANE, 0.0)?,
    }))
}

fn tip(table: &Table<'_>) -> Checked<Option<CatheterTipSpec>> {
    let Some(tip) = table.table("tip", TIP)? else {
        return Ok(None);
    };
    let length_mm = tip.number("length_mm", &allowed::LENGTH)?;
    let Some(range) = tip.optional("steerable_deg") else {
        return Ok(Some(CatheterTipSpec {
            length_mm,
            angle_rad: tip
                .number("angle_deg", &allowed::CATHETER_TIP)?
                .to_radians(),
            range_rad: None,
        }));
    };
    let [low, high] = range.numbers(&[allowed::CATHETER_TIP; 2])?;
    if low >= high {
        return Err(range.disagreement(
            format!("the range runs from {low} to {high} deg"),
            "give the smaller angle first".into(),
        ));
    }
    let put_in = tip.number_or("angle_deg", &allowed::CATHETER_TIP, 0.0f64.clamp(low, high))?;
    if put_in < low || put_in > high {
        return Err(tip.disagreement(
            "angle_deg",
            format!("the tip can be steered from {low} to {high} deg"),
            "choose an angle in that range".into(),
        ));
    }
    Ok(Some(CatheterTipSpec {
        length_mm,
        angle_rad: put_in.to_radians(),
        range_rad: Some((low.to_radians(), high.to_radians())),
    }))
}
