//! From a lumen surface to a closed mesh and to its centrelines.
//!
//! `sound` refuses what encloses no lumen, `caps` closes the holes at the ends, `voxels` and
//! `skeleton` find the centrelines, and [`Bvh`] answers questions about the nearest triangle,
//! also for the lumen that a wire touches ([`crate::vessel`]).
mod bvh;
mod caps;
mod mesh;
mod skeleton;
mod sound;
mod voxels;

pub use bvh::{Bvh, Hint, Nearest, Part};
pub use mesh::Mesh;

use super::error::{At, Checked, Fault};
use super::read::{Line, Lines};
use super::tree::{Changes, Settings};

/// Edge of a voxel as a share of the mean lumen radius, 2 V / A.
const VOXEL: f64 = 0.15;
/// A hole farther from every end of a centreline than this many times its radius or the lumen's
/// is no end.
const END_REACH: f64 = 3.0;

/// A surface that encloses a lumen, with its centrelines.
pub(super) struct Found {
    pub mesh: Mesh,
    pub lines: Lines,
    /// What is allowed but odd.
    pub warning: Option<String>,
}

/// Checks a surface that is in mm and in the scene's frame, closes its holes and finds its
/// centrelines.
pub(super) fn lumen(mut mesh: Mesh, settings: &Settings, changes: &mut Changes) -> Checked<Found> {
    changes.points_read = mesh.points.len();
    changes.items_read = mesh.triangles.len();
    let flat = sound::tidy(&mut mesh);
    if flat > 0 {
        changes
            .notes
            .push(format!("{flat} triangles without area dropped"));
    }
    if mesh.triangles.is_empty() {
        return Err((
            At::Whole,
            Fault::Empty {
                what: "triangle with an area",
            },
        ));
    }
    sound::one_piece(&mesh)?;
    let holes = sound::holes(&mesh)?;
    let ends = caps::close(&mut mesh, &holes, settings.open_ends);
    sound::outwards(&mesh)?;
    sound::no_loop(&mesh)?;
    let bvh = Bvh::new(&mesh);
    let warning = sound::hardly_through_itself(&mesh, &bvh)?;
    let mean_radius = 2.0 * mesh.volume() / mesh.area();
    let voxels = voxels::Voxels::new(&mesh, &bvh, VOXEL * mean_radius);
    if voxels.places.is_empty() {
        return Err((
            At::Whole,
            Fault::Empty {
                what: "room inside",
            },
        ));
    }
    let skeleton = skeleton::skeleton(&voxels, &bvh, settings.inlet);
    let mut lines = Lines::default();
    for line in skeleton.lines {
        let from = lines.points.len();
        lines.points.extend(line.points);
        lines.radii.extend(line.radii);
        lines.lines.push(Line {
            points: (from..lines.points.len()).collect(),
            name: None,
        });
    }
    let Some(first) = lines.lines.first() else {
        return Err((
            At::Whole,
            Fault::Empty {
                what: "way through its inside",
            },
        ));
    };
    lines.root = Some(first.points[0]);
    for end in &ends {
        let near = lines.lines.iter().any(|line| {
            [line.points[0], line.points[line.points.len() - 1]]
                .iter()
                .any(|i| {
                    let reach = END_REACH * end.radius.max(lines.radii[*i]);
                    // A small hole in the wall is no end, however near.
                    (lines.points[*i] - end.middle).norm() <= reach
                        && end.radius > 0.5 * lines.radii[*i]
                })
        });
        if !near {
            return Err((
                At::Point(end.middle.into()),
                Fault::Surface {
                    what: format!(
                        "it is open: a hole of {:.2} mm radius lies at no end of a vessel",
                        end.radius
                    ),
                    remedy: "close the hole, and export it again",
                },
            ));
        }
    }
    let holes = match (ends.len(), settings.open_ends) {
        (0, _) => "closed".to_owned(),
        (n, true) => {
            format!("{n} holes at its ends left open (led on straight for one radius)")
        }
        (n, false) => format!("{n} holes at its ends closed flat"),
    };
    changes.notes.push(format!(
        "surface of {:.0} mm², {:.0} mm³ inside; {holes}; centrelines found on voxels of {:.2} mm",
        mesh.area(),
        mesh.volume(),
        voxels.edge
    ));
    Ok(Found {
        mesh,
        lines,
        warning,
    })
}
