//! The scene of a playback: vessel, guide, balloons, and from where they may be looked at.

use nalgebra::Vector3;
use serde::Serialize;

use super::chart::EDGES;
use super::pack::{self, Grid, rounded};
use super::trial::{AXIS_STRIDE, PlayedTrial};
use crate::report::film::Stage;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};
use crate::report::setting::Setting;

/// Triangles of a wall above which its branches are shown as tubes in its place.
const MOST_TRIANGLES: usize = 120_000;
/// Share of the played steps whose largest wall force lies within the scale of colours.
const WITHIN_SCALE: f64 = 0.98;
/// Length in mm of the target that the view of the branching shows, and distance in mm from its mouth within which
/// it shows the other branches.
const NEAR_MM: [f64; 2] = [20.0, 14.0];
/// Distance in mm from a lumen within which the end of another one joins it.
const JOINED_MM: f64 = 0.5;

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
    /// Where the target leaves its parent, in mm.
    pub mouth_mm: [f64; 3],
    /// Places around that, with radii, that a view of the branching holds, in mm.
    pub near: Vec<[f64; 4]>,
}

/// A tube.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlayedTube {
    /// Name.
    pub name: String,
    /// Whether it is the target.
    pub target: bool,
    /// Whether it hangs together with the branch in which the guide ends.
    pub joined: bool,
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
    /// Whether it shows the branching alone, not the whole vessel.
    pub near: bool,
    /// To the right in the picture.
    pub right: [f64; 3],
    /// Up in the picture.
    pub up: [f64; 3],
    /// Towards the viewer.
    pub toward: [f64; 3],
    /// Distance of the eye in mm; below 0 where things are larger the farther they are from the viewer, as
    /// in a projection on to a detector on the viewer's side; 0 where nothing says it.
    pub distance: f64,
}

impl PlayedScene {
    /// The scene of a setting.
    #[must_use]
    pub fn new(setting: &Setting, stage: &Stage, grid: &Grid) -> Self {
        let outline = &setting.outline;
        let tubes = |tubes: &[OutlineBranch], joined: &[bool]| -> Vec<PlayedTube> {
            let tubes = tubes.iter().zip(joined);
            tubes
                .map(|(b, joined)| PlayedTube {
                    target: b.name == outline.target,
                    joined: *joined,
                    ..tube(grid, &b.name, &b.points)
                })
                .collect()
        };
        let balloons = stage.aids.iter().filter(|aids| !aids.balloon.is_empty());
        let wall = outline.wall.as_ref();
        let wall = wall.filter(|wall| wall.mesh.triangles.len() <= MOST_TRIANGLES);
        Self {
            low_mm: grid.low_mm.into(),
            step_mm: grid.step_mm,
            branches: tubes(&outline.branches, &joined(outline, &stage.guide.0)),
            bodies: tubes(&outline.bodies, &vec![true; outline.bodies.len()]),
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
                    let tube = tube(grid, "balloon", &aids.balloon);
                    (aids.technique.clone(), tube)
                })
                .collect(),
            views: views(setting, stage),
            chart_edges: EDGES.map(|x| rounded(x / super::chart::WIDTH, 6)),
            axis_stride: AXIS_STRIDE,
            mouth_mm: stage.ostium_mm.into(),
            near: near(outline, stage),
        }
    }
}

/// Which branches hang together with the one of this name: the end of one lies in the lumen of another.
fn joined(outline: &SceneOutline, name: &str) -> Vec<bool> {
    let branches = &outline.branches;
    let ends = |branch: &OutlineBranch| {
        [
            branch.points.first().copied(),
            branch.points.last().copied(),
        ]
    };
    let lies_in = |branch: &OutlineBranch, end: &OutlinePoint| {
        branch
            .points
            .iter()
            .any(|p| (p.position_mm - end.position_mm).norm() < p.radius_mm + JOINED_MM)
    };
    let meet = |a: &OutlineBranch, b: &OutlineBranch| {
        ends(a).iter().flatten().any(|end| lies_in(b, end))
            || ends(b).iter().flatten().any(|end| lies_in(a, end))
    };
    let mut joined: Vec<bool> = branches.iter().map(|b| b.name == name).collect();
    for _ in 0..branches.len() {
        for k in 0..branches.len() {
            joined[k] = joined[k]
                || (0..branches.len())
                    .any(|other| joined[other] && meet(&branches[k], &branches[other]));
        }
    }
    joined
}

/// Places around the mouth of the target, with radii, in mm.
fn near(outline: &SceneOutline, stage: &Stage) -> Vec<[f64; 4]> {
    let mut places = Vec::new();
    for branch in &outline.branches {
        let reach_mm = NEAR_MM[usize::from(branch.name != outline.target)];
        let near = branch
            .points
            .iter()
            .filter(|p| (p.position_mm - stage.ostium_mm).norm() < reach_mm);
        places.extend(near.map(|p| {
            let [x, y, z] = p.position_mm.into();
            [x, y, z, p.radius_mm].map(|mm: f64| rounded(mm, 2))
        }));
    }
    places
}

fn tube(grid: &Grid, name: &str, points: &[OutlinePoint]) -> PlayedTube {
    PlayedTube {
        name: name.to_owned(),
        target: false,
        joined: true,
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

/// The branching and the whole vessel, both with their plane in the picture, and as by the C-arm where the scenario
/// says how it stands.
fn views(setting: &Setting, stage: &Stage) -> Vec<PlayedView> {
    let axis = |k: usize| -> Vector3<f64> { stage.axes.row(k).transpose() };
    let flat = |name: &str, near: bool| PlayedView {
        name: name.to_owned(),
        near,
        right: axis(0).into(),
        up: axis(1).into(),
        toward: axis(2).into(),
        distance: 0.0,
    };
    let mut views = vec![
        flat("branching of the target", true),
        flat("whole vessel", false),
    ];
    if let Some(c_arm) = &setting.page.c_arm {
        views.push(PlayedView {
            name: format!("as by the C-arm, {}", c_arm.view),
            near: false,
            right: c_arm.beam.right.into(),
            up: c_arm.beam.up.into(),
            toward: c_arm.beam.along.into(),
            distance: -c_arm.source_mm,
        });
    }
    views
}
