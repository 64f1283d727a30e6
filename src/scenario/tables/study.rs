//! `[study]`, `[guide]`, `[target]`, `[variation]` and `[solver]`.

use super::{allowed, anatomy};
use crate::anatomy::Imported;
use crate::scenario::error::Checked;
use crate::scenario::model::{GuideSpec, SolverSpec, StudySpec, TargetSpec, VariationSpec};
use crate::scenario::read::{Fields, Table};

const STUDY: Fields = &[
    ("trials", "32"),
    ("seed", "1"),
    ("recorded", "2"),
    ("record_every_mm", "1.0"),
];
/// Fields of the table.
pub(in crate::scenario) const GUIDE: Fields = &[
    ("branch", "\"parent\""),
    ("tip", "1"),
    ("near_mm", "[0, 0, 0]"),
    ("at_mm", "0"),
    ("backup_stiffness_mN_per_mm", "50"),
    ("back_out_limit_mm", "10"),
    ("inner_diameter_mm", "1.8"),
];
/// Fields of the table.
pub(in crate::scenario) const TARGET: Fields = &[
    ("branch", "\"side\""),
    ("tip", "1"),
    ("near_mm", "[0, 0, 0]"),
    ("beyond_ostium_mm", "5"),
    ("hold_mm", "5"),
    ("hold_share", "0.5"),
    ("prolapse_lead_mm", "1"),
    ("astray_mm", "8"),
    ("max_fed_mm", "80"),
    ("wall_force_limit_mN", "500"),
];
const VARIATION: Fields = &[
    ("roll_half_width_deg", "180"),
    ("roll_middle_deg", "0"),
    ("friction_cv", "0.2"),
    ("turn_sd_deg", "5"),
    ("diameter_cv", "0.05"),
    ("bend_cv", "0.1"),
];
const SOLVER: Fields = &[
    ("step_mm", "0.2"),
    ("edge_mm", "0.25"),
    ("tolerance", "1e-5"),
    ("feed_speed_mm_per_s", "10"),
];

/// Reads `[study]`; every field may be left out.
pub(super) fn study(root: &Table<'_>) -> Checked<StudySpec> {
    let mut study = StudySpec {
        trials: 32,
        seed: 1,
        recorded: 2,
        record_every_mm: 1.0,
    };
    if let Some(table) = root.table("study", STUDY)? {
        study.trials = table.count_or("trials", &allowed::TRIALS, study.trials)?;
        study.seed = table.whole_or("seed", &allowed::SEED, study.seed)?;
        study.recorded = table.count_or("recorded", &allowed::RECORDED, study.recorded)?;
        study.record_every_mm =
            table.number_or("record_every_mm", &allowed::LENGTH, study.record_every_mm)?;
    }
    Ok(study)
}

/// Reads `[guide]`.
pub(super) fn guide(root: &Table<'_>, imported: Option<&Imported>) -> Checked<GuideSpec> {
    let table = super::required(root, "guide", GUIDE)?;
    let (branch, nearest_mm) = anatomy::branch(&table, imported)?;
    if nearest_mm.is_some() && table.has("at_mm") {
        return Err(table.disagreement(
            "at_mm",
            "near_mm says the station already".into(),
            "keep one of near_mm and at_mm".into(),
        ));
    }
    Ok(GuideSpec {
        branch,
        station_mm: table.number_or("at_mm", &allowed::STATION, nearest_mm.unwrap_or(0.0))?,
        backup_stiffness_mn_per_mm: table
            .number_if("backup_stiffness_mN_per_mm", &allowed::BACKUP)?,
        back_out_limit_mm: table.number_or("back_out_limit_mm", &allowed::LENGTH, 10.0)?,
        inner_diameter_mm: table.number_or("inner_diameter_mm", &allowed::GUIDE_LUMEN, 1.8)?,
        place: table.place,
    })
}

/// Reads `[target]`.
pub(super) fn target(root: &Table<'_>, imported: Option<&Imported>) -> Checked<TargetSpec> {
    let table = super::required(root, "target", TARGET)?;
    Ok(TargetSpec {
        branch: anatomy::branch(&table, imported)?.0,
        beyond_ostium_mm: table.number_or("beyond_ostium_mm", &allowed::LENGTH, 5.0)?,
        hold_mm: table.number_if("hold_mm", &allowed::LENGTH)?,
        hold_share: table.number_or("hold_share", &allowed::SHARE, 0.5)?,
        prolapse_lead_mm: table.number_or("prolapse_lead_mm", &allowed::LENGTH, 1.0)?,
        astray_mm: table.number_or("astray_mm", &allowed::LENGTH, 8.0)?,
        max_fed_mm: table.number("max_fed_mm", &allowed::LENGTH)?,
        wall_force_limit_mn: table.number_if("wall_force_limit_mN", &allowed::FORCE)?,
        place: table.place,
    })
}

/// Reads `[variation]`. What is left out does not vary, except the roll: any roll is as likely.
pub(super) fn variation(root: &Table<'_>) -> Checked<VariationSpec> {
    let mut variation = VariationSpec {
        roll_half_width_rad: std::f64::consts::PI,
        roll_middle_rad: 0.0,
        friction_cv: 0.0,
        turn_sd_rad: 0.0,
        diameter_cv: 0.0,
        bend_cv: 0.0,
    };
    if let Some(table) = root.table("variation", VARIATION)? {
        variation.roll_half_width_rad =
            table.angle_or("roll_half_width_deg", &allowed::HALF_WIDTH, 180.0)?;
        variation.roll_middle_rad = table.angle_or("roll_middle_deg", &allowed::PLANE, 0.0)?;
        variation.friction_cv = table.number_or("friction_cv", &allowed::VARIATION, 0.0)?;
        variation.turn_sd_rad = table.angle_or("turn_sd_deg", &allowed::ANGLE_SD, 0.0)?;
        variation.diameter_cv = table.number_or("diameter_cv", &allowed::VARIATION, 0.0)?;
        variation.bend_cv = table.number_or("bend_cv", &allowed::VARIATION, 0.0)?;
    }
    Ok(variation)
}

/// Reads `[solver]`; every field may be left out.
pub(super) fn solver(root: &Table<'_>) -> Checked<SolverSpec> {
    let mut solver = SolverSpec::default();
    if let Some(table) = root.table("solver", SOLVER)? {
        solver.step_mm = table.number_or("step_mm", &allowed::STEP, solver.step_mm)?;
        solver.edge_mm = table.number_or("edge_mm", &allowed::EDGE, solver.edge_mm)?;
        solver.tolerance = table.number_or("tolerance", &allowed::TOLERANCE, solver.tolerance)?;
        solver.feed_speed_mm_per_s = table.number_or(
            "feed_speed_mm_per_s",
            &allowed::SPEED,
            solver.feed_speed_mm_per_s,
        )?;
    }
    Ok(solver)
}
