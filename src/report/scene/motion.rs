//! How the vessel moves by itself, in words.

use super::BranchLine;
use super::text::{Flow, Table, dash, fixed, pairs};
use crate::scenario::model::{
    BreathSpec, HeartCourse, HeartSpec, MotionSpec, Scenario, VesselSpec,
};
use crate::shown::degrees;
use crate::trial::PUBLISHED_MM_PER_S;

/// A name with what stands behind it.
type Line = (&'static str, String);

/// What holds and what moves the vessel of a scenario, a line each; none for one that is rigid and stands.
pub(in crate::report) fn acting(scenario: &Scenario) -> Vec<String> {
    let bed = scenario.bed.iter().map(|bed| ("bed", bed.words()));
    let motion = scenario.motion.iter();
    let moving = motion.flat_map(|motion| motion_lines(motion, &scenario.vessel));
    let both = bed.chain(moving);
    both.map(|(what, how)| format!("{what}: {how}")).collect()
}

/// The section of a scenario's `[vessel.motion]` table.
pub(super) fn section(motion: &MotionSpec, vessel: &VesselSpec, branches: &[BranchLine]) -> Flow {
    let mut lines = motion_lines(motion, vessel);
    if branches.iter().all(|branch| branch.swing.is_none()) {
        return pairs(&lines);
    }
    let [low, high] = PUBLISHED_MM_PER_S;
    lines.push((
        "speed of the wall",
        format!("below, in space; {low} to {high} mm/s were measured (Mao et al. 2000)"),
    ));
    pairs(&lines) + table(branches)
}

fn motion_lines(motion: &MotionSpec, vessel: &VesselSpec) -> Vec<Line> {
    let mut lines = Vec::new();
    if let Some(heart) = &motion.heart {
        lines.extend(heart_lines(heart, vessel));
    }
    lines.extend(motion.breath.iter().map(breath_line));
    let frame = "places and forces are those against the guide's end, which rides with the vessel";
    lines.push(("frame", frame.to_owned()));
    lines
}

fn heart_lines(heart: &HeartSpec, vessel: &VesselSpec) -> Vec<Line> {
    let rate = format!(
        "{} beats a minute; a trial begins at end diastole",
        fixed(60.0 / heart.period_s, 0)
    );
    let mut lines = vec![("heart", rate)];
    let names = |of: &[usize]| {
        let names = of.iter().map(|&b| vessel.branches[b].name.as_str());
        names.collect::<Vec<_>>().join(", ")
    };
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
            if !over_muscle.is_empty() {
                let text = format!(
                    "{}: in systole bent every {bends_every_mm} mm, mean curvature up by {} per cm",
                    names(over_muscle),
                    fixed(10.0 * curvature_per_mm, 2)
                );
                lines.push(("over muscle", text));
            }
            if !in_groove.is_empty() {
                let text = format!(
                    "{}: swings about its start by up to {groove_mm} mm",
                    names(in_groove)
                );
                lines.push(("in the groove", text));
            }
        }
    }
    lines
}

fn breath_line(breath: &BreathSpec) -> Line {
    let roadmap = if breath.roadmap_follows {
        "the roadmap is laid on the guide's end"
    } else {
        "the roadmap stays"
    };
    let text = format!(
        "{} a minute: heart and guide's end go {} mm and turn by {} deg as one; {roadmap}",
        fixed(60.0 / breath.period_s, 0),
        fixed(breath.way_mm.norm(), 1),
        degrees(breath.turn_rad.norm())
    );
    ("breath", text)
}

fn table(branches: &[BranchLine]) -> Flow {
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
    table.flow()
}
