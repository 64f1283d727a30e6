//! What is changed around a wire and a catheter: a balloon, the guide's direction, another wire.

use super::{Hands, ROTATIONS, Telescope};
use crate::contact::{Contact, Surface, Wall};
use crate::device::Wire;
use crate::solve::{GuideTip, Unresolved};
use crate::vessel::Lumen;

/// How far inside the catheter the tips of two wires lie when they are exchanged, in mm.
const EXCHANGED_INSIDE_MM: f64 = 1.0;

impl<'a> Telescope<'a> {
    /// Puts something into the lumen that yields as `surface` says, a number being the stiffness of its
    /// foundation in mN/mm²; `around` is the space around it. The devices feel it from the next movement on.
    pub fn obstruct(&mut self, around: &'a dyn Lumen, surface: impl Into<Wall>) {
        let of_body = surface.into();
        if let Some(wall) = &self.body.contact {
            let surface = |s: &Surface| Surface {
                wall: of_body.clone(),
                ..s.clone()
            };
            let of_wire = surface(&wall.surface);
            let mut contact = Contact::new(around, of_wire, &self.body.rod, 0, false);
            contact.cover = surface(&wall.cover);
            let (layout, new) = (&self.layout, vec![None; self.layout.exit]);
            contact.lay(&layout.lengths(), layout.ahead, &new);
            self.body.others.push(contact);
            self.body.begin();
        }
    }

    /// Moves the guide's end with what lies in it; the rest follows with the next movement.
    pub(in crate::solve) fn move_guide(&mut self, guide_tip: GuideTip) {
        self.body
            .move_guide(self.layout.exit, &self.guide_tip, &guide_tip);
        self.guide_tip = guide_tip;
    }

    /// Takes the wire out and brings another through the catheter, which holds its place, to just
    /// inside its tip, with the given roll in rad.
    ///
    /// # Errors
    /// [`Unresolved`] if an equilibrium is missed on the way.
    pub fn exchange_wire(&mut self, wire: &Wire, roll_rad: f64) -> Result<(), Unresolved> {
        self.move_hands(Hands {
            feed_wire: -(self.layout.bare() + EXCHANGED_INSIDE_MM),
            ..Hands::default()
        })?;
        self.layout.take_wire(wire);
        for contact in self.body.contacts_mut() {
            contact.surface.radius = wire.radius_mm();
            contact.surface.friction = wire.friction();
        }
        for i in 0..self.layout.exit + 1 {
            self.body.rod.q[5 * i + ROTATIONS[0]] = -roll_rad;
        }
        self.body.rod.refresh();
        self.layout.renew(&mut self.body.rod);
        let before = self.balance.hand - self.stored();
        self.move_hands(Hands::default())?;
        // The work of the other wire's way through the guide is not the hands' in the vessel.
        self.balance.hand = before + self.stored();
        Ok(())
    }
}
