//! `[anatomy]`: how anatomies are drawn.

use std::path::Path;
use std::sync::LazyLock;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use super::model::{AnatomySpec, BranchingSpec, CurvatureSpec, SpreadPlace, SpreadSpec};
use crate::input;
use crate::scenario::document::Document;
use crate::scenario::load::document;
use crate::schema::{Node, Place, Read, Refusal, defaults};
use crate::shown;

/// How anatomies are drawn.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct DrawnAnatomyTable {
    /// Number of the anatomy that is drawn; its path is `anatomy.draw`.
    #[schemars(range(min = 0, max = 1_000_000_000), extend(
        "x-default" = "number of the point",
        "x-example" = "1"
    ))]
    draw: Option<u64>,
    /// Diameters of trunks behind a branching, from those of trunk and side branch before it.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[anatomy.branching]]\ntrunk = \"parent\"\nside = \"side\"\nlaw = \"finet\""
    ))]
    branching: Vec<BranchingSpec>,
    /// Branches drawn as a chain of bends to and fro.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[anatomy.curvature]]\nbranch = \"parent\"\nmean_per_mm = 0.058"
    ))]
    curvature: Vec<CurvatureSpec>,
    /// Spread of a tree given as polar points about a published mean.
    #[schemars(extend(
        "x-example" = "[anatomy.spread]\nfile = \"../trees/published-tree-spread.toml\""
    ))]
    spread: Option<SpreadTable>,
}

/// Spread of a tree about a published mean.
#[derive(Debug, Deserialize, JsonSchema)]
struct SpreadTable {
    /// File with place tables, path from this file.
    #[schemars(extend("x-example" = "\"../trees/published-tree-spread.toml\""))]
    file: String,
    /// Distance over which neighbouring places move together.
    #[serde(default = "defaults::number::<40>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "40"))]
    together_mm: f64,
    /// Factor on all standard deviations; its path is `anatomy.spread.factor`.
    #[serde(default = "defaults::number::<1>")]
    #[schemars(range(min = 0, max = 10), extend("x-example" = "1"))]
    factor: f64,
}

/// A file of published places with their spread.
#[derive(Debug, Deserialize, JsonSchema)]
struct SpreadFile {
    /// The published source.
    #[schemars(extend("x-example" = "\"the published source\""))]
    #[expect(dead_code, reason = "it is for readers of the file")]
    origin: Option<String>,
    /// The places.
    #[schemars(length(min = 1, max = 2500), extend(
        "x-example" = "[[place]]\nat = [0.7, 80, 4]\nsd = [0.4, 20, 15]"
    ))]
    place: Vec<PlaceTable>,
}

/// A published place.
#[derive(Debug, Deserialize, JsonSchema)]
struct PlaceTable {
    /// Its name.
    #[schemars(extend("x-example" = "\"LM mid\""))]
    #[expect(dead_code, reason = "it is for readers of the file")]
    name: Option<String>,
    /// Mean r (cm), theta (deg), phi (deg).
    #[schemars(schema_with = "any_three")]
    #[schemars(extend("x-example" = "[0.7, 80, 4]"))]
    at: [f64; 3],
    /// Standard deviations of r (cm), theta (deg), phi (deg).
    #[schemars(schema_with = "three_above_zero")]
    #[schemars(extend("x-example" = "[0.4, 20, 15]"))]
    sd: [f64; 3],
}

fn any_three(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 3, "maxItems": 3,
        "items": { "type": "number", "minimum": -1e12, "maximum": 1e12 },
    })
}

fn three_above_zero(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 3, "maxItems": 3,
        "items": { "type": "number", "exclusiveMinimum": 0, "maximum": 1e12 },
    })
}

/// What a file of published places may hold.
pub(in crate::scenario) static SPREAD: LazyLock<Node> = LazyLock::new(Node::of::<SpreadFile>);

impl DrawnAnatomyTable {
    /// The checked table, with the file of places that it names read.
    pub(super) fn checked(self, folder: &Path) -> Read<AnatomySpec> {
        Ok(AnatomySpec {
            draw: self.draw,
            branchings: self.branching,
            curvatures: self.curvature,
            spread: match self.spread {
                Some(table) => Some(table.read(folder)?),
                None => None,
            },
        })
    }
}

impl SpreadTable {
    fn read(&self, folder: &Path) -> Read<SpreadSpec> {
        let path = folder.join(&self.file);
        let refuse = |reason: String| {
            Refusal::at(
                Place::top("anatomy").field("spread").field("file"),
                reason,
                "give the path of a file with [[place]] tables, counted from the sweep file",
            )
        };
        let text = input::text(&path)
            .map_err(|cause| refuse(format!("{} cannot be read: {cause}", shown::path(&path))))?;
        let file = document::<SpreadFile>(&text, 0, Document::Spread);
        let file = file.map_err(|problem| {
            let before = &text.as_bytes()[..problem.span.start.min(text.len())];
            let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
            refuse(format!(
                "{}, line {line}: {}",
                shown::path(&path),
                problem.fault
            ))
        })?;
        let place = |table: PlaceTable| SpreadPlace {
            at: table.at,
            sd: table.sd,
        };
        Ok(SpreadSpec {
            places: file.place.into_iter().map(place).collect(),
            together_mm: self.together_mm,
            factor: self.factor,
        })
    }
}
