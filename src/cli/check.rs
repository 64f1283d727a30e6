//! `bendwise check`.

use std::path::Path;

use super::args::CheckArgs;
use super::bare;
use super::check_sweep::check_sweep;
use super::failure::Failure;
use super::say;
use super::setup;
use crate::report::SceneOutline;
use crate::report::figures::{ReachedPicture, TreeBranch, TreePicture, save};
use crate::report::scene::{BranchLine, Scene, describe, describe_wires};
use crate::scenario::{self, Kind, Loaded};
use crate::study::store::header::claim;
use crate::study::{Folders, KeepError};
use crate::trial::Prepared;
use crate::vessel::Course;

/// Stations at which a branch is searched for its least diameter.
const STATIONS: u32 = 1000;
/// Branches above which mouths, which take some milliseconds each, are listed only on the way to
/// the target.
const MANY_BRANCHES: usize = 100;

/// Reads and validates a scenario, builds its vessel and wires, and prints the scene.
pub(super) fn check(args: &CheckArgs) -> Result<(), Failure> {
    if bare::is_anatomy(&args.scenario) {
        return bare::check(args);
    }
    if args.start.is_some() || args.units.is_some() || args.frame.is_some() {
        return Err(Failure::Input(miette::miette!(
            help = "give a file of anatomy, such as tree.vtp, or leave the option out",
            "--start, --units and --frame go with a file of anatomy, but {} is a scenario",
            args.scenario.display()
        )));
    }
    let kind = scenario::kind(&args.scenario);
    let without_tree = match kind {
        Kind::Wires => Some(("wires", "give a scenario with those wires")),
        Kind::Sweep => Some(("a sweep", "give the sweep's base scenario")),
        Kind::Scenario | Kind::Tree | Kind::Unknown => None,
    };
    if let (Some(_), Some((what, remedy))) = (&args.picture, without_tree) {
        return Err(Failure::Input(miette::miette!(
            help = format!("{remedy}, or leave the option out"),
            "--picture draws the tree of one scenario, but {} is a file of {what}",
            args.scenario.display()
        )));
    }
    match kind {
        Kind::Wires => return check_bench(&args.scenario),
        Kind::Sweep => return check_sweep(&args.scenario),
        Kind::Scenario | Kind::Tree | Kind::Unknown => {}
    }
    let loaded = setup::load(&args.scenario)?;
    let prepared = setup::prepare(&loaded)?;
    describe_and_draw(&loaded, &prepared, args.picture.as_deref(), &[])
}

/// Prints the scene, and draws its tree if there is a folder for it; `guesses` stand before the
/// warnings.
pub(super) fn describe_and_draw(
    loaded: &Loaded,
    prepared: &Prepared,
    picture: Option<&Path>,
    guesses: &[String],
) -> Result<(), Failure> {
    let branches = prepared.tree().branches();
    let way = prepared.on_the_way();
    let way = &way[..way.len().min(MANY_BRANCHES)];
    let listed = |branch| branches.len() <= MANY_BRANCHES || way.contains(&branch);
    let mut lines: Vec<BranchLine> = (0..branches.len())
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
    let text = describe(&Scene {
        scenario: &loaded.scenario,
        content_hash: &loaded.content_hash,
        warnings: &warnings,
        branches: &lines,
        reaching: prepared.reaching(),
        wires: prepared.wires(),
        remarks: &balloons(prepared),
        imported: loaded.imported.as_ref(),
    });
    if let Some(folder) = picture {
        let folders = Folders::prepare_addition(folder).map_err(Failure::of_study)?;
        claim(&folders, "picture").map_err(Failure::of_study)?;
        draw(folders.partial(), loaded, prepared, lines)
            .and_then(|()| folders.complete())
            .map_err(|error| Failure::Incomplete(miette::miette!("{error}")))?;
    }
    say(&text)
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

/// Draws the tree into a folder.
fn draw(
    folder: &Path,
    loaded: &Loaded,
    prepared: &Prepared,
    lines: Vec<BranchLine>,
) -> Result<(), KeepError> {
    let tips = loaded.imported.iter().flat_map(|i| &i.branches);
    let tips: Vec<(&str, Option<usize>)> = tips.map(|b| (b.name.as_str(), b.tip)).collect();
    let branches = lines.into_iter().zip(prepared.tree().branches());
    let branches = branches.map(|(line, branch)| TreeBranch {
        tip: tips.iter().find(|t| t.0 == line.name).and_then(|t| t.1),
        tightest_mm: branch.centreline.position(line.tightest_at_mm),
        line,
    });
    let outline = SceneOutline::new(prepared);
    let picture = TreePicture::new(
        &loaded.scenario.name,
        &loaded.axes(),
        outline,
        branches.collect(),
    );
    save(folder, &picture)?;
    ReachedPicture::new(prepared).map_or(Ok(()), |picture| save(folder, &picture))
}

/// Reads a file of wires for the bench, builds them and prints them.
fn check_bench(path: &Path) -> Result<(), Failure> {
    let loaded = setup::load_bench(path)?;
    let prepared = setup::prepare_bench(&loaded)?;
    let mut warnings = setup::warnings(&loaded.source, &loaded.warnings);
    warnings.extend(setup::wire_warnings(
        &loaded.source,
        &prepared.bench.wires,
        &prepared.wires,
    ));
    let text = describe_wires(
        &prepared.bench.name,
        &loaded.content_hash,
        &warnings,
        &prepared.bench.wires,
        &prepared.wires,
    );
    say(&text)
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
