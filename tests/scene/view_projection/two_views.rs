//! A point from two views.

use approx::assert_relative_eq;
use bendwise::projection::{Beam, Camera, Distances, ProjectionError, reconstruct};
use bendwise::scenario::view::ViewAngles;
use nalgebra::{Matrix3, Vector2, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

fn camera(primary: f64, secondary: f64, source: Option<f64>) -> Camera {
    Camera {
        beam: Beam::in_scene(
            &ViewAngles::from_degrees(primary, secondary),
            &Matrix3::identity(),
        ),
        isocentre: Vector3::new(5.0, -3.0, 8.0),
        distances: source.map(|source_object_mm| Distances {
            source_object_mm,
            source_detector_mm: 1.4 * source_object_mm,
        }),
    }
}

#[test]
fn without_reading_error_the_point_is_exact() {
    let points = [[0.0, 0.0, 0.0], [30.0, -20.0, 12.0], [-44.0, 7.0, 60.0]];
    for source in [None, Some(750.0)] {
        for (a, b) in [((0.0, 0.0), (90.0, 0.0)), ((-30.0, 20.0), (15.0, -25.0))] {
            let cameras = [camera(a.0, a.1, source), camera(b.0, b.1, source)];
            for p in points.map(Vector3::from) {
                let images = [cameras[0].image(&p), cameras[1].image(&p)];
                let found = reconstruct([&cameras[0], &cameras[1]], images).unwrap();
                assert_relative_eq!(found.position, p, epsilon = 1e-9);
                assert!(found.gap_mm < 1e-9);
            }
        }
    }
}

/// Root mean square error of many readings with a standard deviation of 0.3 mm, in the plane of
/// both beams, and in all.
fn measured(angle_deg: f64, source: Option<f64>) -> (f64, f64, f64) {
    const DRAWS: u32 = 4000;
    let cameras = [camera(0.0, 0.0, source), camera(angle_deg, 0.0, source)];
    let p = Vector3::new(11.0, 4.0, 2.0);
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let (mut in_plane, mut all, mut expected) = (0.0, 0.0, 0.0);
    for _ in 0..DRAWS {
        let mut noise = || -> f64 {
            let z: f64 = StandardNormal.sample(&mut rng);
            0.3 * z
        };
        let images =
            [&cameras[0], &cameras[1]].map(|c| c.image(&p) + Vector2::new(noise(), noise()));
        let found = reconstruct([&cameras[0], &cameras[1]], images).unwrap();
        let error = found.position - p;
        // Both beams lie in the plane y = const.
        in_plane += error.x * error.x + error.z * error.z;
        all += error.norm_squared();
        expected = found.error_mm(0.3);
    }
    let root = |sum: f64| (sum / f64::from(DRAWS)).sqrt();
    (root(in_plane), root(all), expected)
}

#[test]
fn the_error_grows_with_one_over_the_sine_of_the_angle_between_the_views() {
    for angle_deg in [90.0, 60.0, 30.0, 15.0, 5.0] {
        let (in_plane, all, expected) = measured(angle_deg, None);
        let sine = angle_deg.to_radians().sin();
        // Closed form for parallel beams: s √2 / sin g in the plane, and s²/2 across it.
        let closed = 0.3 * 2.0_f64.sqrt() / sine;
        println!("{angle_deg} degrees: {in_plane:.3} mm, closed form {closed:.3} mm");
        // Three standard errors of a root mean square of 4000 draws.
        assert_relative_eq!(in_plane, closed, max_relative = 0.04);
        assert_relative_eq!(all, expected, max_relative = 0.04);
    }
}

#[test]
fn the_expected_error_holds_in_perspective_too() {
    let (_, all, expected) = measured(70.0, Some(750.0));
    assert_relative_eq!(all, expected, max_relative = 0.06);
}

#[test]
fn two_views_that_show_the_same_are_refused() {
    for (primary, secondary) in [(20.2, 10.0), (-160.0, -10.0)] {
        let cameras = [camera(20.0, 10.0, None), camera(primary, secondary, None)];
        let images = [Vector2::zeros(); 2];
        let error = reconstruct([&cameras[0], &cameras[1]], images).unwrap_err();
        assert!(matches!(error, ProjectionError::SameView { .. }));
    }
}
