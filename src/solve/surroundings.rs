//! What changes around a wire on its way: something put into the lumen, a guide pointed anew.

use super::insertion::{Insertion, Unresolved};
use super::settings::GuideTip;
use crate::contact::{Contact, Surface, Wall};
use crate::vessel::Lumen;

impl<'a> Insertion<'a> {
    /// Puts something into the lumen that yields as `surface` says, a number being the stiffness of its
    /// foundation in mN/mm²; `around` is the space around it. The wire feels it from the next movement on.
    pub fn obstruct(&mut self, around: &'a dyn Lumen, surface: impl Into<Wall>) {
        let friction = self
            .body
            .contact
            .as_ref()
            .map_or(0.0, |c| c.surface.friction);
        self.add_body(around, surface.into(), friction);
    }

    /// The same for something against which the wire has the Coulomb coefficient `friction`.
    pub(super) fn add_body(&mut self, around: &'a dyn Lumen, surface: Wall, friction: f64) {
        if let Some(wall) = &self.body.contact {
            let surface = Surface {
                wall: surface,
                friction,
                ..wall.surface.clone()
            };
            let rod = &self.body.rod;
            let edges = rod.edges.len() - 1;
            let other = Contact::new(around, surface, rod, edges, true);
            self.body.others.push(other);
            self.body.begin();
        }
    }

    /// Moves the guide with the wire in it, to where `guide` is.
    ///
    /// # Errors
    /// [`Unresolved`]; the guide is left there.
    pub(super) fn move_guide(&mut self, guide: GuideTip) -> Result<(), Unresolved> {
        self.body
            .move_guide(self.intake.exit(), &self.guide_tip, &guide);
        self.guide_tip = guide;
        self.support();
        self.advance(0.0, 0.0, 0)
    }
}
