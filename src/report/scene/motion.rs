//! How the vessel moves by itself, in words.

use super::BranchLine;
use super::text::{Table, dash, fixed, pairs};
use crate::scenario::model::{BreathSpec, HeartCourse, HeartSpec, MotionSpec, VesselSpec};
use crate::shown::degrees;
use crate::trial::PUBLISHED_MM_PER_S;

/// The section of a scenario's `[vessel.motion]` table.
pub(super) fn section(motion: &MotionSpec, vessel: &VesselSpec, branches: &[BranchLine]) -> String {
    let mut lines = Vec::new();
    if let Some(heart) = &motion.heart {
        lines.extend(heart_lines(heart, vessel));
    }
    if let Some(breath) = &motion.breath {
        lines.extend(breath_lines(breath));
    }
    lines.push((
        "frame",
        "places and forces are those against the guide's end, which rides with the vessel"
            .to_owned(),
    ));
    let mut text = pairs(&lines);
    if branches.iter().any(|branch| branch.swing.is_some()) {
        text += &table(branches);
    }
    text
}

fn heart_lines(heart: &HeartSpec, vessel: &VesselSpec) -> Vec<(&'static str, String)> {
    let rate = format!(
        "{} beats a minute; a trial begins at end diastole",
        fixed(60.0 / heart.period_s, 0)
    );
    let mut lines = vec![("heart", rate)];
    match &heart.course {
        HeartCourse::Phases(phases) => lines.push((
            "phases",
            format!(
                "the vessel and {} further files, at equal times, smoothly in between",
                phases.len()
            ),
        )),
        HeartCourse::ByKind {
            over_muscle,
            curvature_per_mm,
            bends_every_mm,
            in_groove,
            groove_mm,
            ..
        } => {
            let names = |of: &[usize]| {
                let names: Vec<_> = of
                    .iter()
                    .map(|&b| vessel.branches[b].name.as_str())
                    .collect();
                names.join(", ")
            };
            if !over_muscle.is_empty() {
                lines.push((
                    "over muscle",
                    format!(
                        "{}: in systole bent every {bends_every_mm} mm, mean curvature up by {} per cm",
                        names(over_muscle),
                        fixed(10.0 * curvature_per_mm, 2)
                    ),
                ));
            }
            if !in_groove.is_empty() {
                lines.push((
                    "in the groove",
                    format!(
                        "{}: swings about its start by up to {groove_mm} mm",
                        names(in_groove)
                    ),
                ));
            }
        }
    }
    let [low, high] = PUBLISHED_MM_PER_S;
    lines.push((
        "speed of the wall",
        format!("below, in space; {low} to {high} mm/s were measured (Mao et al. 2000)"),
    ));
    lines
}

fn breath_lines(breath: &BreathSpec) -> Vec<(&'static str, String)> {
    let roadmap = if breath.roadmap_follows {
        "the roadmap is laid on the guide's end"
    } else {
        "the roadmap stays"
    };
    vec![(
        "breath",
        format!(
            "{} a minute: heart and guide's end go {} mm and turn by {} deg as one; {roadmap}",
            fixed(60.0 / breath.period_s, 0),
            fixed(breath.way_mm.norm(), 1),
            degrees(breath.turn_rad.norm())
        ),
    )]
}

fn table(branches: &[BranchLine]) -> String {
    let mut table = Table::new(&[
        ("branch", ""),
        ("moves by", "mm"),
        ("top speed", "mm/s"),
        ("curvature", "diastole 1/cm"),
        ("curvature", "most 1/cm"),
    ]);
    for branch in branches {
        let number = |value: Option<f64>, digits| value.map_or_else(dash, |v| fixed(v, digits));
        let swing = branch.swing.as_ref();
        // Per cm.
        let curvature = |k: usize| swing.map(|s| 10.0 * s.curvature_per_mm[k]);
        table.row(vec![
            branch.name.clone(),
            number(swing.map(|s| s.way_mm), 1),
            number(swing.map(|s| s.speed_mm_per_s), 0),
            number(curvature(0), 2),
            number(curvature(1), 2),
        ]);
    }
    table.render()
}
