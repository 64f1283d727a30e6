//! Uniform rods without a wall, and how they are brought to equilibrium.

use crate::evidence::Broken;
use crate::rod::{Edge, Hinge, Rod};
use crate::solve::{Banded, Body, Factor, Load, Newton, NewtonOptions, Update};
use nalgebra::Vector3;

/// Stiffnesses of a uniform rod.
#[derive(Clone, Copy)]
pub struct Stiffness {
    /// Bending in mN mm².
    pub bend: f64,
    /// Torsion in mN mm².
    pub twist: f64,
    /// Axial in mN.
    pub stretch: f64,
}

impl Stiffness {
    /// A rod of bending stiffness `bend`, `bend/twist` as given, that stretches so little on a
    /// length of `length` mm that it counts as inextensible: EA L²/B = 1e7.
    #[must_use]
    pub fn inextensible(bend: f64, bend_over_twist: f64, length: f64) -> Self {
        Self {
            bend,
            twist: bend / bend_over_twist,
            stretch: 1e7 * bend / (length * length),
        }
    }
}

/// A rod through `nodes` whose hinges all are `hinge` and whose edges rest at `edge` mm.
#[must_use]
pub fn uniform(
    nodes: &[Vector3<f64>],
    edge: f64,
    stretch: f64,
    hinge: Hinge,
    first_director: Vector3<f64>,
) -> Rod {
    let edges = vec![
        Edge {
            rest_length: edge,
            axial_stiffness: stretch,
        };
        nodes.len() - 1
    ];
    Rod::new(nodes, edges, vec![hinge; nodes.len()], first_director)
}

/// A straight rod along x of `edges` equal edges, director z. The middle of the first edge is the
/// origin and the last node is `length` from it: the first edge is the clamp, and a clamp of an
/// edge acts at its middle.
#[must_use]
pub fn straight(edges: usize, length: f64, stiffness: Stiffness) -> Rod {
    let h = length / (edges as f64 - 0.5);
    let nodes: Vec<_> = (0..=edges)
        .map(|i| Vector3::x() * ((i as f64 - 0.5) * h))
        .collect();
    let hinge = Hinge::uniform(h, stiffness.bend, stiffness.twist);
    uniform(&nodes, h, stiffness.stretch, hinge, Vector3::z())
}

/// A body whose first edge is clamped: both nodes and its rotation.
#[must_use]
pub fn clamped(rod: Rod) -> Body<'static> {
    let mut body = Body::new(rod);
    body.fix_node(0);
    body.fix_node(1);
    body.fix_rotation(0);
    body
}

/// A straight cantilever of `length` mm with a load across its end, along y, of 0 mN at first.
#[must_use]
pub fn end_loaded(edges: usize, length: f64, stiffness: Stiffness) -> Body<'static> {
    let mut body = clamped(straight(edges, length, stiffness));
    body.update = Update::FromFirstNode;
    body.loads = vec![Load {
        unknown: 4 * edges + 1,
        force: 0.0,
    }];
    body
}

/// Finds the equilibrium to `tolerance` mN and returns the Newton iterations.
///
/// # Errors
///
/// Where none is found.
pub fn settle(newton: &mut Newton, body: &mut Body<'_>, tolerance: f64) -> Result<u32, Broken> {
    let options = NewtonOptions {
        max_iterations: 200,
        max_move: 1e3,
        ..NewtonOptions::with_tolerance(tolerance)
    };
    Ok(newton.equilibrate(body, &options)?.iterations)
}

/// The same for a rod that hardly stretches, where Newton's steps along the curved manifold of
/// unstretched shapes are short: the rod is let stretch at first and stiffened from one
/// equilibrium to the next, to its own axial stiffness in the end.
///
/// # Errors
///
/// Where none is found.
pub fn settle_stiff(
    newton: &mut Newton,
    body: &mut Body<'_>,
    tolerance: f64,
) -> Result<(), Broken> {
    let own: Vec<f64> = body.rod.edges.iter().map(|e| e.axial_stiffness).collect();
    for part in [1e-3, 1e-2, 1e-1, 1.0] {
        for (edge, stiffness) in body.rod.edges.iter_mut().zip(&own) {
            edge.axial_stiffness = part * stiffness;
        }
        settle(newton, body, tolerance)?;
    }
    Ok(())
}

/// Whether the state is a strict minimum: the Hessian of the free unknowns factorises.
#[must_use]
pub fn is_stable(body: &mut Body<'_>) -> bool {
    let (mut gradient, mut hessian, mut factor) =
        (Vec::new(), Banded::default(), Factor::default());
    body.assemble(&mut gradient, &mut hessian);
    for &i in &body.fixed {
        hessian.fix(i, 1.0);
    }
    hessian.factorise(0.0, &mut factor)
}

/// The value between `stable` and `unstable` at which `holds` changes, to a part in 1e9.
///
/// # Errors
///
/// Where it does not hold at the one or holds at the other.
pub fn bisect(
    mut stable: f64,
    mut unstable: f64,
    mut holds: impl FnMut(f64) -> bool,
) -> Result<f64, Broken> {
    if !holds(stable) || holds(unstable) {
        return Err(Broken(format!(
            "nothing changes between {stable} and {unstable}"
        )));
    }
    while (unstable - stable).abs() > 1e-9 * stable.abs() {
        let middle = 0.5 * (stable + unstable);
        if holds(middle) {
            stable = middle;
        } else {
            unstable = middle;
        }
    }
    Ok(0.5 * (stable + unstable))
}

/// Smallest observed order of convergence of errors on meshes that double.
#[must_use]
pub fn order(errors: &[f64]) -> f64 {
    errors
        .windows(2)
        .map(|e| (e[0] / e[1]).abs().log2())
        .fold(f64::INFINITY, f64::min)
}
