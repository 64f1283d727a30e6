//! A wire that is folded back on itself and enters with the fold ahead.
//!
//! At the beginning the fold stands just outside the guide and the free leg lies beside the main
//! leg, back in the guide. It is put there without stress, on a path of straight legs and a half
//! circle, and then given its own shape in small parts, each brought to equilibrium.

use nalgebra::Vector3;

use super::WireRod;
use super::layout::WireLayout;
use crate::contact::{SelfContact, WalledLumen};
use crate::device::Wire;
use crate::rod::Rod;
use crate::solve::balance::{EnergyBalance, Unresolved};
use crate::solve::guided::{Layout, Readings};
use crate::solve::{GuideTip, Hands, StepSettings};

/// Parts in which the wire is given its shape.
const PARTS: u32 = 20;

/// How a folded wire stands in its guide at the beginning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoldedStart {
    /// Distance of the middle of the fold from the tip in mm, above 0.
    pub from_tip_mm: f64,
    /// Distance of the two legs' axes in mm at the beginning, above the wire's diameter.
    pub legs_apart_mm: f64,
    /// How far the fold stands out of the guide in mm, above the distance of the legs.
    pub ahead_mm: f64,
    /// Greatest length that will ever be outside the guide, free leg and all, in mm.
    pub longest_mm: f64,
    /// Roll of the wire in rad, positive right-handed about the forward direction.
    pub roll_rad: f64,
}

impl FoldedStart {
    fn radius(&self) -> f64 {
        0.5 * self.legs_apart_mm
    }

    /// Length of the main leg up to the beginning of the fold.
    fn main_mm(&self) -> f64 {
        self.ahead_mm - self.radius()
    }

    /// Length of wire from the guide's end through the fold to the tip.
    fn outside_mm(&self) -> f64 {
        self.main_mm() + std::f64::consts::FRAC_PI_2 * self.radius() + self.from_tip_mm
    }

    /// Place on the path at `behind` mm from the guide's end: (along the axis, across it).
    fn path(&self, behind: f64) -> (f64, f64) {
        let (main, radius) = (self.main_mm(), self.radius());
        let turned = (behind - main) / radius;
        if turned <= 0.0 {
            (behind, 0.0)
        } else if turned < std::f64::consts::PI {
            (main + radius * turned.sin(), radius * (1.0 - turned.cos()))
        } else {
            let back = behind - main - std::f64::consts::PI * radius;
            (main - back, 2.0 * radius)
        }
    }
}

impl<'a> WireRod<'a> {
    /// A folded wire, let go to its equilibrium in a lumen to which the guide belongs. The legs of
    /// the wire touch from then on.
    ///
    /// # Errors
    /// [`Unresolved`] if no equilibrium is found on the way there.
    pub(in crate::solve) fn folded(
        wire: &Wire,
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        fold: FoldedStart,
        balance: &mut EnergyBalance,
    ) -> Result<Self, Unresolved> {
        let layout = WireLayout::new(wire, settings.edge_mm, fold.outside_mm(), fold.longest_mm);
        let side = own_side(&layout, wire, &guide_tip, &fold);
        let rod = lay(&layout, &guide_tip, &fold, side);
        let mut out = Self::laid(rod, lumen, guide_tip, settings, (layout, fold));
        out.take_shape(balance)?;
        balance.hand = out.stored();
        Ok(out)
    }

    /// The same laid on something: `bed` gives the place in mm at a distance ahead of the guide's
    /// end and a distance of the free leg's side from the main leg's, both in mm; `side` is that
    /// side at the guide's end (a unit vector across its axis). The wire is rolled so that it bends
    /// there on its own, and is not let go yet.
    pub(in crate::solve) fn folded_on(
        (bed, side): (&dyn Fn(f64, f64) -> Vector3<f64>, Vector3<f64>),
        wire: &Wire,
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        mut fold: FoldedStart,
    ) -> Self {
        let layout = WireLayout::new(wire, settings.edge_mm, fold.outside_mm(), fold.longest_mm);
        let own = own_side(&layout, wire, &guide_tip, &fold);
        // The free leg runs backwards, so a roll forward turns the side to which it bends back.
        fold.roll_rad -= guide_tip.axis.dot(&own.cross(&side)).atan2(own.dot(&side));
        let rod = layout.rod_along(&guide_tip, fold.roll_rad, |behind| {
            let (along, aside) = fold.path(behind);
            bed(along, aside) - guide_tip.exit
        });
        Self::laid(rod, lumen, guide_tip, settings, (layout, fold))
    }

    /// A wire that was laid out with its fold, not let go yet.
    fn laid(
        rod: Rod,
        lumen: WalledLumen<'a>,
        guide_tip: GuideTip,
        settings: StepSettings,
        (layout, fold): (WireLayout, FoldedStart),
    ) -> Self {
        let surface = settings.surface(layout.wire(), lumen.wall.clone());
        let self_contact = SelfContact::new(&surface, layout.stations(), middle(&layout, &fold));
        let mut out = Self::of(lumen, guide_tip, settings, layout, rod);
        out.body.self_contact = Some(self_contact);
        out
    }

    /// Takes the wire from the shape in which it lies to its own.
    fn take_shape(&mut self, balance: &mut EnergyBalance) -> Result<(), Unresolved> {
        let shapes = self.shapes();
        shape_shares().try_for_each(|share| {
            self.give_shape(&shapes, share);
            self.advance(Hands::default(), 0, balance)
        })
    }

    /// Curvature with which the wire lies at every node, and its own.
    pub(in crate::solve) fn shapes(&self) -> Vec<[[f64; 2]; 2]> {
        let rod = &self.body.rod;
        let laid = |i: usize| match i {
            0 => [0.0; 2],
            i => rod.hinge_curvature(i),
        };
        let own = |i: usize| rod.hinges[i].natural_curvature;
        (0..=self.layout.exit())
            .map(|i| [laid(i), own(i)])
            .collect()
    }

    /// Gives the wire a natural shape between the two, at `share` of the way to its own.
    pub(in crate::solve) fn give_shape(&mut self, shapes: &[[[f64; 2]; 2]], share: f64) {
        for (hinge, [laid, own]) in self.body.rod.hinges.iter_mut().zip(shapes) {
            hinge.natural_curvature = [0, 1].map(|k| laid[k] + share * (own[k] - laid[k]));
        }
    }
}

/// Shares of the way from the shape in which a wire is laid to its own, one after the other.
pub(in crate::solve) fn shape_shares() -> impl Iterator<Item = f64> {
    (1..=PARTS).map(|part| f64::from(part) / f64::from(PARTS))
}

/// Number of the node in the middle of the fold.
fn middle(layout: &WireLayout, fold: &FoldedStart) -> usize {
    layout.stations().partition_point(|&s| s < fold.from_tip_mm)
}

/// The wire on the fold's path, with its free leg on the side `side` of the main leg.
fn lay(layout: &WireLayout, guide_tip: &GuideTip, fold: &FoldedStart, side: Vector3<f64>) -> Rod {
    layout.rod_along(guide_tip, fold.roll_rad, |behind| {
        let (along, aside) = fold.path(behind);
        guide_tip.axis * along + side * aside
    })
}

/// The side to which a wire of this shape and roll bends on its own at the fold.
fn own_side(
    layout: &WireLayout,
    wire: &Wire,
    guide_tip: &GuideTip,
    fold: &FoldedStart,
) -> Vector3<f64> {
    let across = across(guide_tip, fold.roll_rad);
    let natural = wire.natural_curvature(fold.from_tip_mm);
    let bent = lay(layout, guide_tip, fold, across).hinge_curvature(middle(layout, fold));
    let turn = natural[1].atan2(natural[0]) - bent[1].atan2(bent[0]);
    nalgebra::Rotation3::new(guide_tip.axis * -turn) * across
}

/// A direction across the guide's axis.
fn across(guide_tip: &GuideTip, roll: f64) -> Vector3<f64> {
    let axis = guide_tip.axis;
    let start = guide_tip.reference();
    let square = (start - axis * start.dot(&axis)).normalize();
    nalgebra::Rotation3::new(axis * roll) * square
}
