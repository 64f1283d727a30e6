//! The lumen of a surface, as contact asks for it.

use std::f64::consts::TAU;
use std::sync::{Arc, OnceLock};

use nalgebra::{Matrix3, Vector3};

use super::grid::{CELLS, Grid, Known, Plan, Sample};
use super::smooth::SmoothSurface;
use super::spline;
use crate::anatomy::surface::{Hint, Mesh};
use crate::scenario::model::{NarrowingSpec, VesselSpec};
use crate::vessel::error::VesselError;
use crate::vessel::lumen::{Lumen, WallPoint};
use crate::vessel::path::{number, whole};
use crate::vessel::tree::{Tree, TubePoint};

/// Distance from the wall in mm up to which the grid reaches inside, and outside, where a wire
/// gets by pressing on the wall and the wall by a larger diameter.
const REACH_MM: f64 = 0.7;
const REACH_OUTSIDE_MM: f64 = 0.3;
/// Spacing of the grid as a share of the lumen radius of a narrow part, and its limits in mm.
const SPACING: f64 = 0.15;
const SPACING_MM: (f64, f64) = (0.05, 0.25);
/// Share of all samples of the centrelines that are narrower than a narrow part.
const NARROW: f64 = 0.05;
/// Distance in mm over which the local radius goes over from one branch to another.
const BLEND_MM: f64 = 0.3;
/// Numbers of the local radius in a brick.
const WIDTHS: usize = 64;

/// A lumen whose wall is a closed surface.
///
/// All diameters can be multiplied by a factor: the wall then moves by the local lumen radius
/// times the change, the local radius being that of the nearest centreline, smoothed.
#[derive(Debug, Clone)]
pub struct SurfaceLumen {
    surface: Arc<SmoothSurface>,
    grid: Arc<Grid>,
    /// Local radius: 4 x 4 x 4 numbers of a spline for each brick that was asked for it, whose corners are
    /// its knots.
    widths: Arc<Vec<OnceLock<Box<[f32]>>>>,
    /// Centrelines without narrowings.
    tree: Arc<Tree>,
    narrowings: Arc<Vec<NarrowingSpec>>,
    widest_mm: f64,
    factor: f64,
}

impl SurfaceLumen {
    /// The lumen of a surface; `spec` describes its centrelines, and the narrowings that are put
    /// into it.
    ///
    /// # Errors
    /// A [`VesselError`] if the tree of centrelines cannot be built.
    pub fn new(mesh: &Mesh, spec: &VesselSpec) -> Result<Self, VesselError> {
        Self::shared(&Arc::new(mesh.clone()), spec)
    }

    /// As [`new`](Self::new), of a surface that others hold too.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn shared(mesh: &Arc<Mesh>, spec: &VesselSpec) -> Result<Self, VesselError> {
        let tree = Tree::build(&VesselSpec {
            narrowings: Vec::new(),
            ..spec.clone()
        })?;
        let surface = SmoothSurface::new(mesh);
        let mut radii: Vec<f64> = Vec::new();
        for branch in tree.branches() {
            let line = &branch.centreline;
            let steps = line.length_mm().ceil().max(1.0);
            let mut k = 0.0;
            while k <= steps {
                radii.push(line.radius(line.length_mm() * k / steps));
                k += 1.0;
            }
        }
        radii.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let last = radii.len() - 1;
            radii[whole(share * number(last)).min(last)]
        };
        let triangles = (0..mesh.triangles.len()).map(|t| {
            let [a, b, c] = mesh.corners(t);
            (a.inf(&b).inf(&c), a.sup(&b).sup(&c))
        });
        let narrowed = spec.narrowings.iter().filter_map(|n| around(&tree, n));
        let pieces = triangles.chain(narrowed);
        let nothing = (
            Vector3::repeat(f64::INFINITY),
            Vector3::repeat(f64::NEG_INFINITY),
        );
        let (low, high) = pieces
            .clone()
            .fold(nothing, |(low, high), (l, h)| (low.inf(&l), high.sup(&h)));
        let plan = Plan {
            low,
            high,
            pieces,
            reach: REACH_MM,
            reach_outside: REACH_OUTSIDE_MM,
            // A narrowing brings the wall away from the mesh.
            known: if spec.narrowings.is_empty() {
                REACH_MM
            } else {
                f64::INFINITY
            },
            spacing: (SPACING * at(NARROW)).clamp(SPACING_MM.0, SPACING_MM.1),
        };
        let narrowings = &spec.narrowings;
        let grid = Grid::new(&plan, &|p: &Vector3<f64>, hint, within| {
            sample(&surface, (&tree, narrowings), (p, hint, within))
        });
        Ok(Self {
            surface: Arc::new(surface),
            widths: Arc::new(vec![OnceLock::new(); grid.bricks.len()]),
            grid: Arc::new(grid),
            widest_mm: at(1.0),
            tree: Arc::new(tree),
            narrowings: Arc::new(narrowings.clone()),
            factor: 1.0,
        })
    }

    /// What the grid knows about `p`.
    #[inline]
    fn known(&self, p: &Vector3<f64>) -> Known<'_> {
        self.grid.at(p, &|p: &Vector3<f64>, hint, within| {
            let vessel = (&*self.tree, self.narrowings.as_slice());
            sample(&self.surface, vessel, (p, hint, within))
        })
    }

    /// The same lumen with every diameter multiplied by `factor` (above 0).
    #[must_use]
    pub fn with_diameter_factor(&self, factor: f64) -> Self {
        Self {
            factor: self.factor * factor,
            ..self.clone()
        }
    }

    /// The surface.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        self.surface.mesh()
    }

    /// Spacing of the grid in mm.
    #[must_use]
    pub fn spacing_mm(&self) -> f64 {
        self.grid.spacing
    }

    /// Bytes that the grid takes once all of it was asked.
    #[must_use]
    pub fn grid_bytes(&self) -> usize {
        self.grid.bytes() + 4 * WIDTHS * self.widths.len()
    }

    /// How far the wall moves outwards for each mm of local radius.
    fn growth(&self) -> f64 {
        self.factor - 1.0
    }

    fn is_changed(&self) -> bool {
        self.growth().abs() > 0.0
    }

    /// The wall seen from a point of a brick.
    #[inline]
    fn wall(&self, spot: &super::grid::Spot<'_>) -> WallPoint {
        let mut wall = spot.wall();
        if self.is_changed() {
            let edge = self.grid.spacing * CELLS as f64;
            let widths = self.widths[spot.brick].get_or_init(|| self.widths_of(spot.brick));
            let width = spline::at(widths, 0, 4, &spot.place, edge);
            let growth = self.growth();
            wall.distance_mm -= growth * width.distance_mm;
            wall.gradient -= width.gradient * growth;
            wall.hessian -= width.hessian * growth;
        }
        wall
    }

    /// Local radius at the corners of a brick and their neighbours.
    fn widths_of(&self, brick: usize) -> Box<[f32]> {
        let [x, y, z] = self.grid.bricks[brick].map(|i| i as usize);
        let step = Vector3::repeat(self.grid.spacing * CELLS as f64);
        let mut near = Vec::new();
        // Counted from one before the first.
        let corners = (0..WIDTHS).map(|k| [x + k % 4, y + k / 4 % 4, z + k / 16]);
        let width = |corner| {
            #[expect(clippy::cast_possible_truncation, reason = "a radius of some mm")]
            let width =
                local_radius(&self.tree, &(self.grid.corner(corner) - step), &mut near) as f32;
            width
        };
        corners.map(width).collect()
    }

    /// Away from the grid: from the surface itself.
    fn far(&self, p: &Vector3<f64>) -> WallPoint {
        let signed = self.surface.at(p, None, f64::INFINITY);
        let mut distance_mm = signed.distance + raised(&self.tree, &self.narrowings, p);
        if self.is_changed() {
            distance_mm -= self.growth() * local_radius(&self.tree, p, &mut Vec::new());
        }
        WallPoint {
            distance_mm,
            gradient: signed.normal,
            velocity: Vector3::zeros(),
            hessian: Matrix3::zeros(),
        }
    }
}

impl Lumen for SurfaceLumen {
    fn near_wall(&self, p: &Vector3<f64>, _time_s: f64, margin_mm: f64) -> Option<WallPoint> {
        let moved = (-self.growth()).max(0.0) * self.widest_mm;
        let wall = match self.known(p) {
            Known::Near(spot) => {
                if spot.is_surely_below(-margin_mm - moved) {
                    return None;
                }
                let wall = self.wall(&spot);
                if wall.distance_mm < -margin_mm && margin_mm <= REACH_MM {
                    return None;
                }
                Some(wall).filter(|w| w.distance_mm >= -REACH_MM)
            }
            Known::Deep if margin_mm + moved < REACH_MM => return None,
            Known::Deep | Known::Nothing => None,
        };
        let wall = wall.unwrap_or_else(|| self.far(p));
        (wall.distance_mm >= -margin_mm).then_some(wall)
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        let near = match self.known(p) {
            Known::Near(spot) => Some(self.wall(&spot).distance_mm).filter(|d| *d >= -REACH_MM),
            Known::Deep | Known::Nothing => None,
        };
        near.unwrap_or_else(|| self.far(p).distance_mm)
    }
}

/// The signed distance at a point, given a hint from a point close by and from how far away from the mesh on
/// it may be infinite.
fn sample(
    surface: &SmoothSurface,
    (tree, narrowings): (&Tree, &[NarrowingSpec]),
    (p, hint, within): (&Vector3<f64>, Option<Hint>, f64),
) -> Sample {
    let signed = surface.at(p, hint, within);
    Sample {
        distance: signed.distance + raised(tree, narrowings, p),
        to_mesh: signed.to_mesh,
        hint: signed.hint,
    }
}

/// Radius of the centrelines near `p`, the nearest one counting most, in mm.
fn local_radius(tree: &Tree, p: &Vector3<f64>, near: &mut Vec<(usize, TubePoint)>) -> f64 {
    tree.tubes_near(p, near);
    if near.is_empty() {
        near.extend((0..tree.branches().len()).map(|b| (b, tree.tube(b, p))));
    }
    let least = near
        .iter()
        .fold(f64::INFINITY, |m, n| m.min(n.1.distance_mm));
    let (mut sum, mut weights) = (0.0, 0.0);
    for (branch, tube) in near.iter() {
        let weight = (-(tube.distance_mm - least) / BLEND_MM).exp();
        sum += weight * tree.branches()[*branch].centreline.radius(tube.station_mm);
        weights += weight;
    }
    sum / weights
}

/// How far narrowings raise the wall at `p`, in mm: the difference between the lumen radius there
/// and that of the narrowing, with the course of a narrowing of a tube (a cosine).
fn raised(tree: &Tree, narrowings: &[NarrowingSpec], p: &Vector3<f64>) -> f64 {
    let mut sum = 0.0;
    for n in narrowings {
        let Some(branch) = tree.branch_index(&n.branch) else {
            continue;
        };
        let tube = tree.tube(branch, p);
        let from_middle = tube.station_mm - n.station_mm;
        if from_middle.abs() >= 0.5 * n.length_mm {
            continue;
        }
        let is_nearest = (0..tree.branches().len())
            .all(|b| b == branch || tree.tube(b, p).distance_mm >= tube.distance_mm);
        if is_nearest {
            let share = 0.5 * (1.0 + (TAU * from_middle / n.length_mm).cos());
            let radius = tree.branches()[branch].centreline.radius(tube.station_mm);
            sum += share * (radius - 0.5 * n.diameter_mm).max(0.0);
        }
    }
    sum
}

/// The box around a narrowed part.
fn around(tree: &Tree, n: &NarrowingSpec) -> Option<(Vector3<f64>, Vector3<f64>)> {
    let line = &tree.branches()[tree.branch_index(&n.branch)?].centreline;
    let mut out: Option<(Vector3<f64>, Vector3<f64>)> = None;
    for k in 0..=32 {
        let station = n.station_mm + n.length_mm * (f64::from(k) / 32.0 - 0.5);
        let (p, r) = (line.position(station), line.radius(station));
        let (low, high) = (p.add_scalar(-r), p.add_scalar(r));
        out = Some(out.map_or((low, high), |(l, h)| (l.inf(&low), h.sup(&high))));
    }
    out
}
