//! Work, losses and the solver's effort in sum, and a step that was not found.

use super::body::Losses;
use super::release::Released;
use super::search::NewtonFailure;

/// What has been put in and where it went since the start, in mN mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct EnergyBalance {
    /// Work of the hand, feeding and turning.
    pub hand: f64,
    /// Work of a vessel that moves by itself.
    pub vessel: f64,
    /// Lost to sliding friction.
    pub friction: f64,
    /// Lost to damping.
    pub damping: f64,
    /// Lost to flow of the core.
    pub yielding: f64,
    /// Accepted steps.
    pub steps: u32,
    /// Newton iterations, those of rejected steps included.
    pub iterations: u32,
    /// Active contacts at the end of every accepted step, added up.
    pub contacts: u64,
    /// Steps that were rejected and halved.
    pub halved: u32,
    /// Steps in which the wire was followed in time until it came to rest.
    pub released: u32,
}

impl EnergyBalance {
    /// Takes note of a step that was followed in time after it had failed otherwise.
    pub(super) fn release(&mut self, failure: NewtonFailure, released: &Released) {
        self.iterations += failure.iterations() + released.equilibrium.iterations;
        self.lose(&released.lost);
        self.released += 1;
    }

    /// Adds what was lost in a step.
    pub(super) fn lose(&mut self, losses: &Losses) {
        self.friction += losses.sliding;
        self.damping += losses.damping;
        self.yielding += losses.yielding;
    }

    /// Adds what another device put in and lost.
    pub(super) fn add(&mut self, other: &Self) {
        self.hand += other.hand;
        self.vessel += other.vessel;
        self.friction += other.friction;
        self.damping += other.damping;
        self.yielding += other.yielding;
        self.steps += other.steps;
        self.iterations += other.iterations;
        self.contacts += other.contacts;
        self.halved += other.halved;
        self.released += other.released;
    }
}

/// A step that found no equilibrium however small it was made.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("step at {outside_mm:.2} mm of wire outside the guide: {failure}")]
pub struct Unresolved {
    /// Length of wire outside the guide in mm.
    pub outside_mm: f64,
    /// What the solver said last.
    pub failure: NewtonFailure,
}
