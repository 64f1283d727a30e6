//! Straightening: a wire is fed through a bend of a vessel that lies in soft tissue.

use nalgebra::Vector3;

use super::AssayError;
use super::path::{enter, tube};
use crate::contact::Contact;
use crate::device::Wire;
use crate::scenario::bench::StraighteningTest;
use crate::scenario::model::PieceSpec;
use crate::solve::{Assembly, GuideTip, StepSettings};

/// Straight vessel before the bend in mm.
const LEAD_MM: f64 = 15.0;
/// Movement between two readings in mm.
const READ_EVERY_MM: f64 = 2.0;

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Distance of the bend's apex from the wire's tip, along the wire, in mm.
    pub apex_mm: f64,
    /// Force in mN with which the wire presses the bend outwards, along the bisector of the bend.
    pub force_mn: f64,
    /// Largest sideways movement of the vessel's centreline in mm.
    pub moved_mm: f64,
}

/// A wire fed through a bend that it straightens.
///
/// The vessel is held by the tissue around it as by springs side by side (Winkler's foundation),
/// and its cross-section moves as a whole: where the wire presses with `f` mN for each mm, the
/// centreline moves by `f / k`. The vessel's own stiffness against bending is left out.
///
/// # Errors
/// [`AssayError`] where the bend cannot be built or no equilibrium is found.
pub fn straighten(wire: &Wire, test: &StraighteningTest) -> Result<Vec<Row>, AssayError> {
    let name = "straightening";
    let apex = LEAD_MM + 0.5 * test.radius_mm * test.angle_rad;
    let pieces = vec![
        PieceSpec::Straight { length_mm: LEAD_MM },
        PieceSpec::Arc {
            radius_mm: test.radius_mm,
            angle_rad: test.angle_rad,
            plane_rad: 0.0,
        },
        PieceSpec::Straight {
            length_mm: test.fed_mm,
        },
    ];
    let tree = tube(name, pieces, test.lumen_mm)?;
    let line = &tree.branches()[0].centreline;
    let outward = -line.curvature(apex).normalize();
    let guide_tip = GuideTip {
        exit: line.position(0.0),
        axis: line.tangent(0.0),
        backup: None,
    };
    let settings = StepSettings {
        feed_mm: 0.5,
        edge_mm: 0.5,
        ..StepSettings::default()
    };
    let fault = |failure| AssayError::Tube {
        test: name.into(),
        failure,
    };
    let stiffness = test.tissue_stiffness_mn_per_mm2;
    let mut insertion =
        enter(wire, &tree, stiffness, guide_tip, settings, test.fed_mm).map_err(fault)?;
    let mut rows = Vec::new();
    while insertion.outside_mm() < test.fed_mm - 1e-9 {
        let part = READ_EVERY_MM.min(test.fed_mm - insertion.outside_mm());
        insertion.feed(part).map_err(fault)?;
        if insertion.outside_mm() >= apex {
            rows.push(read(&insertion, apex, &outward));
        }
    }
    Ok(rows)
}

fn read(insertion: &Assembly<'_>, apex: f64, outward: &Vector3<f64>) -> Row {
    let contact = insertion.wire_body().and_then(|body| body.contact.as_ref());
    let active_contacts = contact.into_iter().flat_map(Contact::active_contacts);
    let (force_mn, moved_mm) =
        active_contacts.fold((0.0, 0.0), |(force, moved): (f64, f64), active| {
            let along = active.normal.dot(outward);
            (
                force + active.normal_force * along.max(0.0),
                moved.max(active.depth),
            )
        });
    Row {
        apex_mm: insertion.outside_mm() - apex,
        force_mn,
        moved_mm,
    }
}
