//! What a `[[technique]]` brings along: a balloon, another wire, a guide pointed anew.

use super::allowed;
use crate::scenario::error::Checked;
use crate::scenario::model::{
    AidsSpec, AnchorSpec, BalloonSpec, ExchangeSpec, GuideAimSpec, ShaftSpec, WireSpec,
};
use crate::scenario::read::{Fields, Table};

const BALLOON: Fields = &[
    ("diameter_mm", "3"),
    ("length_mm", "10"),
    ("beyond_mm", "1"),
    ("stiffness_mN_per_mm2", "100"),
    ("shaft_diameter_mm", "0.9"),
    ("shaft_wire", "\"workhorse 1 gf\""),
];
const EXCHANGE: Fields = &[("after", "2"), ("wire", "\"stiff 3 gf\"")];
const GUIDE_AIM: Fields = &[("tilt_deg", "10"), ("plane_deg", "0"), ("deeper_mm", "0")];

/// Reads the aids of one technique; `wires` are those of the scenario.
pub(super) fn aids(table: &Table<'_>, wires: &[WireSpec]) -> Checked<AidsSpec> {
    let balloon = match table.table("balloon", BALLOON)? {
        Some(balloon) => Some(BalloonSpec {
            diameter_mm: balloon.number("diameter_mm", &allowed::BALLOON)?,
            length_mm: balloon.number("length_mm", &allowed::LENGTH)?,
            beyond_mm: balloon.number_or("beyond_mm", &allowed::STATION, 1.0)?,
            stiffness_mn_per_mm2: balloon.number_or(
                "stiffness_mN_per_mm2",
                &allowed::WALL_STIFFNESS,
                100.0,
            )?,
            shaft: shaft(&balloon, wires)?,
            place: balloon.place,
        }),
        None => None,
    };
    let exchange = match table.table("exchange", EXCHANGE)? {
        Some(exchange) => {
            let wire = wire_index(&exchange, "wire", wires)?;
            Some(ExchangeSpec {
                after: exchange.count_or("after", &allowed::ATTEMPTS, 2)?,
                wire: wires[wire].name.clone(),
                place: exchange.place,
            })
        }
        None => None,
    };
    let mut guide_aims = Vec::new();
    if table.has("guide_aims") {
        let remedy = "add an aim, such as { tilt_deg = 10, plane_deg = 90 }";
        for entry in table.required("guide_aims")?.list_of(1, remedy)? {
            let aim = entry.table(GUIDE_AIM, format!("guide_aims of {}", table.title))?;
            guide_aims.push(GuideAimSpec {
                tilt_rad: aim.angle_or("tilt_deg", &allowed::GUIDE_TILT, 0.0)?,
                plane_rad: aim.angle_or("plane_deg", &allowed::PLANE, 0.0)?,
                deeper_mm: aim.number_or("deeper_mm", &allowed::GUIDE_DEEPER, 0.0)?,
            });
        }
    }
    let anchor = match table.optional("anchor") {
        Some(entry) => Some(AnchorSpec {
            branch: entry.text()?.to_owned(),
            place: table.place,
        }),
        None => None,
    };
    Ok(AidsSpec {
        balloon,
        exchange,
        guide_aims,
        anchor,
    })
}

/// The balloon's shaft, where a diameter is given; on the first wire unless another is named.
fn shaft(balloon: &Table<'_>, wires: &[WireSpec]) -> Checked<Option<ShaftSpec>> {
    let Some(diameter_mm) = balloon.number_if("shaft_diameter_mm", &allowed::CATHETER)? else {
        return match balloon.has("shaft_wire") {
            true => Err(balloon.disagreement(
                "shaft_wire",
                "without shaft_diameter_mm the balloon has no shaft in the lumen".into(),
                "add shaft_diameter_mm, or remove shaft_wire".into(),
            )),
            false => Ok(None),
        };
    };
    let wire = match balloon.has("shaft_wire") {
        true => wire_index(balloon, "shaft_wire", wires)?,
        false => 0,
    };
    Ok(Some(ShaftSpec { diameter_mm, wire }))
}

/// Index of the wire that a field names.
pub(super) fn wire_index(table: &Table<'_>, field: &str, wires: &[WireSpec]) -> Checked<usize> {
    let entry = table.required(field)?;
    let name = entry.text()?;
    let found = wires.iter().position(|wire| wire.name == name);
    found.ok_or_else(|| {
        let names: Vec<&str> = wires.iter().map(|w| w.name.as_str()).collect();
        entry.unknown("the name of a wire", &names)
    })
}
