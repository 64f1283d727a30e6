//! `[[technique]]`: what the hands do. Each kind's settings and checks stand in a file of its own.

mod angled_support;
mod carrier;
mod dual_lumen;
mod loop_in_vessel;
mod looped_back;
mod redirect;
mod support;

use schemars::JsonSchema;
use serde::Deserialize;

use self::angled_support::AngledSupport;
use self::dual_lumen::DualLumen;
use self::loop_in_vessel::LoopInVessel;
use self::looped_back::LoopedBack;
use self::redirect::Redirect;
use self::support::Support;
use super::aids::AidsFields;
use super::{unique_name, view};
use crate::scenario::model::{CatheterSpec, PlanSpec, TechniqueSpec, WireSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Place, Read, Refusal};

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

/// What the hands do.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a kind of technique"))]
enum PlanTable {
    /// Feed at the drawn roll until something is decided.
    Push,
    Redirect(Redirect),
    LoopedBack(LoopedBack),
    Support(Support),
    AngledSupport(AngledSupport),
    DualLumen(DualLumen),
    LoopInVessel(LoopInVessel),
}

/// What a technique may name.
#[derive(Clone, Copy)]
pub(super) struct Devices<'a> {
    pub(super) wires: &'a [WireSpec],
    pub(super) catheters: &'a [CatheterSpec],
}

/// What stands around the settings of a technique.
#[derive(Clone, Copy)]
struct Said<'a> {
    /// Its table.
    at: &'a Place,
    aids: &'a AidsFields,
    devices: Devices<'a>,
}

/// Settings of one kind of technique.
trait Settings {
    /// The checked settings.
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec>;

    /// The branch that is to hold the tip for a while.
    fn anchor(&self) -> Option<&str> {
        None
    }
}

/// Settings of a push: none.
struct Push;

impl Settings for Push {
    fn checked(&self, said: Said<'_>) -> Read<PlanSpec> {
        match said.aids.between_attempts() {
            None => Ok(PlanSpec::Push),
            Some(field) => Err(Refusal::at(
                said.at.field(field),
                "push makes one attempt and changes nothing after it",
                format!("remove {field}, or choose kind = \"redirect\""),
            )),
        }
    }
}

impl PlanTable {
    /// Its kind as a scenario says it, and its settings.
    fn settings(&self) -> (&'static str, &dyn Settings) {
        match self {
            Self::Push => ("push", &Push),
            Self::Redirect(settings) => ("redirect", settings),
            Self::LoopedBack(settings) => ("looped-back", settings),
            Self::Support(settings) => ("support", settings),
            Self::AngledSupport(settings) => ("angled-support", settings),
            Self::DualLumen(settings) => ("dual-lumen", settings),
            Self::LoopInVessel(settings) => ("loop-in-vessel", settings),
        }
    }
}

/// Checks every `[[technique]]`. `framed` says whether the scene lies in a patient, which a
/// projection needs.
pub(super) fn techniques(
    tables: Vec<TechniqueTable>,
    framed: bool,
    devices: Devices<'_>,
) -> Read<Vec<TechniqueSpec>> {
    let mut techniques: Vec<TechniqueSpec> = Vec::new();
    for (index, table) in tables.into_iter().enumerate() {
        let at = Place::top("technique").entry(index);
        let (kind, settings) = table.plan.settings();
        let plan = settings.checked(Said {
            at: &at,
            aids: &table.aids,
            devices,
        })?;
        let name = table.name.unwrap_or_else(|| kind.to_owned());
        let names: Vec<&str> = techniques.iter().map(|t| t.name.as_str()).collect();
        unique_name(&name, &at, &names)?;
        let anchor = settings.anchor().map(str::to_owned);
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

const FIRST_WIRE_STAYS: &str = "the first wire lies where the guide has sent it";

/// Refuses a guide that is pointed anew.
fn keeps_guide(said: Said<'_>, why: &str) -> Read<()> {
    if said.aids.points_guide() {
        return Err(Refusal::at(
            said.at.field("guide_aims"),
            why,
            "remove guide_aims, or choose kind = \"redirect\"",
        ));
    }
    Ok(())
}

/// Index of the catheter that a technique names.
fn catheter(said: Said<'_>, name: &str) -> Read<usize> {
    let catheters = said.devices.catheters;
    let found = catheters.iter().position(|catheter| catheter.name == name);
    found.ok_or_else(|| {
        let at = said.at.field("catheter");
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
