//! The part of a contact's tangent that is not symmetric: how its friction changes with where it lies.

use nalgebra::{Matrix3, Vector3};

use super::friction::ActiveContact;
use crate::products::outer;

/// Change of the friction of one contact with the position of its point, as far as it is not in the
/// friction's Hessian at fixed normal force and normal.
///
/// Equation: the friction is `mu N t` where it slides, with `t = s / |s|`, and `k s` where it sticks;
/// its change is that of the Hessian, of the normal force, `mu t dN`, and of the plane in which it
/// lies, by `ds = -dn (n·u) - n (dn·s) + (e × dn) r`, `dn` the change of the unit normal.
/// Symbols: `mu`, `N`, `k`, `s` as for [`ActiveContact`]; `u` displacement of the axis in this step, `r` that of
/// the surface by
/// spinning in mm, `e` unit tangent of the edge, whose own change is left out.
/// Source: Simo and Laursen, *An augmented Lagrangian treatment of contact problems involving
/// friction*, Computers and Structures 42:97, 1992; Wriggers, *Computational Contact Mechanics*, 2nd
/// ed. 2006, section 5.2 (both from memory); the second term by differentiation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coupling {
    /// First unknown of the edge's first node.
    pub first: usize,
    /// Unknowns from one node to the next.
    pub apart: usize,
    /// Shares of the two nodes in the position of the contact point.
    pub share: [f64; 2],
    /// Change of the friction with the position of the contact point, in mN/mm.
    pub force: Matrix3<f64>,
    /// Place of the rotation behind the first node's first unknown, and the change of the friction's
    /// moment with the position of the contact point, in mN.
    pub spin: (usize, Vector3<f64>),
}

/// How the wall turns and presses harder along the contact, and how the wire has moved there.
pub(super) struct Along {
    /// Coulomb coefficient.
    pub friction: f64,
    /// Change of the normal force with position, in mN/mm.
    pub rate: Vector3<f64>,
    /// Change of the unit normal with position, in 1/mm.
    pub normal: Matrix3<f64>,
    /// Unit tangent of the edge.
    pub tangent: Vector3<f64>,
    /// Way of the wire's axis against the wall in this step, in mm.
    pub moved: Vector3<f64>,
    /// Way of its surface by spinning in this step, in mm.
    pub rolled: f64,
}

impl Along {
    /// Change of the friction of `grip`, whose displacement is `s` (mm), with the position of its
    /// point, in mN/mm.
    pub(super) fn change(&self, active: &ActiveContact, s: &Vector3<f64>) -> Matrix3<f64> {
        let turned = self.tangent.cross_matrix() * self.normal * self.rolled
            - self.normal * active.normal.dot(&self.moved)
            - outer(&active.normal, &(self.normal.tr_mul(s)));
        match active.sliding(s) {
            None => turned * active.stiffness,
            Some(t) => {
                let across = turned - outer(&t, &(turned.tr_mul(&t)));
                outer(&t, &self.rate) * self.friction + across * (active.limit / s.norm())
            }
        }
    }
}

impl Coupling {
    /// Calls `add` with row, column and value of every entry.
    pub fn for_each_entry(&self, mut add: impl FnMut(usize, usize, f64)) {
        let nodes = [self.first, self.first + self.apart];
        for (column, of_column) in nodes.into_iter().zip(self.share) {
            for c in 0..3 {
                for (row, of_row) in nodes.into_iter().zip(self.share) {
                    for r in 0..3 {
                        add(row + r, column + c, of_row * of_column * self.force[(r, c)]);
                    }
                }
                add(
                    self.first + self.spin.0,
                    column + c,
                    of_column * self.spin.1[c],
                );
            }
        }
    }
}
