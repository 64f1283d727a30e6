//! Which value of a recorded step is which peak of a trial.
//!
//! A trial's peaks are read from the same numbers that a trace holds, so that the step at which
//! each of them occurs can be kept in the trace.

use super::result::{TraceRow, TrialRow};

/// Number of peaks.
pub(super) const COUNT: usize = 28;

/// What a step brings to each peak; what has a sign comes as two values, of which the negative one
/// counts as none. `turning`: the catheter was turned in this step.
pub(super) fn of_step(row: &TraceRow, turning: bool) -> [f64; COUNT] {
    let of_catheter = row.catheter_wall_force_max_mN;
    [
        row.wall_force_leaving_guide_mN,
        row.wall_force_on_the_way_mN,
        row.wall_force_at_mouth_mN,
        row.wall_force_beyond_mN,
        row.tip_force_mN,
        -row.tip_force_mN,
        row.tip_force_mN.abs(),
        row.push_force_mN,
        -row.push_force_mN,
        row.push_force_mN.abs(),
        row.torque_mN_mm,
        -row.torque_mN_mm,
        row.torque_mN_mm.abs(),
        row.wall_deflection_max_mm,
        row.strain_ratio,
        row.axial_strain,
        row.friction_ratio,
        of_catheter,
        if turning { of_catheter } else { 0.0 },
        row.catheter_push_force_mN,
        -row.catheter_push_force_mN,
        row.catheter_push_force_mN.abs(),
        row.catheter_torque_mN_mm,
        -row.catheter_torque_mN_mm,
        row.catheter_torque_mN_mm.abs(),
        row.vessel_moved_mm,
        row.vessel_straightened_deg,
        row.vessel_compression,
    ]
}

/// Writes the peaks into a trial's row.
pub(super) fn into_row(peaks: &[f64; COUNT], row: &mut TrialRow) {
    let [
        leaving_guide,
        on_the_way,
        at_mouth,
        beyond,
        tip_backward,
        tip_forward,
        tip,
        push,
        pull,
        push_or_pull,
        torque_forward,
        torque_backward,
        torque,
        deflection,
        strain_ratio,
        axial_strain,
        friction_ratio,
        catheter_wall,
        turning_wall,
        catheter_push,
        catheter_pull,
        catheter_push_or_pull,
        catheter_torque_forward,
        catheter_torque_backward,
        catheter_torque,
        moved,
        straightened,
        compression,
    ] = *peaks;
    row.peak_wall_force_mn = on_the_way.max(at_mouth).max(beyond);
    row.peak_wall_force_leaving_guide_mn = leaving_guide;
    row.peak_wall_force_on_the_way_mn = on_the_way;
    row.peak_wall_force_at_mouth_mn = at_mouth;
    row.peak_wall_force_beyond_mn = beyond;
    row.peak_tip_force_mn = tip;
    row.peak_tip_force_backward_mn = tip_backward;
    row.peak_tip_force_forward_mn = tip_forward;
    row.peak_push_force_mn = push;
    row.peak_pull_force_mn = pull;
    row.peak_push_or_pull_mn = push_or_pull;
    row.peak_torque_mn_mm = torque;
    row.peak_torque_forward_mn_mm = torque_forward;
    row.peak_torque_backward_mn_mm = torque_backward;
    row.peak_wall_deflection_mm = deflection;
    row.peak_strain_ratio = strain_ratio;
    row.peak_axial_strain = axial_strain;
    row.peak_friction_ratio = friction_ratio;
    row.peak_catheter_wall_force_mn = catheter_wall;
    row.peak_turning_wall_force_mn = turning_wall;
    row.peak_catheter_push_force_mn = catheter_push;
    row.peak_catheter_pull_force_mn = catheter_pull;
    row.peak_catheter_push_or_pull_mn = catheter_push_or_pull;
    row.peak_catheter_torque_mn_mm = catheter_torque;
    row.peak_catheter_torque_forward_mn_mm = catheter_torque_forward;
    row.peak_catheter_torque_backward_mn_mm = catheter_torque_backward;
    row.peak_vessel_moved_mm = moved;
    row.peak_vessel_straightened_deg = straightened;
    row.peak_vessel_compression = compression;
}
