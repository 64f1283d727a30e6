//! A side port in the catheter's wall: where it lies, and what a wire that leaves through it does
//! to the catheter.

use nalgebra::{Matrix3, Matrix6, SMatrix, SVector, Vector3, Vector6};

use super::layout::{Layout, Pair};
use super::{ROTATIONS, Telescope};
use crate::device::Wire;
use crate::rod::parallel_transport;
use crate::solve::body::Joint;

/// Arm in mm at which a force that holds the port back turns the catheter about its axis.
const ARM_MM: f64 = 0.5;

/// Where a side port lies on a catheter and where it points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SidePort {
    /// Distance behind the catheter's tip in mm, above 0.
    pub behind_tip_mm: f64,
    /// Angle in rad between the catheter's forward direction and the one in which a wire leaves.
    pub angle_rad: f64,
    /// Side of the catheter in rad, counted about it from the plane of its material frame.
    pub plane_rad: f64,
}

/// A side port in space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solve) struct PortPose {
    /// Point of the catheter's axis beside the port, in mm.
    pub foot: Vector3<f64>,
    /// Forward direction of the catheter there, a unit vector.
    pub forward: Vector3<f64>,
    /// Unit vector across the catheter, towards the port.
    pub outwards: Vector3<f64>,
    /// Direction in which a wire leaves, a unit vector.
    pub axis: Vector3<f64>,
    /// Unit vector across `axis` from which the rotation of that wire's hand counts: carried
    /// without twist along the catheter from the guide, and round the corner into the port.
    pub unturned: Vector3<f64>,
}

/// How a wire that leaves through a port answers: at the ends of the edge that holds it there, the
/// port's opening and a point behind it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solve) struct PortAnswer {
    /// The two points in mm.
    pub at: [Vector3<f64>; 2],
    /// Forces in mN of the wire on what holds them, one after the other.
    pub force: Vector6<f64>,
    /// By how much these fall when the points are moved, in mN/mm; positive semidefinite.
    pub stiffness: Matrix6<f64>,
    /// Moment in mN mm that the corner into the port takes out of the wire's torque.
    pub corner: Vector3<f64>,
}

/// What that does to the catheter: forces on the two nodes of the edge on which the port lies and a
/// moment about that edge, one after the other, and how much they fall when these move.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solve) struct PortLoad {
    pub force: SVector<f64, 7>,
    pub stiffness: SMatrix<f64, 7, 7>,
    /// Where nodes and rotation were when the wire answered so, in mm (and rad); `None` for where
    /// they are guessed to be.
    pub anchor: Option<SVector<f64, 7>>,
}

impl PortLoad {
    /// The same with a stiffness half way to that of the turn before, if there was one: a wire that
    /// has just left the wall answers with none, and would let the port go all the way back. To
    /// that comes `hold` times the mean stiffness, in every direction.
    #[must_use]
    pub(in crate::solve) fn after(self, before: Option<&Self>, hold: f64) -> Self {
        let before = before.map_or(self.stiffness, |load| load.stiffness);
        let mean = (self.stiffness + before) * 0.5;
        let held = hold * mean.fixed_view::<6, 6>(0, 0).trace() / 6.0;
        let mut directions = SMatrix::identity();
        directions[(6, 6)] = ARM_MM * ARM_MM;
        Self {
            stiffness: mean + directions * held,
            ..self
        }
    }
}

/// A wire inside the catheter that leaves through a port.
#[derive(Debug, Clone)]
pub(super) struct Inner {
    wire: Wire,
    port: SidePort,
    /// Length of it outside the port in mm; negative where its tip is inside.
    bare_mm: f64,
    load: Option<PortLoad>,
}

impl Inner {
    /// Bending compliance from `a` to `b` mm behind the catheter's tip of the catheter, `alone`
    /// there, with this wire where it runs in it. The wire's own shape is left out.
    pub(super) fn stiffened(&self, layout: &Layout, a: f64, b: f64, alone: f64) -> f64 {
        let port = self.port.behind_tip_mm;
        let from = a.max(port - self.bare_mm.min(0.0));
        if from >= b {
            return alone;
        }
        let catheter = layout.catheter.compliance_between(from, b);
        let s = |c: f64| c - port + self.bare_mm;
        let wire = self.wire.compliance_between(s(from), s(b));
        alone - catheter + 1.0 / (1.0 / catheter + 1.0 / wire)
    }
}

impl Telescope<'_> {
    /// A wire runs in the catheter to its side port and `bare_mm` beyond, or stops before it where
    /// that is negative.
    pub(in crate::solve) fn carry(&mut self, wire: &Wire, port: SidePort, bare_mm: f64) {
        self.layout.inner = Some(Inner {
            wire: wire.clone(),
            port,
            bare_mm,
            load: None,
        });
        self.layout.renew(&mut self.body.rod);
    }

    /// The same wire has moved.
    pub(in crate::solve) fn carry_on(&mut self, port: SidePort, bare_mm: f64) {
        if let Some(inner) = &mut self.layout.inner {
            (inner.port, inner.bare_mm) = (port, bare_mm);
        }
        self.layout.renew(&mut self.body.rod);
    }

    /// Counts as in equilibrium by the stiffness of the catheter's tip instead of the wire's.
    pub(in crate::solve) fn judge_by_catheter(&mut self) {
        let catheter = &self.layout.catheter;
        let tip = (catheter.bending_stiffness(0.0), catheter.radius_mm());
        self.options = self.settings.newton_of(tip.0, tip.1);
    }

    /// The carried wire presses on the port from the next movement on; `None` takes that away.
    pub(in crate::solve) fn press(&mut self, load: Option<PortLoad>) {
        if let Some(inner) = &mut self.layout.inner {
            inner.load = load;
        }
    }

    /// Forces and moment beside the port under which the catheter stands.
    pub(in crate::solve) fn pressed(&self) -> SVector<f64, 7> {
        let joint = self.body.joint.as_ref();
        joint.map_or_else(SVector::zeros, |j| j.pull(&self.body.rod.q))
    }

    /// What the wire's answer at the port does to the edge that carries the port. The port moves
    /// and turns with that edge, and with the catheter's rotation on it, as a rigid body does
    /// (small movements).
    pub(in crate::solve) fn load_of(&self, port: &SidePort, answer: &PortAnswer) -> PortLoad {
        let (edge, share) = self.layout.at_catheter(port.behind_tip_mm);
        let rod = &self.body.rod;
        let (tangent, length) = (rod.tangent(edge), rod.kinematics().length[edge]);
        let foot = rod.node(edge).lerp(&rod.node(edge + 1), share);
        let along = Matrix3::identity();
        let mut moved = SMatrix::<f64, 6, 7>::zeros();
        for (k, at) in answer.at.iter().enumerate() {
            let arm = at - foot;
            // (t x d) x r = (t·r) d - t (r·d), with d the movement of one end against the other.
            let turned = (along * tangent.dot(&arm) - tangent * arm.transpose()) / length;
            let parts = [along * (1.0 - share) - turned, along * share + turned];
            for (end, part) in parts.iter().enumerate() {
                moved.fixed_view_mut::<3, 3>(3 * k, 3 * end).copy_from(part);
            }
            let spun = tangent.cross(&arm);
            moved.fixed_view_mut::<3, 1>(3 * k, 6).copy_from(&spun);
        }
        let couple = answer.corner.cross(&tangent) / length;
        let mut force = moved.transpose() * answer.force;
        for k in 0..3 {
            force[k] -= couple[k];
            force[3 + k] += couple[k];
        }
        force[6] += answer.corner.dot(&tangent);
        PortLoad {
            force,
            stiffness: moved.transpose() * answer.stiffness * moved,
            anchor: Some(SVector::from_fn(|k, _| rod.q[unknowns(edge)[k]])),
        }
    }

    /// Where the port lies and points.
    pub(in crate::solve) fn pose(&self, port: &SidePort) -> PortPose {
        let rod = &self.body.rod;
        let (edge, share) = self.layout.at_catheter(port.behind_tip_mm);
        let forward = -rod.tangent(edge);
        let [first, second] = rod.material_frame_of(1, edge);
        // The rod runs from its front backwards, so its frame counts planes the other way round.
        let outwards = first * port.plane_rad.cos() - second * port.plane_rad.sin();
        let axis = forward * port.angle_rad.cos() + outwards * port.angle_rad.sin();
        let guide = self.channel.axis;
        let start = self.channel.reference();
        let mut unturned = (start - guide * start.dot(&guide)).normalize();
        let mut along = guide;
        for next in (edge..self.layout.exit).rev().map(|i| -rod.tangent(i)) {
            unturned = parallel_transport(&unturned, &along, &next);
            along = next;
        }
        PortPose {
            foot: rod.node(edge).lerp(&rod.node(edge + 1), share),
            forward,
            outwards,
            axis,
            unturned: parallel_transport(&unturned, &along, &axis).normalize(),
        }
    }

    /// Puts the load of the carried wire on the edge that carries the port.
    pub(super) fn load_port(&mut self) {
        self.body.joint = None;
        let inner = self.layout.inner.as_ref();
        let Some((port, load)) = inner.and_then(|i| i.load.map(|load| (i.port, load))) else {
            return;
        };
        let (edge, _) = self.layout.at_catheter(port.behind_tip_mm);
        self.body.joint = Some(Joint {
            unknowns: unknowns(edge),
            anchor: SVector::zeros(),
            force: load.force,
            stiffness: load.stiffness,
        });
        self.hold_port();
    }

    /// Lets the load of the carried wire count from where it was found, or from where the port is
    /// guessed to be.
    pub(super) fn hold_port(&mut self) {
        let inner = self.layout.inner.as_ref();
        let found = inner.and_then(|i| i.load).and_then(|load| load.anchor);
        let Pair { rod, joint, .. } = &mut self.body;
        if let Some(joint) = joint {
            joint.anchor = found.unwrap_or_else(|| joint.at(&rod.q));
        }
    }
}

/// The unknowns of an edge's ends and of the catheter's rotation on it.
fn unknowns(edge: usize) -> [usize; 7] {
    let first = 5 * edge;
    let rotation = first + ROTATIONS[1];
    [
        first,
        first + 1,
        first + 2,
        first + 5,
        first + 6,
        first + 7,
        rotation,
    ]
}
