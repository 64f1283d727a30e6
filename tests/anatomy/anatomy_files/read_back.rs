//! Property: a random tree, written by independent libraries in any way that a file can tell it, is
//! read back as the same tree with no field but the unit.

use super::trees::{self, Telling, Tree};
use super::write::{Format, written};
use super::write_surface;
use crate::anatomy_common::put;
use bendwise::anatomy::surface::Mesh;
use bendwise::anatomy::tree::{ImportSettings, ImportedBranch};
use bendwise::anatomy::{Unit, import};
use bendwise::scenario::model::*;
use bendwise::vessel::{Spacing, net};
use nalgebra::Vector3;
use rand::RngExt;

/// How far what is read back may be off.
struct Bounds {
    /// Place of a fork in mm.
    fork: f64,
    /// Place of a tip in mm.
    tip: f64,
    /// Length of a branch in mm.
    length: f64,
    /// Lumen radius in the middle of a branch, as a share.
    radius: f64,
}

/// Lines part where they are 0.2 mm apart: behind a fork of 43 degrees or more after 0.28 mm at most;
/// smoothing over 1 mm, on both sides of the corner, moves that by as much as its scale.
const FORK_MM: f64 = 1.28;
/// Ends have no noise of their own; that of their neighbours is 0.03 mm in each direction, which
/// smoothing passes on to the end in part.
const TIP_MM: f64 = 0.1;
/// A branch is as much longer as its fork is off.
const LENGTH_MM: f64 = 1.28;
/// Noise of the radius at each sample.
const RADIUS: f64 = 0.03;

const OF_LINES: Bounds = Bounds {
    fork: FORK_MM,
    tip: TIP_MM,
    length: LENGTH_MM,
    radius: RADIUS,
};

/// In a surface lines part where the lumens do, up to two radii of the widest parent (2.2 mm) behind
/// the crossing of the axes; the rim of an open end lies up to a cell of the net (0.3 mm) before it,
/// and the last ball that fits up to half a radius; the radius is that of the smooth surface through
/// a net whose facets lie within 3 % of it.
const OF_SURFACES: Bounds = Bounds {
    fork: 4.4,
    tip: 1.4,
    length: 5.4,
    radius: 0.08,
};

/// Most triangles of a file that is written.
const MOST_TRIANGLES: usize = 480_000;

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
fn same(
    tree: &Tree,
    found: &[ImportedBranch],
    bounds: &Bounds,
    worst: &mut Worst,
) -> Result<(), String> {
    if found.len() != tree.branches.len() {
        let names: Vec<&str> = found.iter().map(|b| b.by_order.as_str()).collect();
        return Err(format!(
            "{} branches, not {}: {names:?}",
            found.len(),
            tree.branches.len()
        ));
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
        if off(&nearest) > bounds.tip {
            return Err(format!(
                "the tip of {tip} is off by {:.2} mm",
                off(&nearest)
            ));
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
        if fork > bounds.fork || longer > bounds.length || wider > bounds.radius {
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
    let settings = ImportSettings {
        units: Some(unit),
        ..ImportSettings::default()
    };
    let (imported, _) = import(&path, &settings).map_err(|e| format!("{said}: {e}"))?;
    same(&tree, &imported.branches, &OF_LINES, worst).map_err(|e| format!("{said}: {e}"))
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

/// The lumen of a tree as a net of triangles, with or without its round ends, and turned inwards or
/// not; `None` for a tree that needs more triangles than a file may hold.
fn lumen(tree: &Tree, open: bool, inwards: bool) -> Option<Mesh> {
    let branches = tree.branches.iter().enumerate().map(|(number, branch)| {
        let stations = branch.points.windows(2).scan(0.0, |s, p| {
            *s += (p[1] - p[0]).norm();
            Some(*s)
        });
        let stations = std::iter::once(0.0).chain(stations);
        BranchSpec {
            name: format!("b{number}"),
            attached: branch.parent.map(|parent| AttachmentSpec {
                parent: format!("b{parent}"),
                station_mm: None,
                place: Place::default(),
            }),
            path: PathSpec::Points(branch.points.clone()),
            diameters: stations.zip(branch.radii.iter().map(|r| 2.0 * r)).collect(),
            place: Place::default(),
        }
    });
    let spec = VesselSpec {
        carina_blend_mm: 0.3,
        folds: true,
        ..VesselSpec::new(branches.collect())
    };
    let vessel = bendwise::vessel::Tree::build(&spec).unwrap();
    // A large tree is told by fewer triangles than a file may hold.
    let net = [0.03, 0.05, 0.07]
        .iter()
        .map(|within_mm| net(&vessel, None, &Spacing::of(&vessel, *within_mm)).unwrap())
        .find(|net| net.triangles.len() < MOST_TRIANGLES)?;
    let mut mesh = Mesh {
        points: net.points,
        triangles: net.triangles,
    };
    if open {
        let mut ends: Vec<(Vector3<f64>, Vector3<f64>, f64)> = Vec::new();
        let root = &tree.branches[0];
        ends.push((
            root.points[0],
            root.points[0] - root.points[1],
            root.radii[0],
        ));
        for tip in tree.tips() {
            let branch = &tree.branches[tip];
            let last = branch.points.len() - 1;
            let out = branch.points[last] - branch.points[last - 1];
            ends.push((branch.points[last], out, branch.radii[last]));
        }
        let points = &mesh.points;
        mesh.triangles.retain(|t| {
            t.iter().all(|i| {
                let p = points[*i as usize];
                ends.iter()
                    .all(|(end, out, r)| (p - end).dot(out) < 0.0 || (p - end).norm() > 2.0 * r)
            })
        });
    }
    if inwards {
        for t in &mut mesh.triangles {
            t.swap(0, 1);
        }
    }
    Some(mesh)
}

/// The same for surfaces; format, unit, open ends and direction go round with the seed. False for a tree that
/// is too large to be told as a surface in a file.
fn one_surface(folder: &std::path::Path, seed: u64, worst: &mut Worst) -> Result<bool, String> {
    let mut rng = trees::rng(seed);
    let tree = trees::tree(&mut rng);
    let format = write_surface::ALL[rng.random_range(0..write_surface::ALL.len())];
    let (open, inwards) = (rng.random_range(0..2) == 1, rng.random_range(0..2) == 1);
    let (unit, per_mm) = [
        (Unit::Millimetre, 1.0),
        (Unit::Centimetre, 0.1),
        (Unit::Metre, 0.001),
    ][rng.random_range(0..3)];
    let said = format!("seed {seed}, {format:?}, open {open}, inwards {inwards}, {unit:?}");
    let Some(mesh) = lumen(&tree, open, inwards) else {
        return Ok(false);
    };
    let bytes = write_surface::written(format, &mesh, per_mm);
    let path = put(folder, &format!("lumen.{}", format.ending()), bytes);
    let settings = ImportSettings {
        units: Some(unit),
        ..ImportSettings::default()
    };
    let (imported, _) = import(&path, &settings).map_err(|e| format!("{said}: {e}"))?;
    same(&tree, &imported.branches, &OF_SURFACES, worst).map_err(|e| {
        let notes = imported.changes.notes.join("; ");
        format!("{said}: {e}; {:?}; {notes}", imported.changes.stubs)
    })?;
    Ok(true)
}

/// Reads the surfaces of some seeds back, all within the bounds.
fn surfaces(seeds: std::ops::Range<u64>) {
    let folder = tempfile::tempdir().unwrap();
    let mut worst = Worst::default();
    let count = seeds.end - seeds.start;
    let (mut failed, mut too_large) = (Vec::new(), 0);
    for seed in seeds {
        match one_surface(folder.path(), seed, &mut worst) {
            Ok(true) => {}
            Ok(false) => too_large += 1,
            Err(fault) => failed.push(fault),
        }
    }
    println!(
        "{worst:?}; {too_large} too large for a file\n{}",
        failed.join("\n")
    );
    assert!(20 * too_large <= count, "{too_large} of {count} too large");
    assert!(
        failed.is_empty(),
        "{} of {count}:\n{}",
        failed.len(),
        failed.join("\n")
    );
}

#[test]
fn random_surfaces_are_read_back_with_no_field_but_the_unit() {
    surfaces(1000..1004);
}

#[test]
#[ignore = "six minutes: cargo test --release --test anatomy anatomy_files -- --ignored --nocapture"]
fn a_hundred_random_surfaces_are_read_back_with_no_field_but_the_unit() {
    surfaces(1000..1100);
}
