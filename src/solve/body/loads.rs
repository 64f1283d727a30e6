//! Loads of one's own on a rod, and what its clamp has to hold.

use nalgebra::Vector3;

use super::{Body, Load};

/// What a clamp does to a rod.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ClampReaction {
    /// Force of the clamp on the rod in mN.
    pub force: Vector3<f64>,
    /// Moment of the clamp on the rod in mN mm about the point that was asked for.
    pub moment: Vector3<f64>,
}

impl<const S: usize> Body<'_, S> {
    /// Adds a dead load of `per_mm` (mN/mm) along the whole rod, as forces on its nodes; an end node
    /// stands for half an edge.
    pub fn add_distributed_load(&mut self, per_mm: &Vector3<f64>) {
        let on_nodes = self.weights().iter().enumerate();
        let loads: Vec<_> = on_nodes
            .flat_map(|(node, length_mm)| {
                let force = per_mm * *length_mm;
                (0..3).map(move |c| Load {
                    unknown: S * node + c,
                    force: force[c],
                })
            })
            .collect();
        self.loads.extend(loads);
    }

    /// The dead loads that make a couple of `moment` (mN mm) on edge `edge` as it lies now: two opposite
    /// forces on its nodes, and a torque on its rotation number `layer` (0 the wire's).
    ///
    /// A couple that is to keep its size while the edge turns has to be laid anew as the rod moves.
    #[must_use]
    pub fn couple_on(&self, edge: usize, layer: usize, moment: &Vector3<f64>) -> Vec<Load> {
        let (tangent, length) = (self.rod.tangent(edge), self.rod.kinematics().length[edge]);
        let pair = moment.cross(&tangent) / length;
        let on = |unknown, force| Load { unknown, force };
        let mut loads = vec![on(S * edge + 3 + layer, moment.dot(&tangent))];
        for c in 0..3 {
            loads.push(on(S * edge + c, -pair[c]));
            loads.push(on(S * (edge + 1) + c, pair[c]));
        }
        loads
    }

    /// What the fixed unknowns from node `first` on hold in the equilibrium with that `gradient` of the
    /// potential, as force and as moment about `about` (mm).
    ///
    /// The gradient at a fixed unknown is the force of the support on it; a rotation's is a torque about
    /// the edge's direction. A guide that backs out holds the rod by a spring as well, which counts.
    #[must_use]
    pub fn clamp_reaction(
        &self,
        first: usize,
        gradient: &[f64],
        about: &Vector3<f64>,
    ) -> ClampReaction {
        let mut reaction = ClampReaction::default();
        let mut pull = |at: Vector3<f64>, force: Vector3<f64>| {
            reaction.force += force;
            reaction.moment += (at - about).cross(&force);
        };
        for &unknown in self.fixed.iter().filter(|&&k| k / S >= first) {
            let (node, c) = (unknown / S, unknown % S);
            if c < 3 {
                pull(self.rod.node(node), Vector3::ith(c, gradient[unknown]));
            }
        }
        for spring in self.springs.iter().filter(|spring| spring.node >= first) {
            let at = self.rod.node(spring.node);
            pull(at, spring.stiffness * (spring.anchor - at));
        }
        for &unknown in self.fixed.iter().filter(|&&k| k / S >= first) {
            if unknown % S >= 3 {
                reaction.moment += self.rod.tangent(unknown / S) * gradient[unknown];
            }
        }
        reaction
    }
}
