//! What a file of anatomy holds, whatever its format.

use nalgebra::Vector3;

use super::{limits, tracts};
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::frame::Frame;
use crate::shown::listed;

/// Names under which the radius of a vessel is looked for, after the stated one; capitals,
/// spaces and underlines do not count.
const RADIUS_NAMES: [&str; 3] = ["MaximumInscribedSphereRadius", "radius", "radii"];
/// Names of arrays that hold twice the radius.
const DIAMETER_NAMES: [&str; 2] = ["diameter", "diameters"];
/// Names of cell arrays of text that name a line.
const NAME_NAMES: [&str; 4] = ["name", "names", "branchname", "label"];

/// Names of arrays or columns that a person states, where they are not the usual ones.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Arrays {
    /// That of the radius.
    pub radius: Option<String>,
    /// That of the names of the branches: texts at the lines or at the points.
    pub name: Option<String>,
}

/// The content of a file.
#[derive(Debug, Clone, PartialEq)]
pub enum Content {
    /// Centrelines with radii.
    Lines(Lines),
    /// A lumen surface.
    Surface(RawSurface),
}

/// Centrelines with radii, in the file's own unit and frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lines {
    /// Points.
    pub points: Vec<Vector3<f64>>,
    /// Radius at each point, above 0.
    pub radii: Vec<f64>,
    /// The lines.
    pub lines: Vec<Line>,
    /// Name of the vessel in which each point lies, empty where the file says none; no entries if
    /// it has no names at its points.
    pub labels: Vec<String>,
    /// Number of the point at which the tree begins, where the file says it.
    pub root: Option<usize>,
    /// Why the tree begins there, in words, where it is not the file that says so.
    pub root_why: &'static str,
    /// Open ends of vessels: a branch that ends in one is kept however short it is.
    pub open_ends: Vec<Vector3<f64>>,
    /// Frame that the file itself states.
    pub frame: Option<Frame>,
    /// What was done with the lines when they were read, in words.
    pub notes: Vec<String>,
}

impl Lines {
    /// Adds a point with its radius.
    ///
    /// # Errors
    /// A radius that is none, or more points than may be.
    pub(super) fn add(&mut self, at: At, point: Vector3<f64>, radius: f64) -> Checked<()> {
        self.points.push(point);
        if !(radius.is_finite() && radius > 0.0) {
            return Err((
                at,
                Fault::BadRadius {
                    point: self.points.len() - 1,
                    value: radius,
                },
            ));
        }
        self.radii.push(radius);
        limits::at_most("points", self.points.len() as u64, limits::POINTS)
    }
}

/// One line through points.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Line {
    /// Numbers of its points, at least two.
    pub points: Vec<usize>,
    /// Its name in the file.
    pub name: Option<String>,
}

/// A triangulated surface as the file holds it, in its own unit and frame.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RawSurface {
    /// Points.
    pub points: Vec<Vector3<f64>>,
    /// Corners of the triangles.
    pub triangles: Vec<[u32; 3]>,
    /// Frame that the file itself states.
    pub frame: Option<Frame>,
}

/// Polygonal data as the VTK formats hold it.
#[derive(Debug, Default)]
pub(super) struct PolyData {
    pub points: Vec<f64>,
    /// Lines, each as numbers of points.
    pub lines: Vec<Vec<u64>>,
    /// Polygons, each as numbers of points.
    pub polygons: Vec<Vec<u64>>,
    /// Arrays at the points: name, values of one component.
    pub point_arrays: Vec<(String, Vec<f64>)>,
    /// Names of arrays at the points with several components.
    pub wide_arrays: Vec<String>,
    /// Arrays of text at the cells, in the order points, lines, polygons.
    pub cell_texts: Vec<(String, Vec<String>)>,
    /// Arrays of single numbers at the cells, in the same order.
    pub cell_arrays: Vec<(String, Vec<f64>)>,
    /// Arrays of text at the points.
    pub point_texts: Vec<(String, Vec<String>)>,
    /// Cells that stand before the lines.
    pub vertex_cells: usize,
    /// Frame that the file itself states.
    pub frame: Option<Frame>,
}

impl PolyData {
    /// Lines where there are any, else a surface.
    pub(super) fn content(self, arrays: &Arrays) -> Checked<Content> {
        let points: Vec<Vector3<f64>> = self
            .points
            .chunks_exact(3)
            .map(Vector3::from_column_slice)
            .collect();
        if points.is_empty() {
            return whole(Fault::Empty { what: "points" });
        }
        let frame = self.frame;
        if self.lines.is_empty() {
            if let Some(stated) = &arrays.name {
                return whole(Fault::NoNames {
                    wanted: stated.clone(),
                    present: "it holds a surface, whose branches are named in the scenario".into(),
                });
            }
            let mut triangles = Vec::new();
            for polygon in &self.polygons {
                fan(polygon, points.len(), &mut triangles)?;
            }
            return Ok(Content::Surface(RawSurface {
                points,
                triangles,
                frame,
            }));
        }
        let radii = radius(
            &self.point_arrays,
            &self.wide_arrays,
            arrays.radius.as_deref(),
            points.len(),
        )?;
        let (names, labels) = self.names(arrays.name.as_deref(), points.len())?;
        let mut lines = Vec::with_capacity(self.lines.len());
        for (number, ids) in self.lines.iter().enumerate() {
            let mut line = Vec::with_capacity(ids.len());
            for &id in ids {
                line.push(index(id, points.len())?);
            }
            let name = names.and_then(|all| all.get(self.vertex_cells + number));
            lines.push(Line {
                points: line,
                name: name.filter(|n| !n.is_empty()).cloned(),
            });
        }
        let (lines, notes) = match tracts::ordered(&self, &points) {
            Some(ordered) => tracts::joined(&lines, &ordered, &points),
            None => (lines, Vec::new()),
        };
        Ok(Content::Lines(Lines {
            points,
            radii,
            lines,
            labels: labels.map_or(Vec::new(), <[String]>::to_vec),
            root: None,
            root_why: "",
            open_ends: Vec::new(),
            frame,
            notes,
        }))
    }

    /// The texts that name the cells, and those that name the points, from the arrays of the
    /// stated or of a usual name.
    fn names(&self, stated: Option<&str>, points: usize) -> Checked<(Texts<'_>, Texts<'_>)> {
        let of = |arrays: &'_ [(String, Vec<String>)]| {
            arrays.iter().position(|(name, _)| match stated {
                Some(stated) => name == stated,
                None => NAME_NAMES.contains(&plain(name).as_str()),
            })
        };
        let cells = of(&self.cell_texts).map(|i| self.cell_texts[i].1.as_slice());
        let labels = of(&self.point_texts).map(|i| &self.point_texts[i]);
        if let (Some(stated), None, None) = (stated, cells, labels) {
            let all = self.cell_texts.iter().chain(&self.point_texts);
            let names: Vec<String> = all.map(|(name, _)| format!("\"{name}\"")).collect();
            return whole(Fault::NoNames {
                wanted: stated.to_owned(),
                present: if names.is_empty() {
                    "it has no arrays of text".into()
                } else {
                    format!("its arrays of text are {}", listed(&names))
                },
            });
        }
        match labels {
            Some((name, all)) if all.len() != points => whole(Fault::Malformed {
                what: format!(
                    "the array \"{name}\" has {} texts for {points} points",
                    all.len()
                ),
            }),
            _ => Ok((cells, labels.map(|(_, all)| all.as_slice()))),
        }
    }
}

/// Texts of an array, if there is one.
type Texts<'a> = Option<&'a [String]>;

/// A number of a point that must be there.
pub(super) fn index(id: u64, points: usize) -> Checked<usize> {
    usize::try_from(id)
        .ok()
        .filter(|i| *i < points)
        .ok_or_else(|| {
            (
                At::Whole,
                Fault::Malformed {
                    what: format!("point {id} is used, but there are {points} points (from 0)"),
                },
            )
        })
}

/// A polygon as triangles that share its first corner.
pub(super) fn fan(polygon: &[u64], points: usize, triangles: &mut Vec<[u32; 3]>) -> Checked<()> {
    if polygon.len() < 3 {
        return whole(Fault::Malformed {
            what: format!("a face has {} corners, allowed is 3 or more", polygon.len()),
        });
    }
    let corner = |k: usize| -> Checked<u32> {
        let i = index(polygon[k], points)?;
        u32::try_from(i).map_err(|_| {
            (
                At::Whole,
                Fault::TooMuch {
                    what: "points",
                    found: points as u64,
                    allowed: limits::POINTS,
                },
            )
        })
    };
    for k in 1..polygon.len() - 1 {
        triangles.push([corner(0)?, corner(k)?, corner(k + 1)?]);
    }
    limits::at_most("triangles", triangles.len() as u64, limits::TRIANGLES)
}

/// A name without capitals, spaces, underlines and unit.
pub(in crate::anatomy) fn plain(name: &str) -> String {
    let kept: String = name
        .chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect();
    kept.strip_suffix("mm").map_or(kept.clone(), str::to_owned)
}

/// The radius at each point, from the array of the stated or of a usual name.
pub(super) fn radius(
    arrays: &[(String, Vec<f64>)],
    wide: &[String],
    stated: Option<&str>,
    points: usize,
) -> Checked<Vec<f64>> {
    let by_name = |wanted: &str| arrays.iter().find(|(name, _)| plain(name) == plain(wanted));
    let (found, factor) = match stated {
        Some(name) => (arrays.iter().find(|(n, _)| n == name), 1.0),
        None => match RADIUS_NAMES.iter().find_map(|n| by_name(n)) {
            Some(array) => (Some(array), 1.0),
            None => (DIAMETER_NAMES.iter().find_map(|n| by_name(n)), 0.5),
        },
    };
    let Some((name, values)) = found else {
        let names: Vec<String> = arrays.iter().map(|(n, _)| format!("\"{n}\"")).collect();
        let mut present = if names.is_empty() {
            "its points carry no array of single numbers".to_owned()
        } else {
            format!("its points carry {}", listed(&names))
        };
        if !wide.is_empty() {
            present += &format!(" and arrays of several components: {}", listed(wide));
        }
        let wanted = stated.map_or_else(
            || format!("called {}", RADIUS_NAMES.join(" or ")),
            |n| format!("called \"{n}\""),
        );
        return whole(Fault::NoRadius { wanted, present });
    };
    if values.len() != points {
        return whole(Fault::Malformed {
            what: format!(
                "the array \"{name}\" has {} values for {points} points",
                values.len()
            ),
        });
    }
    Ok(values.iter().map(|r| r * factor).collect())
}
