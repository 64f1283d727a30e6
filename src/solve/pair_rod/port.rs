//! A side port in the catheter's wall: where it lies, and what a wire that leaves through it does
//! to the catheter.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3, Vector6};

use super::layout::PairLayout;
use super::{PairRod, ROTATIONS};
use crate::contact::AdjacentDevices;
use crate::device::Wire;
use crate::rod::{Kinematics, Rod, material_frame, node_of, parallel_transport};
use crate::solve::body::Load;

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
    /// Where the axis of a wire leaves the port, in mm.
    pub opening: Vector3<f64>,
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

/// How the end of a wire hangs on the edge of a catheter that carries its port: the end of the
/// port's channel and a point inside it move as parts of that edge and turn with the catheter's
/// rotation on it.
#[derive(Debug, Clone, Copy)]
pub(in crate::solve) struct Seat {
    port: SidePort,
    edge: usize,
    share: f64,
    off_axis_mm: f64,
    inside_mm: f64,
}

impl Seat {
    /// The unknowns of the edge's ends and of the catheter's rotation on it.
    pub(in crate::solve) fn unknowns(&self) -> [usize; 7] {
        let first = 5 * self.edge;
        [0, 1, 2, 5, 6, 7, ROTATIONS[1]].map(|k| first + k)
    }

    /// A load on the unknowns as dead loads.
    pub(in crate::solve) fn loads(&self, load: &SVector<f64, 7>) -> Vec<Load> {
        let pairs = self.unknowns().into_iter().zip(load);
        pairs
            .map(|(unknown, &force)| Load { unknown, force })
            .collect()
    }

    /// The unknowns' part of `x`.
    pub(in crate::solve) fn of(&self, x: &[f64]) -> SVector<f64, 7> {
        let unknowns = self.unknowns();
        SVector::from_fn(|k, _| x[unknowns[k]])
    }

    /// Adds to the unknowns in `x`.
    pub(in crate::solve) fn add(&self, parts: &SVector<f64, 7>, x: &mut [f64]) {
        for (unknown, part) in self.unknowns().into_iter().zip(parts) {
            x[unknown] += part;
        }
    }

    fn foot(&self, q: &[f64]) -> Vector3<f64> {
        node_of::<5>(q, self.edge).lerp(&node_of::<5>(q, self.edge + 1), self.share)
    }

    /// Forward direction of the catheter, the one across it towards the port, and the one in which a
    /// wire leaves.
    fn directions(&self, q: &[f64], kinematics: &Kinematics) -> [Vector3<f64>; 3] {
        let theta = q[5 * self.edge + ROTATIONS[1]];
        let [first, second] = material_frame(kinematics, self.edge, theta);
        let forward = -kinematics.tangent[self.edge];
        // The rod runs from its front backwards, so its frame counts planes the other way round.
        let outwards = first * self.port.plane_rad.cos() - second * self.port.plane_rad.sin();
        let (sin, cos) = self.port.angle_rad.sin_cos();
        [forward, outwards, forward * cos + outwards * sin]
    }

    /// The two points in mm at the unknowns `q` with their kinematics.
    pub(in crate::solve) fn ends(&self, q: &[f64], kinematics: &Kinematics) -> [Vector3<f64>; 2] {
        let [_, outwards, axis] = self.directions(q, kinematics);
        let opening = self.foot(q) + outwards * self.off_axis_mm;
        [opening, opening - axis * self.inside_mm]
    }

    /// Change of the two points, one after the other, with the unknowns.
    pub(in crate::solve) fn moved(&self, rod: &Rod<5>) -> SMatrix<f64, 6, 7> {
        let (tangent, length) = (rod.tangent(self.edge), rod.kinematics().length[self.edge]);
        let along = Matrix3::identity();
        let mut moved = SMatrix::<f64, 6, 7>::zeros();
        for (k, arm) in self.arms(rod).iter().enumerate() {
            // (t x d) x r = (t·r) d - t (r·d), with d the movement of one end against the other.
            let turned = (along * tangent.dot(arm) - tangent * arm.transpose()) / length;
            let parts = [
                along * (1.0 - self.share) - turned,
                along * self.share + turned,
            ];
            for (end, part) in parts.iter().enumerate() {
                moved.fixed_view_mut::<3, 3>(3 * k, 3 * end).copy_from(part);
            }
            let spun = tangent.cross(arm);
            moved.fixed_view_mut::<3, 1>(3 * k, 6).copy_from(&spun);
        }
        moved
    }

    /// The two points from the foot of the port on the catheter's axis, in mm.
    fn arms(&self, rod: &Rod<5>) -> [Vector3<f64>; 2] {
        let foot = self.foot(&rod.q);
        self.ends(&rod.q, rod.kinematics()).map(|end| end - foot)
    }

    /// Second derivatives by the unknowns of the two points' places, times `forces` on them: the
    /// stiffness that their load gives the edge, in mN/mm (and mN, mN mm).
    ///
    /// Equation: `p = c + r + w x r + w x (w x r) / 2` and, to second order,
    /// `w = t x d / l + θ t - (t x d)(t·d) / l² + θ (d - t (t·d)) / (2 l)`.
    /// Symbols: `p` a point, `c` the foot on the axis, `r` the arm between, `w` the rotation vector of
    /// the edge, `t` and `l` its direction and length, `d` the movement of its second end against its
    /// first, `θ` its rotation, which is about its new direction.
    /// Source: own, from the rotation of a rigid body to second order; checked against differences.
    pub(in crate::solve) fn stiffness(
        &self,
        rod: &Rod<5>,
        forces: &Vector6<f64>,
    ) -> SMatrix<f64, 7, 7> {
        let (t, l) = (rod.tangent(self.edge), rod.kinematics().length[self.edge]);
        // In (d, θ).
        let mut bent = SMatrix::<f64, 4, 4>::zeros();
        let mut turns = SMatrix::<f64, 3, 4>::zeros();
        turns
            .fixed_view_mut::<3, 3>(0, 0)
            .copy_from(&(t.cross_matrix() / l));
        turns.fixed_view_mut::<3, 1>(0, 3).copy_from(&t);
        for (k, r) in self.arms(rod).iter().enumerate() {
            let f: Vector3<f64> = forces.fixed_rows::<3>(3 * k).into_owned();
            let outer = f * r.transpose();
            let about = (outer + outer.transpose()) * 0.5 - Matrix3::identity() * f.dot(r);
            bent += turns.transpose() * about * turns;
            let moment = r.cross(&f);
            let across = moment.cross(&t);
            let slower = (across * t.transpose() + t * across.transpose()) / -(l * l);
            let sideways = (moment - t * t.dot(&moment)) / (2.0 * l);
            let mut own = bent.fixed_view_mut::<3, 3>(0, 0);
            own += slower;
            for c in 0..3 {
                bent[(c, 3)] += sideways[c];
                bent[(3, c)] += sideways[c];
            }
        }
        let mut difference = SMatrix::<f64, 4, 7>::zeros();
        for c in 0..3 {
            (difference[(c, c)], difference[(c, 3 + c)]) = (-1.0, 1.0);
        }
        difference[(3, 6)] = 1.0;
        difference.transpose() * bent * difference
    }

    /// Load on the unknowns of a moment `moment` (mN mm) on the edge.
    pub(in crate::solve) fn couple(&self, rod: &Rod<5>, moment: &Vector3<f64>) -> SVector<f64, 7> {
        let (t, l) = (rod.tangent(self.edge), rod.kinematics().length[self.edge]);
        let pair = moment.cross(&t) / l;
        let mut load = SVector::<f64, 7>::zeros();
        for k in 0..3 {
            (load[k], load[3 + k]) = (-pair[k], pair[k]);
        }
        load[6] = moment.dot(&t);
        load
    }
}

/// A wire inside the catheter that leaves through a port.
#[derive(Debug, Clone)]
pub(super) struct Inner {
    wire: Wire,
    port: SidePort,
    /// Length of it outside the port in mm; negative where its tip is inside.
    bare_mm: f64,
}

impl Inner {
    /// Bending compliance from `a` to `b` mm behind the catheter's tip of the catheter, `alone`
    /// there, with this wire where it runs in it. The wire's own shape is left out.
    pub(super) fn stiffened(&self, layout: &PairLayout, a: f64, b: f64, alone: f64) -> f64 {
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

impl PairRod<'_> {
    /// A wire runs in the catheter to its side port and `bare_mm` beyond, or stops before it where
    /// that is negative.
    pub(in crate::solve) fn carry(&mut self, wire: &Wire, port: SidePort, bare_mm: f64) {
        self.layout.inner = Some(Inner {
            wire: wire.clone(),
            port,
            bare_mm,
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

    /// How a wire hangs on the catheter whose axis leaves the port `off_axis_mm` beside the
    /// catheter's and runs straight over `inside_mm` there.
    pub(in crate::solve) fn seat(&self, port: SidePort, off_axis_mm: f64, inside_mm: f64) -> Seat {
        let (edge, share) = self.layout.at_catheter(port.behind_tip_mm);
        Seat {
            port,
            edge,
            share,
            off_axis_mm,
            inside_mm,
        }
    }

    /// The devices as something that lies beside another wire, in a step in which `feed` mm of
    /// catheter come out of the guide; the guide may be touched up to `back` mm inside.
    pub(in crate::solve) fn devices(&self, feed: f64, back: f64) -> AdjacentDevices {
        let (wire, catheter) = (
            self.layout.wire.radius_mm(),
            self.layout.catheter.radius_mm(),
        );
        AdjacentDevices {
            tip: self.layout.ahead,
            exit: self.layout.exit,
            diameters_mm: [2.0 * wire, 2.0 * catheter],
            back: self.guide_tip.axis * -back,
            inflow: self.guide_tip.axis * feed,
        }
    }

    /// Where the port lies and points.
    pub(in crate::solve) fn pose(&self, seat: &Seat) -> PortPose {
        let rod = &self.body.rod;
        let [forward, outwards, axis] = seat.directions(&rod.q, rod.kinematics());
        let guide = self.guide_tip.axis;
        let start = self.guide_tip.reference();
        let mut unturned = (start - guide * start.dot(&guide)).normalize();
        let mut along = guide;
        for next in (seat.edge..self.layout.exit).rev().map(|i| -rod.tangent(i)) {
            unturned = parallel_transport(&unturned, &along, &next);
            along = next;
        }
        PortPose {
            opening: seat.ends(&rod.q, rod.kinematics())[0],
            forward,
            outwards,
            axis,
            unturned: parallel_transport(&unturned, &along, &axis).normalize(),
        }
    }
}
