//! The tubes in which torque response and track are measured.

use nalgebra::Vector3;
use std::f64::consts::{FRAC_PI_2, PI};

use super::AssayError;
use crate::contact::WalledLumen;
use crate::device::Wire;
use crate::scenario::bench::PathSettings;
use crate::scenario::model::{PieceSpec, VesselSpec};
use crate::solve::{Assembly, GuideTip, Start, StepSettings, Unresolved};
use crate::vessel::{Lumen, Tree};

/// Straight tube before the first bend and behind the last, in mm.
const LEAD_MM: f64 = 20.0;
/// Length outside the guide at the beginning in mm.
const LEAST_OUTSIDE_MM: f64 = 3.0;
/// Straight tube between the parts of the tortuous path over the lumen diameter.
const GAP: f64 = 3.0;
/// Rise of the 360-degree turns in one turn over the lumen diameter.
const PITCH: f64 = 2.0;
/// How often a step in a tube may be halved before the wire counts as stuck.
const HALVINGS: u32 = 5;
/// Spacing in mm of the points at which a path is checked against itself.
const CHECK_MM: f64 = 1.0;

/// The shape of a tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TubeShape {
    /// Straight.
    Straight,
    /// One bend of 180 degrees.
    Bend,
    /// A siphon, two bends of 180 degrees and two turns of 360 degrees.
    Tortuous,
}

impl TubeShape {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Straight, Self::Bend, Self::Tortuous];

    /// Name for tables and curves.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Straight => "straight tube",
            Self::Bend => "one 180° bend",
            Self::Tortuous => "tortuous path",
        }
    }

    /// Name for keys.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Straight => "straight",
            Self::Bend => "bend",
            Self::Tortuous => "tortuous",
        }
    }

    /// The tube's pieces.
    ///
    /// The tortuous path follows in kind and order the one that a regulator's guidance on
    /// neurovascular guidewires describes (FDA 2019, docket FDA-2018-D-1775, as transcribed): the
    /// siphon of the carotid artery, two bends of 180 degrees, two turns of 360 degrees. The
    /// guidance gives no radii; the radii, the planes and the straight parts between are ours.
    fn pieces(self, settings: &PathSettings) -> Vec<PieceSpec> {
        let straight = |length_mm: f64| PieceSpec::Straight { length_mm };
        let arc = |radius_mm: f64, angle_rad: f64, plane_rad: f64| PieceSpec::Arc {
            radius_mm,
            angle_rad,
            plane_rad,
        };
        let gap = straight(GAP * settings.lumen_mm);
        let (siphon, bend) = (settings.siphon_radius_mm, settings.bend_radius_mm);
        match self {
            Self::Straight => vec![straight(2.0 * LEAD_MM + PI * bend)],
            Self::Bend => vec![straight(LEAD_MM), arc(bend, PI, 0.0), straight(LEAD_MM)],
            Self::Tortuous => vec![
                straight(LEAD_MM),
                arc(siphon, FRAC_PI_2, 0.0),
                arc(siphon, PI, PI),
                arc(siphon, FRAC_PI_2, 0.0),
                gap,
                arc(bend, PI, FRAC_PI_2),
                gap,
                arc(bend, PI, -FRAC_PI_2),
                gap,
                PieceSpec::Helix {
                    radius_mm: settings.loop_radius_mm,
                    pitch_mm: PITCH * settings.lumen_mm,
                    turns: 2.0,
                    plane_rad: 0.0,
                },
                straight(LEAD_MM),
            ],
        }
    }
}

/// A tube that was built.
#[derive(Debug, Clone)]
pub struct Path {
    /// Its shape.
    pub course: TubeShape,
    /// The lumen.
    pub tree: Tree,
    settings: PathSettings,
}

impl Path {
    /// Builds the tube.
    ///
    /// # Errors
    /// [`AssayError::Fixture`] where a bend is tighter than the lumen allows or the tube would run
    /// into itself.
    pub fn build(course: TubeShape, settings: &PathSettings) -> Result<Self, AssayError> {
        let tree = tube(course.name(), course.pieces(settings), settings.lumen_mm)?;
        let path = Self {
            course,
            tree,
            settings: *settings,
        };
        path.check_clear()?;
        Ok(path)
    }

    /// Refuses a tube that comes within a lumen diameter of another part of itself.
    fn check_clear(&self) -> Result<(), AssayError> {
        let line = &self.tree.branches()[0].centreline;
        let lumen = self.settings.lumen_mm;
        let mut points: Vec<(f64, Vector3<f64>)> = Vec::new();
        let mut station = 0.0;
        while station <= line.length_mm() {
            let here = line.position(station);
            let apart = PI * lumen;
            if let Some((other, _)) = points
                .iter()
                .find(|(s, p)| station - s > apart && (here - p).norm() < lumen)
            {
                return Err(AssayError::Fixture {
                    test: self.course.name().into(),
                    reason: format!(
                        "the tube runs into itself: the parts {other:.0} mm and {station:.0} mm from \
                         its start are nearer than its diameter of {lumen} mm; choose a smaller \
                         lumen_mm or other radii in [assay.paths]"
                    ),
                });
            }
            points.push((station, here));
            station += CHECK_MM;
        }
        Ok(())
    }

    /// Length in mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.tree.branches()[0].centreline.length_mm()
    }

    /// How far along the tube a point lies, in mm.
    #[must_use]
    pub fn progress_mm(&self, p: &Vector3<f64>) -> f64 {
        self.tree.tube(0, p).station_mm
    }

    /// The wire at the tube's entry, where a guide that holds ends.
    ///
    /// # Errors
    /// [`Unresolved`] if the wire finds no rest there.
    pub fn enter(&self, wire: &Wire) -> Result<Assembly<'_>, Unresolved> {
        let settings = StepSettings {
            feed_mm: self.settings.step_mm,
            edge_mm: self.settings.edge_mm,
            halvings: HALVINGS,
            ..StepSettings::default()
        };
        let line = &self.tree.branches()[0].centreline;
        enter(
            wire,
            &self.tree,
            self.settings.wall_stiffness_mn_per_mm2,
            GuideTip {
                exit: line.position(0.0),
                axis: line.tangent(0.0),
                backup: None,
            },
            settings,
            self.length_mm(),
        )
    }
}

/// A wire at the mouth of a guide, its tip just outside.
///
/// # Errors
/// [`Unresolved`] if the wire finds no rest there.
pub fn enter<'a>(
    wire: &Wire,
    lumen: &'a dyn Lumen,
    wall_stiffness: f64,
    guide_tip: GuideTip,
    settings: StepSettings,
    longest_mm: f64,
) -> Result<Assembly<'a>, Unresolved> {
    let start = Start {
        outside_mm: LEAST_OUTSIDE_MM,
        longest_mm,
        roll_rad: 0.0,
    };
    Assembly::straight(
        wire,
        WalledLumen::new(lumen, wall_stiffness),
        guide_tip,
        settings,
        start,
    )
}

/// A single tube from the origin along +x, bending towards +y in plane 0.
///
/// # Errors
/// [`AssayError::Fixture`] where it cannot be built.
pub fn tube(name: &str, pieces: Vec<PieceSpec>, diameter_mm: f64) -> Result<Tree, AssayError> {
    let spec = VesselSpec {
        wall: 1.0.into(),
        ..VesselSpec::single_tube(pieces, diameter_mm)
    };
    Tree::build(&spec).map_err(|error| AssayError::Fixture {
        test: name.into(),
        reason: error.to_string(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tube_that_comes_back_to_its_own_beginning_is_refused() {
        let settings = PathSettings {
            lumen_mm: 3.0,
            siphon_radius_mm: 7.0,
            bend_radius_mm: 10.0,
            loop_radius_mm: 10.0,
            wall_stiffness_mn_per_mm2: 300.0,
            step_mm: 0.5,
            edge_mm: 0.5,
        };
        let path = |turn: f64| {
            let arc = PieceSpec::Arc {
                radius_mm: 10.0,
                angle_rad: turn,
                plane_rad: 0.0,
            };
            let tree = tube("test", vec![arc], settings.lumen_mm);
            tree.map(|tree| Path {
                course: TubeShape::Bend,
                tree,
                settings,
            })
        };
        let clear = |turn: f64| path(turn).and_then(|path| path.check_clear());
        assert_eq!(clear(1.5 * PI), Ok(()));
        let refused = clear(2.0 * PI).map_err(|fault| fault.to_string());
        assert!(refused.is_err_and(|text| text.contains("runs into itself")));
    }
}
