//! The columns of numbers that a trial measured or drew, with their meaning.

use super::columns::{Column, ColumnKind, Item};
use crate::trial::result::TrialRow;

/// Columns of numbers that a trial measured or drew.
pub(super) fn measured() -> Vec<Column> {
    type Field = (
        &'static str,
        &'static str,
        &'static str,
        fn(&TrialRow) -> f64,
    );
    let fields: [Field; 42] = [
        (
            "fed_mm",
            "mm",
            "wire outside the guide at the end, with the first 3 mm, which lie outside when a trial begins and are placed, not fed",
            |r| r.outside_mm,
        ),
        (
            "travel_mm",
            "mm",
            "length fed plus length withdrawn by the hand; what lies outside the guide at the beginning is in fed_mm and not here",
            |r| r.travel_mm,
        ),
        ("turned_deg", "deg", "sum of all turns of the hand", |r| {
            r.turned_deg
        }),
        (
            "time_s",
            "s",
            "duration of the movements at the hands' speeds",
            |r| r.time_s,
        ),
        (
            "beats",
            "",
            "beats of the heart in that time; 0 where none beats",
            |r| r.beats,
        ),
        (
            "peak_wall_force_mN",
            "mN",
            "largest force on one millimetre of wall on the way, at the target's mouth or beyond it; that of leaving the guide does not count",
            |r| r.peak_wall_force_mn,
        ),
        (
            "peak_wall_force_leaving_guide_mN",
            "mN",
            "the same in the guide or within 10 mm of its end",
            |r| r.peak_wall_force_leaving_guide_mn,
        ),
        (
            "peak_wall_force_on_the_way_mN",
            "mN",
            "the same on the way",
            |r| r.peak_wall_force_on_the_way_mn,
        ),
        (
            "peak_wall_force_at_mouth_mN",
            "mN",
            "the same at the target's mouth; 0 where nothing pressed there",
            |r| r.peak_wall_force_at_mouth_mn,
        ),
        (
            "peak_wall_force_beyond_mN",
            "mN",
            "the same in the target beyond its mouth; 0 where nothing pressed there",
            |r| r.peak_wall_force_beyond_mn,
        ),
        (
            "peak_tip_force_mN",
            "mN",
            "largest magnitude of the axial force on the tip's last millimetre",
            |r| r.peak_tip_force_mn,
        ),
        (
            "peak_tip_force_backward_mN",
            "mN",
            "largest such force that pushes the tip back",
            |r| r.peak_tip_force_backward_mn,
        ),
        (
            "peak_tip_force_forward_mN",
            "mN",
            "largest such force that draws the tip forward",
            |r| r.peak_tip_force_forward_mn,
        ),
        (
            "peak_push_force_mN",
            "mN",
            "largest force with which the hand pushes the wire, leaving the guide included",
            |r| r.peak_push_force_mn,
        ),
        (
            "peak_pull_force_mN",
            "mN",
            "largest force with which the hand pulls the wire, leaving the guide included: often where the bend springs out of it",
            |r| r.peak_pull_force_mn,
        ),
        (
            "peak_push_or_pull_mN",
            "mN",
            "largest magnitude of the two",
            |r| r.peak_push_or_pull_mn,
        ),
        (
            "peak_torque_mN_mm",
            "mN mm",
            "largest magnitude of the torque of the hand on the wire",
            |r| r.peak_torque_mn_mm,
        ),
        (
            "peak_torque_forward_mN_mm",
            "mN mm",
            "largest torque in the sense in which the wire is turned forward",
            |r| r.peak_torque_forward_mn_mm,
        ),
        (
            "peak_torque_backward_mN_mm",
            "mN mm",
            "largest torque in the other sense",
            |r| r.peak_torque_backward_mn_mm,
        ),
        (
            "peak_wall_deflection_mm",
            "mm",
            "deepest local dent of the wall under a device; how far the whole vessel was moved is peak_vessel_moved_mm",
            |r| r.peak_wall_deflection_mm,
        ),
        (
            "peak_strain_ratio",
            "",
            "largest bending strain over its limit; above 1: kink risk",
            |r| r.peak_strain_ratio,
        ),
        ("peak_axial_strain", "", "largest axial strain", |r| {
            r.peak_axial_strain
        }),
        (
            "peak_friction_ratio",
            "",
            "largest friction over its Coulomb limit; 1 where a contact slides",
            |r| r.peak_friction_ratio,
        ),
        (
            "peak_vessel_moved_mm",
            "mm",
            "farthest that a vessel's axis was moved; 0 where none gives way",
            |r| r.peak_vessel_moved_mm,
        ),
        (
            "peak_vessel_straightened_deg",
            "deg",
            "largest loss of turning within 10 mm of a vessel",
            |r| r.peak_vessel_straightened_deg,
        ),
        (
            "peak_vessel_compression",
            "",
            "largest compression of a vessel's wall along it",
            |r| r.peak_vessel_compression,
        ),
        (
            "set_deg",
            "deg",
            "set that the wire's core keeps at the end",
            |r| r.set_deg,
        ),
        (
            "set_from_tip_mm",
            "mm",
            "where that set is most curved, from the tip",
            |r| r.set_from_tip_mm,
        ),
        (
            "catheter_fed_mm",
            "mm",
            "support catheter outside the guide at the end; 0 without one",
            |r| r.catheter_fed_mm,
        ),
        (
            "catheter_turned_deg",
            "deg",
            "sum of all turns of the support catheter's hub",
            |r| r.catheter_turned_deg,
        ),
        (
            "peak_catheter_wall_force_mN",
            "mN",
            "largest force of the support catheter alone on one millimetre of wall, at any place",
            |r| r.peak_catheter_wall_force_mn,
        ),
        (
            "peak_turning_wall_force_mN",
            "mN",
            "the same while the support catheter was turned",
            |r| r.peak_turning_wall_force_mn,
        ),
        (
            "peak_catheter_push_force_mN",
            "mN",
            "largest force with which the catheter's hub is pushed",
            |r| r.peak_catheter_push_force_mn,
        ),
        (
            "peak_catheter_pull_force_mN",
            "mN",
            "largest force with which it is pulled",
            |r| r.peak_catheter_pull_force_mn,
        ),
        (
            "peak_catheter_push_or_pull_mN",
            "mN",
            "largest magnitude of the two",
            |r| r.peak_catheter_push_or_pull_mn,
        ),
        (
            "peak_catheter_torque_mN_mm",
            "mN mm",
            "largest magnitude of the torque at the catheter's hub",
            |r| r.peak_catheter_torque_mn_mm,
        ),
        (
            "peak_catheter_torque_forward_mN_mm",
            "mN mm",
            "largest torque there in the sense in which it is turned forward",
            |r| r.peak_catheter_torque_forward_mn_mm,
        ),
        (
            "peak_catheter_torque_backward_mN_mm",
            "mN mm",
            "largest torque there in the other sense",
            |r| r.peak_catheter_torque_backward_mn_mm,
        ),
        ("drawn_roll_deg", "deg", "roll drawn at the start", |r| {
            r.roll_deg
        }),
        ("drawn_friction", "", "friction coefficient drawn", |r| {
            r.friction
        }),
        (
            "drawn_diameter_factor",
            "",
            "factor drawn on every lumen diameter",
            |r| r.diameter_factor,
        ),
        (
            "drawn_bend_factor",
            "",
            "factor drawn on the tip's bend angle",
            |r| r.bend_factor,
        ),
    ];
    fields
        .into_iter()
        .map(|(name, unit, meaning, get)| {
            Column::new(name, ColumnKind::Number, unit, meaning, move |at| {
                Item::Number(get(at.row))
            })
        })
        .collect()
}
