//! From a lumen surface to a closed mesh and to its centrelines.
//!
//! `mend` mends what has one meaning only, `sound` refuses what encloses no lumen, `caps` closes the holes at the ends, `voxels` and
//! `skeleton` find the centrelines, and [`Bvh`] answers questions about the nearest triangle,
//! also for the lumen that a wire touches ([`crate::vessel`]).
mod bvh;
mod caps;
mod crossings;
mod mend;
mod mesh;
mod skeleton;
mod sound;
mod voxels;

use std::sync::Arc;

pub use bvh::{Bvh, Hint, Nearest, Part};
pub use mesh::Mesh;

use super::error::{At, Checked, Fault};
use super::read::{Line, Lines};
use super::tree::{Changes, ImportSettings};
use crate::shown::counted;
use caps::End;
use skeleton::Inlets;

/// Edge of a voxel as a share of the mean lumen radius, 2 V / A.
const VOXEL: f64 = 0.15;
/// A hole farther from every end of a centreline than this many times its radius or the lumen's
/// is no end.
const END_REACH: f64 = 3.0;
/// A hole within this many lumen radii of another line lies in the wall of that vessel.
const IN_WALL: f64 = 1.25;
/// How many radii the end of a vessel is extended that is cut off close to its parent.
const LONG_LEAD: f64 = 5.0;
/// How often centrelines are looked for, each time with more known of the holes.
const ROUNDS: usize = 5;
/// A hole narrower than this share of the lumen is a fault of the wall.
const SMALL_HOLE: f64 = 0.5;

/// A surface that encloses a lumen, with its centrelines.
#[derive(Debug)]
pub(super) struct Found {
    pub mesh: Arc<Mesh>,
    pub lines: Lines,
    /// What is allowed but odd.
    pub warnings: Vec<String>,
    /// Each time that centrelines were looked for: the ends at which the tree may begin, and at which it
    /// did.
    inlets: Vec<(Inlets, Option<usize>)>,
}

impl Found {
    /// Whether the tree would begin at the same end if it were to begin near a point.
    pub(super) fn begins_near(&self, p: &nalgebra::Vector3<f64>) -> bool {
        let same =
            |(ends, began): &(Inlets, Option<usize>)| began.is_some() && ends.nearest(p) == *began;
        self.inlets.iter().all(same)
    }
}

/// Mends and checks a surface that is in mm and in the scene's frame, closes its holes and finds its
/// centrelines.
///
/// A hole at the end of a vessel is an open end. One in the wall of a vessel, where none of its own
/// begins, is closed flat.
pub(super) fn lumen(
    mut mesh: Mesh,
    settings: &ImportSettings,
    changes: &mut Changes,
) -> Checked<Found> {
    changes.points_read = mesh.points.len();
    changes.items_read = mesh.triangles.len();
    mend::mend(&mut mesh, changes);
    if mesh.triangles.is_empty() {
        return Err((
            At::Whole,
            Fault::Empty {
                what: "triangle with an area",
            },
        ));
    }
    sound::one_piece(&mesh)?;
    mend::outwards(&mut mesh, changes)?;
    let holes = sound::holes(&mesh)?;
    let mut in_wall = vec![false; holes.len()];
    let mut lead = vec![if settings.open_ends { 1.0 } else { 0.0 }; holes.len()];
    let mut inlets = Vec::new();
    for _ in 0..ROUNDS {
        let mut closed = mesh.clone();
        let ends = caps::close(&mut closed, &holes, &lead);
        sound::no_loop(&closed)?;
        sound::no_wide_fan(&closed)?;
        let bvh = Bvh::new(&closed);
        let warning = sound::hardly_through_itself(&closed, &bvh)?;
        let open: Vec<End> = (0..ends.len())
            .filter(|i| !in_wall[*i])
            .map(|i| ends[i])
            .collect();
        let (lines, voxel_mm, began) = centrelines(&closed, &bvh, settings, &open)?;
        inlets.push(began);
        let mut again = false;
        for (i, end) in ends.iter().enumerate() {
            if !in_wall[i] && !is_end(end, &lines) {
                (in_wall[i], lead[i], again) = (true, 0.0, true);
            } else if lead[i] > 0.0 && lead[i] < LONG_LEAD && is_short(end, &lines) {
                (lead[i], again) = (LONG_LEAD, true);
            }
        }
        if again {
            continue;
        }
        let mut warnings: Vec<String> = warning.into_iter().collect();
        for (end, _) in ends.iter().zip(&lead).filter(|(_, l)| **l > 1.0) {
            let p = end.middle;
            changes.notes.push(format!(
                "the end near ({:.1}, {:.1}, {:.1}) mm extended straight by {:.2} mm: its vessel is cut \
                 off where it has hardly left its parent's lumen",
                p.x,
                p.y,
                p.z,
                LONG_LEAD * end.radius
            ));
        }
        for (end, _) in ends.iter().zip(&in_wall).filter(|(_, w)| **w) {
            let p = end.middle;
            let text = format!(
                "a hole of {:.2} mm radius in the wall near ({:.1}, {:.1}, {:.1}) mm closed flat: \
                 no vessel of its own begins there",
                end.radius, p.x, p.y, p.z
            );
            if end.radius > SMALL_HOLE * width_at(&p, &lines) {
                warnings.push(text);
            } else {
                changes.notes.push(text);
            }
        }
        changes.notes.push(format!(
            "surface of {:.0} mm², {:.0} mm³ inside; {}; centrelines found on voxels of {voxel_mm:.2} \
             mm",
            closed.area(),
            closed.volume(),
            ends_in_words(&open, settings.open_ends)
        ));
        return Ok(Found {
            mesh: Arc::new(closed),
            lines,
            warnings,
            inlets,
        });
    }
    Err((
        At::Point(mesh.points[0].into()),
        Fault::Surface {
            what: format!(
                "it has {}, and which of them are ends of vessels is not told",
                counted(holes.len(), "hole", "holes")
            ),
            remedy: "close the holes that are no ends of vessels, and export it again",
        },
    ))
}

/// What was done with the holes at the ends, in words.
fn ends_in_words(ends: &[End], open: bool) -> String {
    let radii = ends.iter().map(|e| e.radius);
    let (least, most) = radii.fold((f64::INFINITY, 0.0_f64), |(l, m), r| (l.min(r), m.max(r)));
    match (ends.len(), open) {
        (0, _) => "closed".to_owned(),
        (n, true) => format!(
            "{} left open: the lumen is extended straight by one radius, {least:.2} to {most:.2} mm, \
             also in what is exported",
            counted(n, "hole at its end", "holes at its ends")
        ),
        (n, false) => format!(
            "{} closed flat",
            counted(n, "hole at its end", "holes at its ends")
        ),
    }
}

/// The lines of the inside of a closed surface, from the inlet to each tip, the edge of the voxels in
/// mm, and the ends at which the tree may begin, with that at which it does.
fn centrelines(
    mesh: &Mesh,
    bvh: &Bvh,
    settings: &ImportSettings,
    ends: &[End],
) -> Checked<(Lines, f64, (Inlets, Option<usize>))> {
    let mean_radius = 2.0 * mesh.volume() / mesh.area();
    let voxels = voxels::Voxels::new(mesh, bvh, VOXEL * mean_radius)?;
    if voxels.places.is_empty() {
        return Err((
            At::Whole,
            Fault::Empty {
                what: "room inside",
            },
        ));
    }
    let skeleton = skeleton::skeleton(&voxels, bvh, settings.inlet, ends)?;
    let mut lines = Lines::default();
    if skeleton.too_short > 0 {
        lines.notes.push(format!(
            "{} dropped: the way from the inlet is shorter than the lumen is wide",
            counted(skeleton.too_short, "tip", "tips")
        ));
    }
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
    let tips = lines
        .lines
        .iter()
        .map(|line| line.points[line.points.len() - 1]);
    let tips: Vec<nalgebra::Vector3<f64>> = tips.map(|i| lines.points[i]).collect();
    let is_open = |p: &nalgebra::Vector3<f64>| {
        ends.iter()
            .any(|e| (p - e.middle).norm() <= END_REACH * e.radius)
    };
    lines.root = Some(first.points[0]);
    lines.open_ends = tips.into_iter().filter(is_open).collect();
    lines.root_why = "the widest end of the surface";
    Ok((lines, voxels.edge, skeleton.inlets))
}

/// Whether a hole lies at the end of a line that has left all others there.
fn is_end(end: &End, lines: &Lines) -> bool {
    let reach = |i: usize| END_REACH * end.radius.max(lines.radii[i]);
    let is_there = |i: usize| {
        // A small hole in the wall is no end, however near.
        (lines.points[i] - end.middle).norm() <= reach(i)
            && end.radius > SMALL_HOLE * lines.radii[i]
    };
    let Some(first) = lines.lines.first() else {
        return false;
    };
    if is_there(first.points[0]) {
        return true;
    }
    (0..lines.lines.len()).any(|number| {
        let tip = lines.lines[number].points[lines.lines[number].points.len() - 1];
        is_there(tip)
            && lines
                .lines
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != number)
                .flat_map(|(_, line)| &line.points)
                .all(|i| (lines.points[*i] - end.middle).norm() > IN_WALL * lines.radii[*i])
    })
}

/// Whether the vessel that ends there stands out of all others by less than its own width.
fn is_short(end: &End, lines: &Lines) -> bool {
    let others = lines.lines.iter().filter(|line| {
        let ends = [line.points[0], line.points[line.points.len() - 1]];
        let reach = |i: &usize| END_REACH * end.radius.max(lines.radii[*i]);
        ends.iter()
            .all(|i| (lines.points[*i] - end.middle).norm() > reach(i))
    });
    others
        .flat_map(|line| &line.points)
        .any(|i| (lines.points[*i] - end.middle).norm() < lines.radii[*i] + 2.0 * end.radius)
}

/// Lumen radius at the point of the lines nearest to `p`, in mm.
fn width_at(p: &nalgebra::Vector3<f64>, lines: &Lines) -> f64 {
    let distance = |i: &usize| (lines.points[*i] - p).norm_squared();
    let nearest = (0..lines.points.len()).min_by(|a, b| distance(a).total_cmp(&distance(b)));
    nearest.map_or(f64::INFINITY, |i| lines.radii[i])
}
