//! Contacts that a Newton iteration counts as active though they may lie clear of the wall.
//!
//! A wall much stiffer than the wire makes contact almost a constraint: a point that touches in one
//! iterate and not in the next changes the step by orders of magnitude. Which points press is
//! therefore taken from the linearised normal force, not from the place where the step happened to
//! end, as in a semismooth Newton method (Hintermueller, Ito and Kunisch, SIAM J. Optim. 13:865,
//! 2002, from memory): an active point stays active while its force is positive to first order. A
//! step begins with the contacts of the last accepted state, moved to the points of the wire that
//! have come to lie there.
//!
//! An anticipated contact may pull; an accepted state has none that does.

use nalgebra::Vector3;

use super::points::ContactPoint;
use super::wall::Contact;
use crate::vessel::LumenPoint;

/// How far a point may lie clear of the wall to count as active, in mm.
const WITHIN_MM: f64 = 0.1;

/// How many edges to either side are looked at for the point that has come to a contact's place.
const NEIGHBOURS: usize = 4;

/// What is known of the contacts to come.
#[derive(Debug, Clone, Default)]
pub(super) struct Anticipated {
    /// Contacts of the last accepted state: edge (none for the tip), place in mm, normal force in mN.
    held: Vec<(Option<usize>, Vector3<f64>, f64)>,
    /// Change of the normal force of each grip with its position, in mN/mm.
    pub rates: Vec<Vector3<f64>>,
    /// Normal force of each grip in mN, and its change to first order along the present step.
    forecast: Vec<(usize, f64, f64)>,
    /// Points that count as active, ascending, and their expected normal force in mN.
    active: Vec<(usize, f64)>,
}

impl<const S: usize> Contact<'_, S> {
    /// Keeps the contacts of an accepted state with the unknowns `q`.
    pub(super) fn hold(&mut self, q: &[f64]) {
        let held = self.grips.iter().map(|grip| {
            let point = &self.points[grip.point];
            let edge = (!point.is_tip()).then_some(point.edge);
            (edge, Self::position(point, q), grip.normal_force)
        });
        self.anticipated.held.clear();
        self.anticipated.held.extend(held);
    }

    /// Counts the contacts of the last accepted state as active where they come to lie at the unknowns
    /// `q`, from which a step begins: at the contact point nearest to the place of the old contact, and
    /// at the tip if it was in contact.
    pub fn anticipate_held(&mut self, q: &[f64]) {
        let Anticipated { held, active, .. } = &mut self.anticipated;
        active.clear();
        for &(edge, place, force) in &*held {
            if edge.is_none() {
                active.push((0, force));
            }
            let edge = edge.unwrap_or(0);
            let near = |p: &ContactPoint| p.edge.abs_diff(edge) <= NEIGHBOURS;
            let from = self.points.partition_point(|p| p.edge + NEIGHBOURS < edge);
            let near = self.points[from..].iter().take_while(|p| near(p));
            let apart = near.map(|p| (Self::position(p, q) - place).norm_squared());
            let nearest = apart.enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
            active.extend(nearest.map(|(nth, _)| (from + nth, force)));
        }
        active.sort_by_key(|a| a.0);
        active.dedup_by_key(|a| a.0);
    }

    /// Foresees the normal forces of the present grips along the change `step` of the unknowns.
    pub fn foresee(&mut self, step: &[f64]) {
        let Anticipated {
            rates, forecast, ..
        } = &mut self.anticipated;
        forecast.clear();
        for (grip, rate) in self.grips.iter().zip(&*rates) {
            let change = rate.dot(&Self::position(&self.points[grip.point], step));
            forecast.push((grip.point, grip.normal_force, change));
        }
    }

    /// Counts as active what presses after that share of the foreseen step, to first order.
    pub fn anticipate(&mut self, share: f64) {
        let Anticipated {
            forecast, active, ..
        } = &mut self.anticipated;
        active.clear();
        for &(point, force, change) in &*forecast {
            let force = force + share * change;
            if force > 0.0 {
                active.push((point, force));
            }
        }
    }

    /// Counts no point as active that does not touch.
    pub fn anticipate_nothing(&mut self) {
        self.anticipated.active.clear();
    }

    /// Whether an anticipated contact pulls on the wire at the state whose derivatives were added last.
    #[must_use]
    pub fn pulls(&self) -> bool {
        self.grips.iter().any(|g| g.depth <= 0.0)
    }

    /// The points that touch or count as active at the unknowns `q`, in their order, with the wall and
    /// the expected normal force in mN (0 where none is expected).
    pub(super) fn active(&self, q: &[f64]) -> Vec<(usize, LumenPoint, f64)> {
        let mut all = Vec::with_capacity(self.seen.touching.len() + self.anticipated.active.len());
        let mut touching = self.seen.touching.iter().peekable();
        for &(index, force) in &self.anticipated.active {
            while let Some(&(other, wall)) = touching.next_if(|t| t.0 < index) {
                all.push((other, wall, 0.0));
            }
            if let Some(&(_, wall)) = touching.next_if(|t| t.0 == index) {
                all.push((index, wall, force));
                continue;
            }
            let point = &self.points[index];
            let margin = self.surface_of(point.layer).radius + WITHIN_MM;
            if let Some(wall) = self.lumen.near_wall(&Self::position(point, q), margin) {
                all.push((index, wall, force));
            }
        }
        all.extend(touching.map(|&(index, wall)| (index, wall, 0.0)));
        all
    }
}
