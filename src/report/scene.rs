//! The scene in words: what a scenario means as the program understands it.

mod anatomy;
mod motion;
mod support;
mod technique;
mod text;
mod vessel;
mod view;
mod wires;

pub(super) use self::motion::acting;
use self::technique::technique_table;
pub use self::text::{Block, Flow, Section, Table};
use self::text::{bullets, fixed, pairs, paragraph, significant};
use self::vessel::{branch_table, course_table, vessel_lines};
use crate::anatomy::Imported;
use crate::device::Wire;
use crate::scenario::model::{
    GuideSpec, Scenario, SolverSpec, TargetSpec, VariationSpec, WireSpec,
};
use crate::shown::{degrees, shortened};
use crate::trial::Reaching;
use crate::vessel::{BranchSwing, Course};

/// The caution that stands once in every report.
pub const CAUTION: &str = "For teaching and engineering, not for clinical decisions. The model \
    leaves out blood flow, wall damage and heart motion unless stated. Instructions for use, \
    local protocol and licensed operators decide.";

/// One branch as the table lists it.
#[derive(Debug, Clone, PartialEq)]
pub struct BranchLine {
    /// Name.
    pub name: String,
    /// Parent and station on it in mm; `None` for an inlet.
    pub parent: Option<(String, f64)>,
    /// Length of the centreline in mm.
    pub length_mm: f64,
    /// Lumen diameter at the start, at the end and at its smallest, in mm.
    pub diameters_mm: [f64; 3],
    /// Take-off angle in rad; `None` for an inlet.
    pub take_off_rad: Option<f64>,
    /// Station of the ostium in mm from the start of the branch; `None` for an inlet.
    pub ostium_mm: Option<f64>,
    /// Station at which the whole mouth ends, in mm from the start of the branch; `None` for an
    /// inlet.
    pub mouth_mm: Option<f64>,
    /// Smallest radius of curvature of the centreline in mm, infinite for a straight branch.
    pub tightest_radius_mm: f64,
    /// Station of the tightest bend in mm.
    pub tightest_at_mm: f64,
    /// Tortuosity, curvature and torsion.
    pub course: Course,
    /// What a beat of the heart does to it, if one beats.
    pub swing: Option<BranchSwing>,
}

/// What is described.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The checked scenario.
    pub scenario: &'a Scenario,
    /// Hash of the scenario's content, which results carry too.
    pub content_hash: &'a str,
    /// What looked odd when the scenario was read.
    pub warnings: &'a [String],
    /// The branches of the vessel that was built.
    pub branches: &'a [BranchLine],
    /// What counts as having reached the target.
    pub reaching: &'a Reaching,
    /// The wires that were built, in the order of the scenario.
    pub wires: &'a [Wire],
    /// What is worth knowing of the techniques in this anatomy.
    pub remarks: &'a [String],
    /// The tree that a file of anatomy became, if the vessel comes from one.
    pub imported: Option<&'a Imported>,
}

/// Wires alone as plain text, as in a scene, ending in the caution.
#[must_use]
pub fn describe_wires(
    name: &str,
    content_hash: &str,
    warnings: &[String],
    specs: &[WireSpec],
    wires: &[Wire],
) -> String {
    let mut sections = vec![Section::new(
        name,
        paragraph(&format!("wires for the bench, content {content_hash}")),
    )];
    if !warnings.is_empty() {
        sections.push(Section::new("WARNINGS", bullets(warnings)));
    }
    sections.extend(wire_sections(specs, wires));
    sections.push(Section::new("", paragraph(CAUTION)));
    text(&sections)
}

/// Wires in sections: catalogue quantities, tip shape, stiffness and core along the wire.
#[must_use]
pub fn wire_sections(specs: &[WireSpec], wires: &[Wire]) -> Vec<Section> {
    wires::sections(specs, wires)
}

/// Sections as plain text: aligned tables with units in their heads.
#[must_use]
pub fn text(sections: &[Section]) -> String {
    let sections: Vec<String> = sections.iter().map(Section::text).collect();
    sections.join("\n")
}

/// The whole scene as plain text, ending in the caution.
#[must_use]
pub fn describe(scene: &Scene) -> String {
    text(&sections(scene))
}

/// The whole scene in sections, ending in the caution.
#[must_use]
pub fn sections(scene: &Scene) -> Vec<Section> {
    let scenario = scene.scenario;
    let mut sections = vec![Section::new("", heading(scene))];
    if !scene.warnings.is_empty() {
        sections.push(Section::new("WARNINGS", bullets(scene.warnings)));
    }
    sections.extend(scene.imported.into_iter().flat_map(anatomy::sections));
    sections.push(Section::new(
        "VESSEL",
        branch_table(scene.branches)
            + course_table(scene.branches)
            + vessel_lines(&scenario.vessel, scenario.bed.as_ref(), &scenario.obstacles),
    ));
    if let Some(motion) = &scenario.motion {
        let flow = motion::section(motion, &scenario.vessel, scene.branches);
        sections.push(Section::new("MOTION", flow));
    }
    sections.push(Section::new("GUIDE", guide_lines(&scenario.guide)));
    let target = target_lines(&scenario.target, scene.reaching);
    sections.push(Section::new("TARGET", target));
    sections.extend(wires::sections(&scenario.wires, scene.wires));
    if !scenario.catheters.is_empty() {
        let catheters = support::section(&scenario.catheters);
        sections.push(Section::new("SUPPORT CATHETERS", catheters));
    }
    sections.push(Section::new("TECHNIQUES", technique_table(scenario)));
    if !scene.remarks.is_empty() {
        let remarks = bullets(scene.remarks);
        sections.push(Section::new("BALLOONS in their vessel", remarks));
    }
    if let Some(view) = &scenario.view {
        sections.push(Section::new("VIEW", view::section(view)));
    }
    sections.extend([
        Section::new(
            "VARIATION from trial to trial",
            variation_lines(&scenario.variation),
        ),
        Section::new("STUDY", study_lines(scenario)),
        Section::new(
            "SOLVER (by how much it may change an answer: bendwise evidence)",
            solver_lines(&scenario.solver),
        ),
        Section::new("CAUTION", paragraph(CAUTION)),
    ]);
    sections
}

fn heading(scene: &Scene) -> Flow {
    let lines = [
        ("scenario", scene.scenario.name.as_str()),
        ("origin", &scene.scenario.origin),
        ("description", &shortened(&scene.scenario.description)),
        ("content hash", scene.content_hash),
    ];
    pairs(&lines.map(|(name, text)| (name, text.to_owned())))
}

fn guide_lines(guide: &GuideSpec) -> Flow {
    let back_up = guide.backup_stiffness_mn_per_mm.map_or_else(
        || "holds firmly".to_owned(),
        |stiffness| {
            let limit = guide.back_out_limit_mm;
            format!("{stiffness} mN/mm; lost when pushed back by {limit} mm")
        },
    );
    pairs(&[
        (
            "ends in",
            format!("{} at {} mm", guide.branch, guide.station_mm),
        ),
        ("back-up", back_up),
    ])
}

fn target_lines(target: &TargetSpec, reaching: &Reaching) -> Flow {
    let limit = target.wall_force_limit_mn.map_or_else(
        || "none".to_owned(),
        |force| format!("{force} mN on one millimetre, leaving the guide included"),
    );
    pairs(&[
        (
            "reached",
            format!(
                "tip in {} and in no other vessel, {} mm or more beyond its whole mouth, which ends \
                 at {} mm (at {} mm and more); then it must hold",
                target.branch,
                target.beyond_ostium_mm,
                fixed(reaching.mouth_mm, 2),
                fixed(reaching.mouth_mm + reaching.beyond_mm, 2),
            ),
        ),
        (
            "hold",
            format!(
                "fed {} mm further it goes {} mm deeper or more, and stays there",
                fixed(reaching.hold_mm, 1),
                fixed(reaching.share * reaching.hold_mm, 1),
            ),
        ),
        (
            "prolapsed",
            format!(
                "another point of the wire leads the tip by more than {} mm, beside what the tip's \
                 own bend leads; told before wrong branch and stalled",
                target.prolapse_lead_mm
            ),
        ),
        (
            "astray",
            format!(
                "tip past the ostium by {} mm in another vessel",
                target.astray_mm
            ),
        ),
        (
            "wire outside guide",
            format!("{} mm at most", target.max_fed_mm),
        ),
        ("wall force limit", limit),
    ])
}

fn variation_lines(variation: &VariationSpec) -> Flow {
    let percent = |cv: f64| format!("coefficient of variation {} %", significant(100.0 * cv));
    pairs(&[
        (
            "roll at the start",
            format!(
                "{} deg, give or take {} deg",
                degrees(variation.roll_middle_rad),
                degrees(variation.roll_half_width_rad)
            ),
        ),
        ("friction", percent(variation.friction_cv)),
        ("lumen diameter", percent(variation.diameter_cv)),
        ("tip bend angle", percent(variation.bend_cv)),
        (
            "turns of the hand",
            format!("standard deviation {} deg", degrees(variation.turn_sd_rad)),
        ),
    ])
}

fn study_lines(scenario: &Scenario) -> Flow {
    let study = &scenario.study;
    let strategies = scenario.wires.len() * scenario.techniques.len();
    pairs(&[
        (
            "strategies",
            format!(
                "{strategies} (wires: {}, techniques: {})",
                scenario.wires.len(),
                scenario.techniques.len()
            ),
        ),
        ("trials of each", study.trials.to_string()),
        ("seed", study.seed.to_string()),
        (
            "recorded of each",
            format!(
                "{}, every {} mm of travel",
                study.recorded, study.record_every_mm
            ),
        ),
    ])
}

fn solver_lines(solver: &SolverSpec) -> Flow {
    let mut lines = vec![
        ("step", format!("{} mm of feed", solver.step_mm)),
        ("edge at the tip", format!("{} mm", solver.edge_mm)),
        (
            "contact points",
            format!("{} mm apart at most", solver.contact_spacing_mm),
        ),
        (
            "tolerance",
            format!("{:e} of the force scale", solver.tolerance),
        ),
        ("feed speed", format!("{} mm/s", solver.feed_speed_mm_per_s)),
    ];
    if solver.axis_spacing.to_bits() != 1f64.to_bits() {
        let times = format!("{} times as far apart as usual", solver.axis_spacing);
        lines.push(("points of the axes", times));
    }
    pairs(&lines)
}
