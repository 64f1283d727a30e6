//! The order of the branches, their names and the numbers of the tips.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use super::forks::Segment;
use super::near::foot;
use super::pointed;
use super::{Changes, ImportSettings, ImportedBranch, Naming, Which};
use crate::anatomy::error::{At, Checked, Fault};
use crate::anatomy::frame::Written;
use crate::anatomy::read::Lines;
use crate::shown::{counted, cut, listed};

/// Most points of a file that are asked for their name.
const MOST_VOTES: usize = 20_000;
/// A point this close, in mm, to the first point of the tree lies at it.
const SAME_MM: f64 = 0.1;

/// Numbers of the segments in order from the inlet: the branch with the longest way to a tip
/// comes first among those that leave at one place.
pub(super) fn order(segments: &[Segment]) -> Vec<usize> {
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); segments.len()];
    for (i, s) in segments.iter().enumerate() {
        if let Some(parent) = s.parent {
            children[parent].push(i);
        }
    }
    let mut reach: Vec<f64> = segments.iter().map(|s| s.line.length()).collect();
    for i in (0..segments.len()).rev() {
        let onward = children[i].iter().map(|c| reach[*c]).fold(0.0, f64::max);
        reach[i] += onward;
    }
    for list in &mut children {
        list.sort_by(|a, b| reach[*b].total_cmp(&reach[*a]));
    }
    let mut order = Vec::with_capacity(segments.len());
    let mut waiting = vec![0];
    while let Some(next) = waiting.pop() {
        order.push(next);
        waiting.extend(children[next].iter().rev());
    }
    order
}

/// Takes the names that the file has at its points: a branch gets the one that most of the named
/// points in it carry, each point counting for the branch nearest to it.
pub(super) fn by_points(
    branches: &mut [ImportedBranch],
    lines: &Lines,
    labels: &[String],
    changes: &mut Changes,
) {
    let named = labels.iter().filter(|name| !name.is_empty()).count();
    if named == 0 {
        return;
    }
    let mut votes: Vec<BTreeMap<&str, usize>> = vec![BTreeMap::new(); branches.len()];
    let points = lines.points.iter().zip(&lines.radii).zip(labels);
    let named_points = points.filter(|(_, name)| !name.is_empty());
    for ((p, radius), name) in named_points.step_by(named.div_ceil(MOST_VOTES)) {
        let (branch, station, distance) = nearest(branches, p);
        // What was cut off before the inlet names nothing.
        if distance <= *radius && (station > 0.0 || distance <= SAME_MM) {
            *votes[branch].entry(name).or_default() += 1;
        }
    }
    let mut count = 0;
    for (branch, votes) in branches.iter_mut().zip(votes) {
        let most = votes.into_iter().max_by_key(|(_, n)| *n);
        branch.in_file = most.map(|(name, _)| name.to_owned());
        count += usize::from(branch.in_file.is_some());
    }
    changes.notes.push(format!(
        "{count} of {} named by the points of the file",
        counted(branches.len(), "branch", "branches")
    ));
}

/// Gives `branch-1.2` names by order, then those of the file, then those of the naming table.
pub(super) fn name(
    branches: &mut [ImportedBranch],
    settings: &ImportSettings,
    written: Written,
    changes: &mut Changes,
) -> Checked<()> {
    let mut counts = vec![0_usize; branches.len()];
    let mut by_order: Vec<String> = Vec::with_capacity(branches.len());
    for branch in branches.iter() {
        by_order.push(match branch.parent {
            None => "branch-1".to_owned(),
            Some(parent) => {
                counts[parent] += 1;
                format!("{}.{}", by_order[parent], counts[parent])
            }
        });
    }
    let mut tips = 0;
    for (i, branch) in branches.iter_mut().enumerate() {
        if counts[i] == 0 {
            tips += 1;
            branch.tip = Some(tips);
        }
        branch.by_order.clone_from(&by_order[i]);
    }
    // Names that are given, each with the number that the next of that name is tried with.
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    for branch in branches.iter_mut() {
        let base = match &branch.in_file {
            Some(name) => name.clone(),
            None => branch.by_order.clone(),
        };
        let mut name = base.clone();
        if let Some(mut number) = taken.get(&base).copied() {
            while taken.contains_key(&name) {
                name = format!("{base}-{number}");
                number += 1;
            }
            taken.insert(base, number);
        }
        taken.insert(name.clone(), 2);
        branch.name = name;
    }
    by_file_of_names(branches, settings, written, changes)?;
    for naming in settings.names.iter().filter(|n| n.said.is_none()) {
        let i = find(branches, &naming.which, written)?;
        branches[i].name.clone_from(&naming.name);
        say_near(branches, naming, changes);
    }
    let mut known: BTreeMap<&str, &ImportedBranch> = BTreeMap::new();
    for branch in branches.iter() {
        if let Some(other) = known.insert(&branch.name, branch) {
            return Err((
                At::Whole,
                Fault::Setting {
                    what: format!(
                        "two branches are called \"{}\": {} and {}",
                        branch.name, other.by_order, branch.by_order
                    ),
                    remedy: "give each branch a name of its own in [[vessel.name]] or in the file of names".into(),
                },
            ));
        }
    }
    Ok(())
}

/// Gives the names of a file of names, which points at branches by the names they have before.
fn by_file_of_names(
    branches: &mut [ImportedBranch],
    settings: &ImportSettings,
    written: Written,
    changes: &mut Changes,
) -> Checked<()> {
    let mut new: Vec<Option<(&str, usize)>> = vec![None; branches.len()];
    for naming in &settings.names {
        let Some((path, line)) = &naming.said else {
            continue;
        };
        let refused = |what: String| {
            let remedy = "choose others in the file of names; `bendwise check` lists the branches";
            let what = format!("{}, line {line}: {what}", path.display());
            let remedy = remedy.into();
            (At::Whole, Fault::Setting { what, remedy })
        };
        let i = find(branches, &naming.which, written)
            .map_err(|(_, fault)| refused(fault.to_string()))?;
        say_near(branches, naming, changes);
        if let Some((_, before)) = new[i].replace((&naming.name, *line)) {
            let branch = &branches[i].by_order;
            return Err(refused(format!(
                "{branch} has its name from line {before} already"
            )));
        }
    }
    for (branch, new) in branches.iter_mut().zip(new) {
        if let Some((name, _)) = new {
            name.clone_into(&mut branch.name);
        }
    }
    Ok(())
}

/// Says which branch a name given by a point went to, and how far off the point lies.
fn say_near(branches: &[ImportedBranch], naming: &Naming, changes: &mut Changes) {
    if let Which::Near(p) = &naming.which {
        let (branch, station, distance) = nearest(branches, p);
        let place = pointed::on_branch(&branches[branch].by_order, station, distance);
        let name = cut(&naming.name);
        changes
            .notes
            .push(format!("the name \"{name}\" goes to {place}"));
    }
}

/// The branch that a person means.
pub(in crate::anatomy) fn find(
    branches: &[ImportedBranch],
    which: &Which,
    written: Written,
) -> Checked<usize> {
    let found = match which {
        Which::Branch(name) => branches
            .iter()
            .position(|b| b.name == *name || b.by_order == *name),
        Which::Tip(tip) => branches.iter().position(|b| b.tip == Some(*tip)),
        Which::Near(p) => {
            return pointed::branch(branches, p, written).map_err(|fault| (At::Whole, fault));
        }
    };
    found.ok_or_else(|| {
        let said = match which {
            Which::Branch(name) => format!("there is no branch \"{}\"", cut(name)),
            Which::Tip(tip) => format!("there is no tip {tip}"),
            Which::Near(_) => String::new(),
        };
        let names: Vec<String> = branches
            .iter()
            .map(|b| match b.tip {
                Some(tip) => format!("{} (tip {tip})", b.name),
                None => b.name.clone(),
            })
            .collect();
        (
            At::Whole,
            Fault::Setting {
                what: format!("{said}; branches are {}", listed(&names)),
                remedy: "choose one of these; `bendwise check` lists them".into(),
            },
        )
    })
}

/// The branch nearest to a point, the station of its nearest point, and the distance, in mm.
pub(in crate::anatomy) fn nearest(
    branches: &[ImportedBranch],
    p: &Vector3<f64>,
) -> (usize, f64, f64) {
    let mut best = (0, 0.0, f64::INFINITY);
    for (i, branch) in branches.iter().enumerate() {
        let mut station = 0.0;
        for pair in branch.points.windows(2) {
            let foot = foot(p, &pair[0], &pair[1]);
            let distance = (p - foot).norm();
            if distance < best.2 {
                best = (i, station + (foot - pair[0]).norm(), distance);
            }
            station += (pair[1] - pair[0]).norm();
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::anatomy::frame::{Frame, Unit};

    fn named(names: impl Iterator<Item = &'static str>) -> Vec<String> {
        let branch = |(i, name): (usize, &str)| ImportedBranch {
            in_file: Some(name.to_owned()),
            parent: i.checked_sub(1),
            ..ImportedBranch::default()
        };
        let mut branches: Vec<ImportedBranch> = names.enumerate().map(branch).collect();
        let written = Written {
            unit: Unit::Millimetre,
            frame: Frame::Scene,
        };
        let settings = ImportSettings::default();
        name(&mut branches, &settings, written, &mut Changes::default()).expect("names");
        branches.into_iter().map(|b| b.name).collect()
    }

    #[test]
    fn branches_of_one_name_are_numbered() {
        let names = named(["a", "a-2", "a", "a", "a-2"].into_iter());
        assert_eq!(names, ["a", "a-2", "a-3", "a-4", "a-2-2"]);
    }
}
