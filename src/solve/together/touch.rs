//! What a contact brings between its point on the device and the control vectors of the vessel.

use std::ops::Range;

use nalgebra::{Matrix3x4, Matrix4x3, Vector4};

/// A contact: how its point hangs on the device, and what both do to each other.
#[derive(Debug, Clone)]
pub(super) struct Touch {
    /// First unknown of either node of its edge.
    pub nodes: [usize; 2],
    /// Share of either node in the place of the point; 0 for components that are fixed.
    pub share: [[f64; 3]; 2],
    /// Rotation of the edge, and 1, or 0 where it is fixed.
    pub spin: (usize, f64),
    /// Where its control vectors stand in `Together::between`.
    pub between: Range<usize>,
}

/// What a contact brings between its point and a touched control vector.
#[derive(Debug, Clone)]
pub(super) struct Between {
    /// Place of the components of the control vector.
    pub at: usize,
    /// Change of force and moment on the point with the control vector.
    pub of_point: Matrix4x3<f64>,
    /// Change of the force on the control vector with place and rotation of the point.
    pub on_axes: Matrix3x4<f64>,
}

impl Touch {
    /// Place (component 0 to 2) or rotation (3) of the point by the unknowns of the device, in `K` columns.
    pub(super) fn of<const K: usize>(&self, component: usize, x: &[[f64; K]]) -> [f64; K] {
        if component == 3 {
            return x[self.spin.0].map(|x| self.spin.1 * x);
        }
        let [a, b] = self.nodes.map(|node| &x[node + component]);
        let [s, t] = self.share.map(|share| share[component]);
        std::array::from_fn(|k| s * a[k] + t * b[k])
    }

    /// The same of one column, all four.
    pub(super) fn of_all(&self, x: &[f64]) -> Vector4<f64> {
        Vector4::from_fn(|component, _| {
            if component == 3 {
                return self.spin.1 * x[self.spin.0];
            }
            let nodes = self.nodes.iter().zip(self.share);
            nodes
                .map(|(node, s)| s[component] * x[node + component])
                .sum()
        })
    }
}
