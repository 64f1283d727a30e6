//! `[[vessel.branch]]`, in a tree file `[[branch]]`: a branch, how it hangs on its parent and how wide
//! it is.

use std::collections::BTreeMap;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::path::PathFields;
use super::{Names, station};
use crate::scenario::measure;
use crate::scenario::model::{AttachmentSpec, BranchSpec, PathSpec};
use crate::schema::{Place, Read, Refusal, shapes};

/// A branch of the vessel.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct BranchTable {
    /// Unique name, 1 to 60 characters.
    #[schemars(extend("x-example" = "\"parent\""))]
    name: String,
    /// Branch before this one on which it hangs; without it this is an inlet.
    #[schemars(extend("x-example" = "\"parent\""))]
    parent: Option<String>,
    /// Station on the parent.
    #[schemars(range(min = 0, max = 10_000), extend(
        "x-default" = "the parent's nearest point (points only)",
        "x-example" = "30"
    ))]
    at_mm: Option<f64>,
    #[serde(flatten)]
    path: PathFields,
    /// One lumen diameter; one of diameter_mm, diameters_mm and point_diameters_mm is said.
    #[schemars(range(max = 40), extend("exclusiveMinimum" = 0, "x-example" = "3.0"))]
    diameter_mm: Option<f64>,
    /// List of [station, diameter], rising; between them the diameter follows cubics that keep its
    /// shape, and a change over less than the smallest lumen radius is spread over that.
    #[schemars(schema_with = "shapes::lumen_profile")]
    #[schemars(extend("x-example" = "[[0, 3.0], [50, 2.5]]"))]
    #[serde(default)]
    diameters_mm: Option<Vec<(f64, f64)>>,
    /// One diameter for each point, or a table of such lists by set; "absent" leaves out points at
    /// the end.
    #[schemars(schema_with = "point_diameters")]
    #[schemars(extend("x-example" = "[3.0, 2.5]"))]
    #[serde(default)]
    point_diameters_mm: Option<PointDiameters>,
}

/// Diameters at the points of a branch.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum PointDiameters {
    List(Vec<PointDiameter>),
    Sets(BTreeMap<String, Vec<PointDiameter>>),
}

/// A diameter in mm, or the word "absent".
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
enum PointDiameter {
    Mm(f64),
    Absent(String),
}

fn point_diameters(_: &mut SchemaGenerator) -> Schema {
    let list = serde_json::json!({
        "type": "array",
        "items": { "anyOf": [
            shapes::lumen_mm(),
            { "type": "string", "enum": ["absent"], "x-kind": "a word for a diameter" },
        ] },
    });
    json_schema!({ "anyOf": [
        list,
        { "type": "object", "additionalProperties": list },
    ] })
}

impl BranchTable {
    /// Whether its points are told in the patient's frame.
    pub(super) fn is_in_patient(&self) -> bool {
        self.path.is_in_patient()
    }

    /// The branch of the table at `at`; `earlier` are those before it with their `names`, and `set` is
    /// the set of diameters that is chosen.
    pub(super) fn checked(
        self,
        at: Place,
        (earlier, names): (&[BranchSpec], &mut Names),
        set: Option<&str>,
    ) -> Read<BranchSpec> {
        names.add(&self.name, &at)?;
        let beside = [
            ("at_mm", self.at_mm.is_some()),
            ("point_diameters_mm", self.point_diameters_mm.is_some()),
        ];
        let mut path = self.path.checked(&at, self.parent.is_some(), beside)?;
        let parts = Diameters {
            one: self.diameter_mm,
            profile: self.diameters_mm,
            points: self.point_diameters_mm,
        };
        let diameters = parts.checked(&at, &mut path, set)?;
        let attached = match &self.parent {
            None => None,
            Some(parent) => Some(attachment(parent, self.at_mm, &at, earlier, &path)?),
        };
        Ok(BranchSpec {
            name: self.name,
            attached,
            path,
            diameters,
            place: at,
        })
    }
}

fn attachment(
    parent: &str,
    at_mm: Option<f64>,
    at: &Place,
    earlier: &[BranchSpec],
    path: &PathSpec,
) -> Read<AttachmentSpec> {
    let place = at.field("parent");
    let Some(parent) = earlier.iter().find(|branch| branch.name == parent) else {
        let names = earlier.iter().map(|branch| &branch.name);
        return Err(Refusal::unknown(
            place,
            "a branch described before this one",
            names,
        ));
    };
    let station_mm = match (at_mm, path) {
        (None, PathSpec::Points(_)) => None,
        (None, PathSpec::Pieces { .. }) => return Err(Refusal::missing(at.field("at_mm"))),
        (Some(at_mm), _) => Some(station(at_mm, at.field("at_mm"), parent)?),
    };
    Ok(AttachmentSpec {
        parent: parent.name.clone(),
        station_mm,
        place,
    })
}

/// The three ways to say diameters.
struct Diameters {
    one: Option<f64>,
    profile: Option<Vec<(f64, f64)>>,
    points: Option<PointDiameters>,
}

impl Diameters {
    /// Diameters against station. Points that are absent in the chosen set are taken off the path.
    fn checked(self, at: &Place, path: &mut PathSpec, set: Option<&str>) -> Read<Vec<(f64, f64)>> {
        let ways = [
            ("diameter_mm", self.one.is_some()),
            ("diameters_mm", self.profile.is_some()),
            ("point_diameters_mm", self.points.is_some()),
        ];
        let mut given = ways.into_iter().filter(|way| way.1).map(|way| way.0);
        if let (Some(way), Some(other)) = (given.next(), given.next()) {
            return Err(Refusal::at(
                at.field(other),
                format!("{way} says the diameter already"),
                "keep one of diameter_mm, diameters_mm, point_diameters_mm",
            ));
        }
        match (self.one, self.profile, self.points, path) {
            (Some(diameter), ..) => Ok(vec![(0.0, diameter)]),
            (_, Some(profile), ..) => super::rising_profile(profile, &at.field("diameters_mm")),
            (_, _, Some(said), PathSpec::Points(points)) => {
                let place = at.field("point_diameters_mm");
                let (list, place) = chosen(said, place, set)?;
                let diameters = present(&list, &place, points.len())?;
                points.truncate(diameters.len());
                let stations = measure::chord_stations(points).into_iter();
                Ok(stations.zip(diameters).collect())
            }
            // The path of pieces refuses diameters at points.
            _ => Err(Refusal::missing(at.field("diameter_mm"))),
        }
    }
}

/// The list of diameters and its place: the value itself, or the one of the chosen set.
fn chosen(
    said: PointDiameters,
    place: Place,
    set: Option<&str>,
) -> Read<(Vec<PointDiameter>, Place)> {
    let mut sets = match said {
        PointDiameters::List(list) => return Ok((list, place)),
        PointDiameters::Sets(sets) => sets,
    };
    let names: Vec<String> = sets.keys().cloned().collect();
    let Some(set) = set else {
        return Err(Refusal::at(
            place,
            format!(
                "[vessel] does not say which set: allowed are {}",
                names.join(", ")
            ),
            "add diameter_set to [vessel]",
        ));
    };
    match sets.remove(set) {
        Some(list) => Ok((list, place.field(set.to_owned()))),
        None => Err(Refusal::unknown(
            Place::top("vessel").field("diameter_set"),
            "a diameter set of the tree",
            names,
        )),
    }
}

/// One diameter for each point; the word "absent" from some point to the end leaves those out.
fn present(list: &[PointDiameter], place: &Place, points: usize) -> Read<Vec<f64>> {
    if list.len() != points {
        return Err(Refusal::at(
            place.clone(),
            format!("the branch has {points} points; give one diameter for each"),
            "write \"absent\" for points at the end that this vessel does not have",
        ));
    }
    let mut diameters = Vec::new();
    for (index, one) in list.iter().enumerate() {
        match one {
            PointDiameter::Mm(_) if diameters.len() < index => {
                return Err(Refusal::at(
                    place.entry(index),
                    "an absent point stands before it",
                    "only points at the end of a branch may be absent",
                ));
            }
            PointDiameter::Mm(diameter) => diameters.push(*diameter),
            PointDiameter::Absent(_) => {}
        }
    }
    if diameters.len() < 2 {
        return Err(Refusal::at(
            place.clone(),
            "fewer than two points are present",
            "a branch needs two points or more",
        ));
    }
    Ok(diameters)
}
