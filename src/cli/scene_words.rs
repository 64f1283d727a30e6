//! A scene in words, from what a scenario file says and what became of it.

use rayon::prelude::*;

use super::setup;
use crate::report::scene::{BranchLine, Scene, Section, sections};
use crate::scenario::Loaded;
use crate::trial::Prepared;
use crate::vessel::Course;

/// Stations at which a branch is searched for its least diameter.
const STATIONS: u32 = 1000;
/// Branches above which mouths, which take some milliseconds each, are listed only on the way to
/// the target.
const MANY_BRANCHES: usize = 100;

/// The scene of a scenario in sections, and its branches; `guesses` stand before the warnings.
pub(super) fn in_words(
    loaded: &Loaded,
    prepared: &Prepared,
    guesses: &[String],
) -> (Vec<Section>, Vec<BranchLine>) {
    let branches = prepared.tree().branches();
    let way = prepared.on_the_way();
    let way = &way[..way.len().min(MANY_BRANCHES)];
    let listed = |branch| branches.len() <= MANY_BRANCHES || way.contains(&branch);
    let mut lines: Vec<BranchLine> = (0..branches.len())
        .into_par_iter()
        .map(|branch| line(prepared, branch, listed(branch)))
        .collect();
    for (line, swing) in lines.iter_mut().zip(prepared.swings()) {
        line.swing = Some(swing);
    }
    let mut warnings = loaded.warnings.clone();
    warnings.extend(prepared.folds());
    warnings.extend(prepared.crossings());
    warnings.extend(prepared.fast_walls());
    warnings.extend(prepared.short_of_wire());
    let mut warnings = [guesses, &setup::warnings(&loaded.source, &warnings)].concat();
    warnings.extend(setup::wire_warnings(
        &loaded.source,
        &loaded.scenario.wires,
        prepared.wires(),
    ));
    if branches.len() > MANY_BRANCHES {
        warnings.push(format!(
            "of {} branches, mouths are listed for those that lead to the target{}",
            branches.len(),
            if way.len() < MANY_BRANCHES {
                String::new()
            } else {
                format!(", the last {MANY_BRANCHES} of them")
            }
        ));
    }
    let sections = sections(&Scene {
        scenario: &loaded.scenario,
        content_hash: &loaded.content_hash,
        warnings: &warnings,
        branches: &lines,
        reaching: prepared.reaching(),
        wires: prepared.wires(),
        remarks: &balloons(prepared),
        imported: loaded.imported.as_ref(),
    });
    (sections, lines)
}

/// How the balloon of each technique fills the vessel that it blocks, in words.
fn balloons(prepared: &Prepared) -> Vec<String> {
    let techniques = prepared.scenario().techniques.iter();
    techniques
        .filter_map(|technique| {
            let balloon = technique.aids.balloon.as_ref()?;
            let (least, most) = prepared.lumen_at_balloon(technique)?;
            let lumen = format!("lumen of {least:.2} to {most:.2} mm");
            let gap = most - balloon.diameter_mm;
            Some(if gap <= 0.0 {
                format!(
                    "{:?}: the balloon of {} mm seals the {lumen}",
                    technique.name, balloon.diameter_mm
                )
            } else {
                format!(
                    "{:?}: the balloon of {} mm leaves the {lumen} open beside it, by {gap:.2} mm at \
                     most if it lies on the wall",
                    technique.name, balloon.diameter_mm
                )
            })
        })
        .collect()
}

/// A branch as the scene's table lists it.
fn line(prepared: &Prepared, index: usize, with_mouth: bool) -> BranchLine {
    let tree = prepared.tree();
    let all = tree.branches();
    let branch = &all[index];
    let centreline = &branch.centreline;
    let length_mm = centreline.length_mm();
    let diameter = |part: f64| 2.0 * centreline.radius(part * length_mm);
    let least = (0..=STATIONS)
        .map(|station| diameter(f64::from(station) / f64::from(STATIONS)))
        .fold(f64::INFINITY, f64::min);
    let hangs = branch.parent.is_some();
    let (tightest_at_mm, tightest_radius_mm) = centreline.tightest_bend();
    BranchLine {
        name: branch.name.clone(),
        parent: branch
            .parent
            .map(|(parent, at_mm)| (all[parent].name.clone(), at_mm)),
        length_mm,
        diameters_mm: [diameter(0.0), diameter(1.0), least],
        take_off_rad: hangs.then_some(branch.take_off_rad),
        ostium_mm: hangs.then_some(branch.ostium_mm),
        mouth_mm: (hangs && with_mouth).then(|| tree.whole_mouth_mm(prepared.lumen(), index)),
        tightest_radius_mm,
        tightest_at_mm,
        course: Course::of(centreline),
        swing: None,
    }
}
