//! What can be read off devices at rest.

use nalgebra::Vector3;

use super::force_history::ForceHistory;
use super::{Assembly, Devices};
use crate::contact::{ContactReading, ContactSummary, Patch};
use crate::rod::Energies;
use crate::solve::balance::EnergyBalance;
use crate::solve::body::{Body, ClampReaction};
use crate::solve::core_flow::CoreSet;
use crate::solve::guided::Readings;
use crate::solve::settings::GuideTip;
use crate::solve::shape::WireShape;
use crate::vessel::VesselReading;

/// A support catheter as a trial reads it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CatheterReading {
    /// Position in mm of its tip, or of the side port by which a second wire leaves it.
    pub tip: Vector3<f64>,
    /// Direction in which its tip points, or the port; a unit vector.
    pub direction: Vector3<f64>,
    /// Length outside the guide up to there in mm.
    pub outside_mm: f64,
    /// Steered or preformed angle of its tip, or angle of the port, in rad.
    pub angle_rad: f64,
    /// Largest wall force on it within one contact patch, in mN.
    pub wall_force: f64,
    /// Push force at its hub in mN, positive when the hand pushes.
    pub push_force: f64,
    /// Torque at its hub in mN mm, positive when the hand turns forward against a resistance.
    pub torque: f64,
    /// Moment in mN mm that holds its steered angle.
    pub steering_moment: f64,
    /// Angle of its hand since the start in rad.
    pub hand_rad: f64,
    /// Angle of its tip about its axis in rad: the hand's angle less the twist in between.
    pub tip_rad: f64,
}

impl<'a> Assembly<'a> {
    /// The guide.
    #[must_use]
    pub fn guide(&self) -> GuideTip {
        self.devices.guided().guide()
    }

    /// How far the guide has backed out in mm.
    #[must_use]
    pub fn backed_out_mm(&self) -> f64 {
        let rod = self.devices.guided();
        rod.guide().backed_out_mm(&rod.guide_end())
    }

    /// Work and losses since the start.
    #[must_use]
    pub fn balance(&self) -> &EnergyBalance {
        &self.balance
    }

    /// Time in s since the devices were brought in, at the hands' speeds.
    #[must_use]
    pub fn time_s(&self) -> f64 {
        self.devices.guided().time_s()
    }

    /// Length of wire outside the guide in mm; of a second wire, along catheter and wire.
    #[must_use]
    pub fn outside_mm(&self) -> f64 {
        match &self.devices {
            Devices::Ported(ported) => ported.outside_mm(),
            devices => devices.guided().outside_mm(),
        }
    }

    /// Position of the wire's tip in mm; inside a catheter, of the catheter's tip or side port.
    #[must_use]
    pub fn tip(&self) -> Vector3<f64> {
        match &self.devices {
            Devices::Ported(ported) => ported.tip(),
            devices => devices.guided().behind_front(0.0),
        }
    }

    /// Position in mm of the point at a distance behind the tip in mm; the guide's end where no more
    /// is outside.
    #[must_use]
    pub fn behind_tip(&self, distance_mm: f64) -> Vector3<f64> {
        match &self.devices {
            Devices::Ported(ported) => ported.behind_tip(distance_mm),
            devices => devices.guided().behind_front(distance_mm),
        }
    }

    /// What has become of the vessel; `None` where it does not give way.
    #[must_use]
    pub fn vessel(&self) -> Option<VesselReading> {
        self.devices.guided().vessel()
    }

    /// Nodes outside the guide, from its end to the tip, in mm.
    #[must_use]
    pub fn shape(&self) -> Vec<Vector3<f64>> {
        match &self.devices {
            Devices::Ported(ported) => ported.shape(),
            devices => devices.guided().shape(),
        }
    }

    /// The whole wire with what acts along it, and with what lies beside it.
    #[must_use]
    pub fn wire_shape(&self) -> WireShape {
        match &self.devices {
            Devices::Ported(ported) => ported.wire_shape(),
            devices => devices.guided().wire_shape(),
        }
    }

    /// Distance in mm of every node of the rod that comes out of the guide from its front, front first.
    #[must_use]
    pub fn stations(&self) -> &[f64] {
        self.devices.guided().stations()
    }

    /// Contact forces of all devices on the vessel's wall.
    #[must_use]
    pub fn contact(&self) -> ContactSummary {
        let guided = self.devices.guided().contact();
        let Devices::Ported(_) = self.devices else {
            return guided;
        };
        // The tip is the second wire's.
        let guided = ContactSummary {
            tip_force: 0.0,
            ..guided
        };
        let second = self.devices.second();
        second.map_or(guided, |wire| wire.contact().with(&guided))
    }

    /// What presses on the vessel's wall within each contact patch, rod by rod; the largest force
    /// among them is that of [`Assembly::contact`].
    #[must_use]
    pub fn patches(&self) -> Vec<Patch> {
        self.devices.rods().flat_map(Readings::patches).collect()
    }

    /// Every active contact with the vessel's wall, rod by rod from the front on.
    #[must_use]
    pub fn contact_readings(&self) -> Vec<ContactReading> {
        let rods = self.devices.rods();
        rods.flat_map(Readings::contact_readings).collect()
    }

    /// What the guide does to the devices at its end: force, and moment about that end.
    #[must_use]
    pub fn clamp_reaction(&self) -> ClampReaction {
        self.devices.guided().clamp_reaction()
    }

    /// Elastic energies of all devices outside the guide in mN mm.
    #[must_use]
    pub fn elastic(&self) -> Energies {
        let guided = self.devices.guided().elastic();
        let second = self.devices.second();
        second.map_or(guided, |wire| guided.with(&wire.elastic()))
    }

    /// All energy that could be got back: devices inside and outside the guide, wall, guide; mN mm.
    #[must_use]
    pub fn stored(&self) -> f64 {
        self.devices.rods().map(Readings::stored).sum()
    }

    /// Largest bending strain of a wire beyond its natural shape over the core's limit, and largest
    /// axial strain.
    #[must_use]
    pub fn strains(&self) -> (f64, f64) {
        let strains = self.devices.rods().map(Readings::strains);
        strains.fold((0.0, 0.0), |(bending, axial), (more, stretch)| {
            (f64::max(bending, more), f64::max(axial, stretch))
        })
    }

    /// Largest friction force over the Coulomb limit `mu N`: 1 where a contact slides, 0 without
    /// friction.
    #[must_use]
    pub fn friction_ratio(&self) -> f64 {
        let between = match &self.devices {
            Devices::Ported(ported) => ported.ratio_beside(),
            Devices::Wire(_) | Devices::Pair(_) => 0.0,
        };
        let ratios = self.devices.rods().map(Readings::friction_ratio);
        ratios.fold(between, f64::max)
    }

    /// Sum of the normal forces in mN between a second wire and the devices beside it.
    #[must_use]
    pub fn force_beside(&self) -> f64 {
        match &self.devices {
            Devices::Ported(ported) => ported.force_beside(),
            Devices::Wire(_) | Devices::Pair(_) => 0.0,
        }
    }

    /// The set that the wire keeps without load, the part in the guide included.
    #[must_use]
    pub fn set(&self) -> CoreSet {
        match &self.devices {
            Devices::Ported(ported) => ported.set(),
            devices => devices.guided().set(),
        }
    }

    /// Push force on the wire in mN, positive when the hand pushes.
    #[must_use]
    pub fn push_force(&self) -> f64 {
        let wire = self.devices.foremost();
        wire.map_or(0.0, |wire| wire.reactions().push[0])
    }

    /// Torque on the wire in mN mm, positive when the hand turns forward against a resistance.
    #[must_use]
    pub fn torque(&self) -> f64 {
        let wire = self.devices.foremost();
        wire.map_or(0.0, |wire| wire.reactions().torque[0])
    }

    /// Angle of the wire's hand since the start in rad.
    #[must_use]
    pub fn hand_rad(&self) -> f64 {
        match &self.devices {
            Devices::Ported(ported) => ported.hand_rad(),
            devices => devices.guided().hands_rad()[0],
        }
    }

    /// Angle of the wire's tip about its axis in rad: the hand's angle less the twist in between.
    #[must_use]
    pub fn tip_rad(&self) -> f64 {
        match &self.devices {
            Devices::Ported(ported) => ported.tip_rad(),
            devices => devices.guided().tips_rad()[0],
        }
    }

    /// The catheter, if there is one.
    #[must_use]
    pub fn catheter(&self) -> Option<CatheterReading> {
        let (pair, (tip, direction), outside_mm, angle_rad) = match &self.devices {
            Devices::Wire(_) => return None,
            Devices::Pair(pair) => (
                pair.as_ref(),
                pair.catheter_tip(),
                pair.catheter_outside_mm(),
                pair.catheter_angle_rad(),
            ),
            Devices::Ported(ported) => (
                &ported.carrier,
                ported.port(),
                ported.port_outside_mm(),
                ported.second.port.angle_rad,
            ),
        };
        let reactions = pair.reactions();
        Some(CatheterReading {
            tip,
            direction,
            outside_mm,
            angle_rad,
            wall_force: pair.catheter_wall_force(),
            push_force: reactions.push[1],
            torque: reactions.torque[1],
            steering_moment: reactions.steer,
            hand_rad: pair.hands_rad()[1],
            tip_rad: pair.tips_rad()[1],
        })
    }

    /// The rod with all that acts on it of a wire that no catheter covers: a wire alone, or a second
    /// wire outside its port.
    #[must_use]
    pub fn wire_body(&self) -> Option<&Body<'a>> {
        match &self.devices {
            Devices::Wire(wire) => Some(&wire.body),
            Devices::Pair(_) => None,
            Devices::Ported(ported) => ported.out.as_ref().map(|wire| &wire.body),
        }
    }

    /// The same, to be changed.
    pub fn wire_body_mut(&mut self) -> Option<&mut Body<'a>> {
        self.forces = ForceHistory::default();
        match &mut self.devices {
            Devices::Wire(wire) => Some(&mut wire.body),
            Devices::Pair(_) => None,
            Devices::Ported(ported) => ported.out.as_mut().map(|wire| &mut wire.body),
        }
    }

    /// The rod with all that acts on it of a wire and a catheter over it.
    #[must_use]
    pub fn pair_body(&self) -> Option<&Body<'a, 5>> {
        match &self.devices {
            Devices::Wire(_) => None,
            Devices::Pair(pair) => Some(&pair.body),
            Devices::Ported(ported) => Some(&ported.carrier.body),
        }
    }

    /// The same, to be changed.
    pub fn pair_body_mut(&mut self) -> Option<&mut Body<'a, 5>> {
        self.forces = ForceHistory::default();
        match &mut self.devices {
            Devices::Wire(_) => None,
            Devices::Pair(pair) => Some(&mut pair.body),
            Devices::Ported(ported) => Some(&mut ported.carrier.body),
        }
    }
}
