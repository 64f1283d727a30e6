//! Closes the holes at the ends of a surface: flat, or behind a piece of tube that leads on
//! straight, so that a wire meets no wall at an open end.

use std::f64::consts::TAU;

use nalgebra::Vector3;

use super::mesh::Mesh;

/// A hole that was closed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct End {
    /// Middle of the hole in mm, or, where the lumen is extended by more than a radius, where a line
    /// through it ends.
    pub middle: Vector3<f64>,
    /// Radius of a circle of the hole's circumference in mm.
    pub radius: f64,
}

/// Closes each hole: flat, or behind a tube that is as many of the hole's radii long as `lead` says.
pub(super) fn close(mesh: &mut Mesh, holes: &[Vec<u32>], lead: &[f64]) -> Vec<End> {
    let mut ends = Vec::with_capacity(holes.len());
    for (number, hole) in holes.iter().enumerate() {
        let around: Vec<Vector3<f64>> = hole.iter().map(|i| mesh.points[*i as usize]).collect();
        let next = |i: usize| (i + 1) % around.len();
        let length: f64 = (0..around.len())
            .map(|i| (around[next(i)] - around[i]).norm())
            .sum();
        // Each point counts by the length of the edges beside it.
        let middle = (0..around.len())
            .map(|i| (around[i] + around[next(i)]) * (0.5 * (around[next(i)] - around[i]).norm()))
            .sum::<Vector3<f64>>()
            / length;
        let radius = length / TAU;
        // Twice the area of the fan around the middle, which faces out of the hole.
        let outwards = (0..around.len())
            .map(|i| (around[i] - middle).cross(&(around[next(i)] - middle)))
            .sum::<Vector3<f64>>();
        let direction = outwards.try_normalize(0.0).unwrap_or_else(Vector3::x);
        let mut rim = hole.clone();
        if lead[number] > 0.0 {
            let edge = length / hole.len() as f64;
            let whole = lead[number] * radius;
            let rings = rings(whole / edge);
            for ring in 1..=rings {
                let far = direction * (whole * f64::from(ring) / f64::from(rings));
                let outer: Vec<u32> = around.iter().map(|p| add(mesh, p + far)).collect();
                for i in 0..rim.len() {
                    let [a, b, c, d] = [rim[i], rim[next(i)], outer[next(i)], outer[i]];
                    mesh.triangles.extend([[a, b, c], [a, c, d]]);
                }
                rim = outer;
            }
        }
        let tip = rim
            .iter()
            .map(|i| mesh.points[*i as usize])
            .sum::<Vector3<f64>>()
            / rim.len() as f64;
        let tip = add(mesh, tip);
        for i in 0..rim.len() {
            mesh.triangles.push([rim[i], rim[next(i)], tip]);
        }
        // A ball in the lumen touches the cap from one radius before it.
        let beyond = (lead[number] - 1.0).max(0.0) * radius;
        ends.push(End {
            middle: middle + direction * beyond,
            radius,
        });
    }
    ends
}

fn add(mesh: &mut Mesh, p: Vector3<f64>) -> u32 {
    let number = u32::try_from(mesh.points.len()).unwrap_or(u32::MAX);
    mesh.points.push(p);
    number
}

/// How many rings of triangles as long as they are wide.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to a small number"
)]
fn rings(ratio: f64) -> u32 {
    ratio.round().clamp(1.0, 200.0) as u32
}
