//! Guards tables against values that are not numbers.

use crate::trial::result::{Outcome, TrialRow};

/// Makes a row with a value that is not a finite number an unresolved trial: the note names the
/// value, and the value is missing from then on: not-a-number in memory, null in the journal, an
/// empty field in tables, and in no median.
pub fn reject_non_finite(row: &mut TrialRow) {
    let fields = [
        ("fed_mm", &mut row.fed_mm),
        ("travel_mm", &mut row.travel_mm),
        ("turned_deg", &mut row.turned_deg),
        ("peak_wall_force_mN", &mut row.peak_wall_force_mn),
        (
            "peak_wall_force_leaving_guide_mN",
            &mut row.peak_wall_force_leaving_guide_mn,
        ),
        (
            "peak_wall_force_on_the_way_mN",
            &mut row.peak_wall_force_on_the_way_mn,
        ),
        (
            "peak_wall_force_at_mouth_mN",
            &mut row.peak_wall_force_at_mouth_mn,
        ),
        (
            "peak_wall_force_beyond_mN",
            &mut row.peak_wall_force_beyond_mn,
        ),
        ("peak_tip_force_mN", &mut row.peak_tip_force_mn),
        (
            "peak_tip_force_backward_mN",
            &mut row.peak_tip_force_backward_mn,
        ),
        (
            "peak_tip_force_forward_mN",
            &mut row.peak_tip_force_forward_mn,
        ),
        ("peak_push_force_mN", &mut row.peak_push_force_mn),
        ("peak_pull_force_mN", &mut row.peak_pull_force_mn),
        ("peak_push_or_pull_mN", &mut row.peak_push_or_pull_mn),
        ("peak_torque_mN_mm", &mut row.peak_torque_mn_mm),
        (
            "peak_torque_forward_mN_mm",
            &mut row.peak_torque_forward_mn_mm,
        ),
        (
            "peak_torque_backward_mN_mm",
            &mut row.peak_torque_backward_mn_mm,
        ),
        ("peak_wall_deflection_mm", &mut row.peak_wall_deflection_mm),
        ("peak_strain_ratio", &mut row.peak_strain_ratio),
        ("peak_axial_strain", &mut row.peak_axial_strain),
        ("peak_friction_ratio", &mut row.peak_friction_ratio),
        ("peak_vessel_moved_mm", &mut row.peak_vessel_moved_mm),
        (
            "peak_vessel_straightened_deg",
            &mut row.peak_vessel_straightened_deg,
        ),
        ("peak_vessel_compression", &mut row.peak_vessel_compression),
        ("set_deg", &mut row.set_deg),
        ("set_from_tip_mm", &mut row.set_from_tip_mm),
        ("catheter_fed_mm", &mut row.catheter_fed_mm),
        ("catheter_turned_deg", &mut row.catheter_turned_deg),
        (
            "peak_catheter_wall_force_mN",
            &mut row.peak_catheter_wall_force_mn,
        ),
        (
            "peak_turning_wall_force_mN",
            &mut row.peak_turning_wall_force_mn,
        ),
        (
            "peak_catheter_push_force_mN",
            &mut row.peak_catheter_push_force_mn,
        ),
        (
            "peak_catheter_pull_force_mN",
            &mut row.peak_catheter_pull_force_mn,
        ),
        (
            "peak_catheter_push_or_pull_mN",
            &mut row.peak_catheter_push_or_pull_mn,
        ),
        (
            "peak_catheter_torque_mN_mm",
            &mut row.peak_catheter_torque_mn_mm,
        ),
        (
            "peak_catheter_torque_forward_mN_mm",
            &mut row.peak_catheter_torque_forward_mn_mm,
        ),
        (
            "peak_catheter_torque_backward_mN_mm",
            &mut row.peak_catheter_torque_backward_mn_mm,
        ),
        ("roll_deg", &mut row.roll_deg),
        ("friction", &mut row.friction),
        ("diameter_factor", &mut row.diameter_factor),
        ("bend_factor", &mut row.bend_factor),
    ];
    let mut broken = Vec::new();
    for (name, value) in fields {
        if !value.is_finite() {
            broken.push(format!("{name} was {value}"));
            *value = f64::NAN;
        }
    }
    if !broken.is_empty() {
        row.outcome = Outcome::Unresolved;
        if !row.note.is_empty() {
            row.note.push_str("; ");
        }
        let broken = broken.join("; ");
        row.note.push_str(&broken);
        row.reason = "not a number".to_owned();
        row.why = broken;
    }
}
