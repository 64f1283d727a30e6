//! Straightening: a wire is fed through a bend of a vessel that lies in soft tissue.

use std::sync::Arc;

use nalgebra::Vector3;

use super::AssayError;
use super::path::{enter, tube};
use crate::contact::Contact;
use crate::device::Wire;
use crate::scenario::bench::StraighteningTest;
use crate::scenario::model::{PieceSpec, Tissue};
use crate::solve::{Assembly, GuideTip, StepSettings};
use crate::vessel::{Bed, GivingVessel, MovedTree};

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
    /// Largest movement of the vessel's axis in mm.
    pub moved_mm: f64,
    /// Largest loss of turning within 10 mm of the axis in rad.
    pub straightened_rad: f64,
}

/// A wire fed through a bend that it straightens.
///
/// The vessel is held by the tissue around it and stiffened by its wall, as a vessel with a bed is in a
/// scenario ([`GivingVessel`]); its wall dents under the wire as well, which moves no axis.
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
    let tree = Arc::new(tube(name, pieces, test.lumen_mm)?);
    let across = test.tissue_stiffness_mn_per_mm2;
    let bed = Bed::around(
        [across, Tissue::ALONG * across],
        test.wall_modulus_mpa,
        test.wall_share,
    );
    let vessel = Arc::new(GivingVessel::new(&tree, bed));
    let lumen = MovedTree::new(Arc::clone(&tree), vessel);
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
    let stiffness = test.wall_stiffness_mn_per_mm2;
    let mut insertion =
        enter(wire, &lumen, stiffness, guide_tip, settings, test.fed_mm).map_err(fault)?;
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
    let force_mn = active_contacts
        .map(|active| active.normal_force * active.normal.dot(outward).max(0.0))
        .sum();
    let vessel = insertion.vessel().unwrap_or_default();
    Row {
        apex_mm: insertion.outside_mm() - apex,
        force_mn,
        moved_mm: vessel.moved_mm.0,
        straightened_rad: vessel.straightened_rad.0,
    }
}
