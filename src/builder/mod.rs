//! Builders: a wire and a vessel in a few lines, without a scenario file.
//!
//! [`WireBuilder`] makes a [`Wire`](crate::device::Wire) from what a catalogue or a bench says.
//! [`VesselBuilder`] makes a [`Vessel`] from straight pieces and arcs. [`Vessel::insert`] puts the
//! wire into the vessel; the hand then feeds and turns it, and forces are read.
//!
//! The builders write the same descriptions ([`WireSpec`](crate::scenario::model::WireSpec),
//! [`VesselSpec`](crate::scenario::model::VesselSpec)) as a scenario file does, and the same checks
//! refuse them. Whatever a builder has no method for can be changed in its `spec()`.
//!
//! Units in this module are those of people: mm, gram-force, GPa, degrees, each named by its method.
//! Forces that are read are in mN, torques in mN mm.

mod vessel;
mod wire;

pub use vessel::{Vessel, VesselBuilder};
pub use wire::WireBuilder;
