//! What the fields of techniques have in common, and the devices that they name.

use super::PlanSpec;
use crate::hands::Recording;
use crate::scenario::model::{CatheterSpec, TechniqueSpec, WireSpec};
use crate::schema::{Place, Read, Refusal};

/// What a technique may name.
#[derive(Clone, Copy)]
pub(crate) struct DeviceSpecs<'a> {
    pub(crate) wires: &'a [WireSpec],
    pub(crate) catheters: &'a [CatheterSpec],
}

/// What stands around the fields of a technique.
#[derive(Clone, Copy)]
pub(crate) struct Around<'a> {
    /// Its table.
    pub(crate) at: &'a Place,
    /// The first field of the table that a technique of one attempt has no use for.
    pub(crate) used_between_attempts: Option<&'static str>,
    /// Whether the guide is pointed anew.
    pub(crate) points_guide: bool,
    /// Whether the hand sees one projection alone, and aims by it.
    pub(crate) aims: bool,
    pub(crate) devices: DeviceSpecs<'a>,
    /// The movements of the file that the technique names.
    pub(crate) recording: Option<RecordedWith<'a>>,
}

/// Movements that were made with the devices of another technique.
#[derive(Clone, Copy)]
pub(crate) struct RecordedWith<'a> {
    pub(crate) recording: &'a Recording,
    pub(crate) with: &'a TechniqueSpec,
}

/// The fields of one technique, as a scenario says them.
pub(super) trait Fields {
    /// The checked settings.
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec>;

    /// The file of movements that is named.
    fn recording(&self) -> Option<&str> {
        None
    }

    /// The branch that is to hold the tip for a while.
    fn anchor(&self) -> Option<&str> {
        None
    }
}

/// Refuses what is done between attempts.
pub(super) fn makes_one_attempt(around: Around<'_>, technique: &str) -> Read<()> {
    let Some(field) = around.used_between_attempts else {
        return Ok(());
    };
    Err(Refusal::at(
        around.at.field(field),
        format!("{technique} makes one attempt and changes nothing after it"),
        format!("remove {field}, or choose kind = \"redirect\""),
    ))
}

/// Refuses a guide that is pointed anew.
pub(super) fn keeps_guide(around: Around<'_>, why: &str) -> Read<()> {
    if around.points_guide {
        return Err(Refusal::at(
            around.at.field("guide_aims"),
            why,
            "remove guide_aims, or choose kind = \"redirect\"",
        ));
    }
    Ok(())
}

/// Index of the catheter that a technique names.
pub(super) fn catheter(around: Around<'_>, name: &str) -> Read<usize> {
    let catheters = around.devices.catheters;
    let found = catheters.iter().position(|catheter| catheter.name == name);
    found.ok_or_else(|| {
        let at = around.at.field("catheter");
        if catheters.is_empty() {
            return Refusal::at(
                at,
                "the scenario describes no catheter",
                "add a [[catheter]] table of that name",
            );
        }
        let names = catheters.iter().map(|catheter| &catheter.name);
        Refusal::unknown(at, "the name of a catheter", names)
    })
}

/// Index of the wire that the field at `at` names.
pub(crate) fn wire_index(name: &str, at: Place, wires: &[WireSpec]) -> Read<usize> {
    let found = wires.iter().position(|wire| wire.name == name);
    found.ok_or_else(|| {
        let names = wires.iter().map(|wire| &wire.name);
        Refusal::unknown(at, "the name of a wire", names)
    })
}
