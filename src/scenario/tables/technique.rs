//! `[[technique]]`: what every technique says, whatever the hands do.

use schemars::JsonSchema;
use serde::Deserialize;

use super::aids::AidsFields;
use super::{Names, view};
use crate::scenario::model::TechniqueSpec;
use crate::scenario::view::SightSpec;
use crate::schema::{Place, Read, Refusal};
use crate::technique::{DeviceSpecs, PlanTable, Said};

/// A technique with its settings.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct TechniqueTable {
    /// Unique name, 1 to 60 characters.
    #[schemars(extend("x-default" = "its kind", "x-example" = "\"push\""))]
    name: Option<String>,
    /// What it may see: "full" for all, or one projection on the roadmap that is believed, such as
    /// "LAO 40 CRA 30", in which depth is unknown; that needs [view].
    #[schemars(extend("default" = "full", "x-example" = "\"full\""))]
    sight: Option<String>,
    #[serde(flatten)]
    aids: AidsFields,
    #[serde(flatten)]
    plan: PlanTable,
}

/// Checks every `[[technique]]`. `framed` says whether the scene lies in a patient, which a
/// projection needs.
pub(super) fn techniques(
    tables: Vec<TechniqueTable>,
    framed: bool,
    devices: DeviceSpecs<'_>,
) -> Read<Vec<TechniqueSpec>> {
    let mut techniques: Vec<TechniqueSpec> = Vec::new();
    let mut names = Names::default();
    for (index, table) in tables.into_iter().enumerate() {
        let at = Place::top("technique").entry(index);
        let plan = table.plan.checked(Said {
            at: &at,
            between_attempts: table.aids.between_attempts(),
            points_guide: table.aids.points_guide(),
            devices,
        })?;
        let name = table.name.unwrap_or_else(|| plan.kind().to_owned());
        names.add(&name, &at)?;
        let anchor = table.plan.anchor().map(str::to_owned);
        techniques.push(TechniqueSpec {
            name,
            plan,
            aids: table.aids.checked(&at, devices.wires, anchor)?,
            sight: sight(table.sight.as_deref(), &at, framed)?,
            place: at,
        });
    }
    Ok(techniques)
}

fn sight(said: Option<&str>, at: &Place, framed: bool) -> Read<SightSpec> {
    let place = at.field("sight");
    let text = match said {
        None | Some("full") => return Ok(SightSpec::Full),
        Some(text) => text,
    };
    let angles = view::angles(text, place.clone(), "\"full\" or ")?;
    if framed {
        return Ok(SightSpec::Projected(angles));
    }
    Err(Refusal::at(
        place,
        "the scene has no patient frame, so LAO, RAO, CRA and CAU mean nothing in it",
        "add [view] with patient_frame = [\"left\", \"head\", \"front\"], or write sight = \"full\"",
    ))
}
