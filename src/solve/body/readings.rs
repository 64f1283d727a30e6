//! What the vessel's wall feels of a body.

use super::Body;
use crate::contact::{Contact, ContactSummary, Patch};
use crate::solve::bore::Bore;

impl<const S: usize> Body<'_, S> {
    /// Contact forces on the vessel's wall; `stations` gives the distance of each node from the front
    /// along the rod in mm.
    pub(in crate::solve) fn on_wall(&self, stations: &[f64]) -> ContactSummary {
        self.forces_of(self.contact.as_ref(), stations)
    }

    /// What presses on the vessel's wall within each contact patch, likewise.
    pub(in crate::solve) fn patches_on_wall(&self, stations: &[f64]) -> Vec<Patch> {
        let contact = self.contact.as_ref();
        contact.map_or_else(Vec::new, |c| c.patches(&self.rod, stations))
    }

    /// Elastic energy in mN mm in the wall, in the first of what lies in the lumen, and in a bore in
    /// which the wire rubs.
    pub(in crate::solve) fn stored_around(&self, stations: &[f64]) -> f64 {
        let obstacle = self.forces_of(self.others.first(), stations);
        let inside = self.bore.as_ref().map_or(0.0, Bore::stored);
        self.on_wall(stations).stored + obstacle.stored + inside
    }

    fn forces_of(&self, contact: Option<&Contact<'_, S>>, stations: &[f64]) -> ContactSummary {
        contact.map_or_else(ContactSummary::default, |c| c.summary(&self.rod, stations))
    }
}
