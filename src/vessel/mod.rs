//! The vessel: centrelines with radii, joined to a lumen.
mod lumen;
pub use lumen::{Lumen, LumenPoint};
