//! Centrelines of a closed surface.
//!
//! The inside is cut into slices of equal distance from the inlet, along the inside; where a slice
//! falls into pieces, branches begin, and a piece with none behind it is a tip. From each tip the
//! cheapest way to the inlet is a line, a step costing its length over the square of the distance
//! from the wall, so that ways run in the middle. Sources: slices after A. Verroust and F.
//! Lazarus, Extracting skeletal curves from 3D scattered data, Vis Comput 16:15-25, 2000; the cost
//! is a power of that of L. Antiga, B. Ene-Iordache, A. Remuzzi, Computational geometry for
//! patient-specific reconstruction and meshing of blood vessels, IEEE Trans Med Imaging
//! 22:674-684, 2003.

mod ways;

use nalgebra::Vector3;

use self::ways::{straight, ways};
use super::bvh::Bvh;
use super::caps::End;
use super::voxels::Voxels;
use crate::anatomy::error::{At, Checked, Fault};
use crate::anatomy::tree::Polyline;
use rayon::prelude::*;

/// Thickness of a slice in voxels; more than the longest step between neighbours.
const SLICE_VOXELS: f64 = 2.0;
/// A branch goes on for this many radii of the slice from which it leaves, at least.
const LEAST_OWN: f64 = 2.0;
/// A tip within this many radii of an open end lies there: the lumen is extended by one radius, and a
/// corner of its cap by the square root of 2.
const AT_END: f64 = 1.8;
/// Voxels along a line, from its end, over which the wall may be nearer than the half of the way: the
/// first one may lie in a corner of a cap, with almost no distance from the wall.
const CORNER_VOXELS: f64 = 4.0;
/// Most voxels on the ways to all tips together; each of the ways is centred as a whole.
const MOST_WAYS: usize = 100_000;
/// Rays in a cross-section.
const RAYS: u32 = 24;
/// A ray longer than this many wall distances leads into another branch.
const LONGEST_RAY: f64 = 2.0;

/// Lines from the inlet to each tip.
pub(super) struct Skeleton {
    pub lines: Vec<Polyline>,
    /// Tips so close to the inlet that no ball fits between the ends of their way.
    pub too_short: usize,
    /// The ends at which the tree may begin, and which of them it is.
    pub inlets: (Inlets, Option<usize>),
}

/// Places in mm at which a tree may begin.
#[derive(Debug)]
pub(in crate::anatomy) struct Inlets(Vec<Vector3<f64>>);

impl Inlets {
    /// Number of the place nearest to a point.
    pub(in crate::anatomy) fn nearest(&self, p: &Vector3<f64>) -> Option<usize> {
        let off = |k: &usize| (self.0[*k] - p).norm();
        (0..self.0.len()).min_by(|a, b| off(a).total_cmp(&off(b)))
    }
}

/// The lines of the inside of a surface, from the end nearest to `inlet`, else from the widest end. Each
/// of the open `ends` has a line that ends there.
///
/// # Errors
/// More tips, farther from the inlet, than can be centred in some seconds.
pub(super) fn skeleton(
    voxels: &Voxels,
    bvh: &Bvh,
    inlet: Option<Vector3<f64>>,
    ends: &[End],
) -> Checked<Skeleton> {
    let deepest = (0..voxels.depth.len())
        .max_by(|a, b| voxels.depth[*a].total_cmp(&voxels.depth[*b]))
        .unwrap_or(0);
    let place = |i: usize| voxels.middle(voxels.places[i]);
    let voxels_mm = voxels.edge;
    // Seen from the widest place the end nearest to it may be no tip, so the ends are looked for once
    // more from the end farthest away.
    let first = tips(voxels, deepest).first().copied();
    let first = first.unwrap_or((deepest, 0.0));
    let from_first = tips(voxels, first.0);
    let mut all = vec![first.0];
    all.extend(from_first.iter().map(|tip| tip.0));
    // A vessel that is cut off close to its parent has no tip.
    for end in ends {
        let is_at = |i: &usize| (place(*i) - end.middle).norm() <= AT_END * end.radius;
        if !all.iter().any(is_at) {
            all.extend(voxels.nearest(&end.middle));
        }
    }
    let known = Inlets(all.iter().map(|i| place(*i)).collect());
    let root = match inlet {
        Some(p) => known.nearest(&p).map_or(first.0, |k| all[k]),
        None => match from_first.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
            Some((widest, width)) if *width > first.1 => *widest,
            _ => first.0,
        },
    };
    let mut tips = if root == first.0 {
        from_first
    } else {
        tips(voxels, root)
    };
    for end in ends {
        let is_at = |i: usize| (place(i) - end.middle).norm() <= AT_END * end.radius;
        if is_at(root) || tips.iter().any(|(tip, _)| is_at(*tip)) {
            continue;
        }
        tips.extend(voxels.nearest(&end.middle).map(|i| (i, end.radius)));
    }
    let ways = lines(voxels, root, &tips).map_err(|found| {
        let mm = |voxels: usize| voxels as f64 * voxels_mm;
        (
            At::Point(place(root).into()),
            Fault::Surface {
                what: format!(
                    "the ways from its {} ends to the inlet are {:.0} mm long together or more, allowed are up to \
                     {:.0} mm where voxels are {voxels_mm:.2} mm wide",
                    tips.len(),
                    mm(found),
                    mm(MOST_WAYS)
                ),
                remedy: "cut it into parts, or cut off what is not needed",
            },
        )
    })?;
    let lines: Vec<Polyline> = ways
        .par_iter()
        .filter_map(|line| centred(voxels, bvh, line))
        .collect();
    Ok(Skeleton {
        too_short: ways.len() - lines.len(),
        lines,
        inlets: (known, all.iter().position(|i| *i == root)),
    })
}

/// A connected piece of a slice.
struct SliceRegion {
    /// Region of the slice before to which it belongs; its own number for that of the root.
    parent: usize,
    voxels: usize,
    /// The voxel farthest from the root, and how far it is, in mm.
    farthest: (usize, f64),
    has_children: bool,
}

/// The tips seen from a root: the farthest voxel of each and its radius in mm.
fn tips(voxels: &Voxels, root: usize) -> Vec<(usize, f64)> {
    let thickness = SLICE_VOXELS * voxels.edge;
    let pieces = pieces(voxels, &straight(voxels, root), thickness);
    let radius = |p: &SliceRegion| {
        let area = p.voxels as f64 * voxels.edge.powi(3) / thickness;
        (area / std::f64::consts::PI).sqrt()
    };
    let far = |p: usize| pieces[p].farthest.1;
    let mut ends: Vec<usize> = (0..pieces.len())
        .filter(|p| !pieces[*p].has_children)
        .collect();
    ends.sort_by(|a, b| far(*b).total_cmp(&far(*a)).then(a.cmp(b)));
    let mut taken = vec![false; pieces.len()];
    let mut tips = Vec::new();
    for end in ends {
        let mut way = vec![end];
        let mut at = end;
        while !taken[at] && pieces[at].parent != at {
            at = pieces[at].parent;
            way.push(at);
        }
        if !tips.is_empty() && far(end) - far(at) < LEAST_OWN * radius(&pieces[at]) {
            continue;
        }
        // The widest slice within two radii of the end is its width.
        let mut wide = 0.0_f64;
        for p in &way {
            wide = wide.max(radius(&pieces[*p]));
            if far(end) - far(*p) > 2.0 * wide + thickness {
                break;
            }
        }
        tips.push((pieces[end].farthest.0, wide));
        for p in way {
            taken[p] = true;
        }
    }
    tips
}

/// Voxels of each line, from its tip to the root, along the middle. The error is how many they are as
/// soon as they are too many.
fn lines(voxels: &Voxels, root: usize, tips: &[(usize, f64)]) -> Result<Vec<Vec<usize>>, usize> {
    let before = ways(voxels, root, |depth| 1.0 / (depth * depth));
    let mut all = 0;
    let mut lines = Vec::with_capacity(tips.len());
    for (tip, _) in tips {
        let mut line = vec![*tip];
        let mut at = *tip;
        while at != root && before[at] != u32::MAX {
            at = before[at] as usize;
            line.push(at);
        }
        all += line.len();
        if all > MOST_WAYS {
            return Err(all);
        }
        lines.push(line);
    }
    Ok(lines)
}

/// The connected pieces of the slices, a piece behind its parent.
fn pieces(voxels: &Voxels, length: &[f64], thickness: f64) -> Vec<SliceRegion> {
    const NONE: usize = usize::MAX;
    #[expect(clippy::cast_possible_truncation, reason = "some thousand slices")]
    let slices: Vec<i32> = length
        .iter()
        .map(|l| (l / thickness).floor() as i32)
        .collect();
    let slice = |i: usize| slices[i];
    let mut order: Vec<usize> = (0..length.len()).filter(|i| length[*i] >= 0.0).collect();
    order.par_sort_unstable_by(|a, b| length[*a].total_cmp(&length[*b]).then(a.cmp(b)));
    let mut piece_of = vec![NONE; length.len()];
    let mut pieces: Vec<SliceRegion> = Vec::new();
    for &start in &order {
        if piece_of[start] != NONE {
            continue;
        }
        let number = pieces.len();
        let here = slice(start);
        let mut found = SliceRegion {
            parent: NONE,
            voxels: 0,
            farthest: (start, length[start]),
            has_children: false,
        };
        piece_of[start] = number;
        let mut waiting = vec![start];
        while let Some(i) = waiting.pop() {
            found.voxels += 1;
            if length[i] > found.farthest.1 {
                found.farthest = (i, length[i]);
            }
            voxels.around(voxels.places[i], |j, _| {
                let there = slice(j);
                if there == here && piece_of[j] == NONE {
                    piece_of[j] = number;
                    waiting.push(j);
                } else if there.saturating_add(1) == here
                    && found.parent == NONE
                    && piece_of[j] != NONE
                {
                    // All slices before this one have their pieces already.
                    found.parent = piece_of[j];
                }
            });
        }
        if found.parent == NONE {
            found.parent = number;
        } else {
            pieces[found.parent].has_children = true;
        }
        pieces.push(found);
    }
    pieces
}

/// Number of the first point of a way at which the largest sphere near its end fits, which touches
/// the end.
fn fits(all: &[Vector3<f64>], depth: &[f64], edge: f64) -> usize {
    let from_end = |i: usize| (all[i] - all[0]).norm();
    let mut widest = 0.0_f64;
    for i in 0..all.len() {
        let reach = 2.0 * widest.max(depth[i]);
        if from_end(i) > reach.max(CORNER_VOXELS * edge) {
            break;
        }
        widest = widest.max(depth[i]);
    }
    (0..all.len())
        .find(|i| from_end(*i) >= widest || depth[*i] >= 0.95 * widest)
        .unwrap_or(0)
}

/// A line from the root to the tip, in the middle of its cross-sections, from where a sphere in
/// the lumen first fits at one end to where it does so at the other.
fn centred(voxels: &Voxels, bvh: &Bvh, line: &[usize]) -> Option<Polyline> {
    let mut all: Vec<Vector3<f64>> = line
        .iter()
        .map(|i| voxels.middle(voxels.places[*i]))
        .collect();
    let mut depth: Vec<f64> = line.iter().map(|i| voxels.depth[*i]).collect();
    let from_tip = fits(&all, &depth, voxels.edge);
    all.reverse();
    depth.reverse();
    let first = fits(&all, &depth, voxels.edge);
    let last = all.len().checked_sub(1 + from_tip)?;
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
        straighten_end(&mut line.points);
        line.points.reverse();
        straighten_end(&mut line.points);
        line.points.reverse();
    }
    Some(line)
}

/// Moves the first point, which no cross-section has centred, onto the straight line that goes on
/// from those behind it: a guide that ends there points along the vessel.
fn straighten_end(points: &mut [Vector3<f64>]) {
    if let [first, second, _, fourth, ..] = points {
        let back = (*second - *fourth).try_normalize(0.0);
        if let Some(back) = back {
            *first = *second + back * (*first - *second).dot(&back).max(0.0);
        }
    }
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
        let Some(near) = bvh.nearest(&p, None) else {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A tube of radius 1 with a flat cap at 0, entered from the corner of wall and cap by voxels of
    /// 0.15: the first one lies 0.02 from the wall, the second 0.1 and a diagonal farther on.
    #[test]
    fn a_line_that_begins_in_a_corner_goes_on_to_where_the_sphere_fits() {
        let edge = 0.15;
        let all: Vec<Vector3<f64>> = (0..20)
            .map(|i| Vector3::new(1.0, 1.0, 1.0) * (edge * f64::from(i)))
            .collect();
        let depth: Vec<f64> = (0..20)
            .map(|i| match i {
                0 => 0.02,
                i => (0.1 + edge * f64::from(i - 1)).min(1.0),
            })
            .collect();
        // The first place as far from the end as the sphere's radius.
        assert_eq!(fits(&all, &depth, edge), 4);
    }
}
