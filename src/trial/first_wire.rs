//! What lies in the vessel before the wire comes: a first wire past the branching, and the shaft of
//! a balloon that was brought over one.

use nalgebra::{Rotation3, Vector3};

use super::begin::TrialSetup;
use super::route::Route;
use super::standstill::{Standstill, as_commanded};
use super::watch::LEAST_OUTSIDE_MM;
use crate::device::Wire;
use crate::solve::{Assembly, GuideTip, Hands, Start, Unresolved, equal_parts};

/// How often the first wire is fed at most; when it has gone elsewhere or has stopped, it is drawn back and turned.
const TRIES: u32 = 8;
/// Turn of the first wire between tries in rad: the golden angle, which repeats no direction.
const TURN_RAD: f64 = 2.399_963;
/// How far before the place where it went elsewhere or stopped its tip is drawn back, in mm.
const BACK_MM: f64 = 5.0;

/// Why a trial was given up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum GivenUp {
    /// The solver found no equilibrium.
    Unresolved(Unresolved),
    /// The first wire did not come past the branching.
    FirstWire(FirstWireStayed),
}

/// A first wire at the end of its last try.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct FirstWireStayed {
    /// Wire outside the guide in mm.
    pub outside_mm: f64,
    /// From how much wire outside on its tip stayed where it was, in mm; `None` where it went elsewhere.
    pub stopped_from_mm: Option<f64>,
    /// Branch in which its tip lies.
    pub branch: usize,
}

impl From<Unresolved> for GivenUp {
    fn from(unresolved: Unresolved) -> Self {
        Self::Unresolved(unresolved)
    }
}

impl TrialSetup<'_> {
    /// Way from the guide's end to the branching at which the target leaves, in mm.
    pub(super) fn way_mm(&self) -> f64 {
        let tree = self.prepared.tree();
        let parent = tree.branches()[self.prepared.target_branch()].parent;
        let branching = parent.map_or(0.0, |(parent, at)| tree.progress_mm(parent, at));
        branching - self.prepared.guide_progress_mm()
    }

    /// Feeds a wire until `far_mm` of it are outside the guide, past the branching; draws it back,
    /// turns it and feeds it again where it has gone elsewhere or its tip has stopped.
    ///
    /// # Errors
    /// [`GivenUp`] where an equilibrium is not found, or all tries end elsewhere.
    pub(super) fn bring_past(
        &self,
        devices: &mut Assembly<'_>,
        far_mm: f64,
    ) -> Result<(), GivenUp> {
        let tree = self.prepared.tree();
        let route = Route::to(tree, self.prepared.target_branch());
        let mut tries = 0;
        loop {
            tries += 1;
            let stopped_from_mm = self.feed_while_it_goes(devices, far_mm)?;
            let left = route.left_at(tree, &devices.tip());
            let from_mm = match (left, stopped_from_mm) {
                (None, None) => return Ok(()),
                (_, Some(from_mm)) => from_mm,
                (Some((branch, at_mm)), None) => {
                    tree.progress_mm(branch, at_mm) - self.prepared.guide_progress_mm()
                }
            };
            if tries == TRIES {
                return Err(GivenUp::FirstWire(FirstWireStayed {
                    outside_mm: devices.outside_mm(),
                    stopped_from_mm,
                    branch: tree.nearest_tube(&devices.tip(), &mut Vec::new()).0,
                }));
            }
            let back_mm = (from_mm - BACK_MM).max(LEAST_OUTSIDE_MM);
            devices.move_hands(Hands::feed(back_mm - devices.outside_mm()))?;
            devices.move_hands(Hands::turn(TURN_RAD))?;
        }
    }

    /// Feeds a wire until `far_mm` of it are outside the guide, or its tip has stopped: from how much wire
    /// in mm on, if it has.
    fn feed_while_it_goes(
        &self,
        devices: &mut Assembly<'_>,
        far_mm: f64,
    ) -> Result<Option<f64>, Unresolved> {
        let hands = Hands::feed(far_mm - devices.outside_mm());
        let parts = hands.feed_wire.abs() / self.prepared.step_settings().feed_mm;
        let mut standstill = Standstill::default();
        for share in equal_parts(1.0, 1.0 / parts.max(1.0)) {
            devices.move_hands(hands.times(share))?;
            let stopped = standstill.look(as_commanded(devices.outside_mm()), devices.tip());
            if stopped.is_some() {
                return Ok(stopped);
            }
        }
        Ok(None)
    }

    /// Lays the shaft of the technique's balloon where the wire over which it was brought comes to
    /// lie, beside `wire` at the guide's end; false where no shaft shares the lumen.
    pub(super) fn lay_shaft(&self, wire: &Wire) -> Result<bool, GivenUp> {
        let Some(balloon) = &self.technique.aids.balloon else {
            return Ok(false);
        };
        let Some(shaft) = &balloon.shaft else {
            return Ok(false);
        };
        let guide_tip = self.prepared.guide_tip();
        let apart = 0.5 * shaft.diameter_mm + wire.radius_mm();
        let far_mm = self.way_mm() + balloon.beyond_mm + 0.5 * balloon.length_mm;
        let mut first = Assembly::straight(
            self.drawn.wire(shaft.wire),
            self.walled(self.lumen),
            GuideTip {
                exit: guide_tip.exit + self.aside(&guide_tip.axis) * apart,
                backup: None,
                ..guide_tip
            },
            self.prepared.step_settings(),
            Start {
                outside_mm: LEAST_OUTSIDE_MM,
                longest_mm: far_mm,
                roll_rad: self.variation.catheter_roll_rad,
            },
        )?;
        self.bring_past(&mut first, far_mm)?;
        let line = first.shape();
        self.shaft.lay(&line, &vec![shaft.diameter_mm; line.len()]);
        Ok(true)
    }

    /// The side of the guide on which a shaft lies, as drawn.
    fn aside(&self, axis: &Vector3<f64>) -> Vector3<f64> {
        let other = if axis.y.abs() < 0.9 {
            Vector3::y()
        } else {
            Vector3::z()
        };
        let across = axis.cross(&other).normalize();
        Rotation3::new(axis * self.variation.catheter_roll_rad) * across
    }
}
