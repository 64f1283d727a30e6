//! The catalogue: every check, once, for the tests and for the command.

use super::check::Check;
use super::checks::{
    bed, bend_with_friction, bend_without_friction, cantilever, capstan, circle, column, core,
    curved_cantilever, helix, interval, outcomes, plastic_cantilever, precurved_wire, ring,
    surfaces, taper, tip_load, torque_at_rest, two_bent_devices, wire_in_catheter,
};

/// All checks, in the order of tables. A new one is a file in `checks/` and a line here.
pub const CATALOGUE: &[Check] = &[
    cantilever::CHECK,
    circle::CHECK,
    column::CHECK,
    tip_load::CHECK,
    curved_cantilever::CHECK,
    taper::CHECK,
    helix::CHECK,
    ring::CHECK,
    core::CHECK,
    plastic_cantilever::CHECK,
    bend_without_friction::CHECK,
    bend_with_friction::CHECK,
    interval::CHECK,
    capstan::CHECK,
    surfaces::CHECK,
    torque_at_rest::CHECK,
    precurved_wire::CHECK,
    wire_in_catheter::CHECK,
    two_bent_devices::CHECK,
    bed::CHECK,
    outcomes::SHORT,
    outcomes::LONG,
];

/// The check with that name.
#[must_use]
pub fn find(name: &str) -> Option<&'static Check> {
    CATALOGUE.iter().find(|check| check.name == name)
}
