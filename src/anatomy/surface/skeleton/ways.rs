//! Shortest and cheapest ways through voxels.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::super::voxels::Voxels;

/// Lengths of the steps to the voxels around one, by the squares of their distances in edges.
fn steps(voxels: &Voxels) -> [f64; 4] {
    [0.0, 1.0, 2.0, 3.0].map(|square: f64| voxels.edge * square.sqrt())
}

/// Length in mm of the shortest way from a voxel to each; negative where there is none.
///
/// Voxels wait by whole edges of their lengths: a step is no shorter, so that those of one edge hardly
/// ever shorten each other (R. B. Dial, Algorithm 360, Commun ACM 12:632-633, 1969).
pub(super) fn straight(voxels: &Voxels, root: usize) -> Vec<f64> {
    /// Lists of voxels that wait: a step leads less than two edges on.
    const LISTS: usize = 4;
    let steps = steps(voxels);
    let mut length = vec![f64::INFINITY; voxels.places.len()];
    let mut waiting: [Vec<(f64, u32)>; LISTS] = Default::default();
    length[root] = 0.0;
    waiting[0].push((0.0, u32::try_from(root).unwrap_or(0)));
    let (mut now, mut empty) = (0, 0);
    while empty < LISTS {
        let Some((from, here)) = waiting[now % LISTS].pop() else {
            now += 1;
            empty += 1;
            continue;
        };
        empty = 0;
        let i = here as usize;
        if from > length[i] {
            continue;
        }
        voxels.around(voxels.places[i], |j, square| {
            let new = from + steps[index(square)];
            if new < length[j] {
                length[j] = new;
                let edges = whole_edges(new / voxels.edge).clamp(now, now + LISTS - 1);
                waiting[edges % LISTS].push((new, u32::try_from(j).unwrap_or(0)));
            }
        });
    }
    for l in length.iter_mut().filter(|l| l.is_infinite()) {
        *l = f64::NEG_INFINITY;
    }
    length
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a number of voxels along a way"
)]
fn whole_edges(edges: f64) -> usize {
    edges as usize
}

/// For each voxel the one before on the cheapest way from a voxel, a step costing its length times a
/// price that depends on the distance from the wall (E. W. Dijkstra, Numer Math 1:269-271, 1959).
pub(super) fn ways(voxels: &Voxels, root: usize, price: impl Fn(f64) -> f64) -> Vec<u32> {
    let n = voxels.places.len();
    let mut cost = vec![f64::INFINITY; n];
    let mut before = vec![u32::MAX; n];
    let mut done = vec![false; n];
    let mut waiting = BinaryHeap::new();
    let steps = steps(voxels);
    cost[root] = 0.0;
    waiting.push(Reverse((0_u64, u32::try_from(root).unwrap_or(0))));
    while let Some(Reverse((_, here))) = waiting.pop() {
        let i = here as usize;
        if std::mem::replace(&mut done[i], true) {
            continue;
        }
        voxels.around(voxels.places[i], |j, square| {
            if done[j] {
                return;
            }
            let step = steps[index(square)];
            let depth = (0.5 * (voxels.depth[i] + voxels.depth[j])).max(0.1 * voxels.edge);
            let new = cost[i] + step * price(depth);
            if new < cost[j] {
                cost[j] = new;
                before[j] = here;
                // Bits of a number above 0 order as the number does.
                waiting.push(Reverse((new.to_bits(), u32::try_from(j).unwrap_or(0))));
            }
        });
    }
    before
}

fn index(square: i32) -> usize {
    usize::try_from(square).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector3;

    use super::*;
    use crate::anatomy::surface::{Bvh, Mesh};

    /// Two bars that meet at a corner, and a third that is joined to neither. The slow twin shortens ways
    /// until none becomes shorter.
    #[test]
    fn straight_ways_are_the_shortest() {
        let bars = [
            Mesh::block([0.0, 0.0, 0.0], [3.0, 0.6, 0.6]),
            Mesh::block([2.4, 0.62, 0.0], [3.0, 4.0, 0.6]),
            Mesh::block([0.0, 2.0, 0.0], [1.0, 3.0, 1.0]),
        ];
        let mut mesh = Mesh {
            points: Vec::new(),
            triangles: Vec::new(),
        };
        for bar in bars {
            let first = u32::try_from(mesh.points.len()).unwrap();
            mesh.points.extend(bar.points);
            let numbered = bar.triangles.iter().map(|t| t.map(|i| i + first));
            mesh.triangles.extend(numbered);
        }
        let voxels = Voxels::new(&mesh, &Bvh::new(&mesh), 0.1).unwrap();
        let root = voxels.nearest(&Vector3::zeros()).unwrap();
        let steps = steps(&voxels);
        let mut slow = vec![f64::NEG_INFINITY; voxels.places.len()];
        slow[root] = 0.0;
        let mut changed = true;
        while std::mem::take(&mut changed) {
            for i in 0..slow.len() {
                if slow[i] < 0.0 {
                    continue;
                }
                voxels.around(voxels.places[i], |j, square| {
                    let new = slow[i] + steps[index(square)];
                    if slow[j] < 0.0 || new < slow[j] {
                        slow[j] = new;
                        changed = true;
                    }
                });
            }
        }
        let far = slow.iter().copied().fold(0.0, f64::max);
        assert!(far > 5.0 && slow.iter().any(|l| *l < 0.0), "{far}");
        assert_eq!(straight(&voxels, root), slow);
    }
}
