//! Contact of the wire with the vessel wall: an elastic foundation against penetration and
//! Coulomb friction against sliding and spinning.
//!
//! Contact points lie along the edges at a spacing that is fine against the smallest wall
//! feature, so that no edge cuts a ridge between two nodes, and each stands for a piece of wire
//! (its weight in mm). One more point at the tip stands for the tip's rounded end.

mod alongside;
mod forces;
mod friction;
mod lay;
mod legs;
mod points;
mod touch;
mod wall;

pub use alongside::{Alongside, Devices};
pub use forces::{ContactSummary, Patch};
pub use friction::{FrictionState, Grip};
pub use legs::Legs;
pub use points::{ContactPoint, Memory, tip_point};
pub use touch::{Side, Touch};
pub use wall::{Contact, Surface};
