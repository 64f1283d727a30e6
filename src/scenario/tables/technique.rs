//! `[[technique]]`: what every technique says, whatever the hands do.

use schemars::JsonSchema;
use serde::Deserialize;

use super::aids::AidsFields;
use super::{Names, view};
use crate::hands::Recording;
use crate::scenario::Warning;
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Place, Read, Refusal};
use crate::shown::cut;
use crate::technique::{Around, DeviceSpecs, PlanTable, RecordedWith};

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

impl TechniqueTable {
    /// The file of movements that it names.
    pub(super) fn recording(&self) -> Option<&str> {
        self.plan.recording()
    }
}

/// Checks every `[[technique]]`; `recordings` are those of the files that they name. `framed` says whether the scene lies in a patient, which a
/// projection needs.
pub(super) fn techniques(
    tables: Vec<TechniqueTable>,
    framed: bool,
    devices: DeviceSpecs<'_>,
    recordings: &[Option<Recording>],
) -> Read<Vec<TechniqueSpec>> {
    let mut techniques: Vec<TechniqueSpec> = Vec::new();
    let mut names = Names::default();
    for (index, table) in tables.into_iter().enumerate() {
        let at = Place::top("technique").entry(index);
        let recording = match recordings.get(index) {
            Some(Some(recording)) => {
                table.aids.refused_beside_recording(&at)?;
                if table.sight.is_some() {
                    return Err(taken_along("sight", &at));
                }
                let with = worked_with(recording, &at, &techniques, recordings)?;
                Some(RecordedWith { recording, with })
            }
            _ => None,
        };
        let sight = match recording {
            Some(worked) => worked.with.sight,
            None => sight(table.sight.as_deref(), &at, framed)?,
        };
        let plan = table.plan.checked(Around {
            at: &at,
            used_between_attempts: table.aids.between_attempts(),
            points_guide: table.aids.points_guide(),
            aims: matches!(sight, SightSpec::Projected(_)),
            devices,
            recording,
        })?;
        let name = table.name.unwrap_or_else(|| plan.kind().to_owned());
        names.add(&name, &at)?;
        let anchor = table.plan.anchor().map(str::to_owned);
        let aids = match recording {
            Some(worked) => worked.with.aids.clone(),
            None => table.aids.checked(&at, devices.wires, anchor)?,
        };
        techniques.push(TechniqueSpec {
            name,
            plan,
            aids,
            sight,
            place: at,
        });
    }
    Ok(techniques)
}

/// Refuses a field that a recording takes from the technique with which it was made.
pub(super) fn taken_along(field: &'static str, at: &Place) -> Box<Refusal> {
    Refusal::at(
        at.field(field),
        "a recording takes it from the technique with whose devices it was made",
        format!("remove {field}"),
    )
}

/// The technique with whose devices the movements of the table at `at` were made, one of those `before`
/// it.
fn worked_with<'a>(
    recording: &Recording,
    at: &Place,
    before: &'a [TechniqueSpec],
    recordings: &[Option<Recording>],
) -> Read<&'a TechniqueSpec> {
    let named = |(spec, own): &(&TechniqueSpec, &Option<Recording>)| {
        spec.name == recording.made.technique && own.is_none()
    };
    let found = before.iter().zip(recordings).find(named);
    found.map(|(spec, _)| spec).ok_or_else(|| {
        let made = cut(&recording.made.technique);
        Refusal::at(
            at.field("recording"),
            format!(
                "the movements were made with the devices of technique \"{made}\", and none of that name stands \
                 before this one"
            ),
            "add that technique before it, or move it up",
        )
    })
}

/// A warning for each recording that was made elsewhere: its movements are made again all the same.
pub(super) fn made_elsewhere(
    scenario: &Scenario,
    recordings: &[Option<Recording>],
) -> Vec<Warning> {
    let both = scenario.techniques.iter().zip(recordings);
    let recorded = both.filter_map(|(spec, recording)| Some((spec, &recording.as_ref()?.made)));
    recorded
        .filter_map(|(spec, made)| {
            let with = scenario
                .techniques
                .iter()
                .find(|t| t.name == made.technique)?;
            let study = &scenario.study;
            let is_other = scenario.acting_hash(with) != made.scene;
            let why = if is_other {
                "in a scene that differs from this one".to_owned()
            } else if made.seed != study.seed {
                format!("with seed {}, here it is {}", made.seed, study.seed)
            } else if made.trial >= study.trials {
                let trials = study.trials;
                format!(
                    "on the draw of trial {}, and here are {trials} trials, counted from 0",
                    made.trial
                )
            } else {
                return None;
            };
            Some(Warning {
                place: spec.place.field("recording"),
                message: format!(
                    "the movements of \"{}\" were made {why}: they are made again on other draws",
                    spec.name
                ),
            })
        })
        .collect()
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
