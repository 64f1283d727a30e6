//! What a view is worth: foreshortening, overlap, apparent take-off angle, ostium.

use serde::Serialize;

use super::camera::{Camera, foreshortening};
use super::overlap::Overlap;
use super::site::{LimbSegment, Site};

/// The measures of one view.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Measures {
    /// Foreshortening of the parent before the branching, 0 to 1; `None` for a stretch.
    pub parent: Option<f64>,
    /// Foreshortening of the vessel that goes on; `None` where none does.
    pub main: Option<f64>,
    /// Foreshortening of the branch, or of the stretch.
    pub branch: f64,
    /// Foreshortening of all limbs together, weighted by their length.
    pub foreshortening: f64,
    /// Share of the target's lumen (the branch from its ostium on, or the stretch) that another
    /// vessel covers, 0 to 1.
    pub overlap: f64,
    /// Angle between the chords of parent and branch as seen, in degrees; `None` for a stretch.
    pub apparent_take_off_deg: Option<f64>,
    /// How far to the side of the parent's axis the ostium is seen, over its true distance from
    /// the axis: 1 in profile, 0 in front of the parent or behind it; `None` for a stretch.
    pub ostium: Option<f64>,
}

impl Measures {
    /// What the choice of a view makes small: foreshortening plus overlap plus what the ostium
    /// lacks of being seen in profile, each from 0 to 1 and of equal weight (a choice of ours;
    /// least foreshortening with least overlap is that of Kitslaar PH et al., SPIE 2008).
    #[must_use]
    pub fn cost(&self) -> f64 {
        self.foreshortening + self.overlap + self.ostium.map_or(0.0, |o| 1.0 - o)
    }

    /// The worst of what keeps both daughter vessels from being seen at once: foreshortening of
    /// either, overlap of the branch.
    #[must_use]
    pub fn worst_of_daughters(&self) -> f64 {
        self.branch.max(self.main.unwrap_or(0.0)).max(self.overlap)
    }
}

/// Measures views of one site.
#[derive(Debug, Clone)]
pub struct Measurer<'a> {
    site: &'a Site,
    overlap: Overlap,
}

impl<'a> Measurer<'a> {
    /// A measurer for a site.
    #[must_use]
    pub fn new(site: &'a Site) -> Self {
        Self {
            site,
            overlap: Overlap::new(site),
        }
    }

    /// The measures of one view.
    pub fn measure(&mut self, camera: &Camera) -> Measures {
        let site = self.site;
        let limbs = [&site.parent, &site.main, &site.target];
        let [parent, main, target] = limbs.map(|limb| shortened(limb, camera));
        let length: f64 = limbs.iter().copied().flatten().map(|p| p.length_mm).sum();
        let lost: f64 = [parent, main, target].iter().map(|s| s.0).sum();
        let share = |(lost, length): (f64, f64)| (length > 0.0).then(|| lost / length);
        let mouth = site.mouth.as_ref();
        Measures {
            parent: share(parent),
            main: share(main),
            branch: share(target).unwrap_or(1.0),
            foreshortening: lost / length,
            overlap: self.overlap.share(camera),
            apparent_take_off_deg: mouth.map(|m| {
                let beam = &camera.beam;
                let (a, b) = (beam.flat(&m.parent_chord), beam.flat(&m.branch_chord));
                (a.x * b.y - a.y * b.x).abs().atan2(a.dot(&b)).to_degrees()
            }),
            ostium: mouth.map(|m| {
                // The part of the direction to the ostium that lies across the parent as seen.
                let ray = camera.ray(&site.isocentre);
                let across = m.axis.cross(&ray);
                let length = across.norm();
                if length > 1e-9 {
                    m.towards.dot(&across).abs() / length
                } else {
                    // Seen along the parent every ostium lies in profile.
                    1.0
                }
            }),
        }
    }
}

/// Length that a limb loses in the image, and its length, in mm.
fn shortened(limb: &[LimbSegment], camera: &Camera) -> (f64, f64) {
    limb.iter().fold((0.0, 0.0), |(lost, length), piece| {
        let share = foreshortening(&piece.tangent, &camera.ray(&piece.position));
        (lost + piece.length_mm * share, length + piece.length_mm)
    })
}
