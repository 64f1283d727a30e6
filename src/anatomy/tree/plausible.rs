//! Refuses branches that no vessel for a wire has, before a lumen is made of them: their size decides
//! how much memory that takes.

use std::f64::consts::PI;

use super::ImportedBranch;
use super::polyline::Polyline;
use crate::anatomy::error::{At, Checked, Fault};

/// Largest lumen radius in mm: that of the widest lumen which a scenario may describe.
const WIDEST_MM: f64 = 20.0;
/// Largest change of the radius for each mm along the vessel. The wall of a tube needs less than 1;
/// between that and this it is taken for a funnel.
const STEEPEST: f64 = 3.0;
/// Largest volume of all branches together in mm³: one litre.
const LARGEST_MM3: f64 = 1e6;

/// Checks radii, their change and the volume.
pub(super) fn check(branches: &[ImportedBranch]) -> Checked<()> {
    let mut volume = 0.0;
    for branch in branches {
        if let Some(i) = branch.radii.iter().position(|r| *r > WIDEST_MM) {
            return refuse(
                At::Point(branch.points[i].into()),
                format!(
                    "the lumen radius of {} is {:.1} mm, allowed is up to {WIDEST_MM} mm",
                    branch.name, branch.radii[i]
                ),
            );
        }
        for (p, r) in branch.points.windows(2).zip(branch.radii.windows(2)) {
            let along = (p[1] - p[0]).norm();
            volume += PI * r[0] * r[0] * along;
            if (r[1] - r[0]).abs() > STEEPEST * along {
                return refuse(
                    At::Point(p[0].into()),
                    format!(
                        "the lumen radius of {} goes from {:.2} to {:.2} mm within {along:.2} mm; \
                         allowed is a change of {STEEPEST} mm for each mm",
                        branch.name, r[0], r[1]
                    ),
                );
            }
        }
    }
    if volume > LARGEST_MM3 {
        return refuse(
            At::Whole,
            format!(
                "its branches hold {volume:.0} mm³ together, allowed are up to {LARGEST_MM3:.0} mm³"
            ),
        );
    }
    Ok(())
}

/// Refuses a line, as it was read, that is beyond all bounds: its smoothing, whose scale goes with the radius,
/// would take long and end with the same refusal.
///
/// # Errors
/// A radius of twice the largest that is allowed, or a volume of twice the largest.
pub(super) fn check_line(line: &Polyline) -> Checked<()> {
    if let Some(i) = line.radii.iter().position(|r| *r > 2.0 * WIDEST_MM) {
        return refuse(
            At::Point(line.points[i].into()),
            format!(
                "the lumen radius of a line is {:.1} mm, allowed is up to {WIDEST_MM} mm",
                line.radii[i]
            ),
        );
    }
    let pairs = line.points.windows(2).zip(line.radii.windows(2));
    let volume: f64 = pairs
        .map(|(p, r)| PI * r[0] * r[0] * (p[1] - p[0]).norm())
        .sum();
    if volume > 2.0 * LARGEST_MM3 {
        return refuse(
            At::Point(line.points[0].into()),
            format!(
                "a line from here holds {volume:.0} mm³, allowed are up to {LARGEST_MM3:.0} mm³"
            ),
        );
    }
    Ok(())
}

fn refuse(at: At, what: String) -> Checked<()> {
    let remedy = "correct the radius, or cut off what is no vessel for a wire \
                  (cut_inlet_radius_mm, cut_inlet_mm)";
    let remedy = remedy.into();
    Err((at, Fault::Setting { what, remedy }))
}
