//! Contact of the wire with the vessel wall: an elastic foundation against penetration and
//! Coulomb friction against sliding and spinning.
//!
//! Contact points lie along the edges, each in the middle of a piece of wire for which it stands (its
//! weight in mm): close together where the wall has a ridge, so that no edge cuts it between two
//! points, and further apart elsewhere. One more point at the tip stands for the tip's rounded end.

mod adjacent;
mod anticipated;
mod cells;
mod contact_pair;
mod coupling;
mod forces;
mod friction;
mod hanging;
mod law;
mod laws;
mod lay;
mod neighbours;
mod points;
mod pressed_pairs;
mod readings;
mod samples;
mod self_contact;
mod wall;

pub use adjacent::{AdjacentContact, AdjacentDevices};
pub use anticipated::Forces;
pub use cells::Between;
pub use contact_pair::{ContactPair, Side};
pub(crate) use coupling::Coupling;
pub use forces::{ContactSummary, Patch};
pub use friction::{ActiveContact, FrictionState};
pub(crate) use hanging::HangingContact;
pub use law::{Response, Wall, WallLaw, WalledLumen};
pub use laws::*;
pub use points::ContactPoint;
pub use readings::ContactReading;
pub use self_contact::SelfContact;
pub use wall::{Contact, Surface};
