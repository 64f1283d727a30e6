//! Contact of the wire with the vessel wall: an elastic foundation against penetration and
//! Coulomb friction against sliding and spinning.
//!
//! Contact points lie along the edges at a spacing that is fine against the smallest wall
//! feature, so that no edge cuts a ridge between two nodes, and each stands for a piece of wire
//! (its weight in mm). One more point at the tip stands for the tip's rounded end.

mod forces;
mod friction;
mod lay;
mod legs;
mod points;
mod wall;

pub use forces::ContactSummary;
pub use friction::{FrictionState, Grip};
pub use legs::{Legs, Touch};
pub use points::{ContactPoint, tip_point};
pub use wall::{Contact, Surface};
