//! Viewing directions: angles and foreshortening, overlap against a slow twin, the choice of a
//! view, a point from two views, the roadmap of one view.
#![allow(
    clippy::unwrap_used,
    reason = "where a helper fails the test has failed"
)]

mod choice;
mod geometry;
mod overlap;
mod published_tree;
mod roadmap;
mod two_views;

use bendwise::projection::{CArm, Distances};
use bendwise::scenario::view::{PatientFrame, ReachSpec};

/// A C-arm in the frame of the published tree that reaches everything; `source_object_mm` away,
/// or with a parallel beam.
pub fn c_arm(source_object_mm: Option<f64>) -> CArm {
    use std::f64::consts::PI;
    CArm {
        to_patient: PatientFrame::from_words(["left", "head", "front"])
            .unwrap()
            .to_patient,
        distances: source_object_mm.map(|source_object_mm| Distances {
            source_object_mm,
            source_detector_mm: 1.4 * source_object_mm,
        }),
        reach: ReachSpec {
            primary_rad: [-0.5 * PI, 0.5 * PI],
            secondary_rad: [-0.5 * PI, 0.5 * PI],
            combined_rad: PI,
        },
    }
}
