//! The dual-lumen catheter out of whose side port a wire comes, as techniques name it.

use schemars::JsonSchema;
use serde::Deserialize;

use super::fields::{Around, catheter, keeps_guide, wire_index};
use crate::scenario::model::CarrierSpec;
use crate::schema::{Read, Refusal};

/// A dual-lumen catheter on a first wire.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct CarrierFields {
    /// Catheter with a side port, out of which the wire comes.
    #[schemars(extend("x-example" = "\"straight\""))]
    catheter: String,
    /// Wire over which the catheter rides.
    #[schemars(extend("x-example" = "\"workhorse 1 gf\""))]
    first_wire: String,
    /// How far past the branching that wire lies.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "default" = FIRST_WIRE_PAST_MM,
        "x-example" = "25"
    ))]
    first_wire_past_mm: Option<f64>,
}

/// Default of how far past the branching the first wire of a carrier lies, in mm.
pub(super) const FIRST_WIRE_PAST_MM: f64 = 25.0;

impl CarrierFields {
    pub(super) fn checked(&self, around: Around<'_>) -> Read<CarrierSpec> {
        keeps_guide(around, "the first wire lies where the guide has sent it")?;
        let past_mm = self.first_wire_past_mm.unwrap_or(FIRST_WIRE_PAST_MM);
        let named = [Some(self.catheter.as_str()), Some(self.first_wire.as_str())];
        carrier(around, named, past_mm)
    }
}

/// The catheter, which must have a side port, and the wire on which it rides; both must be named.
pub(super) fn carrier(
    around: Around<'_>,
    [catheter_named, first_wire]: [Option<&str>; 2],
    first_wire_past_mm: f64,
) -> Read<CarrierSpec> {
    let missing = |field| Refusal::missing(around.at.field(field));
    let name = catheter_named.ok_or_else(|| missing("catheter"))?;
    let index = catheter(around, name)?;
    if around.devices.catheters[index].side_port.is_none() {
        return Err(Refusal::at(
            around.at.field("catheter"),
            format!("catheter \"{name}\" has no side port out of which the wire could come"),
            "give that catheter a side_port, or name another",
        ));
    }
    let first_wire = first_wire.ok_or_else(|| missing("first_wire"))?;
    Ok(CarrierSpec {
        catheter: index,
        first_wire: wire_index(
            first_wire,
            around.at.field("first_wire"),
            around.devices.wires,
        )?,
        first_wire_past_mm,
    })
}
