//! The wall of a lumen as a closed net of triangles.
//!
//! One point for each sheet of the wall in each cell of a grid, four of them for each edge of the
//! grid that the wall cuts (S. F. F. Gibson, Constrained elastic surface nets, MICCAI 1998); every
//! point is then moved onto the wall along the gradient of the distance.

use nalgebra::Vector3;
use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};

use super::lumen::Lumen;
use super::sheets::{Corners, EDGES, edge};
use super::surface::SurfaceLumen;
use super::tree::{Branch, Tree};

/// Cells along an edge of a block; a multiple of [`CUBE_CELLS`].
const CELLS: i32 = 8;
/// Cells along an edge of the cubes of a block that are looked at one by one.
const CUBE_CELLS: i32 = 2;
/// Distance of the wall from the middle of a block or cube, in edges of it, beyond which it is not expected inside:
/// the distance changes by at most about as much as the point moves. Where a vessel widens so steeply that it
/// changes by more, the wall shows as a change of sign beside such a cube.
const BESIDE: f64 = 1.3;
/// Steps that bring a point onto the wall.
const STEPS: usize = 4;
/// How often the grid is made finer if the net does not close.
const TRIES: usize = 3;

/// A closed net of triangles that face outwards.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Net {
    /// Points in mm.
    pub points: Vec<Vector3<f64>>,
    /// Corners of the triangles.
    pub triangles: Vec<[u32; 3]>,
}

/// How fine the net is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spacing {
    /// Edge of a cell of the grid in mm.
    pub cell_mm: f64,
}

impl Spacing {
    /// Cells so small that facets lie within `tolerance_mm` of the wall of the narrowest place: a
    /// chord of length c over a circle of radius r lies c²/(8 r) from it, and a triangle of the
    /// net is up to 1.9 cells across (measured on bends and tapers).
    #[must_use]
    pub fn of(tree: &Tree, tolerance_mm: f64) -> Self {
        let mut least = f64::INFINITY;
        for branch in tree.branches() {
            let line = &branch.centreline;
            let count = stations(line.length_mm());
            for k in 0..=count {
                let at = line.length_mm() * f64::from(k) / f64::from(count);
                least = least.min(line.radius(at));
            }
        }
        Self {
            cell_mm: ((8.0 * least * tolerance_mm).sqrt() / 1.9).min(0.5 * least),
        }
    }
}

/// Most cells of the grid that the wall of a tree may pass through, as estimated: 4 million of them
/// make 8 million triangles.
pub const MOST_WALL_CELLS: f64 = 4e6;

/// Parts in which the radii along a branch are looked at: a thousand, or more where these would be
/// longer than half a millimetre.
#[must_use]
pub fn stations(length_mm: f64) -> u32 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the cast saturates; lengths are limited"
    )]
    let count = (2.0 * length_mm).ceil() as u32;
    count.max(1000)
}

/// How many cells the wall of a tree passes through, estimated from its area: that of the tubes of all
/// branches with their round ends, over that of a side of a cell.
///
/// Where branches overlap, and on the inner side of a fold, the wall has less. A surface of area A
/// with normal n cuts (|nx| + |ny| + |nz|) A/c² cells of edge c, which is 1 to √3 times the estimate,
/// 1.5 times over all directions.
#[must_use]
pub fn wall_cells(tree: &Tree, spacing: &Spacing) -> f64 {
    let area = |branch: &Branch| {
        let line = &branch.centreline;
        let count = stations(line.length_mm());
        let step = line.length_mm() / f64::from(count);
        let around = |k: u32| {
            let [from, to] = [k, k + 1].map(|k| line.radius(step * f64::from(k)));
            std::f64::consts::PI * (from + to) * step.hypot(to - from)
        };
        let ends =
            [0.0, line.length_mm()].map(|at| std::f64::consts::TAU * line.radius(at).powi(2));
        (0..count).map(around).sum::<f64>() + ends[0] + ends[1]
    };
    let area: f64 = tree.branches().iter().map(area).sum();
    area / (spacing.cell_mm * spacing.cell_mm)
}

/// The net of the wall of a tree, or of its surface if it has one. `None` if it does not close.
#[must_use]
pub fn net(tree: &Tree, surface: Option<&SurfaceLumen>, spacing: &Spacing) -> Option<Net> {
    let lumen: &dyn Lumen = match surface {
        Some(surface) => surface,
        None => tree,
    };
    closed((tree, surface), lumen, spacing, MOST_WALL_CELLS)
}

/// The net of the wall of a lumen around the centrelines of a tree, of at most `most_cells` cells as
/// estimated. `None` if it does not close.
pub(super) fn net_around(
    tree: &Tree,
    lumen: &dyn Lumen,
    spacing: &Spacing,
    most_cells: f64,
) -> Option<Net> {
    closed((tree, None), lumen, spacing, most_cells)
}

fn closed(
    (tree, surface): (&Tree, Option<&SurfaceLumen>),
    lumen: &dyn Lumen,
    spacing: &Spacing,
    most_cells: f64,
) -> Option<Net> {
    let mut cell_mm = spacing.cell_mm;
    for attempt in 0..TRIES {
        // A finer net has almost twice the cells; all attempts together cost no more than one of the most.
        if attempt > 0 && 2.0 * wall_cells(tree, &Spacing { cell_mm }) > most_cells {
            return None;
        }
        let blocks = blocks(tree, surface, cell_mm);
        let net = at_spacing(lumen, &blocks, cell_mm);
        if !net.triangles.is_empty() && closes(&net) {
            return Some(net);
        }
        cell_mm *= 0.73;
    }
    None
}

/// Blocks of the grid through which the wall may pass, sorted.
fn blocks(tree: &Tree, surface: Option<&SurfaceLumen>, cell_mm: f64) -> Vec<[i32; 3]> {
    let edge = cell_mm * f64::from(CELLS);
    let mut found: FxHashSet<[i32; 3]> = FxHashSet::default();
    let mut mark = |low: Vector3<f64>, high: Vector3<f64>| {
        let (from, to) = (index(&low, edge), index(&high, edge));
        for z in from[2]..=to[2] {
            for y in from[1]..=to[1] {
                for x in from[0]..=to[0] {
                    found.insert([x, y, z]);
                }
            }
        }
    };
    for branch in tree.branches() {
        let line = &branch.centreline;
        let steps = (line.length_mm() / edge).ceil().max(1.0);
        let mut k = 0.0;
        while k <= steps {
            let station = line.length_mm() * k / steps;
            // The next sample lies one block on; blending widens the lumen by less than a cell.
            let (p, reach) = (line.position(station), line.radius(station) + edge);
            mark(p.add_scalar(-reach), p.add_scalar(reach));
            k += 1.0;
        }
    }
    if let Some(surface) = surface {
        let mesh = surface.mesh();
        for t in 0..mesh.triangles.len() {
            let [a, b, c] = mesh.corners(t);
            mark(
                a.inf(&b).inf(&c).add_scalar(-cell_mm),
                a.sup(&b).sup(&c).add_scalar(cell_mm),
            );
        }
    }
    let mut blocks: Vec<[i32; 3]> = found.into_iter().collect();
    blocks.sort_unstable();
    blocks
}

fn index(p: &Vector3<f64>, edge: f64) -> [i32; 3] {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the cast saturates; coordinates are limited"
    )]
    let of = |x: f64| (x / edge).floor() as i32;
    [of(p.x), of(p.y), of(p.z)]
}

/// A cell through which the wall passes.
struct Cell {
    at: [i32; 3],
    /// A point for each sheet of the wall.
    points: Vec<Vector3<f64>>,
    /// Sheet to which each cut edge belongs.
    sheet: [u8; EDGES],
}

/// What one block gives.
struct Part {
    cells: Vec<Cell>,
    /// Lower grid point of a cut edge, its axis, and whether the lower end is inside.
    edges: Vec<([i32; 3], usize, bool)>,
}

fn at_spacing(lumen: &dyn Lumen, blocks: &[[i32; 3]], cell_mm: f64) -> Net {
    let parts: Vec<Part> = blocks
        .par_iter()
        .map(|block| part(lumen, *block, cell_mm))
        .collect();
    let mut net = Net::default();
    // The number of a cell's first point, and the sheets of its edges.
    let mut number: FxHashMap<[i32; 3], (u32, &[u8; EDGES])> = FxHashMap::default();
    for cell in parts.iter().flat_map(|part| &part.cells) {
        let first = u32::try_from(net.points.len()).unwrap_or(u32::MAX);
        number.insert(cell.at, (first, &cell.sheet));
        net.points.extend(&cell.points);
    }
    for (low, axis, inside) in parts.iter().flat_map(|part| &part.edges) {
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let around = [(1, 1), (0, 1), (0, 0), (1, 0)].map(|(a, b)| {
            let mut cell = *low;
            cell[u] -= a;
            cell[v] -= b;
            let (first, sheet) = number.get(&cell)?;
            Some(first + u32::from(sheet[edge(*axis, usize::from(a == 1), usize::from(b == 1))]))
        });
        let [Some(a), Some(b), Some(c), Some(d)] = around else {
            continue;
        };
        let [a, b, c, d] = if *inside { [a, b, c, d] } else { [d, c, b, a] };
        let far = |i: u32, j: u32| (net.points[i as usize] - net.points[j as usize]).norm_squared();
        if far(a, c) <= far(b, d) {
            net.triangles.extend([[a, b, c], [a, c, d]]);
        } else {
            net.triangles.extend([[a, b, d], [b, c, d]]);
        }
    }
    net
}

fn part(lumen: &dyn Lumen, block: [i32; 3], cell_mm: f64) -> Part {
    let corner = block.map(|i| i * CELLS);
    let place = |at: [i32; 3]| Vector3::from(at).map(|i| f64::from(i) * cell_mm);
    let mut out = Part {
        cells: Vec::new(),
        edges: Vec::new(),
    };
    let edge = cell_mm * f64::from(CELLS);
    let middle = place(corner).add_scalar(0.5 * edge);
    if lumen.distance(&middle).abs() > BESIDE * edge {
        return out;
    }
    let values = values(lumen, corner, cell_mm);
    for z in 0..CELLS {
        for y in 0..CELLS {
            for x in 0..CELLS {
                let low = [x, y, z];
                let global = [corner[0] + x, corner[1] + y, corner[2] + z];
                let inside = values[at(low)] < 0.0;
                for axis in 0..3 {
                    let mut high = low;
                    high[axis] += 1;
                    if (values[at(high)] < 0.0) != inside {
                        out.edges.push((global, axis, inside));
                    }
                }
                let corners: [f64; 8] = std::array::from_fn(|i| {
                    let step = |k: usize| low[k] + i32::from(i & (1 << k) != 0);
                    values[at([step(0), step(1), step(2)])]
                });
                let first = corners[0] < 0.0;
                if corners.iter().all(|value| (*value < 0.0) == first) {
                    continue;
                }
                let (means, sheet) = Corners(corners).sheets();
                let onto = |p: &Vector3<f64>| onto_the_wall(lumen, place(global) + p * cell_mm);
                out.cells.push(Cell {
                    at: global,
                    points: means.iter().map(onto).collect(),
                    sheet,
                });
            }
        }
    }
    out
}

/// Distances in mm at the grid points of a block whose lowest one is `corner`: exact at both ends of each edge that
/// the wall crosses, and of the right sign elsewhere.
fn values(lumen: &dyn Lumen, corner: [i32; 3], cell_mm: f64) -> Vec<f64> {
    let grid = |cells: i32, step: usize| {
        let along = move || (0..=cells).step_by(step);
        along().flat_map(move |z| along().flat_map(move |y| along().map(move |x| [x, y, z])))
    };
    let place = |[x, y, z]: [i32; 3]| {
        let point = Vector3::new(corner[0] + x, corner[1] + y, corner[2] + z);
        point.map(|i| f64::from(i) * cell_mm)
    };
    let points = at([CELLS; 3]) + 1;
    let (mut values, mut wanted, mut is_exact) =
        (vec![0.0; points], vec![false; points], vec![false; points]);
    let edge = cell_mm * f64::from(CUBE_CELLS);
    for low in grid(CELLS - CUBE_CELLS, CUBE_CELLS as usize) {
        let distance = lumen.distance(&place(low).add_scalar(0.5 * edge));
        for [x, y, z] in grid(CUBE_CELLS, 1) {
            let point = at([low[0] + x, low[1] + y, low[2] + z]);
            if distance.abs() > BESIDE * edge {
                values[point] = distance;
            } else {
                wanted[point] = true;
            }
        }
    }
    while wanted.contains(&true) {
        for point in grid(CELLS, 1).filter(|point| wanted[at(*point)]) {
            values[at(point)] = lumen.distance(&place(point));
            is_exact[at(point)] = true;
        }
        wanted.fill(false);
        for low in grid(CELLS, 1) {
            for axis in (0..3).filter(|axis| low[*axis] < CELLS) {
                let mut high = low;
                high[axis] += 1;
                let ends = [at(low), at(high)];
                if (values[ends[0]] < 0.0) != (values[ends[1]] < 0.0) {
                    for end in ends {
                        wanted[end] |= !is_exact[end];
                    }
                }
            }
        }
    }
    values
}

/// Place of a grid point in a block's values.
fn at([x, y, z]: [i32; 3]) -> usize {
    let row = CELLS + 1;
    usize::try_from((z * row + y) * row + x).unwrap_or(0)
}

fn onto_the_wall(lumen: &dyn Lumen, start: Vector3<f64>) -> Vector3<f64> {
    let mut p = start;
    for _ in 0..STEPS {
        let Some(wall) = lumen.near_wall(&p, 0.0, f64::INFINITY) else {
            break;
        };
        let square = wall.gradient.norm_squared();
        if square < 0.01 {
            break;
        }
        p -= wall.gradient * (wall.distance_mm / square);
    }
    p
}

/// Whether two triangles meet at every edge, one each way.
fn closes(net: &Net) -> bool {
    let mut sides: Vec<(u32, u32)> = net
        .triangles
        .iter()
        .flat_map(|[a, b, c]| [(*a, *b), (*b, *c), (*c, *a)])
        .collect();
    sides.sort_unstable();
    sides.windows(2).all(|p| p[0] != p[1])
        && sides
            .iter()
            .all(|(a, b)| sides.binary_search(&(*b, *a)).is_ok())
}
