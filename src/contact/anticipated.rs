//! Contacts as a Newton iteration expects them: which are active, and with what normal force.
//!
//! A wall much stiffer than the wire makes contact almost a constraint: a point that touches in one
//! iterate and not in the next changes the step by orders of magnitude, and a way of 1 µm along a
//! curved wall changes the force of its place by more than all that acts. Which points press, and how
//! hard, is therefore taken from the linearised normal forces, not from the places where a step
//! happened to end: an active point stays active while its force is positive to first order, and it
//! slides and turns as one with that force does. A step begins with the contacts of the last accepted
//! state, moved to the points of the wire that have come to lie there. Of points in a row that touch
//! and were not expected to, only the deepest becomes active in an iteration; the others follow in the
//! next if it does not lift them.
//!
//! An accepted state has no contact that pulls, none left out and none that slides or sticks by
//! another force than that of its place.
//!
//! Source: active sets as in a semismooth Newton method, Hintermueller, Ito and Kunisch, SIAM J. Optim.
//! 13:865, 2002; forces of their own beside the places as in the mixed integration points of Magisano,
//! Leonetti and Garcea, Computer Methods in Applied Mechanics and Engineering 313:1, 2017 (both from
//! memory).

use nalgebra::Vector3;

use super::points::ContactPoint;
use super::wall::Contact;
use crate::vessel::WallPoint;

/// How far a point may lie clear of the wall to count as active, in mm.
const WITHIN_MM: f64 = 0.1;

/// How many edges to either side are looked at for the point that has come to a contact's place.
const NEIGHBOURS: usize = 4;

/// Whose normal forces decide how contacts slide and turn.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Forces {
    /// Those of the present places.
    #[default]
    Present,
    /// Those that are expected, which the present places need not have yet. Of a row of points that
    /// touch unexpectedly, the deepest alone counts.
    Expected,
    /// The same with every point that touches.
    ExpectedOfAll,
}

/// A contact that is active.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Active {
    /// Index of the contact point.
    pub point: usize,
    /// The wall there.
    pub wall: WallPoint,
    /// Expected normal force in mN; 0 where none is expected.
    pub expected: f64,
}

/// What is known of the contacts to come.
#[derive(Debug, Clone, Default)]
pub(super) struct Anticipated {
    /// Which normal forces count.
    pub forces: Forces,
    /// Contacts of the last accepted state: edge (none for the tip), place in mm, normal force in mN.
    held: Vec<(Option<usize>, Vector3<f64>, f64)>,
    /// Of each active contact: the normal force in mN by which it slides and turns, and the change of the one of
    /// its place with its position, in mN/mm.
    pub rates: Vec<(f64, Vector3<f64>)>,
    /// Points that count as active, ascending, and their expected normal force in mN.
    awaited: Vec<(usize, f64)>,
    /// How many points that touch are left out.
    left_out: usize,
}

impl<const S: usize> Contact<'_, S> {
    /// Keeps the contacts of an accepted state with the unknowns `q`.
    pub(super) fn hold(&mut self, q: &[f64]) {
        let held = self.active_contacts.iter().map(|active| {
            let point = &self.points[active.point];
            let edge = (!point.is_tip()).then_some(point.edge);
            (edge, Self::position(point, q), active.normal_force)
        });
        self.anticipated.held.clear();
        self.anticipated.held.extend(held);
    }

    /// Expects the contacts of the last accepted state where they come to lie at the unknowns `q`, from
    /// which a step begins: at the contact point nearest to the place of the old contact, and at the
    /// tip if it was in contact.
    pub fn anticipate_held(&mut self, q: &[f64]) {
        let Anticipated { held, awaited, .. } = &mut self.anticipated;
        awaited.clear();
        for &(edge, place, force) in &*held {
            if edge.is_none() {
                awaited.push((0, force));
            }
            let edge = edge.unwrap_or(0);
            let near = |p: &ContactPoint| p.edge.abs_diff(edge) <= NEIGHBOURS;
            let from = self.points.partition_point(|p| p.edge + NEIGHBOURS < edge);
            let near = self.points[from..].iter().take_while(|p| near(p));
            let apart = near.map(|p| (Self::position(p, q) - place).norm_squared());
            let nearest = apart.enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
            awaited.extend(nearest.map(|(nth, _)| (from + nth, force)));
        }
        awaited.sort_by_key(|a| a.0);
        awaited.dedup_by_key(|a| a.0);
        self.anticipated.forces = Forces::Expected;
    }

    /// Expects what presses after `share` of the change `step` of the unknowns, and of that of a vessel's
    /// control vectors, to first order.
    pub fn anticipate(&mut self, step: &[f64], of_vessel: &[Vector3<f64>], share: f64) {
        let Anticipated { rates, awaited, .. } = &mut self.anticipated;
        awaited.clear();
        for (nth, (active, (force, rate))) in self.active_contacts.iter().zip(&*rates).enumerate() {
            let mut change = rate.dot(&Self::position(&self.points[active.point], step));
            if let Some(hanging) = self.hanging.get(nth) {
                let with = hanging.controls.iter().zip(&hanging.rate);
                change += with.map(|(&j, rate)| rate.dot(&of_vessel[j])).sum::<f64>();
            }
            let force = force + share * (active.normal_force + change - force);
            if force > 0.0 {
                awaited.push((active.point, force));
            }
        }
    }

    /// Takes these normal forces for the derivatives to come.
    pub fn use_forces(&mut self, forces: Forces) {
        self.anticipated.forces = forces;
        if forces == Forces::Present {
            self.anticipated.awaited.clear();
        }
    }

    /// Whether a point that touches was left out of the derivatives added last.
    #[must_use]
    pub fn leaves_out(&self) -> bool {
        self.anticipated.left_out > 0
    }

    /// Whether an anticipated contact pulls on the wire at the state whose derivatives were added last.
    #[must_use]
    pub fn pulls(&self) -> bool {
        self.active_contacts.iter().any(|g| g.depth <= 0.0)
    }

    /// Gives the active contacts of the derivatives added last, at the unknowns `q`, the Coulomb limits of the
    /// normal forces of their places; false where that changes whether one slides.
    pub fn take_present_limits(&mut self, q: &[f64]) -> bool {
        let mut same = true;
        for nth in 0..self.active_contacts.len() {
            let active = self.active_contacts[nth];
            let point = &self.points[active.point];
            let s = self.gathered(&active, q);
            let slid = active.sliding(&s).is_some();
            self.active_contacts[nth].limit =
                self.surface_of(point.layer).friction * active.normal_force;
            same &= slid == self.active_contacts[nth].sliding(&s).is_some();
        }
        same
    }

    /// The points that are active at the unknowns `q`, in their order.
    pub(super) fn activate(&mut self, q: &[f64]) -> Vec<Active> {
        let expected = &self.anticipated.awaited;
        let mut all: Vec<Active> = Vec::with_capacity(self.seen.touching.len() + expected.len());
        let mut left_out = 0;
        let mut last = None;
        let mut touching = self.seen.touching.iter().peekable();
        let mut expected = expected.iter().copied().peekable();
        loop {
            let next = expected.peek().map_or(usize::MAX, |e| e.0);
            if let Some(&(point, wall)) = touching.next_if(|t| t.0 < next) {
                let new = Active {
                    point,
                    wall,
                    expected: 0.0,
                };
                let in_row = last.is_some_and(|last: usize| last + 1 == point);
                last = Some(point);
                match all.last_mut() {
                    Some(row) if in_row && self.anticipated.forces == Forces::Expected => {
                        left_out += 1;
                        if wall.distance_mm > row.wall.distance_mm {
                            *row = new;
                        }
                    }
                    _ => all.push(new),
                }
                continue;
            }
            let Some((point, expected)) = expected.next() else {
                break;
            };
            last = None;
            let at = &self.points[point];
            let margin = self.surface_of(at.layer).radius + WITHIN_MM;
            let wall = match touching.next_if(|t| t.0 == point) {
                Some(&(_, wall)) => Some(wall),
                None => self
                    .lumen
                    .near_wall(&Self::position(at, q), self.time_s, margin),
            };
            if let Some(wall) = wall {
                all.push(Active {
                    point,
                    wall,
                    expected,
                });
            }
        }
        self.anticipated.left_out = left_out;
        all
    }
}
