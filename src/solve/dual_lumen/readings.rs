//! A dual-lumen catheter as a trial moves and reads it: the second wire is the wire, its port is
//! the catheter's tip.

use nalgebra::Vector3;

use super::DualLumen;
use crate::contact::{ContactSummary, Patch, Wall};
use crate::device::Wire;
use crate::rod::Energies;
use crate::solve::core_flow::CoreFlow;
use crate::solve::{
    CatheterReading, CoreSet, EnergyBalance, GuideTip, Hands, Insertion, Rig, Unresolved, WireShape,
};
use crate::vessel::Lumen;

/// How far inside the port the tips of two wires lie when they are exchanged, in mm.
const EXCHANGED_INSIDE_MM: f64 = 1.0;

impl DualLumen<'_> {
    /// Length of catheter outside the guide up to the port, in mm.
    fn port_outside_mm(&self) -> f64 {
        self.carrier.catheter_outside_mm() - self.second.port.behind_tip_mm
    }

    /// Sum of the normal forces in mN between the second wire and the devices beside it.
    #[must_use]
    pub fn force_beside(&self) -> f64 {
        let pairs = self.adjacent.pairs().iter();
        pairs.map(|pair| pair.active.normal_force).sum()
    }

    /// The port's opening in mm and the direction in which a wire leaves it.
    #[must_use]
    pub fn port(&self) -> (Vector3<f64>, Vector3<f64>) {
        let guide_tip = self.guide_tip(&self.pose());
        (guide_tip.exit, guide_tip.axis)
    }
}

impl<'a> Rig<'a> for DualLumen<'a> {
    fn move_hands(&mut self, hands: Hands) -> Result<(), Unresolved> {
        self.move_hands(hands)
    }
    fn obstruct(&mut self, around: &'a dyn Lumen, surface: Wall) {
        self.obstruct(around, surface);
    }
    fn guide(&self) -> GuideTip {
        *self.carrier.guide_tip()
    }
    fn carry_guide(&mut self, guide: GuideTip, back_mm: f64) -> Result<(), Unresolved> {
        self.first_moves = true;
        self.carrier.move_guide(guide);
        let moved = self.move_hands(Hands::together(-back_mm));
        self.first_moves = false;
        moved
    }
    fn exchange_wire(&mut self, wire: &Wire, roll_rad: f64) -> Result<bool, Unresolved> {
        self.move_hands(Hands {
            feed_wire: -(self.bare_mm + EXCHANGED_INSIDE_MM),
            ..Hands::default()
        })?;
        self.second.wire = wire.clone();
        self.kept = CoreFlow::of(wire);
        self.second.roll_rad = roll_rad - self.hand_rad;
        self.adjacent.surface.friction = wire.friction();
        self.move_hands(Hands::default())?;
        Ok(true)
    }
    fn outside_mm(&self) -> f64 {
        self.port_outside_mm() + self.bare_mm
    }
    fn tip(&self) -> Vector3<f64> {
        self.out
            .as_ref()
            .map_or_else(|| self.port().0, Insertion::tip)
    }
    fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        match &self.out {
            Some(wire) if distance_mm < self.bare_mm => wire.behind_tip(distance_mm),
            _ => {
                let behind_port = distance_mm - self.bare_mm.max(0.0);
                let port = self.second.port.behind_tip_mm;
                self.carrier.behind_catheter_tip(port + behind_port)
            }
        }
    }
    fn shape(&self) -> Vec<Vector3<f64>> {
        let mut nodes = self.carrier.shape();
        nodes.truncate(self.carrier.nodes_to(self.second.port.behind_tip_mm));
        match &self.out {
            Some(wire) => nodes.extend(wire.shape()),
            None => nodes.push(self.port().0),
        }
        nodes
    }
    fn lies(&self) -> WireShape {
        let mut behind = Rig::lies(&self.carrier);
        let held = self.carrier.nodes_to(self.second.port.behind_tip_mm);
        // From the last node that is held, so that no gap is left.
        let ahead = behind.ahead_of(held.saturating_sub(1));
        behind.fed_mm = self.outside_mm();
        behind.truncate(held);
        match &self.out {
            Some(wire) => behind.append(Rig::lies(wire)),
            None => behind.append(WireShape {
                fed_mm: 0.0,
                nodes_mm: vec![self.port().0],
                wall_force_mn: vec![0.0],
                curvature_per_mm: vec![0.0],
                diameter_mm: vec![2.0 * self.second.wire.radius_mm()],
                beside: None,
            }),
        }
        behind.beside = Some(Box::new(ahead));
        behind
    }
    fn contact(&self) -> ContactSummary {
        let carrier = ContactSummary {
            tip_force: 0.0,
            ..self.carrier.contact()
        };
        self.out
            .as_ref()
            .map_or(carrier, |wire| wire.contact().with(&carrier))
    }
    fn patches(&self) -> Vec<Patch> {
        let mut patches = self.carrier.patches();
        patches.extend(self.out.iter().flat_map(Insertion::patches));
        patches
    }
    fn elastic(&self) -> Energies {
        let of_wire = self.out.as_ref().map(Insertion::elastic);
        self.carrier.elastic().with(&of_wire.unwrap_or_default())
    }
    fn strains(&self) -> (f64, f64) {
        let (bending, axial) = self.carrier.strains();
        let (more, stretch) = self.out.as_ref().map_or((0.0, 0.0), Insertion::strains);
        (bending.max(more), axial.max(stretch))
    }
    fn friction_ratio(&self) -> f64 {
        let wire = self.out.as_ref().map_or(0.0, Insertion::friction_ratio);
        let between = self.adjacent.settled_ratio();
        self.carrier.body.friction_ratio().max(wire).max(between)
    }
    fn set(&self) -> CoreSet {
        self.out
            .as_ref()
            .map_or_else(|| self.kept.set(&self.second.wire), Insertion::set)
    }
    fn push_force(&self) -> f64 {
        self.out.as_ref().map_or(0.0, Insertion::push_force)
    }
    fn torque(&self) -> f64 {
        self.out.as_ref().map_or(0.0, Insertion::torque)
    }
    fn hand_rad(&self) -> f64 {
        self.hand_rad
    }
    fn tip_rad(&self) -> f64 {
        let twist = |wire: &Insertion<'_>| wire.tip_rad() - wire.hand_rad();
        self.hand_rad + self.out.as_ref().map_or(0.0, twist)
    }
    fn backed_out_mm(&self) -> f64 {
        self.carrier.backed_out_mm()
    }
    fn balance(&self) -> &EnergyBalance {
        &self.balance
    }
    fn catheter(&self) -> Option<CatheterReading> {
        let (tip, direction) = self.port();
        let reactions = self.carrier.reactions();
        Some(CatheterReading {
            tip,
            direction,
            outside_mm: self.port_outside_mm(),
            angle_rad: self.second.port.angle_rad,
            wall_force: self.carrier.catheter_wall_force(),
            push_force: reactions.push[1],
            torque: reactions.torque[1],
        })
    }
}
