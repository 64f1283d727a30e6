//! The walk over all pairs of triangles whose boxes meet.

use std::sync::atomic::{AtomicU64, Ordering};

use super::{Bvh, Node, box_of};

/// Calls `visit` with all pairs, as [`Bvh::pairs`] says.
pub(super) fn visit(bvh: &Bvh, most: u64, visit: impl Fn(usize, usize) + Sync) -> bool {
    let seen = AtomicU64::new(0);
    let pairs = Pairs {
        bvh,
        visit,
        seen: &seen,
        most,
    };
    pairs.within(0);
    seen.into_inner() <= most
}

/// The walk over all pairs of triangles whose boxes meet.
struct Pairs<'a, V> {
    bvh: &'a Bvh,
    visit: V,
    /// Pairs of boxes of the tree that were looked at so far.
    seen: &'a AtomicU64,
    most: u64,
}

/// From how many triangles on the two sides of a walk go to threads of their own.
const ON_THREADS: u32 = 1 << 12;

impl<V: Fn(usize, usize) + Sync> Pairs<'_, V> {
    /// All pairs within the part of a node.
    fn within(&self, number: u32) {
        let node = &self.bvh.nodes[number as usize];
        if node.count > 0 {
            let all = node.first..node.first + node.count;
            for i in all.clone() {
                (i + 1..all.end).for_each(|j| self.pair(i, j));
            }
            return;
        }
        let [a, b] = self.bvh.children(number);
        let across = || {
            let mut seen = 0;
            self.across(a, b, &mut seen);
            self.seen.fetch_add(seen, Ordering::Relaxed);
        };
        // The first child's nodes stand between it and the second.
        if b - a > ON_THREADS {
            rayon::join(|| rayon::join(|| self.within(a), || self.within(b)), across);
        } else {
            self.within(a);
            self.within(b);
            across();
        }
    }

    /// All pairs between the parts of two nodes.
    fn across(&self, a: u32, b: u32, seen: &mut u64) {
        *seen += 1;
        if seen.is_multiple_of(1 << 16) {
            // Many threads stop soon after all together have seen enough.
            self.seen.fetch_add(std::mem::take(seen), Ordering::Relaxed);
        }
        if self.seen.load(Ordering::Relaxed) > self.most {
            return;
        }
        let (one, other) = (&self.bvh.nodes[a as usize], &self.bvh.nodes[b as usize]);
        if !one.meets(&other.low, &other.high) {
            return;
        }
        match (one.count > 0, other.count > 0) {
            (true, true) => {
                for i in one.first..one.first + one.count {
                    let corners = box_of(&self.bvh.triangle(i));
                    if other.meets(&corners.0, &corners.1) {
                        (other.first..other.first + other.count).for_each(|j| self.pair(i, j));
                    }
                }
            }
            (true, false) => {
                for child in self.bvh.children(b) {
                    self.across(a, child, seen);
                }
            }
            (false, true) => {
                for child in self.bvh.children(a) {
                    self.across(child, b, seen);
                }
            }
            (false, false) => {
                // The larger one is divided first.
                let size = |node: &Node| (node.high - node.low).norm_squared();
                if size(one) >= size(other) {
                    for child in self.bvh.children(a) {
                        self.across(child, b, seen);
                    }
                } else {
                    for child in self.bvh.children(b) {
                        self.across(a, child, seen);
                    }
                }
            }
        }
    }

    fn pair(&self, i: u32, j: u32) {
        let (low, high) = box_of(&self.bvh.triangle(i));
        let (other_low, other_high) = box_of(&self.bvh.triangle(j));
        if (0..3).all(|k| low[k] <= other_high[k] && other_low[k] <= high[k]) {
            let number = |i: u32| self.bvh.order[i as usize] as usize;
            (self.visit)(number(i), number(j));
        }
    }
}
