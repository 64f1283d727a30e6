//! Units of length and frames of reference.
//!
//! The scene's frame has x to the patient's left, y to the head and z to the front. Medical
//! images come in one of two others: left-posterior-superior (x to the left, y to the back, z to
//! the head), the patient frame of the DICOM standard (PS3.3, C.7.6.2.1.1), and
//! right-anterior-superior.

use nalgebra::{Matrix3, Vector3};

use super::error::{At, Checked, Fault};

/// Smallest, and largest, typical lumen radius of a vessel that a wire is led through, in mm:
/// between them lie the vessels of heart, brain and limbs.
const TYPICAL_RADIUS_MM: (f64, f64) = (0.3, 8.0);
/// Smallest and largest extent of such a tree in mm.
const EXTENT_MM: (f64, f64) = (15.0, 800.0);
/// A typical radius outside this range, in mm, cannot be that of a vessel for a wire: below it a
/// wire does not fit, and no vessel is wider.
const POSSIBLE_RADIUS_MM: (f64, f64) = (0.05, 50.0);

/// A frame of reference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Frame {
    /// x to the patient's left, y to the back, z to the head.
    LeftPosteriorSuperior,
    /// x to the patient's right, y to the front, z to the head.
    RightAnteriorSuperior,
    /// x to the patient's left, y to the head, z to the front.
    Scene,
}

impl Frame {
    /// Name in words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LeftPosteriorSuperior => "left-posterior-superior",
            Self::RightAnteriorSuperior => "right-anterior-superior",
            Self::Scene => "scene",
        }
    }

    /// The rotation into the scene's frame.
    #[must_use]
    pub fn to_scene(self) -> Matrix3<f64> {
        match self {
            Self::LeftPosteriorSuperior => {
                Matrix3::new(1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, -1.0, 0.0)
            }
            Self::RightAnteriorSuperior => {
                Matrix3::new(-1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 1.0, 0.0)
            }
            Self::Scene => Matrix3::identity(),
        }
    }

    /// The frame that a comment in a file states as `SPACE=LPS` or `SPACE=RAS`.
    #[must_use]
    pub fn in_comment(text: &str) -> Option<Self> {
        let text = text.to_ascii_uppercase();
        let (_, value) = text.split_once("SPACE=")?;
        if value.starts_with("LPS") {
            Some(Self::LeftPosteriorSuperior)
        } else if value.starts_with("RAS") {
            Some(Self::RightAnteriorSuperior)
        } else {
            None
        }
    }
}

/// A unit of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Millimetre.
    Millimetre,
    /// Centimetre.
    Centimetre,
    /// Metre.
    Metre,
}

impl Unit {
    const ALL: [Self; 3] = [Self::Millimetre, Self::Centimetre, Self::Metre];

    /// Its sign.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Centimetre => "cm",
            Self::Metre => "m",
        }
    }

    /// How many mm it is.
    #[must_use]
    pub fn in_mm(self) -> f64 {
        match self {
            Self::Millimetre => 1.0,
            Self::Centimetre => 10.0,
            Self::Metre => 1000.0,
        }
    }

    /// Whether a tree of that typical radius and extent, in this unit, is a vessel tree.
    fn fits(self, size: &Size) -> bool {
        let within = |x: f64, (low, high): (f64, f64)| x >= low && x <= high;
        within(size.radius * self.in_mm(), TYPICAL_RADIUS_MM)
            && within(size.extent * self.in_mm(), EXTENT_MM)
    }
}

/// The size of what a file holds, in its own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Typical radius of the lumen.
    pub radius: f64,
    /// Longest side of the box around it.
    pub extent: f64,
}

/// Typical radius and extent of such a tree in mm, in the middle of what is usual.
const USUAL_MM: (f64, f64) = (1.5, 100.0);

/// The unit with which the size is most like that of a usual tree: the least square of the logarithms
/// of what radius and extent differ by.
pub(super) fn most_plausible(size: &Size) -> (Unit, String) {
    let off = |unit: Unit| {
        let ratio = |x: f64, usual: f64| (x * unit.in_mm() / usual).ln().powi(2);
        ratio(size.radius, USUAL_MM.0) + ratio(size.extent, USUAL_MM.1)
    };
    let best = Unit::ALL
        .into_iter()
        .min_by(|a, b| off(*a).total_cmp(&off(*b)));
    let unit = best.unwrap_or(Unit::Millimetre);
    let shown = Unit::ALL.map(|u| {
        format!(
            "in {} its typical radius is {} mm and its extent {} mm",
            u.sign(),
            rounded(size.radius * u.in_mm()),
            rounded(size.extent * u.in_mm())
        )
    });
    (
        unit,
        format!("units are guessed from the size: {}", shown.join(", ")),
    )
}

/// The unit: the stated one if it can be right, else the only one that fits the size.
///
/// # Errors
/// A stated unit with which nothing could be a vessel though another unit would fit, and a size
/// that fits no unit or several.
pub(super) fn unit(stated: Option<Unit>, size: &Size) -> Checked<(Unit, Option<String>)> {
    let fitting: Vec<Unit> = Unit::ALL.into_iter().filter(|u| u.fits(size)).collect();
    let shown = |u: Unit| {
        format!(
            "{} (typical radius {} mm, extent {} mm)",
            u.sign(),
            rounded(size.radius * u.in_mm()),
            rounded(size.extent * u.in_mm())
        )
    };
    let refuse = |reason: String| Err((At::Whole, Fault::Units { reason }));
    let all = |units: &[Unit]| {
        units
            .iter()
            .map(|u| shown(*u))
            .collect::<Vec<_>>()
            .join(" or ")
    };
    match (stated, fitting.as_slice()) {
        (Some(unit), fits) if fits.is_empty() || fits.contains(&unit) => Ok((unit, None)),
        (Some(unit), fits) => {
            let radius_mm = size.radius * unit.in_mm();
            let (low, high) = POSSIBLE_RADIUS_MM;
            if radius_mm < low || radius_mm > high {
                return refuse(format!(
                    "the units cannot be {}; its size fits {}",
                    shown(unit),
                    all(fits)
                ));
            }
            Ok((
                unit,
                Some(format!(
                    "units are stated as {}, an unusual size; {} would be usual",
                    shown(unit),
                    all(fits)
                )),
            ))
        }
        (None, [only]) => Ok((
            *only,
            Some(format!(
                "units are not stated; taken as {} from the size; say units = \"mm\", \"cm\" or \"m\" in [vessel]",
                shown(*only)
            )),
        )),
        (None, []) => refuse(format!(
            "units are not stated and its size fits none: {}",
            Unit::ALL.map(shown).join(" or ")
        )),
        (None, several) => refuse(format!(
            "units are not stated and its size fits more than one: {}",
            all(several)
        )),
    }
}

fn rounded(x: f64) -> String {
    format!("{x:.3}")
}

/// The frame: stated in the scenario, or in the file, and not in two ways. Where nobody says it and
/// nothing depends on it, that of most medical images, with a warning.
pub(super) fn frame(
    stated: Option<Frame>,
    in_file: Option<Frame>,
    needed: bool,
) -> Checked<(Frame, Option<String>)> {
    match (stated, in_file) {
        (Some(a), Some(b)) if a != b => Err((
            At::Whole,
            Fault::Frame {
                reason: format!(
                    "the scenario says frame \"{}\", but the file states {}",
                    a.name(),
                    b.name()
                ),
            },
        )),
        (Some(frame), _) | (None, Some(frame)) => Ok((frame, None)),
        (None, None) if !needed => Ok((
            Frame::LeftPosteriorSuperior,
            Some(
                "which way its axes point is not stated; taken as left-posterior-superior, as in most \
                 medical images; say frame = \"...\" in [vessel] (only views depend on it)"
                    .to_owned(),
            ),
        )),
        (None, None) => Err((
            At::Whole,
            Fault::Frame {
                reason: "which way its axes point is not stated, neither by the file nor by the \
                         scenario"
                    .into(),
            },
        )),
    }
}

/// Unit and frame in which the coordinates of a file are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Written {
    /// Unit of length.
    pub unit: Unit,
    /// Frame of reference.
    pub frame: Frame,
}

impl Written {
    /// The place in mm in the scene's frame of a point that is written so.
    #[must_use]
    pub fn to_scene(self, p: &Vector3<f64>) -> Vector3<f64> {
        self.frame.to_scene() * self.unit.in_mm() * p
    }
}

/// Brings points into mm and the scene's frame.
pub(super) fn convert(points: &mut [Vector3<f64>], written: Written) {
    let matrix = written.frame.to_scene() * written.unit.in_mm();
    for p in points {
        *p = matrix * *p;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A coronary tree: radius about 1.2 mm, extent about 110 mm.
    fn coronary(in_mm: f64) -> Size {
        Size {
            radius: 1.2 / in_mm,
            extent: 110.0 / in_mm,
        }
    }

    #[test]
    fn a_coronary_tree_is_known_in_each_unit_by_its_size() {
        for expected in Unit::ALL {
            let (found, warning) = unit(None, &coronary(expected.in_mm())).unwrap();
            assert_eq!(found, expected);
            assert!(warning.unwrap().contains("not stated"));
        }
    }

    #[test]
    fn metres_stated_as_millimetres_are_refused() {
        let fault = unit(Some(Unit::Millimetre), &coronary(1000.0)).unwrap_err();
        assert!(fault.1.to_string().contains("cannot be mm"), "{}", fault.1);
        assert!(unit(Some(Unit::Millimetre), &coronary(1.0)).is_ok());
    }

    #[test]
    fn a_size_that_fits_two_units_is_refused() {
        let size = Size {
            radius: 0.5,
            extent: 60.0,
        };
        let message = unit(None, &size).unwrap_err().1.to_string();
        assert!(message.contains("more than one"), "{message}");
    }

    /// The head, the left and the front of a patient point where they should: unit vectors of
    /// both image frames, by the words of their names.
    #[test]
    fn head_left_and_front_lie_where_the_names_of_the_frames_say() {
        let (left, head, front) = (Vector3::x(), Vector3::y(), Vector3::z());
        let lps = Frame::LeftPosteriorSuperior.to_scene();
        assert_eq!(lps * Vector3::new(1.0, 0.0, 0.0), left);
        assert_eq!(lps * Vector3::new(0.0, -1.0, 0.0), front);
        assert_eq!(lps * Vector3::new(0.0, 0.0, 1.0), head);
        let ras = Frame::RightAnteriorSuperior.to_scene();
        assert_eq!(ras * Vector3::new(-1.0, 0.0, 0.0), left);
        assert_eq!(ras * Vector3::new(0.0, 1.0, 0.0), front);
        assert_eq!(ras * Vector3::new(0.0, 0.0, 1.0), head);
        assert!((lps.determinant() - 1.0).abs() < 1e-15);
        assert!((ras.determinant() - 1.0).abs() < 1e-15);
    }
}
