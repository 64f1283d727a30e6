//! `[vessel.motion]`: how the vessel moves with the heart and with the breath.

use nalgebra::Vector3;
use schemars::JsonSchema;
use serde::Deserialize;

use super::path::direction;
use crate::anatomy::Imported;
use crate::scenario::model::{BranchSpec, BreathSpec, HeartCourse, HeartSpec, MotionSpec};
use crate::scenario::view::PatientFrame;
use crate::schema::{Place, Read, Refusal, defaults};
use crate::shown::listed;
use crate::units::degrees;

/// From base to apex of the heart in the patient (left, head, front): from memory.
const TO_APEX: [f64; 3] = [0.6, -0.6, 0.5];

/// How the vessel moves by itself, against the guide's end; without it the vessel stands.
#[derive(Debug, Deserialize, JsonSchema)]
pub(in crate::scenario) struct MotionTable {
    /// A beating heart; a trial begins at end diastole.
    #[schemars(extend("x-example" = "[vessel.motion.heart]\nbeats_per_minute = 70\nover_muscle = [\"LAD\"]"))]
    pub(in crate::scenario) heart: Option<HeartTable>,
    /// Breathing, by which heart and guide's end move as one; a trial begins breathed out.
    #[schemars(extend("x-example" = "[vessel.motion.breath]\nbreaths_per_minute = 15"))]
    breath: Option<BreathTable>,
}

/// A beating heart.
#[derive(Debug, Deserialize, JsonSchema)]
pub(in crate::scenario) struct HeartTable {
    /// Heart rate.
    #[schemars(range(min = 30, max = 220), extend("x-example" = "70"))]
    beats_per_minute: f64,
    /// Branches over contracting muscle, such as LAD, diagonals, marginals and the posterior descending: bent
    /// in systole. A branch in neither list moves with its parent.
    #[serde(default)]
    #[schemars(length(max = 2500), extend("x-example" = "[\"LAD\"]"))]
    over_muscle: Vec<String>,
    /// Gain of their mean curvature from end diastole to end systole; 0.33 ± 0.04 was measured in 21 arteries
    /// (Catheter Cardiovasc. Interv. 2002).
    #[serde(default = "defaults::hundredths::<33>")]
    #[schemars(range(min = 0, max = 2), extend("x-example" = "0.33"))]
    curvature_gain_per_cm: f64,
    /// Length of vessel between two of their bends in systole, at most half of the branch; 2.4 bends a vessel
    /// were counted (same study), here on some 60 mm (our own); with longer ones the ends of long branches go faster
    /// than was measured.
    #[serde(default = "defaults::number::<25>")]
    #[schemars(range(min = 5, max = 200), extend("x-example" = "25"))]
    bends_every_mm: f64,
    /// Branches in the groove between atria and ventricles, such as LCx and RCA: they swing about their
    /// start without being bent.
    #[serde(default)]
    #[schemars(length(max = 2500), extend("x-example" = "[\"LCx\"]"))]
    in_groove: Vec<String>,
    /// How far the farthest part of such a branch goes (no source: with it the wall's top speed lies within
    /// what is published).
    #[serde(default = "defaults::number::<10>")]
    #[schemars(range(min = 0, max = 40), extend("x-example" = "10"))]
    groove_moves_mm: f64,
    /// Direction in which it goes, from base to apex, of any length above 0, in the frame of the scene.
    #[schemars(schema_with = "direction")]
    #[schemars(extend(
        "x-default" = "with [view]: to the left, the feet and the front",
        "x-example" = "[0, 0, -1]"
    ))]
    #[serde(default)]
    groove_towards: Option<[f64; 3]>,
    /// Files with the same tree at further phases at equal times of a beat, read as the file of [vessel], which
    /// is that at end diastole; in place of the lists above.
    #[schemars(length(max = 100), extend("x-example" = "[\"systole.vtp\"]"))]
    pub(in crate::scenario) phases: Option<Vec<String>>,
}

/// Breathing.
#[derive(Debug, Deserialize, JsonSchema)]
struct BreathTable {
    /// Breathing rate.
    #[schemars(range(min = 4, max = 60), extend("x-example" = "15"))]
    breaths_per_minute: f64,
    /// Way towards the feet on breathing in; 4.9 ± 1.9 was measured (IEEE Trans. Med. Imaging 2004;23:1046).
    #[serde(default = "moves_mm")]
    #[schemars(range(min = 0, max = 30), extend("x-example" = "4.9"))]
    moves_mm: f64,
    /// Direction of the feet, of any length above 0, in the frame of the scene.
    #[schemars(schema_with = "direction")]
    #[schemars(extend("x-default" = "with [view]: that of the patient", "x-example" = "[0, 0, -1]"))]
    #[serde(default)]
    towards: Option<[f64; 3]>,
    /// Turn on that way about the guide's end; 1.5 ± 0.9 was measured (same study).
    #[serde(default = "turn_rad", rename = "turn_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -20, max = 20), extend("x-example" = "1.5"))]
    turn_rad: f64,
    /// Axis of that turn, right-handed, of any length above 0, in the frame of the scene.
    #[schemars(schema_with = "direction")]
    #[schemars(extend(
        "x-default" = "with [view]: to the patient's front (our own)",
        "x-example" = "[0, 1, 0]"
    ))]
    #[serde(default)]
    turns_about: Option<[f64; 3]>,
    /// Whether the operator lays the still roadmap on the guide's end as he sees that move with the breath.
    #[serde(default = "yes")]
    #[schemars(extend("x-example" = "true"))]
    roadmap_follows: bool,
}

fn moves_mm() -> f64 {
    4.9
}

fn turn_rad() -> f64 {
    1.5_f64.to_radians()
}

fn yes() -> bool {
    true
}

/// Names of the branches of a tree, as messages list them.
fn names(tree: &Imported) -> String {
    let names: Vec<_> = tree.branches.iter().map(|b| b.name.as_str()).collect();
    listed(&names)
}

/// What the checks of the table look at.
pub(super) struct Around<'a> {
    /// Branches of the vessel.
    pub branches: &'a [BranchSpec],
    /// How the scene lies in the patient, if it does.
    pub frame: Option<&'a PatientFrame>,
    /// The tree of the file of anatomy, if there is one.
    pub imported: Option<&'a Imported>,
    /// The trees of the phases.
    pub phases: &'a [Imported],
}

impl Around<'_> {
    /// The unit vector of a direction that is said, or lies so in the patient.
    fn unit(&self, said: Option<[f64; 3]>, in_patient: [f64; 3], at: Place) -> Read<Vector3<f64>> {
        let vector = match (said, self.frame) {
            (Some(said), _) => Vector3::from(said),
            (None, Some(frame)) => frame.to_patient.transpose() * Vector3::from(in_patient),
            (None, None) => return Err(Refusal::missing(at)),
        };
        vector.try_normalize(1e-9).ok_or_else(|| {
            Refusal::at(
                at,
                "a direction has a length above 0",
                "for example [0, 0, -1]",
            )
        })
    }

    /// Numbers of the branches in a list of names.
    fn numbers(&self, names: &[String], at: &Place) -> Read<Vec<usize>> {
        let number = |(index, name): (usize, &String)| {
            let found = self.branches.iter().position(|branch| branch.name == *name);
            found.ok_or_else(|| {
                let known = self.branches.iter().map(|branch| &branch.name);
                Refusal::unknown(at.entry(index), "the name of a branch", known)
            })
        };
        names.iter().enumerate().map(number).collect()
    }
}

impl MotionTable {
    /// The checked table, said at `at`.
    pub(super) fn checked(&self, at: Place, around: &Around<'_>) -> Read<MotionSpec> {
        if self.heart.is_none() && self.breath.is_none() {
            return Err(Refusal::at(
                at,
                "it moves nothing",
                "add [vessel.motion.heart] or [vessel.motion.breath], or leave [vessel.motion] out",
            ));
        }
        let heart = self.heart.as_ref();
        let heart = heart.map(|heart| heart.checked(at.field("heart"), around));
        let breath = self.breath.as_ref();
        let breath = breath.map(|breath| breath.checked(at.field("breath"), around));
        Ok(MotionSpec {
            heart: heart.transpose()?,
            breath: breath.transpose()?,
            place: at,
        })
    }
}

impl HeartTable {
    fn checked(&self, at: Place, around: &Around<'_>) -> Read<HeartSpec> {
        let period_s = 60.0 / self.beats_per_minute;
        let course = match &self.phases {
            Some(files) => self.phases(files, &at, around)?,
            None => self.by_kind(&at, around)?,
        };
        Ok(HeartSpec {
            period_s,
            course,
            place: at,
        })
    }

    fn by_kind(&self, at: &Place, around: &Around<'_>) -> Read<HeartCourse> {
        let over_muscle = around.numbers(&self.over_muscle, &at.field("over_muscle"))?;
        let in_groove = around.numbers(&self.in_groove, &at.field("in_groove"))?;
        if over_muscle.is_empty() && in_groove.is_empty() {
            return Err(Refusal::at(
                at.clone(),
                "no branch is moved",
                "name branches in over_muscle or in_groove, or files in phases",
            ));
        }
        if let Some(index) = in_groove.iter().position(|n| over_muscle.contains(n)) {
            return Err(Refusal::at(
                at.field("in_groove").entry(index),
                "it stands in over_muscle too",
                "leave it in one of the two lists",
            ));
        }
        let towards = if in_groove.is_empty() {
            Vector3::zeros()
        } else {
            around.unit(self.groove_towards, TO_APEX, at.field("groove_towards"))?
        };
        Ok(HeartCourse::ByKind {
            over_muscle,
            // Per mm.
            curvature_per_mm: 0.1 * self.curvature_gain_per_cm,
            bends_every_mm: self.bends_every_mm,
            in_groove,
            groove_mm: self.groove_moves_mm,
            towards,
        })
    }

    /// The axes of the phases, which must be those of the vessel's tree.
    fn phases(&self, files: &[String], at: &Place, around: &Around<'_>) -> Read<HeartCourse> {
        let place = at.field("phases");
        if !(self.over_muscle.is_empty() && self.in_groove.is_empty()) {
            return Err(Refusal::at(
                place,
                "the files say how every branch moves, and so do over_muscle and in_groove",
                "keep one of the two",
            ));
        }
        if files.is_empty() {
            return Err(Refusal::at(
                place,
                "the vessel itself is one phase, and one phase is no movement",
                "name the files of further phases, for example that at end systole",
            ));
        }
        let Some(rest) = around.imported else {
            return Err(Refusal::at(
                place,
                "the vessel itself comes from no file, so that its branches cannot be compared",
                "name the file at end diastole as file in [vessel]",
            ));
        };
        if around.branches.len() > rest.branches.len() {
            return Err(Refusal::at(
                place,
                "the vessel has branches beside those of its file, and no phase says how they move",
                "leave out [[vessel.branch]], or name kinds in place of phases",
            ));
        }
        let axes = around.phases.iter().enumerate().map(|(index, phase)| {
            let points = |name: &str| {
                let found = phase.branches.iter().find(|b| b.name == name);
                found.map(|branch| branch.points.clone())
            };
            let axes = rest.branches.iter().map(|branch| points(&branch.name));
            match axes.collect::<Option<Vec<_>>>() {
                Some(axes) if axes.len() == phase.branches.len() => Ok(axes),
                Some(_) | None => Err(Refusal::at(
                    place.entry(index),
                    format!(
                        "it has other branches than the vessel: {} in place of {}",
                        names(phase),
                        names(rest)
                    ),
                    "give the same branches the same names in every file",
                )),
            }
        });
        Ok(HeartCourse::Phases(axes.collect::<Read<_>>()?))
    }
}

impl BreathTable {
    fn checked(&self, at: Place, around: &Around<'_>) -> Read<BreathSpec> {
        let feet = around.unit(self.towards, [0.0, -1.0, 0.0], at.field("towards"))?;
        let axis = if self.turn_rad.abs() > 0.0 {
            around.unit(self.turns_about, [0.0, 0.0, 1.0], at.field("turns_about"))?
        } else {
            Vector3::zeros()
        };
        Ok(BreathSpec {
            period_s: 60.0 / self.breaths_per_minute,
            way_mm: feet * self.moves_mm,
            turn_rad: axis * self.turn_rad,
            roadmap_follows: self.roadmap_follows,
            place: at,
        })
    }
}
