//! A folded second wire: its main leg comes out of the side port and runs along the catheter, the
//! fold stands ahead of the catheter's tip, and the free leg lies beside the catheter, back in the
//! guide.

use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

use nalgebra::Vector3;

use super::{IN_GUIDE_MM, PortedPair, SidePort};
use crate::rod::parallel_transport;
use crate::solve::Hands;
use crate::solve::balance::{EnergyBalance, Unresolved};
use crate::solve::guided::Readings;
use crate::solve::pair_rod::PortPose;
use crate::solve::wire_rod::{FoldedStart, WireRod, shape_shares};

/// How far the fold stands ahead of the catheter's tip at the beginning, in mm.
const AHEAD_MM: f64 = 3.0;
/// Parts in which the main leg is turned from along the catheter to the port's direction.
const PARTS: u32 = 10;

/// The catheter as a bed for the two legs, a quarter of its round apart.
struct Bed {
    /// From inside the guide to the tip.
    pieces: Vec<Segment>,
    off_axis_mm: f64,
}

/// A straight piece of the catheter's axis.
struct Segment {
    from: Vector3<f64>,
    forward: Vector3<f64>,
    /// Direction of the main leg from the axis.
    outwards: Vector3<f64>,
    /// Distance of the beginning from the port in mm, negative behind it.
    at_mm: f64,
}

impl Bed {
    /// On the line through `nodes`, up to the catheter's tip.
    fn new(nodes: &[Vector3<f64>], pose: &PortPose, behind_tip_mm: f64, off_axis_mm: f64) -> Self {
        let length = |ends: &[Vector3<f64>]| (ends[1] - ends[0]).norm();
        let whole: f64 = nodes.windows(2).map(length).sum();
        let mut at_mm = behind_tip_mm - whole;
        let mut pieces: Vec<Segment> = nodes
            .windows(2)
            .map(|ends| {
                let piece = Segment {
                    from: ends[0],
                    forward: (ends[1] - ends[0]).normalize(),
                    outwards: pose.outwards,
                    at_mm,
                };
                at_mm += length(ends);
                piece
            })
            .collect();
        let port = pieces.partition_point(|p| p.at_mm <= 0.0).saturating_sub(1);
        let (before, after) = pieces.split_at_mut(port);
        carry(after.iter_mut(), pose);
        carry(before.iter_mut().rev(), pose);
        Self {
            pieces,
            off_axis_mm,
        }
    }

    /// Place `along` mm ahead of the port and `aside` mm from the main leg towards the free one.
    fn place(&self, along: f64, aside: f64) -> Vector3<f64> {
        let behind = self.pieces.partition_point(|p| p.at_mm <= along);
        let piece = &self.pieces[behind.saturating_sub(1)];
        let side = side(&piece.forward, &piece.outwards);
        piece.from
            + piece.forward * (along - piece.at_mm)
            + piece.outwards * self.off_axis_mm
            + side * aside
    }
}

/// Carries the direction of the main leg on from the port without twist.
fn carry<'p>(pieces: impl Iterator<Item = &'p mut Segment>, pose: &PortPose) {
    let (mut outwards, mut along) = (pose.outwards, pose.forward);
    for piece in pieces {
        outwards = parallel_transport(&outwards, &along, &piece.forward);
        along = piece.forward;
        piece.outwards = outwards;
    }
}

/// Direction from the main leg to the free one, which lies a quarter round further.
fn side(forward: &Vector3<f64>, outwards: &Vector3<f64>) -> Vector3<f64> {
    (forward.cross(outwards) - outwards) * FRAC_1_SQRT_2
}

impl PortedPair<'_> {
    /// Lays the second wire out of the port with the middle of its fold, `from_tip_mm` behind its
    /// tip, ahead, and lets it go. The wire's roll is the one with which the fold lies flat on the
    /// catheter.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found on the way there.
    pub(in crate::solve) fn fold_out(
        &mut self,
        from_tip_mm: f64,
        balance: &mut EnergyBalance,
    ) -> Result<(), Unresolved> {
        let port = self.second.port;
        self.second.port = SidePort {
            angle_rad: 0.0,
            ..port
        };
        let pose = self.pose();
        let guide_tip = self.guide_tip(&pose);
        let guide = self.carrier.guide_tip;
        let mut nodes = vec![guide.exit - guide.axis * IN_GUIDE_MM];
        nodes.extend(self.carrier.shape());
        nodes.truncate(self.carrier.nodes_to(0.0) + 2);
        let off_axis_mm = self.off_axis_mm();
        let bed = Bed::new(&nodes, &pose, port.behind_tip_mm, off_axis_mm);
        let fold = FoldedStart {
            from_tip_mm,
            legs_apart_mm: off_axis_mm * SQRT_2,
            ahead_mm: port.behind_tip_mm + AHEAD_MM,
            longest_mm: self.second.longest_mm,
            roll_rad: 0.0,
        };
        let mut wire = WireRod::folded_on(
            (
                &|along, aside| bed.place(along, aside),
                side(&pose.forward, &pose.outwards),
            ),
            &self.second.wire,
            self.second.lumen.clone(),
            guide_tip,
            self.second.settings,
            fold,
        );
        self.surround(&mut wire);
        let first = wire.director();
        self.second.roll_rad = pose
            .axis
            .cross(&pose.unturned)
            .dot(&first)
            .atan2(pose.unturned.dot(&first));
        self.bare_mm = wire.outside_mm();
        let shapes = wire.shapes();
        self.out = Some(wire);
        for share in shape_shares() {
            if let Some(wire) = &mut self.out {
                wire.give_shape(&shapes, share);
            }
            self.advance_both(Hands::default(), 0.0, 0, balance)?;
        }
        for part in 0..=PARTS {
            let share = f64::from(part) / f64::from(PARTS);
            self.second.port.angle_rad = share * port.angle_rad;
            self.advance(Hands::default(), 0, balance)?;
        }
        Ok(())
    }
}
