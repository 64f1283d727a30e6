//! Angles, foreshortening, perspective.

use approx::assert_relative_eq;
use bendwise::projection::{Beam, Camera, Distances, foreshortening};
use bendwise::scenario::view::ViewAngles;
use nalgebra::{Matrix3, Vector3};
use proptest::prelude::*;

/// Unit direction of a vessel with polar angles theta and phi in degrees: x to the patient's
/// left, y to the head, z to the front (Dodge JT Jr et al., Circulation 1988;78:1167, figure 3).
fn direction(theta_deg: f64, phi_deg: f64) -> Vector3<f64> {
    let (theta, phi) = (theta_deg.to_radians(), phi_deg.to_radians());
    Vector3::new(phi.cos() * theta.sin(), phi.sin(), phi.cos() * theta.cos())
}

proptest! {
    #![proptest_config(ProptestConfig {
        rng_seed: prop::test_runner::RngSeed::Fixed(1),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn a_vessel_is_end_on_from_its_own_angles_and_whole_at_right_angles(
        theta in -180.0..180.0_f64, phi in -89.0..89.0_f64, turn in 0.0..360.0_f64,
    ) {
        let vessel = direction(theta, phi);
        let beam = Beam::in_patient(&ViewAngles::from_degrees(theta, phi));
        prop_assert!((foreshortening(&vessel, &beam.along) - 1.0).abs() < 1e-12);
        // Every beam square to the vessel shows it whole.
        let across = beam.right * turn.to_radians().cos() + beam.up * turn.to_radians().sin();
        prop_assert!(foreshortening(&vessel, &across).abs() < 1e-12);
    }

    #[test]
    fn seen_length_is_the_true_one_less_the_foreshortening(
        theta in -180.0..180.0_f64, phi in -89.0..89.0_f64,
        primary in -90.0..90.0_f64, secondary in -60.0..60.0_f64,
    ) {
        let vessel = direction(theta, phi);
        let beam = Beam::in_patient(&ViewAngles::from_degrees(primary, secondary));
        let seen = beam.flat(&(vessel * 7.0)).norm();
        let expected = 7.0 * (1.0 - foreshortening(&vessel, &beam.along));
        prop_assert!((seen - expected).abs() < 1e-10);
    }
}

/// In the other order, LAO measured out of the sagittal plane, the beam is
/// (sin a, cos a sin b, cos a cos b).
#[test]
fn the_order_of_the_two_turns_matters_by_eight_degrees() {
    let (a, b) = (40.0_f64.to_radians(), 30.0_f64.to_radians());
    let other = Vector3::new(a.sin(), a.cos() * b.sin(), a.cos() * b.cos());
    let ours = Beam::in_patient(&ViewAngles::from_degrees(40.0, 30.0)).along;
    assert_relative_eq!(ours.angle(&other).to_degrees(), 8.3, epsilon = 0.05);
}

fn camera(view: ViewAngles, source_object_mm: f64) -> Camera {
    Camera {
        beam: Beam::in_scene(&view, &Matrix3::identity()),
        isocentre: Vector3::new(3.0, -2.0, 5.0),
        distances: Some(Distances {
            source_object_mm,
            source_detector_mm: 1.4 * source_object_mm,
        }),
    }
}

/// Similar triangles: an object d behind the isocentre is seen D/(D + d) times as large, on the
/// detector larger by source-to-detector over source-to-isocentre.
#[test]
fn perspective_magnifies_by_similar_triangles() {
    let camera = camera(ViewAngles::from_degrees(25.0, -15.0), 700.0);
    for depth in [-120.0, 0.0, 55.0] {
        let from = camera.isocentre + camera.beam.along * depth;
        let to = from + camera.beam.right * 6.0 + camera.beam.up * 8.0;
        let seen = (camera.image(&to) - camera.image(&from)).norm();
        assert_relative_eq!(seen, 10.0 * 700.0 / (700.0 + depth), max_relative = 1e-12);
    }
    assert_relative_eq!(camera.magnification(), 1.4, max_relative = 1e-12);
}

#[test]
fn a_far_source_gives_the_parallel_image_with_an_error_that_falls_as_its_distance() {
    let view = ViewAngles::from_degrees(-30.0, 20.0);
    let p = Vector3::new(30.0, 14.0, -22.0);
    let parallel = Camera {
        distances: None,
        ..camera(view, 1.0)
    };
    let error = |distance| (camera(view, distance).image(&p) - parallel.image(&p)).norm();
    assert!(error(1e6) < 1e-2);
    assert_relative_eq!(error(1e5) / error(1e6), 10.0, max_relative = 1e-2);
}
