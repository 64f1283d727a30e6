//! Scenes of checks: uniform rods, a bent tube with a closed form, a wire fed into it.

mod bed;
mod bend_tube;
mod fed;
mod pulled;
mod rods;

pub use bed::{equilibrium_from, vessel_through};
pub use bend_tube::{BendTube, Floor, Foot, tube};
pub use fed::{guide_tip, list_wire, wire_spec};
pub use pulled::{Cord, Pulled};
pub use rods::{
    Stiffness, bisect, clamped, end_loaded, is_stable, order, settle, settle_stiff, straight,
    uniform,
};
