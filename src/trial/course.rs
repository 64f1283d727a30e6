//! Where a branch runs, read from two views, beside where it is believed to run.

use nalgebra::{Vector2, Vector3};
use rand_distr::{Distribution, StandardNormal};

use super::prepared::Prepared;
use super::variation::{Stream, generator};
use crate::projection::{
    CArm, Camera, ChosenViews, ProjectionError, Reconstructed, Site, reconstruct,
};
use crate::scenario::view::{BeliefSpec, ViewAngles, ViewSpec};
use crate::vessel::Tree;

/// How far beyond the ostium the second point lies that is read, in mm.
pub const COURSE_MM: f64 = 5.0;
/// Standard deviations by which a reading must lie off what is believed to show that it is wrong.
pub const REVEALED_SD: f64 = 3.0;

/// A point of a branch, read in two views.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointReading {
    /// Where it is, in mm.
    pub true_mm: Vector3<f64>,
    /// Where it is believed to be.
    pub believed_mm: Vector3<f64>,
    /// Where the two readings put it.
    pub read: Reconstructed,
    /// Root mean square error that the readings' own error makes expect, in mm.
    pub expected_error_mm: f64,
}

impl PointReading {
    /// Distance of the reconstructed point from the true one in mm.
    #[must_use]
    pub fn error_mm(&self) -> f64 {
        (self.read.position - self.true_mm).norm()
    }

    /// Distance of the reconstructed point from the believed one in mm.
    #[must_use]
    pub fn off_belief_mm(&self) -> f64 {
        (self.read.position - self.believed_mm).norm()
    }
}

/// A branch's ostium and a point beyond it from the recommended and the second view.
#[derive(Debug, Clone, PartialEq)]
pub struct CourseReading {
    /// The two views.
    pub views: [ViewAngles; 2],
    /// Angle between them in rad.
    pub angle_rad: f64,
    /// Standard deviation of a reading in mm.
    pub reading_sd_mm: f64,
    /// The ostium.
    pub ostium: PointReading,
    /// The point [`COURSE_MM`] beyond it.
    pub beyond: PointReading,
    /// Distance in mm of the believed from the true point beyond the ostium as the current view
    /// shows it.
    pub seen_off_mm: f64,
    /// The two readings show that the branch does not run where it is believed to.
    pub revealed: bool,
    /// What is to be believed after the readings; `None` where nothing wrong was believed of the
    /// branch.
    pub corrected: Option<BeliefSpec>,
}

impl CourseReading {
    /// Reads the branch of `site` in the recommended and the second view; readings are drawn
    /// with the study's seed. `None` for a stretch, and where no second view gives depth.
    pub(super) fn read(
        prepared: &Prepared,
        spec: &ViewSpec,
        c_arm: &CArm,
        site: &Site,
        answer: &ChosenViews,
    ) -> Result<Option<Self>, ProjectionError> {
        if site.mouth.is_none() {
            return Ok(None);
        }
        let (second, angle_rad) = answer.second;
        let views = [answer.recommended.view, second.view];
        let cameras = views.map(|v| c_arm.at(site, &v));
        let tree = prepared.tree();
        let believed = prepared.believed().unwrap_or(tree);
        let mut rng = generator(prepared.scenario().study.seed, 0, Stream::Reading);
        let mut read = |beyond_mm: f64| -> Result<PointReading, ProjectionError> {
            let at = |tree: &Tree| {
                let branch = &tree.branches()[site.branch];
                branch.centreline.position(branch.ostium_mm + beyond_mm)
            };
            let true_mm = at(tree);
            let mut noisy = |camera: &Camera| {
                let mut draw = || -> f64 { StandardNormal.sample(&mut rng) };
                camera.image(&true_mm) + Vector2::new(draw(), draw()) * spec.reading_sd_mm
            };
            let images = [noisy(&cameras[0]), noisy(&cameras[1])];
            let read = reconstruct([&cameras[0], &cameras[1]], images)?;
            Ok(PointReading {
                true_mm,
                believed_mm: at(believed),
                expected_error_mm: read.error_mm(spec.reading_sd_mm),
                read,
            })
        };
        let readings = read(0.0).and_then(|ostium| Ok((ostium, read(COURSE_MM)?)));
        let (ostium, beyond) = match readings {
            Ok(readings) => readings,
            Err(ProjectionError::SameView { .. }) => return Ok(None),
            Err(other) => return Err(other),
        };
        let off = |r: &PointReading| {
            let way = r.read.position - r.believed_mm;
            let length = way.norm();
            length > 0.0
                && length > REVEALED_SD * r.read.error_along_mm(&(way / length), spec.reading_sd_mm)
        };
        let current = c_arm.at(site, &spec.current);
        let name = &tree.branches()[site.branch].name;
        let wrong = spec.beliefs.iter().any(|b| b.branch == *name);
        Ok(Some(Self {
            views,
            angle_rad,
            reading_sd_mm: spec.reading_sd_mm,
            seen_off_mm: (current.image(&beyond.believed_mm) - current.image(&beyond.true_mm))
                .norm(),
            revealed: off(&ostium) || off(&beyond),
            corrected: wrong.then(|| corrected(tree, site, &beyond)).flatten(),
            ostium,
            beyond,
        }))
    }
}

/// The belief that puts the branch where the reading of its course puts it.
fn corrected(tree: &Tree, site: &Site, beyond: &PointReading) -> Option<BeliefSpec> {
    let branch = &tree.branches()[site.branch];
    let (parent, station) = branch.parent?;
    let trunk = &tree.branches()[parent].centreline;
    let (centre, axis) = (trunk.position(station), trunk.tangent(station));
    let from_axis = |p: &Vector3<f64>| {
        let away = p - centre;
        away - axis * axis.dot(&away)
    };
    let (is, read) = (from_axis(&beyond.true_mm), from_axis(&beyond.read.position));
    Some(BeliefSpec {
        branch: branch.name.clone(),
        turned_rad: axis.dot(&is.cross(&read)).atan2(is.dot(&read)),
        further_mm: axis.dot(&(beyond.read.position - beyond.true_mm)),
        place: crate::scenario::model::Place::default(),
    })
}
