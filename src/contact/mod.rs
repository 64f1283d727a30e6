//! Contact of the wire with the vessel wall: an elastic foundation against penetration and
//! Coulomb friction against sliding and spinning.
//!
//! Contact points lie along the edges, each in the middle of a piece of wire for which it stands (its
//! weight in mm): close together where the wall has a ridge, so that no edge cuts it between two
//! points, and further apart elsewhere. One more point at the tip stands for the tip's rounded end.

mod alongside;
mod anticipated;
mod cells;
mod coupling;
mod forces;
mod friction;
mod law;
mod lay;
mod legs;
mod pairs;
mod points;
mod samples;
mod touch;
mod wall;

pub use alongside::{Alongside, Devices};
pub use anticipated::Forces;
pub use cells::Between;
pub use coupling::Coupling;
pub use forces::{ContactSummary, Patch};
pub use friction::{FrictionState, Grip};
pub use law::{LinearFoundation, Response, Wall, WallLaw};
pub use legs::Legs;
pub use points::{ContactPoint, Memory, tip_point};
pub use touch::{Side, Touch};
pub use wall::{Contact, Surface};
