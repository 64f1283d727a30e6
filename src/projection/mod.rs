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
//! by 8.3 degrees for LAO 40 CRA 30.
//!
//! # Distances
//!
//! The source stands `source_object_mm` from the isocentre, the detector `source_detector_mm`
//! from the source. Images are given at the scale of the isocentre, which is the branching that
//! is looked at; on the detector they are larger by the quotient of the two distances. A source
//! far away is the limit of a parallel beam.
//!
//! # What is in which file
//!
//! [`Site`] is what is looked at, [`Measures`] what a view of it is worth, [`ViewMap`] all views,
//! [`choose`] the answer, [`reconstruct`] a point from two views. [`Roadmap`] is what an operator
//! has who works in one view.
mod beam;
mod belief;
mod camera;
mod map;
mod measure;
mod overlap;
mod reconstruct;
mod roadmap;
mod site;
mod views;

pub use beam::Beam;
pub use belief::believed;
pub use camera::{Camera, Distances, ProjectionError, foreshortening};
pub use map::{BOTH_LIMIT, CArm, ChosenViews, MeasuredView, ViewMap, choose};
pub use measure::{Measurer, Measures};
pub use reconstruct::{Reconstructed, reconstruct};
pub use roadmap::{Roadmap, RoadmapPoint};
pub use site::{Cover, LimbSegment, Site, SiteError, SiteOstium, Subject};
pub use views::{CUSTOMARY, Customary, PUBLISHED, Published};
