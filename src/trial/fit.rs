//! Refuses devices that do not fit through the vessels on their way.

use super::prepared::Prepared;
use super::setup::SetupError;
use crate::scenario::model::{CatheterSpec, Scenario};
use crate::technique::Loading;
use crate::vessel::Centreline;

impl Prepared {
    /// Refuses wires that do not fit through the lumen from the guide's end to where the tip
    /// counts as having reached the target.
    pub(super) fn check_fit(&self, guide_branch: usize) -> Result<(), SetupError> {
        let Scenario { guide, .. } = self.scenario();
        let mut at = Some((self.target_branch(), self.reaching().room_mm()));
        while let Some((index, leave_mm)) = at {
            let branch = &self.tree().branches()[index];
            let last = index == guide_branch;
            let from_mm = if last { guide.station_mm } else { 0.0 };
            let to_mm = leave_mm.min(branch.centreline.length_mm());
            let (station_mm, lumen_mm) = narrowest(&branch.centreline, from_mm, to_mm);
            let mut wires = self.scenario().wires.iter();
            if let Some(wire) = wires.find(|w| w.diameter_mm >= lumen_mm) {
                return Err(SetupError::WireTooThick {
                    wire: wire.name.clone(),
                    diameter_mm: wire.diameter_mm,
                    branch: branch.name.clone(),
                    station_mm,
                    lumen_mm,
                    place: wire.place.clone(),
                });
            }
            if let Some(catheter) = self
                .catheters_in(index)
                .find(|c| c.outer_diameter_mm >= lumen_mm)
            {
                return Err(SetupError::CatheterTooThick {
                    catheter: catheter.name.clone(),
                    diameter_mm: catheter.outer_diameter_mm,
                    branch: branch.name.clone(),
                    station_mm,
                    lumen_mm,
                    place: catheter.place.clone(),
                });
            }
            at = branch.parent.filter(|_| !last);
        }
        Ok(())
    }

    /// The catheters that techniques bring into a branch on the way: into the target only those
    /// that are to follow the wire.
    fn catheters_in(&self, branch: usize) -> impl Iterator<Item = &CatheterSpec> {
        let techniques = self.scenario().techniques.iter();
        techniques.filter_map(move |technique| {
            let (index, follows) = match technique.plan.needs().loading {
                Loading::Guide => return None,
                Loading::Catheter { index, follows, .. } => (index, follows),
                Loading::SidePort { carrier, .. } => (carrier.catheter, false),
            };
            let catheter = self.scenario().catheters.get(index)?;
            (branch != self.target_branch() || follows).then_some(catheter)
        })
    }
}

/// Station in mm of the narrowest place of a stretch of a centreline, and the lumen's diameter
/// there in mm: looked for every twentieth of a millimetre, then between the two neighbours of the
/// narrowest place found.
fn narrowest(centreline: &Centreline, from_mm: f64, to_mm: f64) -> (f64, f64) {
    const SPACING_MM: f64 = 0.05;
    const THIRDS: u32 = 40;
    let diameter = |station: f64| 2.0 * centreline.radius(station);
    let mut best = (from_mm, diameter(from_mm));
    let mut look = |station: f64| {
        let found = diameter(station);
        // Rounding makes no place of an even tube its narrowest.
        if found < best.1 * (1.0 - 1e-9) {
            best = (station, found);
        }
        best.0
    };
    let pieces = ((to_mm - from_mm) / SPACING_MM).ceil().max(1.0);
    let spacing_mm = (to_mm - from_mm) / pieces;
    let mut index = 1.0;
    let mut middle = from_mm;
    while index <= pieces {
        middle = look(from_mm + spacing_mm * index);
        index += 1.0;
    }
    let mut low = (middle - spacing_mm).max(from_mm);
    let mut high = (middle + spacing_mm).min(to_mm);
    for _ in 0..THIRDS {
        let third = (high - low) / 3.0;
        if diameter(low + third) <= diameter(high - third) {
            high -= third;
        } else {
            low += third;
        }
    }
    look(0.5 * (low + high));
    best
}
