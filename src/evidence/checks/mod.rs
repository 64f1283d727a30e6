//! A file for each check.

pub(super) mod bed;
pub(super) mod bend_with_friction;
pub(super) mod bend_without_friction;
pub(super) mod cantilever;
pub(super) mod capstan;
pub(super) mod circle;
pub(super) mod column;
mod cord;
pub(super) mod core;
pub(super) mod curved_cantilever;
mod friction_tube;
pub(super) mod helix;
pub(super) mod interval;
pub(super) mod outcomes;
pub(super) mod plastic_cantilever;
pub(super) mod precurved_wire;
pub(super) mod ring;
pub(super) mod surfaces;
pub(super) mod taper;
pub(super) mod tip_load;
pub(super) mod torque_at_rest;
pub(super) mod two_bent_devices;
pub(super) mod wire_in_catheter;
