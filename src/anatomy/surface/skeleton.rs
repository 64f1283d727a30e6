//! Centrelines of a closed surface.
//!
//! From the inlet the cheapest way to every voxel is found, a step costing its length over the
//! square of the distance from the wall, so that ways run in the middle; the voxel farthest away
//! that no line explains yet gives the next line, until all are explained. Sources: the cost is a
//! power of that of L. Antiga, B. Ene-Iordache, A. Remuzzi, Computational geometry for
//! patient-specific reconstruction and meshing of blood vessels, IEEE Trans Med Imaging
//! 22:674-684, 2003; the choice of the next line is that of M. Sato et al., TEASAR:
//! tree-structure extraction algorithm for accurate and robust skeletons, Pacific Graphics 2000.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use nalgebra::Vector3;

use super::bvh::Bvh;
use super::voxels::Voxels;
use crate::anatomy::tree::Polyline;

/// A line explains all voxels within this many wall distances of it.
const EXPLAINED: f64 = 1.5;
/// And this many voxels more.
const EXPLAINED_VOXELS: f64 = 2.0;
/// A new line must go on for this many wall distances of the place where it leaves the others.
const LEAST_OWN: f64 = 2.0;
/// Rays in a cross-section.
const RAYS: u32 = 24;
/// A ray longer than this many wall distances leads into another branch.
const LONGEST_RAY: f64 = 2.0;

/// Lines from the inlet to each tip.
pub(super) struct Skeleton {
    pub lines: Vec<Polyline>,
}

/// The lines of the inside of a surface; `inlet` is a point near which they begin, else they
/// begin at the widest end.
pub(super) fn skeleton(voxels: &Voxels, bvh: &Bvh, inlet: Option<Vector3<f64>>) -> Skeleton {
    let deepest = (0..voxels.depth.len())
        .max_by(|a, b| voxels.depth[*a].total_cmp(&voxels.depth[*b]))
        .unwrap_or(0);
    let root = match inlet.and_then(|p| voxels.nearest(&p)) {
        Some(stated) => stated,
        None => {
            let first = farthest(&cheapest(voxels, deepest).length);
            let lines = lines_from(voxels, first);
            let ends = lines.iter().map(|line| (width(voxels, line), line[0]));
            let start = lines.first().map(|line| {
                let back: Vec<usize> = line.iter().rev().copied().collect();
                (width(voxels, &back), first)
            });
            ends.chain(start)
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .map_or(first, |e| e.1)
        }
    };
    let lines = lines_from(voxels, root)
        .iter()
        .filter_map(|line| centred(voxels, bvh, line))
        .collect();
    Skeleton { lines }
}

/// Cost, length of the way and the voxel before, for each voxel.
struct Ways {
    length: Vec<f64>,
    before: Vec<u32>,
}

/// The cheapest ways from a voxel to all others (Dijkstra).
fn cheapest(voxels: &Voxels, root: usize) -> Ways {
    let n = voxels.places.len();
    let mut cost = vec![f64::INFINITY; n];
    let mut length = vec![f64::NEG_INFINITY; n];
    let mut before = vec![u32::MAX; n];
    let mut done = vec![false; n];
    let mut waiting = BinaryHeap::new();
    (cost[root], length[root]) = (0.0, 0.0);
    waiting.push(Reverse((0_u64, u32::try_from(root).unwrap_or(0))));
    while let Some(Reverse((_, here))) = waiting.pop() {
        let i = here as usize;
        if std::mem::replace(&mut done[i], true) {
            continue;
        }
        let [x, y, z] = voxels.places[i];
        for (dx, dy, dz) in around() {
            let Some(j) = voxels.at([x + dx, y + dy, z + dz]) else {
                continue;
            };
            if done[j] {
                continue;
            }
            let step = voxels.edge * f64::from(dx * dx + dy * dy + dz * dz).sqrt();
            let depth = (0.5 * (voxels.depth[i] + voxels.depth[j])).max(0.1 * voxels.edge);
            let new = cost[i] + step / (depth * depth);
            if new < cost[j] {
                cost[j] = new;
                length[j] = length[i] + step;
                before[j] = here;
                // Bits of a number above 0 order as the number does.
                waiting.push(Reverse((new.to_bits(), u32::try_from(j).unwrap_or(0))));
            }
        }
    }
    Ways { length, before }
}

fn around() -> impl Iterator<Item = (i32, i32, i32)> {
    (0..27)
        .map(|k| (k % 3 - 1, k / 3 % 3 - 1, k / 9 - 1))
        .filter(|d| *d != (0, 0, 0))
}

fn farthest(length: &[f64]) -> usize {
    (0..length.len())
        .max_by(|a, b| length[*a].total_cmp(&length[*b]).then(b.cmp(a)))
        .unwrap_or(0)
}

/// Voxels of each line, from its tip to the root.
fn lines_from(voxels: &Voxels, root: usize) -> Vec<Vec<usize>> {
    let ways = cheapest(voxels, root);
    let mut left: Vec<f64> = ways.length.clone();
    let mut on_line = vec![false; left.len()];
    let mut lines = Vec::new();
    loop {
        let tip = farthest(&left);
        if left[tip] <= 0.0 {
            return lines;
        }
        let mut line = vec![tip];
        let mut at = tip;
        while at != root && ways.before[at] != u32::MAX {
            at = ways.before[at] as usize;
            line.push(at);
        }
        let own = line.iter().take_while(|i| !on_line[**i]).count();
        let leaves = line.get(own).copied().unwrap_or(root);
        let own_length = ways.length[tip] - ways.length[leaves];
        for &i in &line[..own.max(1)] {
            explain(voxels, i, &mut left);
        }
        if lines.is_empty() || own_length >= LEAST_OWN * voxels.depth[leaves] {
            for &i in &line[..own] {
                on_line[i] = true;
            }
            lines.push(line);
        } else {
            left[tip] = f64::NEG_INFINITY;
        }
    }
}

/// Marks the voxels around one of a line as explained.
fn explain(voxels: &Voxels, i: usize, left: &mut [f64]) {
    let reach = EXPLAINED * voxels.depth[i] / voxels.edge + EXPLAINED_VOXELS;
    #[expect(clippy::cast_possible_truncation, reason = "some voxels")]
    let n = reach.ceil() as i32;
    let [x, y, z] = voxels.places[i];
    for dz in -n..=n {
        for dy in -n..=n {
            for dx in -n..=n {
                if f64::from(dx * dx + dy * dy + dz * dz) <= reach * reach
                    && let Some(j) = voxels.at([x + dx, y + dy, z + dz])
                {
                    left[j] = f64::NEG_INFINITY;
                }
            }
        }
    }
}

/// Largest wall distance in the first part of a line from its end, in mm: that of its end.
fn width(voxels: &Voxels, line: &[usize]) -> f64 {
    let end = voxels.middle(voxels.places[line[0]]);
    let mut widest = 0.0_f64;
    for &i in line {
        let depth = voxels.depth[i];
        widest = widest.max(depth);
        if (voxels.middle(voxels.places[i]) - end).norm() > 2.0 * widest {
            break;
        }
    }
    widest
}

/// A line from the root to the tip, in the middle of its cross-sections, from where a sphere in
/// the lumen first fits at one end to where it does so at the other.
fn centred(voxels: &Voxels, bvh: &Bvh, line: &[usize]) -> Option<Polyline> {
    let all: Vec<Vector3<f64>> = line
        .iter()
        .rev()
        .map(|i| voxels.middle(voxels.places[*i]))
        .collect();
    let depth: Vec<f64> = line.iter().rev().map(|i| voxels.depth[*i]).collect();
    let first = (0..all.len()).find(|i| (all[*i] - all[0]).norm() >= depth[*i])?;
    let end = all[all.len() - 1];
    let last = (0..all.len()).rfind(|i| (all[*i] - end).norm() >= depth[*i])?;
    if last < first + 2 {
        return None;
    }
    let rough = Polyline {
        points: all[first..=last].to_vec(),
        radii: depth[first..=last].to_vec(),
    };
    let mut line = rough.at_even_distances(2.0 * voxels.edge);
    for _ in 0..3 {
        line = line.smoothed(2.0 * voxels.edge);
        line = in_the_middle(&line, bvh);
    }
    Some(line)
}

/// Moves every point but the ends to the middle of its cross-section. The radius is that of a
/// circle of the same area; where a cross-section opens into another branch, point and radius
/// stay those of the largest sphere.
fn in_the_middle(line: &Polyline, bvh: &Bvh) -> Polyline {
    let n = line.points.len();
    let mut out = line.clone();
    for i in 0..n {
        let p = line.points[i];
        let along = line.points[(i + 1).min(n - 1)] - line.points[i.saturating_sub(1)];
        let Some(tangent) = along.try_normalize(0.0) else {
            continue;
        };
        let Some(near) = bvh.nearest(&p, f64::INFINITY) else {
            continue;
        };
        let depth = near.square.sqrt();
        let mut axis = Vector3::zeros();
        axis[tangent.iamin()] = 1.0;
        let u = tangent.cross(&axis).normalize();
        let v = tangent.cross(&u);
        let (mut moment, mut area, mut open) = (Vector3::zeros(), 0.0, 0);
        for k in 0..RAYS {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / f64::from(RAYS)).sin_cos();
            let direction = u * cos + v * sin;
            match bvh.ray(&p, &direction, LONGEST_RAY * depth) {
                Some(h) => {
                    area += h * h;
                    moment += direction * (h * h * h * 2.0 / 3.0);
                }
                None => open += 1,
            }
        }
        if open > 0 || area <= 0.0 {
            out.radii[i] = depth;
            continue;
        }
        out.radii[i] = (area / f64::from(RAYS)).sqrt();
        if i > 0 && i + 1 < n {
            out.points[i] = p + moment / area;
        }
    }
    out
}
