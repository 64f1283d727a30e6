//! The path of a branch: pieces or points.

use nalgebra::Vector3;

use super::allowed;
use crate::scenario::error::Checked;
use crate::scenario::model::{PathSpec, PieceSpec};
use crate::scenario::read::{Entry, Fields, Table};

const PIECE: Fields = &[
    ("shape", "\"straight\""),
    ("length_mm", "30"),
    ("radius_mm", "10"),
    ("angle_deg", "90"),
    ("pitch_mm", "8"),
    ("turns", "1"),
    ("plane_deg", "0"),
];

#[derive(Debug, Clone, Copy)]
enum Shape {
    Straight,
    Arc,
    Helix,
    SBend,
}

impl Shape {
    fn fields(self) -> &'static [&'static str] {
        match self {
            Self::Straight => &["length_mm"],
            Self::Arc | Self::SBend => &["radius_mm", "angle_deg", "plane_deg"],
            Self::Helix => &["radius_mm", "pitch_mm", "turns", "plane_deg"],
        }
    }
}

/// The path of a branch, from whichever of its descriptions the table has.
pub(super) fn path(table: &Table<'_>) -> Checked<PathSpec> {
    const WAYS: [&str; 3] = ["pieces", "points_mm", "points_cm_deg"];
    let mut given = WAYS.into_iter().filter(|field| table.has(field));
    let Some(way) = given.next() else {
        return Err(table.missing("pieces"));
    };
    if let Some(other) = given.next() {
        return Err(table.disagreement(
            other,
            format!("{way} describes the path already"),
            format!("keep one of {}", WAYS.join(", ")),
        ));
    }
    let only_with =
        |fields: &[&str], needed: &str| match fields.iter().find(|field| table.has(field)) {
            None => Ok(()),
            Some(field) => Err(table.disagreement(
                field,
                format!("this branch has no use for it ({needed})"),
                format!("remove {field}"),
            )),
        };
    if way != "points_cm_deg" {
        only_with(&["origin_mm"], "it goes with points_cm_deg")?;
    }
    if way == "pieces" {
        only_with(&["point_diameters_mm"], "it goes with points")?;
        if table.has("parent") {
            only_with(
                &["start_mm", "direction"],
                "it starts at its parent, at_mm along it, in the direction of take_off_deg",
            )?;
        } else {
            only_with(
                &["take_off_deg", "plane_deg", "at_mm"],
                "they go with parent",
            )?;
        }
        pieces(table)
    } else {
        only_with(
            &["take_off_deg", "plane_deg", "start_mm", "direction"],
            "its points say where it runs",
        )?;
        points(table, way).map(PathSpec::Points)
    }
}

fn pieces(table: &Table<'_>) -> Checked<PathSpec> {
    let direction = match table.optional("direction") {
        None => Vector3::x(),
        Some(entry) => {
            let direction = Vector3::from(entry.numbers(&[allowed::DIRECTION; 3])?);
            if direction.norm() <= 0.0 {
                return Err(entry.disagreement(
                    "a direction needs a length above 0".into(),
                    "give a vector such as [1, 0, 0]".into(),
                ));
            }
            direction
        }
    };
    let take_off_rad = if table.has("parent") {
        table
            .number("take_off_deg", &allowed::TAKE_OFF)?
            .to_radians()
    } else {
        0.0
    };
    let start = table.optional("start_mm").map(|entry| entry.point());
    let mut pieces = Vec::new();
    let remedy = "add a piece, such as { shape = \"straight\", length_mm = 30 }";
    let list = table.required("pieces")?.list_of(1, remedy)?;
    for (index, entry) in list.into_iter().enumerate() {
        pieces.push(piece(&entry, index + 1, &table.title)?);
    }
    Ok(PathSpec::Pieces {
        start_mm: start.transpose()?.unwrap_or_default(),
        direction,
        take_off_rad,
        take_off_plane_rad: table.angle_or("plane_deg", &allowed::PLANE, 0.0)?,
        pieces,
    })
}

fn piece(entry: &Entry<'_>, number: usize, branch: &str) -> Checked<PieceSpec> {
    let table = entry.table(PIECE, format!("piece {number} of {branch}"))?;
    let shape = table.required("shape")?.choice(
        "a shape",
        &[
            ("straight", Shape::Straight),
            ("arc", Shape::Arc),
            ("helix", Shape::Helix),
            ("s-bend", Shape::SBend),
        ],
    )?;
    let used = shape.fields();
    for (field, _) in PIECE {
        if *field != "shape" && table.has(field) && !used.contains(field) {
            return Err(table.disagreement(
                field,
                format!(
                    "this shape has no use for it; allowed are {}",
                    used.join(", ")
                ),
                format!("remove {field}"),
            ));
        }
    }
    let plane_rad = table.angle_or("plane_deg", &allowed::PLANE, 0.0)?;
    Ok(match shape {
        Shape::Straight => PieceSpec::Straight {
            length_mm: table.number("length_mm", &allowed::LENGTH)?,
        },
        Shape::Arc => PieceSpec::Arc {
            radius_mm: table.number("radius_mm", &allowed::LENGTH)?,
            angle_rad: table.number("angle_deg", &allowed::TURN)?.to_radians(),
            plane_rad,
        },
        Shape::Helix => PieceSpec::Helix {
            radius_mm: table.number("radius_mm", &allowed::LENGTH)?,
            pitch_mm: table.number("pitch_mm", &allowed::PITCH)?,
            turns: table.number("turns", &allowed::TURNS)?,
            plane_rad,
        },
        Shape::SBend => PieceSpec::SBend {
            radius_mm: table.number("radius_mm", &allowed::LENGTH)?,
            angle_rad: table.number("angle_deg", &allowed::TURN)?.to_radians(),
            plane_rad,
        },
    })
}

fn points(table: &Table<'_>, way: &str) -> Checked<Vec<Vector3<f64>>> {
    let origin = match table.optional("origin_mm") {
        Some(entry) => entry.point()?,
        None => Vector3::zeros(),
    };
    let mut points: Vec<Vector3<f64>> = Vec::new();
    let remedy = "a branch needs two points or more";
    for entry in table.required(way)?.list_of(2, remedy)? {
        let point = if way == "points_mm" {
            entry.point()?
        } else {
            let [r_cm, theta_deg, phi_deg] =
                entry.numbers(&[allowed::POLAR_RADIUS, allowed::PLANE, allowed::PLANE])?;
            origin + from_polar(10.0 * r_cm, theta_deg.to_radians(), phi_deg.to_radians())
        };
        if let Some(before) = points.last()
            && (point - before).norm() <= f64::EPSILON * (point.norm() + before.norm())
        {
            return Err(entry.disagreement(
                "it is the same point as the one before it".into(),
                "list each point once".into(),
            ));
        }
        points.push(point);
    }
    Ok(points)
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
