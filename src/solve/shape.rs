//! How the part of a rod outside its guide lies and what acts along it.

use nalgebra::Vector3;

use super::body::Body;
use crate::rod::Rod;

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
        for grip in contact.grips() {
            let point = &contact.points[grip.point];
            force[point.edge] += grip.normal_force * (1.0 - point.fraction);
            force[(point.edge + 1).min(exit)] += grip.normal_force * point.fraction;
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
