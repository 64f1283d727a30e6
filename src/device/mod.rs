//! Devices: from catalogue quantities to profiles along the wire.
//!
//! In: a checked [`WireSpec`](crate::scenario::model::WireSpec) or
//! [`CatheterSpec`](crate::scenario::model::CatheterSpec). Out: a [`Wire`] or a [`Catheter`] that
//! answers for every distance from its tip how stiff and how curved it is, and the [`mesh`] of its
//! rod.
//! Nothing here knows of vessels or contact.

mod catheter;
mod check;
mod error;
mod mesh;
mod profile;
mod shaped_tip;
mod stated_tip_load;
mod tip_load;
mod wire;

pub use catheter::Catheter;
pub use error::DeviceError;
pub(crate) use mesh::catheter_mesh;
pub use mesh::mesh;
pub use profile::{StiffnessProfile, round_core_diameter, round_core_stiffness};
pub use shaped_tip::ShapedTip;
pub use stated_tip_load::{TIP_LOAD_TOLERANCE, tip_load_off};
pub use tip_load::{
    HELD_BEHIND_TIP_MM, buckling_load, effective_length_factor, stiffness_from_tip_load,
    tip_load_mn,
};
pub use wire::Wire;
