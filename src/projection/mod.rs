//! Viewing directions.
//!
//! # Angles
//!
//! Patient coordinates: x to the patient's left, y to the head, z to the front. The primary angle
//! a turns the detector from the front (AP) to the patient's left (LAO, positive) or right (RAO,
//! negative); the secondary angle b then tilts it to the head (cranial, CRA, positive) or to the
//! feet (caudal, CAU, negative). The detector lies in the direction
//!
//! ```text
//!                     d = (cos b sin a, sin b, cos b cos a)
//!
//!    seen from the feet:              seen from the patient's left:
//!
//!           z front                          y head
//!           |    . d, LAO a                  |     . d, CRA b
//!           |   /                            |   /
//!           |a /                             | /  b
//!           | /                              +---------- z front
//!           +---------- x left
//! ```
//!
//! and the source opposite, so photons travel along d. The image has the patient's left on its
//! right side in AP, and the head up. First the primary turn about the long axis, then the
//! secondary tilt in the turned plane: the order matters. A convention in which LAO is measured
//! out of the sagittal plane, d = (sin b, -sin a cos b, cos a cos b) in axes of its own, differs
//! by 8.5 degrees for LAO 40 CRA 30.
mod beam;
mod belief;
mod roadmap;

pub use beam::Beam;
pub use belief::believed;
pub use roadmap::{Roadmap, Seen};
