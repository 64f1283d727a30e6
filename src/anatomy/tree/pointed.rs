//! Points by which a person points at a place of the tree: how far off they may lie, and what is said
//! of them.
//!
//! They count in mm in the scene's frame. One that was read off in a viewer is in the file's own unit
//! and frame and lies far off, so it is refused, with what it would be in the scene.

use nalgebra::Vector3;

use super::ImportedBranch;
use super::name::nearest;
use crate::anatomy::error::Fault;
use crate::anatomy::frame::Written;

/// A point may lie this many lumen radii from the centreline that it points at: two diameters.
const REACH_RADII: f64 = 4.0;
/// It may lie this far off at least, in mm.
const REACH_MM: f64 = 3.0;
/// Candidates that a message lists.
const LISTED: usize = 3;
/// How a point is read, in words.
pub(super) const READ: &str =
    "in mm, in the scene's frame: x to the patient's left, y to the head, z to the front";

/// A place that a point may mean.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    /// How messages call it.
    pub called: String,
    /// Where it lies in mm.
    pub at: Vector3<f64>,
    /// Lumen radius there in mm.
    pub radius: f64,
}

/// How far a point may lie from a centreline with that lumen radius, in mm.
fn reach(radius: f64) -> f64 {
    (REACH_RADII * radius).max(REACH_MM)
}

/// A point in brackets, as a scenario writes it, to a hundredth of a mm.
#[must_use]
pub fn written_out(p: &Vector3<f64>) -> String {
    // Adding 0 makes minus zero zero.
    let [x, y, z] = [p.x, p.y, p.z].map(|x| (100.0 * x).round() / 100.0 + 0.0);
    format!("[{x:.2}, {y:.2}, {z:.2}]")
}

/// A place on a branch and how far a point lies from it.
pub(in crate::anatomy) fn on_branch(branch: &str, station: f64, distance: f64) -> String {
    format!("{branch} at {station:.1} mm, {distance:.2} mm from the point (read {READ})")
}

/// The branch nearest to a point.
///
/// # Errors
/// A point out of reach of all, with the nearest branches.
pub(super) fn branch(
    branches: &[ImportedBranch],
    p: &Vector3<f64>,
    written: Written,
) -> Result<usize, Fault> {
    let (number, station, _) = nearest(branches, p);
    let candidates = |p: &Vector3<f64>| -> Vec<Candidate> {
        let each = branches.iter().map(|branch| {
            let (_, station, _) = nearest(std::slice::from_ref(branch), p);
            let (at, radius) = place(branch, station);
            Candidate {
                called: format!("{} at {station:.1} mm", branch.name),
                at,
                radius,
            }
        });
        each.collect()
    };
    let (at, radius) = place(&branches[number], station);
    let nearest = Candidate {
        called: branches[number].name.clone(),
        at,
        radius,
    };
    within("near_mm", "branch", p, &nearest, written, candidates)?;
    Ok(number)
}

/// Refuses a point that lies too far from the candidate nearest to it; `candidates` are all that there
/// are, as seen from a point.
pub(super) fn within(
    field: &str,
    what: &str,
    p: &Vector3<f64>,
    nearest: &Candidate,
    written: Written,
    candidates: impl Fn(&Vector3<f64>) -> Vec<Candidate>,
) -> Result<(), Fault> {
    let distance = (nearest.at - p).norm();
    let allowed = reach(nearest.radius);
    if distance <= allowed {
        return Ok(());
    }
    let off = |c: &Candidate, p: &Vector3<f64>| (c.at - p).norm();
    let mut all = candidates(p);
    all.sort_by(|a, b| off(a, p).total_cmp(&off(b, p)));
    let list: Vec<String> = all
        .iter()
        .take(LISTED)
        .map(|c| {
            format!(
                "{} ({}, {:.1} mm off)",
                c.called,
                written_out(&c.at),
                off(c, p)
            )
        })
        .collect();
    let in_scene = written.to_scene(p);
    let is_from_file = candidates(&in_scene)
        .iter()
        .any(|c| off(c, &in_scene) <= reach(c.radius));
    let remedy = if is_from_file {
        format!(
            "it seems to be written as in the file, in {}, {}; in the scene it is {field} = {}",
            written.unit.sign(),
            written.frame.name(),
            written_out(&in_scene)
        )
    } else {
        format!(
            "give a point nearer to one of these; nearest are {}",
            list.join(", ")
        )
    };
    Err(Fault::Setting {
        what: format!(
            "{field} = {} lies {distance:.1} mm from the nearest {what}, {} at {} mm, allowed is up to \
             {allowed:.1} mm (two lumen diameters, at least {REACH_MM} mm); it is read {READ}",
            written_out(p),
            nearest.called,
            written_out(&nearest.at)
        ),
        remedy,
    })
}

/// Point and lumen radius of a branch at a station, in mm.
fn place(branch: &ImportedBranch, station: f64) -> (Vector3<f64>, f64) {
    let mut left = station;
    for (p, r) in branch.points.windows(2).zip(branch.radii.windows(2)) {
        let step = (p[1] - p[0]).norm();
        if left <= step && step > 0.0 {
            let t = left / step;
            return (p[0] + (p[1] - p[0]) * t, r[0] + (r[1] - r[0]) * t);
        }
        left -= step;
    }
    let last = branch.points.len() - 1;
    (branch.points[last], branch.radii[last])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::anatomy::frame::{Frame, Unit};

    fn tube() -> Vec<ImportedBranch> {
        vec![ImportedBranch {
            name: "tube".into(),
            points: (0..=40)
                .map(|i| Vector3::new(f64::from(i), 50.0, 0.0))
                .collect(),
            radii: vec![1.0; 41],
            ..ImportedBranch::default()
        }]
    }

    /// Two diameters of a lumen of 2 mm are 4 mm.
    #[test]
    fn a_point_two_diameters_off_is_taken_and_one_farther_off_refused() {
        let written = Written {
            unit: Unit::Centimetre,
            frame: Frame::LeftPosteriorSuperior,
        };
        let at = |y: f64| branch(&tube(), &Vector3::new(10.0, y, 0.0), written);
        assert_eq!(at(53.9), Ok(0));
        let fault = at(54.1).unwrap_err();
        let (text, help) = (fault.to_string(), fault.help());
        assert!(text.contains("4.1 mm from the nearest branch"), "{text}");
        assert!(text.contains("scene's frame"), "{text}");
        assert!(help.contains("tube at 10.0 mm"), "{help}");
    }

    /// The place (10, 50, 0) mm of the scene is (1, 0, 5) cm in the file's frame.
    #[test]
    fn a_point_as_the_file_has_it_is_refused_with_the_same_place_in_the_scene() {
        let written = Written {
            unit: Unit::Centimetre,
            frame: Frame::LeftPosteriorSuperior,
        };
        let fault = branch(&tube(), &Vector3::new(1.0, 0.0, 5.0), written).unwrap_err();
        let help = fault.help();
        assert!(help.contains("near_mm = [10.00, 50.00, 0.00]"), "{help}");
    }
}
