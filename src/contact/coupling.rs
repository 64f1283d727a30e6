//! How the friction of a sliding contact changes with its normal force.

use nalgebra::Vector3;

/// The unsymmetric part of a sliding contact's tangent: a matrix of rank one among the unknowns of
/// an edge.
///
/// Equation: with the friction `mu N t`, `t` the direction of sliding, `d(mu N t) = mu t dN + ...`;
/// the first term is what stands here, the rest is the friction's Hessian at fixed `N`.
/// Source: Simo and Laursen, *An augmented Lagrangian treatment of contact problems involving
/// friction*, Computers and Structures 42:97, 1992; Wriggers, *Computational Contact Mechanics*, 2nd
/// ed. 2006, section 5.2 (both from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupling {
    /// First unknown of the edge's first node.
    pub first: usize,
    /// Unknowns from one node to the next.
    pub apart: usize,
    /// Shares of the two nodes in the position of the contact point.
    pub share: [f64; 2],
    /// `mu t`: friction force per normal force (1).
    pub left: Vector3<f64>,
    /// Place of the rotation behind the first node's first unknown, and the friction's moment per
    /// normal force in mm.
    pub spin: (usize, f64),
    /// Change of the normal force with the position of the contact point, in mN/mm.
    pub right: Vector3<f64>,
}

impl Coupling {
    /// Calls `add` with row, column and value of every entry.
    pub fn for_each_entry(&self, mut add: impl FnMut(usize, usize, f64)) {
        let nodes = [self.first, self.first + self.apart];
        for (column, of_column) in nodes.into_iter().zip(self.share) {
            for c in 0..3 {
                let change = of_column * self.right[c];
                for (row, of_row) in nodes.into_iter().zip(self.share) {
                    for r in 0..3 {
                        add(row + r, column + c, of_row * self.left[r] * change);
                    }
                }
                add(self.first + self.spin.0, column + c, self.spin.1 * change);
            }
        }
    }
}
