//! Property: a random tree, written by independent libraries in any way that a file can tell it, is
//! read back as the same tree with no field but the unit.

use super::trees::{self, Telling, Tree};
use super::write::{Format, written};
use crate::anatomy_common::put;
use bendwise::anatomy::tree::{ImportedBranch, Settings};
use bendwise::anatomy::{Unit, import};
use nalgebra::Vector3;
use rand::RngExt;

/// Lines part where they are 0.2 mm apart, 0.4 mm behind a fork of 30 degrees between two that
/// smoothing of 1 mm and noise have moved; and a fork is told where a side branch is led onto its
/// parent.
const FORK_MM: f64 = 2.5;
/// Smoothing with twice the scale at an end moves it by a part of the noise and of the bend there.
const TIP_MM: f64 = 0.5;
/// Forks at both ends of a branch are off by that at most, and its length with them.
const LENGTH_MM: f64 = 3.0;
/// The radius: noise of 3 % at each sample, smoothed.
const RADIUS: f64 = 0.05;

/// Largest deviations found.
#[derive(Debug, Default)]
pub struct Worst {
    fork: f64,
    tip: f64,
    length: f64,
    radius: f64,
}

fn length(branch: &ImportedBranch) -> f64 {
    branch.points.windows(2).map(|p| (p[1] - p[0]).norm()).sum()
}

/// Compares; gives what differs beyond the bounds.
fn same(tree: &Tree, found: &[ImportedBranch], worst: &mut Worst) -> Result<(), String> {
    if found.len() != tree.branches.len() {
        let names: Vec<&str> = found.iter().map(|b| b.by_order.as_str()).collect();
        return Err(format!("{} branches, not {}: {names:?}", found.len(), tree.branches.len()));
    }
    // The branch found for each of the tree: tips by their end, others as parents of these.
    let mut of: Vec<Option<usize>> = vec![None; tree.branches.len()];
    for tip in tree.tips() {
        let branch = &tree.branches[tip];
        let end = trees::in_scene(branch.points.last().unwrap());
        let off = |i: &usize| (found[*i].points.last().unwrap() - end).norm();
        let nearest = (0..found.len())
            .filter(|i| found[*i].tip.is_some())
            .min_by(|a, b| off(a).total_cmp(&off(b)))
            .unwrap();
        worst.tip = worst.tip.max(off(&nearest));
        if off(&nearest) > TIP_MM {
            return Err(format!("the tip of {tip} is off by {:.2} mm", off(&nearest)));
        }
        let (mut here, mut there) = (Some(tip), Some(nearest));
        while let (Some(a), Some(b)) = (here, there) {
            if of[a].is_some_and(|known| known != b) {
                return Err(format!("branch {a} is two: {:?} and {b}", of[a]));
            }
            of[a] = Some(b);
            (here, there) = (tree.branches[a].parent, found[b].parent);
        }
        if here.is_some() || there.is_some() {
            return Err(format!("the way to tip {tip} has another number of forks"));
        }
    }
    for (number, branch) in tree.branches.iter().enumerate() {
        let other = &found[of[number].ok_or("a branch is missing")?];
        let start = trees::in_scene(&branch.points[0]);
        let fork = (other.points[0] - start).norm();
        let longer = (length(other) - branch.length()).abs();
        let middle = |radii: &[f64]| radii[radii.len() / 2];
        let wider = (middle(&other.radii) / middle(&branch.radii) - 1.0).abs();
        worst.fork = worst.fork.max(fork);
        worst.length = worst.length.max(longer);
        worst.radius = worst.radius.max(wider);
        if fork > FORK_MM || longer > LENGTH_MM || wider > RADIUS {
            return Err(format!(
                "branch {number}: start off by {fork:.2} mm, length by {longer:.2} mm, radius by \
                 {:.1} %",
                100.0 * wider
            ));
        }
    }
    Ok(())
}

const TELLINGS: [Telling; 4] = [
    Telling::Branches,
    Telling::FromInlet,
    Telling::FromTips,
    Telling::Vessels,
];

/// Writes and reads tree `seed`; the telling, format and unit go round with the seed.
fn one(folder: &std::path::Path, seed: u64, worst: &mut Worst) -> Result<(), String> {
    let mut rng = trees::rng(seed);
    let tree = trees::tree(&mut rng);
    let parents: Vec<Option<usize>> = tree.branches.iter().map(|b| b.parent).collect();
    let formats = [
        Format::Vtp,
        Format::LegacyText,
        Format::LegacyBinary,
        Format::Csv,
        Format::CsvWithParents,
        Format::Swc,
    ];
    let format = formats[rng.random_range(0..formats.len())];
    let telling = match format {
        Format::CsvWithParents | Format::Swc => Telling::Branches,
        _ => TELLINGS[rng.random_range(0..TELLINGS.len())],
    };
    let (unit, per_mm) = [
        (Unit::Millimetre, 1.0),
        (Unit::Centimetre, 0.1),
        (Unit::Metre, 0.001),
    ][rng.random_range(0..3)];
    let mut lines = tree.told(telling);
    if format == Format::Swc {
        // Its order and direction are told by the parents.
        let mut order = lines.clone();
        trees::disturb(&mut rng, &mut order, Telling::FromInlet);
        order.sort_by_key(|l| l.branch);
        lines = order;
    } else {
        trees::disturb(&mut rng, &mut lines, telling);
    }
    let said = format!("seed {seed}, {format:?}, {telling:?}, {unit:?}");
    if format == Format::CsvWithParents {
        // The first sample of a branch is left out, so its rows run from the fork on.
        for line in &mut lines {
            let start = tree.branches[line.branch].points[0];
            if (line.points[0] - start).norm() > 1e-9 {
                trees::reverse(line);
            }
        }
    }
    let bytes = written(format, &lines, &parents, per_mm);
    let path = put(folder, &format!("tree.{}", format.ending()), bytes);
    let settings = Settings {
        units: Some(unit),
        ..Settings::default()
    };
    let (imported, _) = import(&path, &settings).map_err(|e| format!("{said}: {e}"))?;
    let _ = Vector3::<f64>::zeros();
    same(&tree, &imported.branches, worst).map_err(|e| format!("{said}: {e}"))
}

#[test]
fn five_hundred_random_trees_are_read_back_with_no_field_but_the_unit() {
    let folder = tempfile::tempdir().unwrap();
    let mut worst = Worst::default();
    let failed: Vec<String> = (0..500)
        .filter_map(|seed| one(folder.path(), seed, &mut worst).err())
        .collect();
    println!("{worst:?}");
    assert!(
        failed.is_empty(),
        "{} of 500:\n{}",
        failed.len(),
        failed.join("\n")
    );
}
