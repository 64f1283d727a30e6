//! What is changed around a wire and a catheter: something in the lumen, another wire.

use super::{PairRod, ROTATIONS, fit};
use crate::contact::{Contact, Surface, WalledLumen};
use crate::device::Wire;

impl<'a> PairRod<'a> {
    /// Puts something into the lumen; `around` is the space around it. The devices feel it from the next
    /// movement on.
    pub(in crate::solve) fn obstruct(&mut self, around: &WalledLumen<'a>) {
        if let Some(wall) = &self.body.contact {
            let surface = |s: &Surface| Surface {
                wall: around.wall.clone(),
                ..s.clone()
            };
            let of_wire = surface(&wall.surface);
            let mut contact = Contact::new(around.lumen, of_wire, &self.body.rod, 0, false);
            contact.cover = surface(&wall.cover);
            let (layout, new) = (&self.layout, vec![None; self.layout.exit]);
            contact.lay(&layout.lengths(), layout.ahead, &new);
            self.body.others.push(contact);
            self.body.begin();
        }
    }

    /// Has another wire in the place of the one whose tip is inside the catheter, with the given roll
    /// in rad.
    pub(in crate::solve) fn take_wire(&mut self, wire: &Wire, roll_rad: f64) {
        self.layout.take_wire(wire);
        if let (Some(bore), Some(fit)) = (&mut self.body.bore, fit(wire, &self.layout.catheter)) {
            bore.take_wire(fit);
        }
        self.options = self.settings.newton(wire);
        for contact in self.body.contacts_mut() {
            contact.surface.radius = wire.radius_mm();
            contact.surface.friction = wire.friction();
        }
        for i in 0..self.layout.exit + 1 {
            self.body.rod.q[5 * i + ROTATIONS[0]] = -roll_rad;
        }
        self.body.rod.refresh();
        self.layout.renew(&mut self.body.rod);
    }
}
