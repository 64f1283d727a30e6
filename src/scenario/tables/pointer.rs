//! How a table points at a branch: by its name or, in a vessel that came from a file, by a tip or a
//! point.

use nalgebra::Vector3;
use schemars::JsonSchema;
use serde::Deserialize;

use crate::anatomy::Imported;
use crate::anatomy::tree::Which;
use crate::schema::{DocumentFault, Place, Read, Refusal, shapes};

/// The branch that is meant; one of the three fields is said.
#[derive(Debug, Clone, Default, Deserialize, JsonSchema)]
pub(super) struct Pointer {
    /// Name of the branch; one of branch, tip and near_mm says which it is.
    #[schemars(extend("x-example" = "\"parent\""))]
    branch: Option<String>,
    /// With a file of anatomy: the branch that ends in the tip of this number.
    #[schemars(range(min = 1, max = 10_000), extend("x-example" = "1"))]
    tip: Option<u32>,
    /// With a file of anatomy: the branch with the nearest point of the tree, and its station too; in mm in
    /// the scene's frame, no further from a centreline than two lumen diameters or 3 mm.
    #[schemars(schema_with = "shapes::point_mm", extend("x-example" = "[0, 0, 0]"))]
    #[serde(default)]
    near_mm: Option<[f64; 3]>,
}

/// The branch at which a table points.
pub(super) struct Pointed {
    /// Its name.
    pub(super) branch: String,
    /// Where the table says so.
    pub(super) place: Place,
    /// Station of the nearest place on it in mm, where it is said by a point.
    pub(super) nearest_mm: Option<f64>,
}

impl Pointer {
    /// What its point, if it has one, has found in the file of anatomy, in words; `title` names the table.
    pub(super) fn say_near(&self, title: &str, imported: &Imported) -> Option<String> {
        let point = Vector3::from(self.near_mm?);
        let (branch, _) = imported.find(&Which::Near(point)).ok()?;
        let said = imported.say_near(&branch.name, &point)?;
        Some(format!("near_mm of {title}: {said}"))
    }

    /// What is said, and where, in the table at `at`.
    pub(super) fn which(&self, at: &Place) -> Read<(Which, Place)> {
        let ways = [
            ("branch", self.branch.is_some()),
            ("tip", self.tip.is_some()),
            ("near_mm", self.near_mm.is_some()),
        ];
        let mut said = ways.into_iter().filter(|way| way.1);
        let first = said.next();
        if let (Some(first), Some(second)) = (first, said.next()) {
            return Err(Refusal::at(
                at.field(second.0),
                format!("{} says the branch already", first.0),
                "keep one of branch, tip, near_mm",
            ));
        }
        match (&self.branch, self.tip, self.near_mm) {
            (Some(name), _, _) => Ok((Which::Branch(name.clone()), at.field("branch"))),
            (_, Some(tip), _) => Ok((Which::Tip(tip as usize), at.field("tip"))),
            (_, _, Some(near)) => Ok((Which::Near(Vector3::from(near)), at.field("near_mm"))),
            (None, None, None) => Err(Refusal::missing(at.field("branch"))),
        }
    }

    /// The branch that is meant by the table at `at`; whether there is one of that name is not
    /// looked at.
    pub(super) fn branch(&self, at: &Place, imported: Option<&Imported>) -> Read<Pointed> {
        let (which, place) = self.which(at)?;
        let Some(imported) = imported else {
            return match which {
                Which::Branch(branch) => Ok(Pointed {
                    branch,
                    place,
                    nearest_mm: None,
                }),
                _ => Err(Refusal::at(
                    place,
                    "the vessel does not come from a file",
                    "name the branch: branch = \"...\"",
                )),
            };
        };
        match (imported.find(&which), which) {
            (Ok((branch, nearest)), _) => Ok(Pointed {
                branch: branch.name.clone(),
                place,
                nearest_mm: nearest.map(|(station, _)| station),
            }),
            // A branch that the scenario describes beside the file; its name is checked later.
            (Err(_), Which::Branch(branch)) => Ok(Pointed {
                branch,
                place,
                nearest_mm: None,
            }),
            (Err(fault), _) => Err(Refusal::worded(
                place,
                DocumentFault::Anatomy {
                    message: fault.to_string(),
                    remedy: fault.help(),
                },
            )),
        }
    }
}
