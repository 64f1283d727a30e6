//! Viewing directions as people write them, and what a scenario says about looking.

use std::fmt;

use nalgebra::{Matrix3, Vector3};
use serde::{Deserialize, Serialize};

use super::model::Place;

/// Largest primary angle either way in degrees.
const LARGEST_PRIMARY_DEG: f64 = 180.0;
/// Largest secondary angle either way in degrees.
const LARGEST_SECONDARY_DEG: f64 = 90.0;

/// A viewing direction by the two angles of a C-arm.
///
/// Written as in "LAO 40 CRA 30", "RAO 15", "AP CAU 30" or "AP": LAO and RAO turn the detector to
/// the patient's left and right, CRA and CAU tilt it to the head and to the feet. What the angles
/// mean in space stands in [`crate::projection`].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ViewAngles {
    /// Primary angle in rad, positive LAO, negative RAO; -pi to pi.
    pub primary_rad: f64,
    /// Secondary angle in rad, positive cranial, negative caudal; -pi/2 to pi/2.
    pub secondary_rad: f64,
}

impl ViewAngles {
    /// From degrees: primary positive LAO, secondary positive cranial.
    #[must_use]
    pub fn from_degrees(primary_deg: f64, secondary_deg: f64) -> Self {
        Self {
            primary_rad: primary_deg.to_radians(),
            secondary_rad: secondary_deg.to_radians(),
        }
    }

    /// Primary angle in degrees, positive LAO.
    #[must_use]
    pub fn primary_deg(&self) -> f64 {
        self.primary_rad.to_degrees()
    }

    /// Secondary angle in degrees, positive cranial.
    #[must_use]
    pub fn secondary_deg(&self) -> f64 {
        self.secondary_rad.to_degrees()
    }

    /// Reads "LAO 40 CRA 30" and the like; case, commas and slashes do not matter.
    ///
    /// # Errors
    /// Why the text is no viewing direction, with what is allowed.
    pub fn parse(text: &str) -> Result<Self, String> {
        let upper = text.to_uppercase().replace([',', '/'], " ");
        let mut words = upper.split_whitespace();
        let (mut primary, mut secondary) = (None, None);
        while let Some(word) = words.next() {
            let (angle, sign, largest) = match word {
                "AP" if primary.is_none() => {
                    primary = Some(0.0);
                    continue;
                }
                "LAO" => (&mut primary, 1.0, LARGEST_PRIMARY_DEG),
                "RAO" => (&mut primary, -1.0, LARGEST_PRIMARY_DEG),
                "CRA" => (&mut secondary, 1.0, LARGEST_SECONDARY_DEG),
                "CAU" => (&mut secondary, -1.0, LARGEST_SECONDARY_DEG),
                other => return Err(format!("\"{other}\" is not one of AP, LAO, RAO, CRA, CAU")),
            };
            if angle.is_some() {
                return Err(format!("{word} gives an angle that stands there already"));
            }
            let number = words.next().and_then(|n| n.parse::<f64>().ok());
            match number {
                Some(n) if (0.0..=largest).contains(&n) => *angle = Some(sign * n),
                Some(n) => return Err(format!("{word} {n}: allowed is 0 to {largest} degrees")),
                None => return Err(format!("{word} needs a number of degrees behind it")),
            }
        }
        if primary.is_none() && secondary.is_none() {
            return Err("it is empty".to_owned());
        }
        Ok(Self::from_degrees(
            primary.unwrap_or(0.0),
            secondary.unwrap_or(0.0),
        ))
    }
}

impl fmt::Display for ViewAngles {
    /// As people write it, to a tenth of a degree.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let tenth = |degrees: f64| (10.0 * degrees).round() / 10.0;
        let (primary, secondary) = (tenth(self.primary_deg()), tenth(self.secondary_deg()));
        if primary > 0.0 {
            write!(f, "LAO {primary}")?;
        } else if primary < 0.0 {
            write!(f, "RAO {}", -primary)?;
        } else {
            write!(f, "AP")?;
        }
        if secondary > 0.0 {
            write!(f, " CRA {secondary}")?;
        } else if secondary < 0.0 {
            write!(f, " CAU {}", -secondary)?;
        }
        Ok(())
    }
}

/// What a technique may see.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub enum SightSpec {
    /// Where the tip lies in space, and in which vessel.
    #[default]
    Full,
    /// One projection, in which depth is unknown, and the roadmap that is believed.
    Projected(ViewAngles),
}

/// How a scene lies in the patient.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PatientFrame {
    /// Turns scene coordinates into patient coordinates: x to the patient's left, y to the head,
    /// z to the front.
    pub to_patient: Matrix3<f64>,
}

impl PatientFrame {
    /// Where the axes point, in words.
    #[must_use]
    pub fn words(&self) -> String {
        let directions = [
            ("the patient's left", Vector3::x()),
            ("the patient's right", -Vector3::x()),
            ("the head", Vector3::y()),
            ("the feet", -Vector3::y()),
            ("the front", Vector3::z()),
            ("the back", -Vector3::z()),
        ];
        let axes = (0..3).zip(["x", "y", "z"]).map(|(i, axis)| {
            let along = |d: &Vector3<f64>| self.to_patient.column(i).dot(d);
            let nearest = directions
                .iter()
                .max_by(|a, b| along(&a.1).total_cmp(&along(&b.1)));
            format!("{axis} to {}", nearest.map_or("", |d| d.0))
        });
        axes.collect::<Vec<_>>().join(", ")
    }

    /// From the directions in the patient of the scene's x, y and z axes, each one of "left",
    /// "right", "head", "feet", "front", "back"; `None` where a word is none of these or the axes
    /// are no right-handed frame.
    #[must_use]
    pub fn from_words(words: [&str; 3]) -> Option<Self> {
        let mut axes = [Vector3::zeros(); 3];
        for (axis, word) in axes.iter_mut().zip(words) {
            *axis = match word {
                "left" => Vector3::x(),
                "right" => -Vector3::x(),
                "head" => Vector3::y(),
                "feet" => -Vector3::y(),
                "front" => Vector3::z(),
                "back" => -Vector3::z(),
                _ => return None,
            };
        }
        let to_patient = Matrix3::from_columns(&axes);
        (to_patient.determinant() > 0.5).then_some(Self { to_patient })
    }
}

/// What a scenario says about looking: its `[view]` table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ViewSpec {
    /// How the scene lies in the patient.
    pub frame: PatientFrame,
    /// The view in which the operator works now.
    pub current: ViewAngles,
    /// Branches whose branching is to be opened; empty for the target.
    pub branches: Vec<String>,
    /// Length of parent, main and branch that counts, either side of a branching, in mm; above 0.
    pub near_mm: f64,
    /// Distance of the X-ray source from the detector in mm; above the next.
    pub source_detector_mm: f64,
    /// Distance of the X-ray source from the isocentre in mm; above `patient_radius_mm`.
    pub source_object_mm: f64,
    /// Radius in mm of the patient about the isocentre, which the source must not enter; above 0.
    pub patient_radius_mm: f64,
    /// What the C-arm can reach.
    pub reach: ReachSpec,
    /// Standard deviation in mm, at the isocentre, with which a point is read in a projection;
    /// 0 or more.
    pub reading_sd_mm: f64,
    /// Where the operator believes branches to run, if not where they do.
    pub beliefs: Vec<BeliefSpec>,
    /// Where it is described.
    pub place: Place,
}

/// The region of angles that a C-arm can reach: collisions with table and head, made simple.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ReachSpec {
    /// Least and largest primary angle in rad.
    pub primary_rad: [f64; 2],
    /// Least and largest secondary angle in rad.
    pub secondary_rad: [f64; 2],
    /// Largest sum of the two angles, signs left away, in rad.
    pub combined_rad: f64,
}

impl ReachSpec {
    /// Slack for rounding of angles and of their sums, in rad.
    pub(super) const SLACK_RAD: f64 = 1e-9;

    /// Whether a view can be reached.
    #[must_use]
    pub fn holds(&self, view: &ViewAngles) -> bool {
        let slack = Self::SLACK_RAD;
        let within =
            |range: [f64; 2], angle: f64| angle >= range[0] - slack && angle <= range[1] + slack;
        within(self.primary_rad, view.primary_rad)
            && within(self.secondary_rad, view.secondary_rad)
            && view.primary_rad.abs() + view.secondary_rad.abs() <= self.combined_rad + slack
    }
}

/// A branch that the operator believes to run elsewhere than it does, with all branches that leave from it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BeliefSpec {
    /// The branch.
    pub branch: String,
    /// It is believed to leave turned by this angle about the parent's forward direction, in rad.
    pub turned_rad: f64,
    /// It is believed to leave this much further along the parent, in mm.
    pub further_mm: f64,
    /// Where it is described.
    pub place: Place,
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn views_are_read_and_written_as_people_say_them() {
        for (text, primary, secondary, shown) in [
            ("LAO 40 CRA 30", 40.0, 30.0, "LAO 40 CRA 30"),
            ("rao 30/cau 20.5", -30.0, -20.5, "RAO 30 CAU 20.5"),
            ("CRA 40", 0.0, 40.0, "AP CRA 40"),
            ("AP", 0.0, 0.0, "AP"),
        ] {
            let view = ViewAngles::parse(text).unwrap();
            assert_relative_eq!(view.primary_deg(), primary, epsilon = 1e-12);
            assert_relative_eq!(view.secondary_deg(), secondary, epsilon = 1e-12);
            assert_eq!(view.to_string(), shown);
        }
        for bad in [
            "",
            "LAO",
            "LAO 200",
            "CRA 91",
            "LAO 10 RAO 5",
            "left 30",
            "AP AP",
        ] {
            assert!(ViewAngles::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_frame_must_be_right_handed() {
        assert!(PatientFrame::from_words(["left", "head", "front"]).is_some());
        let lps = PatientFrame::from_words(["left", "back", "head"]).unwrap();
        assert_eq!(
            lps.to_patient * Vector3::new(1.0, 2.0, 3.0),
            Vector3::new(1.0, 3.0, -2.0)
        );
        assert!(PatientFrame::from_words(["left", "head", "back"]).is_none());
        assert!(PatientFrame::from_words(["left", "left", "head"]).is_none());
        assert!(PatientFrame::from_words(["left", "up", "front"]).is_none());
    }
}
