//! What a `[[technique]]` brings along: a balloon, another wire, a guide pointed anew.

use schemars::JsonSchema;
use serde::Deserialize;

use super::technique::taken_along;
use crate::scenario::model::{
    AidsSpec, AnchorSpec, BalloonSpec, ExchangeSpec, GuideAimSpec, ShaftSpec, WireSpec,
};
use crate::schema::{Place, Read, Refusal, defaults};
use crate::technique::wire_index;

/// Fields of a technique that say what it brings along.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct AidsFields {
    /// Occluding balloon that blocks the vessel which goes straight on where the target leaves.
    #[schemars(extend("x-example" = "{ diameter_mm = 3, length_mm = 10 }"))]
    balloon: Option<BalloonTable>,
    /// Another wire to go on with after some attempts, from the guide's end or through the catheter
    /// that holds the place; not for push, which makes one attempt.
    #[schemars(extend("x-example" = "{ after = 2, wire = \"stiff 3 gf\" }"))]
    exchange: Option<ExchangeTable>,
    /// How the guide is pointed before each further attempt, in turn; for redirect and the supports.
    #[schemars(length(min = 1), extend(
        "x-entry" = "guide_aims entry",
        "x-remedy" = "add an aim, such as { tilt_deg = 10, plane_deg = 90 }",
        "x-example" = "[{ tilt_deg = 10, plane_deg = 90 }]"
    ))]
    guide_aims: Option<Vec<GuideAimSpec>>,
}

/// A balloon.
#[derive(Debug, Deserialize, JsonSchema)]
struct BalloonTable {
    /// Diameter to which it is inflated.
    #[schemars(range(min = 0.5, max = 10), extend("x-example" = "3"))]
    diameter_mm: f64,
    /// Length.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    length_mm: f64,
    /// How far its near end lies beyond the branching.
    #[serde(default = "defaults::number::<1>")]
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "1"))]
    beyond_mm: f64,
    /// Stiffness of its foundation; small for a soft balloon.
    #[serde(default = "defaults::number::<100>", rename = "stiffness_mN_per_mm2")]
    #[schemars(range(max = 1_000_000), extend("exclusiveMinimum" = 0, "x-example" = "100"))]
    stiffness_mn_per_mm2: f64,
    /// Diameter of its shaft, where that shares the lumen with the wire.
    #[schemars(range(max = 4), extend(
        "exclusiveMinimum" = 0,
        "x-suspect" = "catheter",
        "x-example" = "0.9"
    ))]
    shaft_diameter_mm: Option<f64>,
    /// Wire over which the balloon was brought: the shaft lies where that comes to lie.
    #[schemars(extend(
        "x-default" = "the first wire of the file",
        "x-example" = "\"workhorse 1 gf\""
    ))]
    shaft_wire: Option<String>,
}

/// A change of wire.
#[derive(Debug, Deserialize, JsonSchema)]
struct ExchangeTable {
    /// Attempts with the first wire.
    #[serde(default = "defaults::count::<2>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "attempts", "x-example" = "2"))]
    after: u32,
    /// Wire of the scenario to go on with.
    #[schemars(extend("x-example" = "\"stiff 3 gf\""))]
    wire: String,
}

impl AidsFields {
    /// The first field that a technique of one attempt has no use for.
    pub(super) fn between_attempts(&self) -> Option<&'static str> {
        let said = [
            ("exchange", self.exchange.is_some()),
            ("guide_aims", self.guide_aims.is_some()),
        ];
        said.iter().find(|(_, said)| *said).map(|(field, _)| *field)
    }

    /// Whether the guide is pointed anew.
    pub(super) fn points_guide(&self) -> bool {
        self.guide_aims.is_some()
    }

    /// Refuses aids of the technique at `at`, which has those of a recording.
    pub(super) fn refused_beside_recording(&self, at: &Place) -> Read<()> {
        let said = [
            ("balloon", self.balloon.is_some()),
            ("exchange", self.exchange.is_some()),
            ("guide_aims", self.guide_aims.is_some()),
        ];
        match said.iter().find(|(_, said)| *said) {
            Some((field, _)) => Err(taken_along(field, at)),
            None => Ok(()),
        }
    }

    /// The aids of the technique at `at`; `wires` are those of the scenario, `anchor` the branch
    /// that holds the tip for a while.
    pub(super) fn checked(
        self,
        at: &Place,
        wires: &[WireSpec],
        anchor: Option<String>,
    ) -> Read<AidsSpec> {
        let balloon = match self.balloon {
            Some(balloon) => Some(balloon.checked(at.field("balloon"), wires)?),
            None => None,
        };
        let exchange = match self.exchange {
            Some(exchange) => {
                let place = at.field("exchange");
                wire_index(&exchange.wire, place.field("wire"), wires)?;
                Some(ExchangeSpec {
                    after: exchange.after,
                    wire: exchange.wire,
                    place,
                })
            }
            None => None,
        };
        Ok(AidsSpec {
            balloon,
            exchange,
            guide_aims: self.guide_aims.unwrap_or_default(),
            anchor: anchor.map(|branch| AnchorSpec {
                branch,
                place: at.clone(),
            }),
        })
    }
}

impl BalloonTable {
    fn checked(self, at: Place, wires: &[WireSpec]) -> Read<BalloonSpec> {
        let shaft = match (self.shaft_diameter_mm, self.shaft_wire) {
            (None, None) => None,
            (None, Some(_)) => {
                return Err(Refusal::at(
                    at.field("shaft_wire"),
                    "without shaft_diameter_mm the balloon has no shaft in the lumen",
                    "add shaft_diameter_mm, or remove shaft_wire",
                ));
            }
            (Some(diameter_mm), None) => Some(ShaftSpec {
                diameter_mm,
                wire: 0,
            }),
            (Some(diameter_mm), Some(wire)) => Some(ShaftSpec {
                diameter_mm,
                wire: wire_index(&wire, at.field("shaft_wire"), wires)?,
            }),
        };
        Ok(BalloonSpec {
            diameter_mm: self.diameter_mm,
            length_mm: self.length_mm,
            beyond_mm: self.beyond_mm,
            stiffness_mn_per_mm2: self.stiffness_mn_per_mm2,
            shaft,
            place: at,
        })
    }
}
