//! The path of a branch: pieces or points.

use nalgebra::Vector3;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Deserialize;

use crate::scenario::model::{PathSpec, PieceSpec, TAKE_OFF_RAD};
use crate::schema::{Place, Read, Refusal, shapes};
use crate::units::degrees;

/// Fields of a branch that say where it runs; one of pieces, points_mm and points_cm_deg is said.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct PathFields {
    /// Turn that a wire must make into the branch: 0 straight on, 90 square, above that backwards;
    /// for pieces with a parent, which need it.
    #[serde(default, rename = "take_off_deg", with = "degrees")]
    #[schemars(with = "Option<f64>", range(min = TAKE_OFF_RAD.start().to_degrees(), max = TAKE_OFF_RAD.end().to_degrees()))]
    #[schemars(extend("x-example" = "90"))]
    take_off_rad: Option<f64>,
    /// Plane of the take-off about the parent's tangent.
    #[serde(default, rename = "plane_deg", with = "degrees")]
    #[schemars(with = "Option<f64>", range(min = -360, max = 360))]
    #[schemars(extend("default" = 0, "x-example" = "0"))]
    take_off_plane_rad: Option<f64>,
    /// Start of an inlet built from pieces.
    #[schemars(schema_with = "shapes::point_mm")]
    #[schemars(extend("x-default" = "[0, 0, 0]", "x-example" = "[0, 0, 0]"))]
    #[serde(default)]
    start_mm: Option<[f64; 3]>,
    /// Direction of an inlet built from pieces, of any length above 0.
    #[schemars(schema_with = "direction")]
    #[schemars(extend("x-default" = "[1, 0, 0]", "x-example" = "[1, 0, 0]"))]
    #[serde(default)]
    direction: Option<[f64; 3]>,
    /// Pieces one behind the other, each starting where the last one ended with the same tangent.
    #[schemars(length(min = 1), extend(
        "x-entry" = "piece",
        "x-remedy" = "add a piece, such as { shape = \"straight\", length_mm = 30 }",
        "x-example" = "[{ shape = \"straight\", length_mm = 50 }]"
    ))]
    pieces: Option<Vec<PieceSpec>>,
    /// Points [x, y, z] through which a smooth curve runs.
    #[schemars(schema_with = "points_mm")]
    #[schemars(extend("x-example" = "[[0, 0, 0], [10, 0, 0]]"))]
    #[serde(default)]
    points_mm: Option<Vec<[f64; 3]>>,
    /// Points [r, theta, phi] in cm and degrees: x = r cos(phi) sin(theta), y = r sin(phi), z = r
    /// cos(phi) cos(theta), with x to the patient's left, y to the head, z to the front (Dodge 1988).
    #[schemars(schema_with = "points_cm_deg")]
    #[schemars(extend("x-example" = "[[0, 0, 0], [1, 80, 4]]"))]
    #[serde(default)]
    points_cm_deg: Option<Vec<[f64; 3]>>,
    /// Point from which polar points count.
    #[schemars(schema_with = "shapes::point_mm")]
    #[schemars(extend("x-default" = "[0, 0, 0]", "x-example" = "[0, 0, 0]"))]
    #[serde(default)]
    origin_mm: Option<[f64; 3]>,
}

pub(super) fn direction(_: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 3, "maxItems": 3,
        "items": { "type": "number", "minimum": -1e6, "maximum": 1e6, "x-unit": "" },
    })
}

fn points_mm(generator: &mut SchemaGenerator) -> Schema {
    json_schema!({
        "type": "array", "minItems": 2, "x-remedy": TWO_POINTS,
        "items": shapes::point_mm(generator),
    })
}

fn points_cm_deg(_: &mut SchemaGenerator) -> Schema {
    let angle = serde_json::json!({
        "type": "number", "minimum": -360, "maximum": 360, "x-unit": "deg",
    });
    json_schema!({
        "type": "array", "minItems": 2, "x-remedy": TWO_POINTS,
        "items": {
            "type": "array", "minItems": 3, "maxItems": 3,
            "prefixItems": [
                {
                    "type": "number", "minimum": 0, "maximum": 30, "x-unit": "cm",
                    "x-suspect": "polar radius",
                },
                angle, angle,
            ],
        },
    })
}

const TWO_POINTS: &str = "a branch needs two points or more";

impl PathFields {
    /// Whether the branch runs through points that are told in the patient's frame.
    pub(super) fn is_in_patient(&self) -> bool {
        self.points_cm_deg.is_some()
    }

    /// The path of the branch at `at`, from whichever of its descriptions is there. `hangs` says
    /// whether the branch has a parent, `beside` which of the branch's own fields are said.
    pub(super) fn checked(
        self,
        at: &Place,
        hangs: bool,
        beside: [(&'static str, bool); 2],
    ) -> Read<PathSpec> {
        let ways = [
            ("pieces", self.pieces.is_some()),
            ("points_mm", self.points_mm.is_some()),
            ("points_cm_deg", self.points_cm_deg.is_some()),
        ];
        let mut given = ways.into_iter().filter(|way| way.1).map(|way| way.0);
        if let (Some(way), Some(other)) = (given.next(), given.next()) {
            return Err(Refusal::at(
                at.field(other),
                format!("{way} describes the path already"),
                "keep one of pieces, points_mm, points_cm_deg",
            ));
        }
        let [at_mm, point_diameters] = beside;
        let own = [
            ("take_off_deg", self.take_off_rad.is_some()),
            ("plane_deg", self.take_off_plane_rad.is_some()),
            ("start_mm", self.start_mm.is_some()),
            ("direction", self.direction.is_some()),
        ];
        let [take_off, plane, start, direction] = own;
        let origin = ("origin_mm", self.origin_mm.is_some());
        if self.points_cm_deg.is_none() {
            useless(at, &[origin], "it goes with points_cm_deg")?;
        }
        if let Some(pieces) = self.pieces {
            useless(at, &[point_diameters], "it goes with points")?;
            if hangs {
                useless(
                    at,
                    &[start, direction],
                    "it starts at its parent, at_mm along it, in the direction of take_off_deg",
                )?;
            } else {
                useless(at, &[take_off, plane, at_mm], "they go with parent")?;
            }
            let take_off_rad = match self.take_off_rad {
                Some(take_off_rad) => take_off_rad,
                None if hangs => return Err(Refusal::missing(at.field("take_off_deg"))),
                None => 0.0,
            };
            let direction = Vector3::from(self.direction.unwrap_or([1.0, 0.0, 0.0]));
            if direction.norm() <= 0.0 {
                return Err(Refusal::at(
                    at.field("direction"),
                    "a direction needs a length above 0",
                    "give a vector such as [1, 0, 0]",
                ));
            }
            return Ok(PathSpec::Pieces {
                start_mm: self.start_mm.map_or_else(Vector3::zeros, Vector3::from),
                direction,
                take_off_rad,
                take_off_plane_rad: self.take_off_plane_rad.unwrap_or(0.0),
                pieces,
            });
        }
        if self.points_mm.is_some() || self.points_cm_deg.is_some() {
            useless(at, &own, "its points say where it runs")?;
        }
        let origin = self.origin_mm.map_or_else(Vector3::zeros, Vector3::from);
        let (points, field): (Vec<Vector3<f64>>, _) = match (self.points_mm, self.points_cm_deg) {
            (Some(points), _) => (points.into_iter().map(Vector3::from).collect(), "points_mm"),
            (None, Some(points)) => {
                let polar = |[r, theta, phi]: [f64; 3]| {
                    origin + from_polar(10.0 * r, theta.to_radians(), phi.to_radians())
                };
                (points.into_iter().map(polar).collect(), "points_cm_deg")
            }
            (None, None) => return Err(Refusal::missing(at.field("pieces"))),
        };
        for (index, pair) in points.windows(2).enumerate() {
            let [before, point] = [pair[0], pair[1]];
            if (point - before).norm() <= f64::EPSILON * (point.norm() + before.norm()) {
                return Err(Refusal::at(
                    at.field(field).entry(index + 1),
                    "it is the same point as the one before it",
                    "list each point once",
                ));
            }
        }
        Ok(PathSpec::Points(points))
    }
}

/// Refuses fields that are said though the branch at `at` has no use for them.
fn useless(at: &Place, fields: &[(&'static str, bool)], why: &str) -> Read<()> {
    match fields.iter().find(|(_, said)| *said) {
        None => Ok(()),
        Some((field, _)) => Err(Refusal::at(
            at.field(*field),
            format!("this branch has no use for it ({why})"),
            format!("remove {field}"),
        )),
    }
}

/// The point at distance `r`, rotation `theta` about the long axis (0 to the front, positive to
/// the patient's left) and elevation `phi` (positive to the head), in the frame x to the
/// patient's left, y to the head, z to the front.
///
/// Equation: x = r cos(phi) sin(theta), y = r sin(phi), z = r cos(phi) cos(theta).
/// Source: Dodge JT Jr et al., Circulation 1988;78:1167-1180, figure 3.
fn from_polar(r: f64, theta: f64, phi: f64) -> Vector3<f64> {
    r * Vector3::new(phi.cos() * theta.sin(), phi.sin(), phi.cos() * theta.cos())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Apex of the mean tree: r 12.2 cm, theta 32, phi -46 degrees is (44.9, -87.8, 71.9) mm
    /// (Cartesian values computed independently of this crate, to 0.1 mm).
    #[test]
    fn the_apex_of_the_mean_tree_lies_where_its_polar_angles_say() {
        let apex = from_polar(122.0, 32.0_f64.to_radians(), (-46.0_f64).to_radians());
        assert_relative_eq!(apex, Vector3::new(44.9, -87.8, 71.9), epsilon = 0.06);
    }
}
