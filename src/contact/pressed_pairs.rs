//! The touches of contact points with a round body that lies beside them: what a wire has with other
//! devices and what its two legs have with each other is found and gripped in the same way.

use nalgebra::Vector3;

use super::contact_pair::{ContactPair, Side};
use super::friction::LastLimits;
use super::points::{Memory, Penetration};
use super::wall::Surface;

/// The contact points that are pressed, and their touches.
#[derive(Debug, Clone, Default)]
pub(super) struct PressedPairs {
    /// The points that are pressed where it was looked last.
    pub pressed: Vec<Penetration>,
    /// Touches at the state whose derivatives were added last.
    pub pairs: Vec<ContactPair>,
    last: Vec<ContactPair>,
}

impl PressedPairs {
    /// Makes touches of what is pressed, between two of those surfaces. `point` gives the unknowns on which
    /// both sides depend, the weight of the contact point in mm and its memory; `moved` the movement of
    /// the gap in this step in mm. Friction follows the normal force by the share `friction_relaxation` of its
    /// change.
    pub(super) fn grip<'m>(
        &mut self,
        surface: &Surface,
        friction_relaxation: f64,
        point: impl Fn(&Penetration) -> ([Side; 2], f64, &'m Memory),
        moved: impl Fn(&[Side; 2], usize) -> Vector3<f64>,
    ) {
        std::mem::swap(&mut self.pairs, &mut self.last);
        let mut last = LastLimits::new(self.last.iter().map(|pair| &pair.active));
        let pairs = self.pressed.iter().map(|pressed| {
            let (sides, weight, memory) = point(pressed);
            let ease = |limit| last.eased(pressed.point, limit, friction_relaxation);
            let active = pressed.contact_on((surface, weight), memory, ease);
            let u = moved(&sides, pressed.point);
            ContactPair::new(sides, active, surface.friction, &u)
        });
        self.pairs = pairs.collect();
    }

    /// Elastic displacement in mm that every touch keeps for the next step, with the number of its
    /// contact point, and the energy lost to sliding in mN mm.
    pub(super) fn settled(
        &self,
        moved: impl Fn(&ContactPair) -> Vector3<f64>,
    ) -> (Vec<(usize, Vector3<f64>)>, f64) {
        let mut lost = 0.0;
        let kept = self.pairs.iter().map(|pair| {
            let (kept, loss) = pair.settle(&moved(pair));
            lost += loss;
            (pair.active.point, kept)
        });
        (kept.collect(), lost)
    }

    /// Largest friction force over the Coulomb limit.
    pub(super) fn friction_ratio(
        &self,
        friction: f64,
        moved: impl Fn(&ContactPair) -> Vector3<f64>,
    ) -> f64 {
        let ratio = |pair: &ContactPair| pair.share_of_coulomb(friction, &moved(pair));
        self.pairs.iter().map(ratio).fold(0.0, f64::max)
    }
}
