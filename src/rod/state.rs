//! What a rod is made of and how it lies: unknowns, rest state, reference frames.

use nalgebra::Vector3;

use super::flow::CoreCell;
use super::frames::{any_normal, parallel_transport, signed_angle, unwrap_near};

/// Rest state of one edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Length without load in mm, above 0.
    pub rest_length: f64,
    /// Axial stiffness EA in mN, above 0.
    pub axial_stiffness: f64,
}

/// Rest state of one hinge: the cell that reaches from the middle of one edge to the middle of
/// the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hinge {
    /// Length of the cell in mm, above 0.
    pub length: f64,
    /// Bending compliance `∫ ds / B` over the cell, in 1/(mN mm), above 0.
    pub bending_compliance: f64,
    /// Torsional compliance `∫ ds / C` over the cell, in 1/(mN mm), above 0.
    pub torsional_compliance: f64,
    /// Natural curvature integrated over the cell, in the material frame (1).
    pub natural_curvature: [f64; 2],
    /// Natural twist integrated over the cell, in rad.
    pub natural_twist: f64,
}

impl Hinge {
    /// A straight, uniform cell of `length` mm with bending stiffness `b` and torsional
    /// stiffness `c` in mN mm².
    #[must_use]
    pub fn uniform(length: f64, b: f64, c: f64) -> Self {
        Self {
            length,
            bending_compliance: length / b,
            torsional_compliance: length / c,
            natural_curvature: [0.0; 2],
            natural_twist: 0.0,
        }
    }

    /// A cell of `length` mm in which the device is not there: it resists nothing.
    #[must_use]
    pub fn absent(length: f64) -> Self {
        Self::uniform(length, 0.0, 0.0)
    }

    /// Whether the device is there.
    #[must_use]
    pub fn is_present(&self) -> bool {
        self.bending_compliance < f64::INFINITY
    }

    /// The same cell with natural curvature in 1/mm (constant over the cell).
    #[must_use]
    pub fn curved(mut self, curvature: [f64; 2]) -> Self {
        self.natural_curvature = curvature.map(|k| k * self.length);
        self
    }

    /// Whether the cell is bent without load.
    #[must_use]
    pub fn is_shaped(&self) -> bool {
        self.natural_curvature.iter().any(|k| k.abs() > 0.0)
    }
}

/// Tangents, lengths, frames and reference twists that belong to one set of unknowns.
#[derive(Debug, Clone, Default)]
pub struct Kinematics {
    /// Unit tangent of each edge.
    pub tangent: Vec<Vector3<f64>>,
    /// Length of each edge in mm.
    pub length: Vec<f64>,
    /// First reference director of each edge.
    pub director: Vec<Vector3<f64>>,
    /// Twist of the reference frames from edge `i-1` to edge `i`, in rad (index 0 is unused).
    pub reference_twist: Vec<f64>,
}

/// Elastic energies in mN mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Energies {
    /// Stretch.
    pub stretch: f64,
    /// Bend.
    pub bend: f64,
    /// Twist.
    pub twist: f64,
}

impl Energies {
    /// Sum of the three.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.stretch + self.bend + self.twist
    }

    /// Together with those of another rod.
    #[must_use]
    pub fn with(&self, other: &Self) -> Self {
        Self {
            stretch: self.stretch + other.stretch,
            bend: self.bend + other.bend,
            twist: self.twist + other.twist,
        }
    }
}

/// A discrete elastic rod with its unknowns.
///
/// `S` is 4 for one device and 5 for two that share the centreline: a wire and the catheter that
/// covers it, each with a rotation of its own. `q` holds node `i` at `S i..S i + 3` and the
/// rotations of edge `i` behind it, the wire's first; its length is `S (n - 1) + 3` for `n` nodes.
#[derive(Debug, Clone)]
pub struct Rod<const S: usize = 4> {
    /// Unknowns: positions in mm, rotations in rad.
    pub q: Vec<f64>,
    /// Rest state of the edges, `n - 1`.
    pub edges: Vec<Edge>,
    /// Rest state of the hinges; index `i` belongs to node `i`, the first and the last are not
    /// used.
    pub hinges: Vec<Hinge>,
    /// Rest state of the catheter's hinges, where there are two devices; [`Hinge::absent`] where
    /// it does not cover the wire. Empty for one device.
    pub cover: Vec<Hinge>,
    /// The wire's core in the cell of every hinge; empty for a core that stays elastic.
    pub core: Vec<CoreCell>,
    /// Committed kinematics of `q`.
    pub(super) committed: Kinematics,
}

impl Rod {
    /// A rod at the given node positions, with all edge rotations 0 and reference frames carried
    /// along the rod from `first_director` (made perpendicular to the first edge).
    ///
    /// # Panics
    /// If there are fewer than two nodes, or the number of edges or hinges does not match.
    #[must_use]
    pub fn new(
        nodes: &[Vector3<f64>],
        edges: Vec<Edge>,
        hinges: Vec<Hinge>,
        first_director: Vector3<f64>,
    ) -> Self {
        Self::assembled(nodes, edges, hinges, Vec::new(), first_director)
    }
}

impl Rod<5> {
    /// Two devices on one centreline, at the given node positions: `hinges` is the wire's rest
    /// state and `cover` the catheter's; otherwise as [`Rod::new`].
    ///
    /// # Panics
    /// If there are fewer than two nodes, or the number of edges or hinges does not match.
    #[must_use]
    pub fn covered(
        nodes: &[Vector3<f64>],
        edges: Vec<Edge>,
        hinges: Vec<Hinge>,
        cover: Vec<Hinge>,
        first_director: Vector3<f64>,
    ) -> Self {
        assert!(cover.len() == nodes.len(), "rod arrays do not match");
        Self::assembled(nodes, edges, hinges, cover, first_director)
    }
}

impl<const S: usize> Rod<S> {
    /// Number of devices on the centreline, and of rotations of an edge.
    pub const LAYERS: usize = S - 3;

    fn assembled(
        nodes: &[Vector3<f64>],
        edges: Vec<Edge>,
        hinges: Vec<Hinge>,
        cover: Vec<Hinge>,
        first_director: Vector3<f64>,
    ) -> Self {
        let n = nodes.len();
        assert!(
            n >= 2 && edges.len() == n - 1 && hinges.len() == n,
            "rod arrays do not match"
        );
        let mut q = vec![0.0; S * (n - 1) + 3];
        for (i, x) in nodes.iter().enumerate() {
            q[S * i..S * i + 3].copy_from_slice(x.as_slice());
        }
        let mut committed = Kinematics::default();
        for i in 0..n - 1 {
            let e = nodes[i + 1] - nodes[i];
            let t = e.normalize();
            let d = if i == 0 {
                let d = first_director - t * first_director.dot(&t);
                if d.norm() > 1e-9 {
                    d.normalize()
                } else {
                    any_normal(&t)
                }
            } else {
                parallel_transport(&committed.director[i - 1], &committed.tangent[i - 1], &t)
            };
            committed.tangent.push(t);
            committed.length.push(e.norm());
            committed.director.push(d);
            committed.reference_twist.push(0.0);
        }
        Self {
            q,
            edges,
            hinges,
            cover,
            core: Vec::new(),
            committed,
        }
    }

    /// Number of nodes.
    #[must_use]
    pub fn nodes(&self) -> usize {
        self.edges.len() + 1
    }

    /// Position of node `i` in mm.
    #[must_use]
    pub fn node(&self, i: usize) -> Vector3<f64> {
        node::<S>(&self.q, i)
    }

    /// Sets the position of node `i` in mm.
    pub fn set_node(&mut self, i: usize, x: &Vector3<f64>) {
        self.q[S * i..S * i + 3].copy_from_slice(x.as_slice());
    }

    /// Rotation of edge `i` of the wire about itself in rad.
    #[must_use]
    pub fn theta(&self, i: usize) -> f64 {
        self.q[S * i + 3]
    }

    /// Rest state of hinge `i` of device `layer`: 0 the wire, 1 the catheter.
    #[inline]
    #[must_use]
    pub fn layer(&self, layer: usize, i: usize) -> &Hinge {
        if layer == 0 {
            &self.hinges[i]
        } else {
            &self.cover[i]
        }
    }

    /// Kinematics committed last.
    #[must_use]
    pub fn kinematics(&self) -> &Kinematics {
        &self.committed
    }

    /// Unit tangent of edge `i`.
    #[must_use]
    pub fn tangent(&self, i: usize) -> Vector3<f64> {
        self.committed.tangent[i]
    }

    /// Material directors of edge `i` of the wire (both perpendicular to its tangent).
    #[must_use]
    pub fn material_frame(&self, i: usize) -> [Vector3<f64>; 2] {
        self.material_frame_of(0, i)
    }

    /// Material directors of edge `i` of device `layer`: 0 the wire, 1 the catheter.
    #[must_use]
    pub fn material_frame_of(&self, layer: usize, i: usize) -> [Vector3<f64>; 2] {
        material_frame(&self.committed, i, self.q[S * i + 3 + layer])
    }

    /// Computes the kinematics of the unknowns `q`, with the reference frames carried over from
    /// the committed ones by parallel transport in time (Bergou et al. 2010, section 4).
    pub fn kinematics_of(&self, q: &[f64], out: &mut Kinematics) {
        let m = self.edges.len();
        out.tangent.resize(m, Vector3::zeros());
        out.length.resize(m, 0.0);
        out.director.resize(m, Vector3::zeros());
        out.reference_twist.resize(m, 0.0);
        let mut a = node::<S>(q, 0);
        for i in 0..m {
            let b = node::<S>(q, i + 1);
            let e = b - a;
            let l = e.norm();
            let t = e / l;
            let d = parallel_transport(&self.committed.director[i], &self.committed.tangent[i], &t);
            if i > 0 {
                let carried = parallel_transport(&out.director[i - 1], &out.tangent[i - 1], &t);
                let angle = signed_angle(&carried, &d, &t);
                out.reference_twist[i] = unwrap_near(angle, self.committed.reference_twist[i]);
            }
            out.tangent[i] = t;
            out.length[i] = l;
            out.director[i] = d;
            a = b;
        }
    }

    /// Makes `q` with its kinematics the rod's state. Directors are made exactly perpendicular
    /// again, so that rounding does not gather.
    pub fn commit(&mut self, q: &[f64], kinematics: &mut Kinematics) {
        self.q.copy_from_slice(q);
        for (d, t) in kinematics.director.iter_mut().zip(&kinematics.tangent) {
            *d = (*d - t * d.dot(t)).normalize();
        }
        std::mem::swap(&mut self.committed, kinematics);
    }

    /// Recomputes and commits the kinematics after `q` was changed by hand.
    pub fn refresh(&mut self) {
        let mut kinematics = Kinematics::default();
        let q = self.q.clone();
        self.kinematics_of(&q, &mut kinematics);
        self.commit(&q, &mut kinematics);
    }

    /// Twist of hinge `i` of the wire beyond its natural one, in rad.
    #[must_use]
    pub fn twist(&self, i: usize) -> f64 {
        self.twist_of(0, i)
    }

    /// Twist of hinge `i` of device `layer` (0 the wire, 1 the catheter) beyond its natural one,
    /// in rad.
    #[must_use]
    pub fn twist_of(&self, layer: usize, i: usize) -> f64 {
        twist(self, &self.committed, &self.q, i, layer)
    }
}

/// Position of node `i` in the unknowns `q`.
#[inline]
pub(crate) fn node<const S: usize>(q: &[f64], i: usize) -> Vector3<f64> {
    Vector3::new(q[S * i], q[S * i + 1], q[S * i + 2])
}

/// Material directors of edge `i` with the rotation `theta` (rad).
#[inline]
pub(crate) fn material_frame(kinematics: &Kinematics, i: usize, theta: f64) -> [Vector3<f64>; 2] {
    let (sin, cos) = theta.sin_cos();
    let d1 = kinematics.director[i];
    let d2 = kinematics.tangent[i].cross(&d1);
    [d1 * cos + d2 * sin, d2 * cos - d1 * sin]
}

#[inline]
pub(super) fn twist<const S: usize>(
    rod: &Rod<S>,
    kinematics: &Kinematics,
    q: &[f64],
    i: usize,
    layer: usize,
) -> f64 {
    let at = S * i + 3 + layer;
    q[at] - q[at - S] + kinematics.reference_twist[i] - rod.layer(layer, i).natural_twist
}
