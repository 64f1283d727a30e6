//! From space to image: parallel or in perspective.

use nalgebra::{Vector2, Vector3};
use thiserror::Error;

use super::beam::Beam;

/// Why something cannot be projected.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProjectionError {
    /// A point lies at the source or behind it.
    #[error(
        "a point of the scene lies {distance_mm:.0} mm from the isocentre, but the X-ray source stands only {source_object_mm:.0} mm away: the source would be inside the patient; move it away (source_object_mm above {distance_mm:.0})"
    )]
    SourceInside {
        /// Largest distance of the scene from the isocentre in mm.
        distance_mm: f64,
        /// Distance of the source in mm.
        source_object_mm: f64,
    },
    /// Two views along the same line hold no depth.
    #[error(
        "two views {angle_deg:.2} degrees apart show the same and hold no depth; take views at least {least_deg} degrees apart"
    )]
    SameView {
        /// Angle between the beams in degrees.
        angle_deg: f64,
        /// Least angle in degrees.
        least_deg: f64,
    },
}

/// Distances of the X-ray source in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Distances {
    /// From the source to the isocentre.
    pub source_object_mm: f64,
    /// From the source to the detector.
    pub source_detector_mm: f64,
}

/// A C-arm in one position: beam, isocentre and, unless the beam is parallel, the source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// The view's beam in scene coordinates.
    pub beam: Beam,
    /// The point about which the C-arm turns, in mm.
    pub isocentre: Vector3<f64>,
    /// Where the source stands; `None` for a parallel beam, the limit of a far source.
    pub distances: Option<Distances>,
}

impl Camera {
    /// Where the source stands in mm; `None` for a parallel beam.
    #[must_use]
    pub fn source(&self) -> Option<Vector3<f64>> {
        self.distances
            .map(|d| self.isocentre - self.beam.along * d.source_object_mm)
    }

    /// Where `p` is seen, right and up from the isocentre in mm at the scale of the isocentre, and
    /// its magnification over that at the isocentre: D/(D + t), with D the distance of the source
    /// from the isocentre and t the depth of `p` behind it along the beam; 1 for a parallel beam.
    #[must_use]
    #[inline]
    pub fn seen(&self, p: &Vector3<f64>) -> (Vector2<f64>, f64) {
        let away = p - self.isocentre;
        let scale = self.distances.map_or(1.0, |d| {
            d.source_object_mm / (d.source_object_mm + self.beam.along.dot(&away))
        });
        (self.beam.flat(&away) * scale, scale)
    }

    /// Where `p` is seen, as in [`Camera::seen`].
    #[must_use]
    pub fn image(&self, p: &Vector3<f64>) -> Vector2<f64> {
        self.seen(p).0
    }

    /// Magnification at `p`, as in [`Camera::seen`].
    #[must_use]
    pub fn scale(&self, p: &Vector3<f64>) -> f64 {
        self.seen(p).1
    }

    /// Magnification of the isocentre on the detector: source to detector over source to
    /// isocentre; 1 for a parallel beam.
    #[must_use]
    pub fn magnification(&self) -> f64 {
        self.distances
            .map_or(1.0, |d| d.source_detector_mm / d.source_object_mm)
    }

    /// Direction of the photons through `p`, unit length.
    #[must_use]
    pub fn ray(&self, p: &Vector3<f64>) -> Vector3<f64> {
        self.source()
            .map_or(self.beam.along, |source| (p - source).normalize())
    }

    /// The line on which a point lies that is seen at `image`: a point of it and its direction.
    #[must_use]
    pub fn line(&self, image: &Vector2<f64>) -> (Vector3<f64>, Vector3<f64>) {
        let at = self.isocentre + self.beam.right * image.x + self.beam.up * image.y;
        (at, self.ray(&at))
    }
}

/// How much shorter a piece with unit direction `tangent` is seen than it is, along a beam with
/// unit direction `beam`: 0 seen in full, 1 end-on.
///
/// Equation: 1 - sin(g), g the angle between tangent and beam. Source: as used by Green NE, Chen
/// SJ, Carroll JD, IEEE Trans Med Imaging 2000;19:318-336, and Dumay ACM et al., IEEE Trans Med
/// Imaging 1994;13:13-24 (from memory).
#[must_use]
pub fn foreshortening(tangent: &Vector3<f64>, beam: &Vector3<f64>) -> f64 {
    1.0 - tangent.cross(beam).norm().min(1.0)
}
