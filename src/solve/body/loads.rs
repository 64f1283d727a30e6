//! Loads on a rod, and what its clamp has to hold.

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
    ///
    /// ```
    /// use bendwise::rod::{Edge, Hinge, Rod};
    /// use bendwise::solve::{Body, Newton, NewtonOptions};
    /// use nalgebra::Vector3;
    ///
    /// // 10 mm of wire along x, B = 100 mN mm², its first edge clamped.
    /// let nodes: Vec<_> = (0..11).map(|i| Vector3::new(f64::from(i), 0.0, 0.0)).collect();
    /// let edges = vec![Edge { rest_length: 1.0, axial_stiffness: 1e4 }; 10];
    /// let hinges = vec![Hinge::uniform(1.0, 100.0, 77.0); 11];
    /// let mut body = Body::new(Rod::new(&nodes, edges, hinges, Vector3::z()));
    /// body.fix_node(0);
    /// body.fix_node(1);
    /// body.fix_rotation(0);
    /// body.add_distributed_load(&Vector3::new(0.0, 0.0, -0.1));
    /// let mut newton = Newton::default();
    /// newton.equilibrate(&mut body, &NewtonOptions::with_tolerance(1e-8))?;
    ///
    /// let held = body.clamp_reaction(0, &newton.gradient, &body.rod.node(0));
    /// assert!((held.force - Vector3::new(0.0, 0.0, 1.0)).norm() < 1e-6); // 10 mm of 0.1 mN/mm
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
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
    /// A couple that is to keep its size while the edge turns has to be set anew as the rod moves:
    /// `body.loads = body.couple_on(edge, 0, &moment)` after each equilibrium, until nothing changes.
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
