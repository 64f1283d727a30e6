//! A side port in the catheter's wall: where it lies, and what a wire that leaves through it does
//! to the catheter.

use nalgebra::{Matrix3, Vector3};

use super::layout::{Layout, Pair};
use super::{ROTATIONS, Telescope};
use crate::device::Wire;
use crate::rod::parallel_transport;
use crate::solve::body::{Load, Spring};

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

/// What a wire that leaves through a port does to the catheter there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solve) struct PortLoad {
    pub force: Vector3<f64>,
    /// About the foot of the port, in mN mm.
    pub moment: Vector3<f64>,
    /// By how much the force changes against a movement of the port, in mN/mm; positive
    /// semidefinite. It makes the search for the common equilibrium short and does not change it.
    pub stiffness: Matrix3<f64>,
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
        let load = self.layout.inner.take().and_then(|inner| inner.load);
        self.layout.inner = Some(Inner {
            wire: wire.clone(),
            port,
            bare_mm,
            load,
        });
        self.layout.renew(&mut self.body.rod);
    }

    /// The carried wire presses on the port from the next movement on; `None` takes that away.
    pub(in crate::solve) fn press(&mut self, load: Option<PortLoad>) {
        if let Some(inner) = &mut self.layout.inner {
            inner.load = load;
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

    /// Puts the load of the carried wire on the two nodes beside the port.
    pub(super) fn load_port(&mut self) {
        self.body.loads.clear();
        let Some((port, load)) = self
            .layout
            .inner
            .as_ref()
            .and_then(|inner| inner.load.map(|load| (inner.port, load)))
        else {
            return;
        };
        let (edge, share) = self.layout.at_catheter(port.behind_tip_mm);
        let rod = &self.body.rod;
        let (tangent, length) = (rod.tangent(edge), rod.kinematics().length[edge]);
        // A couple of forces at both ends of the edge makes up the moment across it.
        let couple = load.moment.cross(&tangent) / length;
        let parts = [
            (edge, load.force * (1.0 - share) - couple, 1.0 - share),
            (edge + 1, load.force * share + couple, share),
        ];
        for (node, force, part) in parts {
            for k in 0..3 {
                self.body.loads.push(Load {
                    unknown: 5 * node + k,
                    force: force[k],
                });
            }
            self.body.springs.push(Spring {
                node,
                anchor: rod.node(node),
                stiffness: load.stiffness * part,
            });
        }
        self.body.loads.push(Load {
            unknown: 5 * edge + ROTATIONS[1],
            force: load.moment.dot(&tangent),
        });
    }

    /// Lets the stiffness of the carried wire count from where the port is guessed to go.
    pub(super) fn hold_port(&mut self) {
        let loaded = self.layout.inner.as_ref().is_some_and(|i| i.load.is_some());
        let Pair { rod, springs, .. } = &mut self.body;
        if loaded {
            for spring in springs.iter_mut().rev().take(2) {
                spring.anchor = rod.node(spring.node);
            }
        }
    }
}
