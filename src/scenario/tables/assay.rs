//! `[assay]`: the bench tests of the wires.

mod fit;
mod stations;

use std::path::Path;

use self::fit::fits;
use self::stations::{entry, rising, room, stations};
use super::allowed::{self, Allowed};
use crate::scenario::bench::{
    AssaySpec, FlexibilityTest, KinkTest, OVERHANG_OVER_SPAN, PathSettings, PinchTest, STATIONS_MM,
    StraighteningTest, ThreePointTest, TipLoadTest, TorqueTest,
};
use crate::scenario::error::Checked;
use crate::scenario::model::WireSpec;
use crate::scenario::read::{Entry, Fields, Table};
use crate::units::gram_force_to_mn;

/// The field of the table with an example.
pub(in crate::scenario) const ASSAY_FIELD: (&str, &str) =
    ("assay", "[assay]\nthree_point = { span_mm = 20 }");

const ASSAY: Fields = &[
    ("edge_mm", "0.1"),
    ("tip_load", "{ held_mm = 10 }"),
    (
        "flexibility",
        "{ held_mm = [5, 10, 20], angles_deg = [45, 90] }",
    ),
    (
        "three_point",
        "{ span_mm = 20, stations_mm = [20, 50, 100] }",
    ),
    ("torque", "{ turn_deg = 1080, step_deg = 10 }"),
    ("paths", "{ lumen_mm = 3, bend_radius_mm = 10 }"),
    ("pinch", "{ clamp_gf = 500, jaw_mm = 10 }"),
    ("kink", "{ stations_mm = [20, 50, 100] }"),
    ("straightening", "{ radius_mm = 15, angle_deg = 90 }"),
    (
        "fit",
        "[[assay.fit]]\nname = \"fitted\"\nwire = \"soft\"\ncurve = \"measured.csv\"\n\
         test = \"three-point\"\nknots_mm = [20, 60, 120]",
    ),
];
const TIP_LOAD: Fields = &[
    ("held_mm", "10"),
    ("plate_friction", "0.1"),
    ("travel_mm", "0.3"),
    ("shaped_travel_mm", "2"),
];
const FLEXIBILITY: Fields = &[("held_mm", "[5, 10, 20]"), ("angles_deg", "[45, 90]")];
const THREE_POINT: Fields = &[
    ("span_mm", "20"),
    ("stations_mm", "[20, 50, 100]"),
    ("deflection_mm", "0.2"),
];
const TORQUE: Fields = &[("turn_deg", "1080"), ("step_deg", "10")];
const PATHS: Fields = &[
    ("lumen_mm", "3"),
    ("siphon_radius_mm", "7"),
    ("bend_radius_mm", "10"),
    ("loop_radius_mm", "10"),
    ("wall_stiffness_mN_per_mm2", "300"),
    ("step_mm", "0.5"),
    ("edge_mm", "0.5"),
];
const PINCH: Fields = &[("clamp_gf", "500"), ("jaw_mm", "10")];
const KINK: Fields = &[("stations_mm", "[20, 50, 100]")];
const STRAIGHTENING: Fields = &[
    ("radius_mm", "15"),
    ("angle_deg", "90"),
    ("lumen_mm", "3"),
    ("tissue_stiffness_mN_per_mm2", "20"),
    ("fed_mm", "150"),
];
/// Length of wire on each side of the load over the span: half of it and the overhang.
const HALF_OVER_SPAN: f64 = 0.5 + OVERHANG_OVER_SPAN;

/// Reads the table for the wires of the file; every field may be left out.
pub(super) fn assay(root: &Table<'_>, wires: &[WireSpec], folder: &Path) -> Checked<AssaySpec> {
    let table = root.table("assay", ASSAY)?;
    let sub = |field: &str, fields: Fields| match &table {
        Some(table) => table.table(field, fields),
        None => Ok(None),
    };
    let edge_mm = number(&table, "edge_mm", &allowed::EDGE, 0.1)?;
    let three_point = three_point(sub("three_point", THREE_POINT)?.as_ref(), wires)?;
    let span_mm = three_point.span_mm;
    Ok(AssaySpec {
        edge_mm,
        tip_load: tip_load(&sub("tip_load", TIP_LOAD)?, edge_mm)?,
        flexibility: flexibility(&sub("flexibility", FLEXIBILITY)?, edge_mm)?,
        three_point,
        torque: torque(&sub("torque", TORQUE)?)?,
        paths: paths(&sub("paths", PATHS)?, wires)?,
        pinch: pinch(&sub("pinch", PINCH)?)?,
        kink: kink(sub("kink", KINK)?.as_ref())?,
        straightening: straightening(&sub("straightening", STRAIGHTENING)?, wires)?,
        fits: match &table {
            Some(table) => fits(table, wires, folder, span_mm)?,
            None => Vec::new(),
        },
    })
}

fn number(table: &Option<Table<'_>>, field: &str, allowed: &Allowed, default: f64) -> Checked<f64> {
    match table {
        Some(table) => table.number_or(field, allowed, default),
        None => Ok(default),
    }
}

/// Refuses a held length of fewer than two edges.
fn at_least_two_edges(said: Option<Entry<'_>>, held_mm: f64, edge_mm: f64) -> Checked<()> {
    match said {
        Some(said) if held_mm < 2.0 * edge_mm => Err(said.disagreement(
            format!(
                "edge_mm is {edge_mm} mm; allowed is two edges, {} mm, or more",
                2.0 * edge_mm
            ),
            "hold the wire further back or make edge_mm smaller".into(),
        )),
        _ => Ok(()),
    }
}

fn tip_load(table: &Option<Table<'_>>, edge_mm: f64) -> Checked<TipLoadTest> {
    let test = TipLoadTest {
        held_mm: number(table, "held_mm", &allowed::HELD, 10.0)?,
        plate_friction: match table {
            Some(table) => table.number_if("plate_friction", &allowed::FRICTION)?,
            None => None,
        },
        travel_mm: number(table, "travel_mm", &allowed::TRAVEL, 0.3)?,
        shaped_travel_mm: number(table, "shaped_travel_mm", &allowed::TRAVEL, 2.0)?,
    };
    let said = table.as_ref().and_then(|table| table.optional("held_mm"));
    at_least_two_edges(said, test.held_mm, edge_mm)?;
    Ok(test)
}

fn flexibility(table: &Option<Table<'_>>, edge_mm: f64) -> Checked<FlexibilityTest> {
    let table = table.as_ref();
    let held = rising(table, "held_mm", &allowed::HELD)?;
    for &(held_mm, index) in held.iter().flatten() {
        at_least_two_edges(entry(table, "held_mm", index), held_mm, edge_mm)?;
    }
    let angles = rising(table, "angles_deg", &allowed::SIDE_ANGLE)?;
    let values = |list: Option<Vec<(f64, usize)>>, default: &[f64]| match list {
        Some(list) => list.into_iter().map(|(value, _)| value).collect(),
        None => default.to_vec(),
    };
    Ok(FlexibilityTest {
        held_mm: values(held, &[5.0, 10.0, 20.0]),
        angles_rad: values(angles, &[45.0, 90.0])
            .into_iter()
            .map(f64::to_radians)
            .collect(),
    })
}

fn three_point(table: Option<&Table<'_>>, wires: &[WireSpec]) -> Checked<ThreePointTest> {
    let span = table.and_then(|table| table.optional("span_mm"));
    let span_mm = match &span {
        Some(span) => span.number(&allowed::LENGTH)?,
        None => 20.0,
    };
    for wire in wires {
        let (from, to) = room(wire);
        if let Some(span) = &span
            && 2.0 * HALF_OVER_SPAN * span_mm > to - from
        {
            return Err(span.disagreement(
                format!(
                    "the wire \"{}\" is straight and described from {from} to {to} mm from its tip \
                     and the test takes {} mm; allowed is a span up to {:.1} mm",
                    wire.name,
                    2.0 * HALF_OVER_SPAN * span_mm,
                    (to - from) / (2.0 * HALF_OVER_SPAN)
                ),
                "take a shorter span, or describe more of the wire".into(),
            ));
        }
    }
    let deflection = match table {
        Some(table) => table.number_or("deflection_mm", &allowed::LENGTH, span_mm / 100.0)?,
        None => span_mm / 100.0,
    };
    if let Some(said) = table.and_then(|table| table.optional("deflection_mm"))
        && deflection > 0.1 * span_mm
    {
        return Err(said.disagreement(
            format!(
                "stiffness is read from small deflections; allowed is up to a tenth of the span, {} mm",
                0.1 * span_mm
            ),
            "press less or take a longer span".into(),
        ));
    }
    Ok(ThreePointTest {
        span_mm,
        stations_mm: stations(table, wires, HALF_OVER_SPAN * span_mm)?,
        deflection_mm: deflection,
    })
}

fn torque(table: &Option<Table<'_>>) -> Checked<TorqueTest> {
    Ok(TorqueTest {
        turn_rad: number(table, "turn_deg", &allowed::BENCH_TURN, 1080.0)?.to_radians(),
        step_rad: number(table, "step_deg", &allowed::BENCH_TURN, 10.0)?.to_radians(),
    })
}

/// Diameter of a tube or vessel of the bench in mm: every wire goes through it.
fn lumen(table: &Option<Table<'_>>, wires: &[WireSpec]) -> Checked<f64> {
    let lumen_mm = number(table, "lumen_mm", &allowed::LUMEN, 3.0)?;
    let thick = wires.iter().find(|wire| wire.diameter_mm >= lumen_mm);
    match (thick, table) {
        (Some(wire), Some(table)) => Err(table.disagreement(
            "lumen_mm",
            format!(
                "wire \"{}\" is {} mm thick and does not go through; allowed is above {} mm",
                wire.name, wire.diameter_mm, wire.diameter_mm
            ),
            "take a wider lumen or a thinner wire".into(),
        )),
        _ => Ok(lumen_mm),
    }
}

fn paths(table: &Option<Table<'_>>, wires: &[WireSpec]) -> Checked<PathSettings> {
    let length = |field, default| number(table, field, &allowed::LENGTH, default);
    Ok(PathSettings {
        lumen_mm: lumen(table, wires)?,
        siphon_radius_mm: length("siphon_radius_mm", 7.0)?,
        bend_radius_mm: length("bend_radius_mm", 10.0)?,
        loop_radius_mm: length("loop_radius_mm", 10.0)?,
        wall_stiffness_mn_per_mm2: number(
            table,
            "wall_stiffness_mN_per_mm2",
            &allowed::WALL_STIFFNESS,
            300.0,
        )?,
        step_mm: number(table, "step_mm", &allowed::STEP, 0.5)?,
        edge_mm: number(table, "edge_mm", &allowed::EDGE, 0.5)?,
    })
}

fn pinch(table: &Option<Table<'_>>) -> Checked<PinchTest> {
    Ok(PinchTest {
        clamp_mn: gram_force_to_mn(number(table, "clamp_gf", &allowed::CLAMP, 500.0)?),
        jaw_mm: number(table, "jaw_mm", &allowed::LENGTH, 10.0)?,
    })
}

/// How much wire a loop takes is known where wires are built, which is where stations are checked.
fn kink(table: Option<&Table<'_>>) -> Checked<KinkTest> {
    let said = table.and_then(|table| table.optional("stations_mm"));
    Ok(KinkTest {
        stations_mm: match rising(table, "stations_mm", &allowed::STATION)? {
            Some(list) => list.into_iter().map(|(station, _)| station).collect(),
            None => STATIONS_MM.to_vec(),
        },
        said: said.map(|said| said.place()),
    })
}

fn straightening(table: &Option<Table<'_>>, wires: &[WireSpec]) -> Checked<StraighteningTest> {
    Ok(StraighteningTest {
        radius_mm: number(table, "radius_mm", &allowed::LENGTH, 15.0)?,
        angle_rad: number(table, "angle_deg", &allowed::TAKE_OFF, 90.0)?.to_radians(),
        lumen_mm: lumen(table, wires)?,
        tissue_stiffness_mn_per_mm2: number(
            table,
            "tissue_stiffness_mN_per_mm2",
            &allowed::WALL_STIFFNESS,
            20.0,
        )?,
        fed_mm: number(table, "fed_mm", &allowed::LENGTH, 150.0)?,
    })
}
