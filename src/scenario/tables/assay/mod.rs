//! `[assay]`: the bench tests of the wires.

mod fit;
mod stations;

use std::path::Path;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use self::fit::{FitTable, fits};
use self::stations::{rising, room, stations};
use crate::scenario::bench::{
    AssaySpec, FlexibilityTest, KinkTest, OVERHANG_OVER_SPAN, PathSettings, PinchTest, STATIONS_MM,
    StraighteningTest, ThreePointTest, TipLoadTest, TorqueTest,
};
use crate::scenario::model::WireSpec;
use crate::schema::{Place, Read, Refusal};
use crate::units::gram_force_to_mn;

/// Settings of all bench tests.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(default)]
pub(super) struct AssayTable {
    /// Longest edge of a rod in a chuck.
    #[schemars(range(min = 0.02, max = 5), extend("x-example" = "0.1"))]
    edge_mm: f64,
    /// The wire held behind its tip and driven against a plate.
    #[schemars(extend("x-example" = "{ held_mm = 10 }"))]
    tip_load: TipLoadTest,
    /// A side force that turns the tip.
    #[schemars(extend("x-example" = "{ held_mm = [5, 10, 20], angles_deg = [45, 90] }"))]
    flexibility: FlexibilityTable,
    /// The wire on two supports, pressed down between them.
    #[schemars(extend("x-example" = "{ span_mm = 20, stations_mm = [20, 50, 100] }"))]
    three_point: ThreePointTable,
    /// The hand turns the wire in a path.
    #[schemars(extend("x-example" = "{ turn_deg = 1080, step_deg = 10 }"))]
    torque: TorqueTest,
    /// The tubes of torque response and track.
    #[schemars(extend("x-example" = "{ lumen_mm = 3, bend_radius_mm = 10 }"))]
    paths: PathSettings,
    /// The wire pulled out between two jaws.
    #[schemars(extend("x-example" = "{ clamp_gf = 500, jaw_mm = 10 }"))]
    pinch: PinchTable,
    /// A loop of wire made smaller between two plates.
    #[schemars(extend("x-example" = "{ stations_mm = [20, 50, 100] }"))]
    kink: KinkTable,
    /// A bend of a vessel in soft tissue, straightened by the wire.
    #[schemars(extend("x-example" = "{ radius_mm = 15, angle_deg = 90 }"))]
    straightening: StraighteningTest,
    /// Measured curves to which stiffness profiles are fitted.
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[assay.fit]]\nname = \"fitted\"\nwire = \"soft\"\ncurve = \"measured.csv\"\ntest = \"three-point\"\nknots_mm = [20, 60, 120]"
    ))]
    fit: Vec<FitTable>,
}

impl Default for AssayTable {
    fn default() -> Self {
        Self {
            edge_mm: 0.1,
            tip_load: TipLoadTest::default(),
            flexibility: FlexibilityTable::default(),
            three_point: ThreePointTable::default(),
            torque: TorqueTest::default(),
            paths: PathSettings::default(),
            pinch: PinchTable::default(),
            kink: KinkTable::default(),
            straightening: StraighteningTest::default(),
            fit: Vec::new(),
        }
    }
}

/// Default free lengths in mm and angles in degrees of the flexibility test.
const HELD_MM: [f64; 3] = [5.0, 10.0, 20.0];
const ANGLES_DEG: [f64; 2] = [45.0, 90.0];

/// A side force that turns the tip.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
struct FlexibilityTable {
    /// Free lengths, rising.
    #[schemars(length(min = 1), inner(range(min = 1, max = 200)), extend(
        "x-remedy" = "give at least one number",
        "default" = HELD_MM,
        "x-example" = "[5, 10, 20]"
    ))]
    held_mm: Option<Vec<f64>>,
    /// Angles to be reached, rising.
    #[schemars(schema_with = "angles")]
    #[schemars(extend("x-default" = "[45, 90]", "x-example" = "[45, 90]"))]
    #[serde(default)]
    angles_deg: Option<Vec<f64>>,
}

fn angles(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 1, "x-remedy": "give at least one number",
        "items": {
            "type": "number", "minimum": 1, "maximum": 100, "x-unit": "deg",
            "x-suspect": "side angle",
        },
    })
}

/// Default distance of the supports in mm.
const SPAN_MM: f64 = 20.0;

/// The wire on two supports.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
struct ThreePointTable {
    /// Distance of the supports.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "default" = SPAN_MM,
        "x-example" = "20"
    ))]
    span_mm: Option<f64>,
    /// Distances of the load from the tip, rising; the same for all wires.
    #[schemars(length(min = 1), inner(range(min = 0, max = 10_000)), extend(
        "x-remedy" = "give at least one number",
        "x-default" = "those of 20, 40, 60, 80, 100, 150, 200, 250 that fit",
        "x-example" = "[20, 50, 100]"
    ))]
    stations_mm: Option<Vec<f64>>,
    /// Largest deflection under the load, up to a tenth of the span.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "span/100",
        "x-example" = "0.2"
    ))]
    deflection_mm: Option<f64>,
}

/// The wire pulled out between two jaws.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
#[serde(default)]
struct PinchTable {
    /// Clamp force.
    #[schemars(range(max = 100_000), extend("exclusiveMinimum" = 0, "x-example" = "500"))]
    clamp_gf: f64,
    /// Length of the jaws.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    jaw_mm: f64,
}

impl Default for PinchTable {
    fn default() -> Self {
        Self {
            clamp_gf: 500.0,
            jaw_mm: 10.0,
        }
    }
}

/// A loop of wire made smaller.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
struct KinkTable {
    /// Distances of the loop's middle from the tip, rising; the same for all wires.
    #[schemars(length(min = 1), inner(range(min = 0, max = 10_000)), extend(
        "x-remedy" = "give at least one number",
        "x-default" = "those of 20, 40, 60, 80, 100, 150, 200, 250 that fit",
        "x-example" = "[20, 50, 100]"
    ))]
    stations_mm: Option<Vec<f64>>,
}

/// Length of wire on each side of the load over the span: half of it and the overhang.
const HALF_OVER_SPAN: f64 = 0.5 + OVERHANG_OVER_SPAN;

impl AssayTable {
    /// The checked table for the wires of the file; `folder` is where paths count from.
    pub(super) fn checked(self, wires: &[WireSpec], folder: &Path) -> Read<AssaySpec> {
        let at = Place::top("assay");
        let edge_mm = self.edge_mm;
        let three_point = self.three_point.checked(wires, &at.field("three_point"))?;
        let held = at.field("tip_load").field("held_mm");
        at_least_two_edges(held, self.tip_load.held_mm, edge_mm)?;
        let flexibility = self
            .flexibility
            .checked(&at.field("flexibility"), edge_mm)?;
        goes_through(self.paths.lumen_mm, &at.field("paths"), wires)?;
        let kink = at.field("kink").field("stations_mm");
        if let Some(list) = &self.kink.stations_mm {
            rising(list, &kink)?;
        }
        goes_through(
            self.straightening.lumen_mm,
            &at.field("straightening"),
            wires,
        )?;
        let fits = fits(&self.fit, wires, folder, three_point.span_mm)?;
        Ok(AssaySpec {
            edge_mm,
            tip_load: self.tip_load,
            flexibility,
            three_point,
            torque: self.torque,
            paths: self.paths,
            pinch: PinchTest {
                clamp_mn: gram_force_to_mn(self.pinch.clamp_gf),
                jaw_mm: self.pinch.jaw_mm,
            },
            // How much wire a loop takes is known where wires are built, which is where stations
            // are checked.
            kink: KinkTest {
                said: self.kink.stations_mm.is_some().then_some(kink),
                stations_mm: self.kink.stations_mm.unwrap_or(STATIONS_MM.to_vec()),
            },
            straightening: self.straightening,
            fits,
        })
    }
}

/// Refuses a held length of fewer than two edges.
fn at_least_two_edges(at: Place, held_mm: f64, edge_mm: f64) -> Read<()> {
    if held_mm >= 2.0 * edge_mm {
        return Ok(());
    }
    Err(Refusal::at(
        at,
        format!(
            "edge_mm is {edge_mm} mm; allowed is two edges, {} mm, or more",
            2.0 * edge_mm
        ),
        "hold the wire further back or make edge_mm smaller",
    ))
}

/// Refuses a tube or vessel of the bench, described at `at`, that is too narrow for a wire.
fn goes_through(lumen_mm: f64, at: &Place, wires: &[WireSpec]) -> Read<()> {
    match wires.iter().find(|wire| wire.diameter_mm >= lumen_mm) {
        Some(wire) => Err(Refusal::at(
            at.field("lumen_mm"),
            format!(
                "wire \"{}\" is {} mm thick and does not go through; allowed is above {} mm",
                wire.name, wire.diameter_mm, wire.diameter_mm
            ),
            "take a wider lumen or a thinner wire",
        )),
        None => Ok(()),
    }
}

impl FlexibilityTable {
    fn checked(self, at: &Place, edge_mm: f64) -> Read<FlexibilityTest> {
        let held = at.field("held_mm");
        if let Some(list) = &self.held_mm {
            rising(list, &held)?;
            for (index, held_mm) in list.iter().enumerate() {
                at_least_two_edges(held.entry(index), *held_mm, edge_mm)?;
            }
        }
        if let Some(list) = &self.angles_deg {
            rising(list, &at.field("angles_deg"))?;
        }
        let angles = self.angles_deg.unwrap_or(ANGLES_DEG.to_vec());
        Ok(FlexibilityTest {
            held_mm: self.held_mm.unwrap_or(HELD_MM.to_vec()),
            angles_rad: angles.into_iter().map(f64::to_radians).collect(),
        })
    }
}

impl ThreePointTable {
    fn checked(self, wires: &[WireSpec], at: &Place) -> Read<ThreePointTest> {
        let span_mm = self.span_mm.unwrap_or(SPAN_MM);
        if self.span_mm.is_some() {
            check_span(span_mm, wires, at.field("span_mm"))?;
        }
        let deflection_mm = self.deflection_mm.unwrap_or(span_mm / 100.0);
        if self.deflection_mm.is_some() && deflection_mm > 0.1 * span_mm {
            return Err(Refusal::at(
                at.field("deflection_mm"),
                format!(
                    "stiffness is read from small deflections; allowed is up to a tenth of the span, {} mm",
                    0.1 * span_mm
                ),
                "press less or take a longer span",
            ));
        }
        let said = self.stations_mm.as_deref();
        let half = HALF_OVER_SPAN * span_mm;
        Ok(ThreePointTest {
            span_mm,
            stations_mm: stations(said, wires, half, &at.field("stations_mm"))?,
            deflection_mm,
        })
    }
}

/// Refuses a span for which a wire is too short.
fn check_span(span_mm: f64, wires: &[WireSpec], at: Place) -> Read<()> {
    let taken_mm = 2.0 * HALF_OVER_SPAN * span_mm;
    for wire in wires {
        let (from, to) = room(wire);
        if taken_mm > to - from {
            return Err(Refusal::at(
                at,
                format!(
                    "the wire \"{}\" is straight and described from {from} to {to} mm from its tip \
                     and the test takes {taken_mm} mm; allowed is a span up to {:.1} mm",
                    wire.name,
                    (to - from) / (2.0 * HALF_OVER_SPAN)
                ),
                "take a shorter span, or describe more of the wire",
            ));
        }
    }
    Ok(())
}
