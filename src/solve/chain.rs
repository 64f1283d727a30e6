//! A chain of edges put together again from one of its ends.

use nalgebra::Vector3;

use crate::rod::node_of;

/// Replaces the edge vectors in front of node `last` in the unknowns `q` by what `corrected`
/// makes of each (edge number, vector in mm), and puts the nodes together again from that node.
pub(super) fn rebuild<const S: usize>(
    q: &mut [f64],
    last: usize,
    corrected: impl Fn(usize, Vector3<f64>) -> Vector3<f64>,
) {
    let end = node_of::<S>(q, last);
    rebuild_from::<S>(q, last, end, corrected);
}

/// The same with node `last` moved to `end`, in mm, after its edge was taken.
pub(super) fn rebuild_from<const S: usize>(
    q: &mut [f64],
    last: usize,
    mut end: Vector3<f64>,
    corrected: impl Fn(usize, Vector3<f64>) -> Vector3<f64>,
) {
    let mut before = node_of::<S>(q, last);
    q[S * last..S * last + 3].copy_from_slice(end.as_slice());
    for i in (0..last).rev() {
        let start = node_of::<S>(q, i);
        end -= corrected(i, before - start);
        before = start;
        q[S * i..S * i + 3].copy_from_slice(end.as_slice());
    }
}

/// Replaces every edge vector in the unknowns `q` by what `corrected` makes of it, and puts the nodes
/// together again from the first.
pub(super) fn rebuild_onward<const S: usize>(
    q: &mut [f64],
    corrected: impl Fn(usize, Vector3<f64>) -> Vector3<f64>,
) {
    let last = (q.len() - 3) / S;
    let mut before = node_of::<S>(q, 0);
    let mut end = before;
    for i in 0..last {
        let next = node_of::<S>(q, i + 1);
        end += corrected(i, next - before);
        before = next;
        q[S * (i + 1)..S * (i + 1) + 3].copy_from_slice(end.as_slice());
    }
}
