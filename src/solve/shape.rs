//! How the part of a rod outside its guide lies and what acts along it.

use nalgebra::Vector3;
use serde::{Deserialize, Serialize};

use super::body::Body;
use crate::rod::Rod;

/// How a whole wire lies and what acts along it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WireShape {
    /// Length of wire outside the guide, in mm.
    pub fed_mm: f64,
    /// Nodes from the guide's end to the tip, in mm.
    pub nodes_mm: Vec<Vector3<f64>>,
    /// Wall force per node in mN, same order.
    pub wall_force_mn: Vec<f64>,
    /// Wire curvature per node in 1/mm, same order.
    pub curvature_per_mm: Vec<f64>,
    /// Outer diameter per node in mm, same order: the wire's, or that of the catheter over it.
    pub diameter_mm: Vec<f64>,
    /// A catheter ahead of the side port by which the wire has left it, and its first wire.
    #[serde(default)]
    pub beside: Option<Box<WireShape>>,
}

impl WireShape {
    /// What is given for each node, beside its place.
    fn numbers(&mut self) -> [&mut Vec<f64>; 3] {
        [
            &mut self.wall_force_mn,
            &mut self.curvature_per_mm,
            &mut self.diameter_mm,
        ]
    }

    /// Keeps the first `count` nodes.
    pub(super) fn truncate(&mut self, count: usize) {
        self.nodes_mm.truncate(count);
        for numbers in self.numbers() {
            numbers.truncate(count);
        }
    }

    /// The nodes from number `first` on, as the same length outside the guide; the others are left.
    pub(super) fn ahead_of(&self, first: usize) -> Self {
        let mut ahead = self.clone();
        ahead.nodes_mm.drain(..first);
        for numbers in ahead.numbers() {
            numbers.drain(..first);
        }
        ahead
    }

    /// Goes on with the nodes of another.
    pub(super) fn append(&mut self, mut further: Self) {
        self.nodes_mm.append(&mut further.nodes_mm);
        for (own, further) in self.numbers().into_iter().zip(further.numbers()) {
            own.append(further);
        }
    }
}

/// Position in mm of the point of a rod at a distance behind its first node, in mm; node `exit`
/// where no more is outside. `stations` gives the distance of each node from the first.
pub(super) fn behind_front<const S: usize>(
    rod: &Rod<S>,
    stations: &[f64],
    exit: usize,
    distance_mm: f64,
) -> Vector3<f64> {
    let i = stations[..=exit].partition_point(|&x| x < distance_mm);
    match i {
        0 => rod.node(0),
        _ if i > exit => rod.node(exit),
        _ => {
            let share = (distance_mm - stations[i - 1]) / (stations[i] - stations[i - 1]);
            rod.node(i - 1).lerp(&rod.node(i), share)
        }
    }
}

/// Wall force in mN and curvature in 1/mm at the nodes from `exit` to the first.
pub(super) fn along<const S: usize>(body: &Body<'_, S>, exit: usize) -> (Vec<f64>, Vec<f64>) {
    let rod = &body.rod;
    let mut force = vec![0.0; exit + 1];
    if let Some(contact) = &body.contact {
        for active in contact.active_contacts() {
            let point = &contact.points[active.point];
            force[point.edge] += active.normal_force * (1.0 - point.fraction);
            force[(point.edge + 1).min(exit)] += active.normal_force * point.fraction;
        }
    }
    let curvature = |i: usize| {
        let kappa = rod.hinge_curvature(i);
        kappa[0].hypot(kappa[1]) / rod.hinges[i].length
    };
    let mut bent: Vec<f64> = std::iter::once(0.0)
        .chain((1..=exit).map(curvature))
        .collect();
    force.reverse();
    bent.reverse();
    (force, bent)
}
