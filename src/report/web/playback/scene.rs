//! The scene of a playback: vessel, guide, balloons, and from where they may be looked at.

use nalgebra::{Matrix3, Vector3};
use serde::Serialize;

use super::chart::EDGES;
use super::pack::{self, Grid, rounded};
use super::trial::{AXIS_STRIDE, PlayedTrial};
use crate::report::film::Stage;
use crate::report::outline::{OutlineBranch, OutlinePoint};
use crate::report::setting::Setting;

/// Triangles of a wall above which its branches are shown as tubes in its place.
const MOST_TRIANGLES: usize = 120_000;
/// Share of the played steps whose largest wall force lies within the scale of colours.
const WITHIN_SCALE: f64 = 0.98;
/// Height in mm of the view of the branching.
const NEAR_MM: f64 = 36.0;
/// Least width over height of a picture, with two beside each other.
const SHAPE: f64 = 1.1;
/// Distance of the eye where nothing says it, in heights of the picture.
const EYE: f64 = 4.0;

/// The scene.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlayedScene {
    /// Lower corner of the box of places in mm.
    pub low_mm: [f64; 3],
    /// A step of the box in mm.
    pub step_mm: f64,
    /// The branches.
    pub branches: Vec<PlayedTube>,
    /// Bodies in the lumen.
    pub bodies: Vec<PlayedTube>,
    /// The wall, where it is a surface.
    pub wall: Option<PlayedWall>,
    /// End of the guide in mm.
    pub guide_mm: [f64; 3],
    /// Direction of the guide.
    pub guide_way: [f64; 3],
    /// The balloon of each technique that has one.
    pub balloons: Vec<(String, PlayedTube)>,
    /// The views, the first one to begin with.
    pub views: Vec<PlayedView>,
    /// Edges of the plot in a chart, as shares of its width.
    pub chart_edges: [f64; 2],
    /// Every how many-th point of an axis that moves is kept.
    pub axis_stride: usize,
}

/// A tube.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlayedTube {
    /// Name.
    pub name: String,
    /// Whether it is the target.
    pub target: bool,
    /// Points in steps of the box.
    pub points: String,
    /// Radii in mm.
    pub radii_mm: Vec<f64>,
}

/// A wall of triangles.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlayedWall {
    /// Points in steps of the box.
    pub points: String,
    /// Corners of the triangles, three numbers of 32 bits each.
    pub triangles: String,
}

/// A view.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlayedView {
    /// What it is.
    pub name: String,
    /// The point in the middle of the picture in mm.
    pub centre: [f64; 3],
    /// To the right in the picture.
    pub right: [f64; 3],
    /// Up in the picture.
    pub up: [f64; 3],
    /// Towards the viewer.
    pub toward: [f64; 3],
    /// Height in mm that is seen.
    pub height: f64,
    /// Distance of the eye in mm; below 0 where things are larger the farther they are from the viewer, as
    /// in a projection on to a detector on the viewer's side.
    pub distance: f64,
}

impl PlayedScene {
    /// The scene of a setting.
    #[must_use]
    pub fn new(setting: &Setting, stage: &Stage, grid: &Grid) -> Self {
        let outline = &setting.outline;
        let tubes = |tubes: &[OutlineBranch]| -> Vec<PlayedTube> {
            let tubes = tubes.iter();
            tubes
                .map(|b| tube(grid, &b.name, b.name == outline.target, &b.points))
                .collect()
        };
        let balloons = stage.aids.iter().filter(|aids| !aids.balloon.is_empty());
        let wall = outline.wall.as_ref();
        let wall = wall.filter(|wall| wall.mesh.triangles.len() <= MOST_TRIANGLES);
        Self {
            low_mm: grid.low_mm.into(),
            step_mm: grid.step_mm,
            branches: tubes(&outline.branches),
            bodies: tubes(&outline.bodies),
            wall: wall.map(|wall| PlayedWall {
                points: pack::words(wall.mesh.points.iter().flat_map(|p| grid.steps(p))),
                triangles: {
                    let corners = wall.mesh.triangles.iter().flatten();
                    let bytes: Vec<u8> = corners.flat_map(|c| c.to_le_bytes()).collect();
                    pack::text(&bytes)
                },
            }),
            guide_mm: outline.guide_end_mm.into(),
            guide_way: outline.guide_direction.into(),
            balloons: balloons
                .map(|aids| {
                    let tube = tube(grid, "balloon", false, &aids.balloon);
                    (aids.technique.clone(), tube)
                })
                .collect(),
            views: views(setting, stage),
            chart_edges: EDGES.map(|x| rounded(x / super::chart::WIDTH, 6)),
            axis_stride: AXIS_STRIDE,
        }
    }
}

fn tube(grid: &Grid, name: &str, target: bool, points: &[OutlinePoint]) -> PlayedTube {
    PlayedTube {
        name: name.to_owned(),
        target,
        points: pack::words(points.iter().flat_map(|p| grid.steps(&p.position_mm))),
        radii_mm: points.iter().map(|p| rounded(p.radius_mm, 4)).collect(),
    }
}

/// A round wall force in mN that all but a few steps stay below.
pub(super) fn scale(trials: &[PlayedTrial]) -> f64 {
    let mut all: Vec<f64> = trials.iter().flat_map(|t| t.wall_mn.clone()).collect();
    all.sort_by(f64::total_cmp);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a place in a list"
    )]
    let place = (WITHIN_SCALE * all.len() as f64) as usize;
    let high = all.get(place.min(all.len().saturating_sub(1)));
    let high = high.copied().unwrap_or(1.0).max(1e-3);
    crate::report::figures::round_step(high)
}

/// The branching seen square to its plane, the whole vessel from there, and as by the C-arm where the
/// scenario says how it stands.
fn views(setting: &Setting, stage: &Stage) -> Vec<PlayedView> {
    let axis = |k: usize| -> Vector3<f64> { stage.axes.row(k).transpose() };
    let free = |name: &str, centre: Vector3<f64>, height: f64| PlayedView {
        name: name.to_owned(),
        centre: centre.into(),
        right: axis(0).into(),
        up: axis(1).into(),
        toward: axis(2).into(),
        height: rounded(height, 3),
        distance: rounded(EYE * height, 3),
    };
    let all = whole(setting, &stage.axes);
    let all = free("whole vessel", all.0, all.1);
    let mut views = vec![
        free("branching of the target", stage.ostium_mm, NEAR_MM),
        all,
    ];
    if let Some(c_arm) = &setting.page.c_arm {
        views.push(PlayedView {
            name: format!("as by the C-arm, {}", c_arm.view),
            centre: stage.ostium_mm.into(),
            right: c_arm.beam.right.into(),
            up: c_arm.beam.up.into(),
            toward: c_arm.beam.along.into(),
            height: 2.0 * NEAR_MM,
            distance: -c_arm.source_mm,
        });
    }
    views
}

/// Middle of the vessel, and the height of a picture that holds all of it, seen along the third of these
/// axes, in mm.
fn whole(setting: &Setting, axes: &Matrix3<f64>) -> (Vector3<f64>, f64) {
    let outline = &setting.outline;
    let places = outline.branches.iter().flat_map(|b| &b.points);
    let seen = places.map(|p| axes * p.position_mm);
    let start = axes * outline.guide_end_mm;
    let (low, high) = seen.fold((start, start), |(low, high), p| (low.inf(&p), high.sup(&p)));
    let size = high - low;
    let height = 1.1 * size.y.max(size.x / SHAPE).max(10.0);
    (axes.transpose() * (0.5 * (low + high)), height)
}
