//! The `parent` column of a table of centrelines: the branch on which each branch hangs, or, as in
//! SWC, the point before each point.

use std::collections::BTreeMap;

use super::content::Lines;
use super::swc::{chains, on_its_own_way};
use crate::anatomy::error::{At, Checked, Fault, whole};

/// Words for having no parent.
const NONE: [&str; 7] = ["", "-1", "-", "none", "null", "nan", "root"];
/// A branch may begin this many lumen radii from its parent's nearest point.
const REACH: f64 = 3.0;

/// What the rows of a table say about parents.
#[derive(Debug, Default)]
pub(super) struct Parents {
    /// Number of each point, if there is such a column.
    pub ids: Vec<String>,
    /// The parent in each row.
    pub of: Vec<String>,
    /// Name of the branch of each line.
    pub branches: Vec<String>,
}

fn is_none(word: &str) -> bool {
    NONE.contains(&word.to_ascii_lowercase().as_str())
}

/// Honours the column: branches hang where it says, and the tree begins at the one without parent.
pub(super) fn honour(out: &mut Lines, parents: &Parents) -> Checked<()> {
    let named: BTreeMap<&str, usize> = parents
        .branches
        .iter()
        .enumerate()
        .map(|(i, name)| (name.as_str(), i))
        .collect();
    let all = || parents.of.iter().filter(|word| !is_none(word));
    if parents.branches.len() > 1 && all().all(|word| named.contains_key(word.as_str())) {
        return branches(out, parents, &named);
    }
    let ids: BTreeMap<&str, usize> = if parents.ids.is_empty() {
        BTreeMap::new()
    } else {
        let ids = parents.ids.iter().enumerate();
        ids.map(|(i, id)| (id.as_str(), i)).collect()
    };
    if !ids.is_empty() && all().all(|word| ids.contains_key(word.as_str())) {
        return points(out, parents, &ids);
    }
    let what = format!(
        "the column parent names neither branches of the table{}: for example {:?}",
        if ids.is_empty() {
            " (nor is there a column id that numbers the points)"
        } else {
            " nor points of its column id"
        },
        all()
            .find(|w| !named.contains_key(w.as_str()))
            .map_or("", String::as_str)
    );
    Err((At::Line(1), Fault::Malformed { what }))
}

/// Parents by branch.
fn branches(out: &mut Lines, parents: &Parents, named: &BTreeMap<&str, usize>) -> Checked<()> {
    let mut parent: Vec<Option<usize>> = Vec::with_capacity(out.lines.len());
    for line in &out.lines {
        let word = line.points.iter().map(|i| parents.of[*i].as_str());
        let word = word.into_iter().find(|w| !is_none(w));
        parent.push(word.and_then(|w| named.get(w).copied()));
    }
    let roots: Vec<usize> = (0..parent.len()).filter(|i| parent[*i].is_none()).collect();
    let [root] = roots.as_slice() else {
        let names: Vec<&str> = roots
            .iter()
            .map(|i| parents.branches[*i].as_str())
            .collect();
        return whole(Fault::Malformed {
            what: format!(
                "{} branches have no parent ({}); allowed is one, that of the inlet",
                roots.len(),
                names.join(", ")
            ),
        });
    };
    let own: Vec<Vec<usize>> = out.lines.iter().map(|l| l.points.clone()).collect();
    let gap = |a: usize, b: usize| (out.points[a] - out.points[b]).norm();
    let nearest = |to: usize, of: usize| {
        own[of]
            .iter()
            .copied()
            .min_by(|a, b| gap(*a, to).total_cmp(&gap(*b, to)))
    };
    let mut starts_on: Vec<usize> = Vec::new();
    for (number, line) in out.lines.iter_mut().enumerate() {
        let Some(parent) = parent[number] else {
            continue;
        };
        if parent == number {
            return whole(Fault::Loop {
                what: format!("branch {:?}, its own parent,", parents.branches[number]),
            });
        }
        let ends = [line.points[0], line.points[line.points.len() - 1]];
        let feet = ends.map(|end| nearest(end, parent).map(|p| (gap(end, p), p)));
        let [Some(first), Some(last)] = feet else {
            continue;
        };
        let (gap_there, foot) = if first.0 <= last.0 {
            first
        } else {
            line.points.reverse();
            last
        };
        let start = line.points[0];
        let allowed = REACH * (out.radii[start] + out.radii[foot]);
        if gap_there > allowed {
            return whole(Fault::Malformed {
                what: format!(
                    "branch {:?} begins {gap_there:.3} from its parent {:?} (in the unit of the \
                     file); allowed is up to {allowed:.3}, {REACH} times both radii",
                    parents.branches[number], parents.branches[parent]
                ),
            });
        }
        starts_on.push(foot);
        if gap_there > 0.0 {
            line.points.insert(0, foot);
        }
    }
    let trunk = &own[*root];
    let ends = [trunk[0], trunk[trunk.len() - 1]];
    // The free end: none of its children begins there; by the order of the rows if both are free.
    let hung = |end: usize| {
        let nearest = starts_on.iter().map(|s| gap(*s, end));
        nearest.fold(f64::INFINITY, f64::min)
    };
    let [first, last] = ends.map(hung);
    let free = if first < last && first <= out.radii[ends[0]] {
        1
    } else {
        0
    };
    out.root = Some(ends[free]);
    out.notes.push(format!(
        "{} branches hung by the column parent of the table",
        own.len() - 1
    ));
    Ok(())
}

/// Parents by point.
fn points(out: &mut Lines, parents: &Parents, ids: &BTreeMap<&str, usize>) -> Checked<()> {
    let of: Vec<Option<usize>> = parents
        .of
        .iter()
        .map(|word| ids.get(word.as_str()).copied().filter(|_| !is_none(word)))
        .collect();
    let roots = of.iter().filter(|p| p.is_none()).count();
    if roots != 1 {
        return whole(Fault::Malformed {
            what: format!("{roots} points have no parent; allowed is one, the inlet"),
        });
    }
    if let Some(point) = on_its_own_way(&of) {
        return whole(Fault::Loop {
            what: format!("the way from point {:?} to its parents", parents.ids[point]),
        });
    }
    let names: BTreeMap<usize, String> = out
        .lines
        .iter()
        .filter_map(|l| Some((l, l.name.clone()?)))
        .flat_map(|(l, name)| l.points.iter().map(move |i| (*i, name.clone())))
        .collect();
    if !names.is_empty() && out.labels.is_empty() {
        out.labels = (0..out.points.len())
            .map(|i| names.get(&i).cloned().unwrap_or_default())
            .collect();
    }
    out.root = of.iter().position(Option::is_none);
    out.lines = chains(&of)?;
    out.notes.push(format!(
        "{} points put behind their parents by the column parent of the table",
        of.len() - 1
    ));
    Ok(())
}
