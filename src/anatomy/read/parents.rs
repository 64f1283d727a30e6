//! The `parent` column of a table of centrelines: the branch on which each branch hangs, or, as in
//! SWC, the point before each point.

use std::collections::BTreeMap;

use super::content::Lines;
use super::swc::{chains, on_its_own_way};
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::shown::{counted, cut, listed};

/// Words for having no parent.
const NONE: [&str; 7] = ["", "-1", "-", "none", "null", "nan", "root"];
/// A branch may begin this many lumen radii from its parent's nearest point.
const REACH: f64 = 3.0;
/// Most pairs of an end of a branch and a point of its parent: some seconds of comparing.
const MOST_COMPARED: u64 = 400_000_000;

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
        let words = line.points.iter().map(|i| parents.of[*i].as_str());
        let mut words = words.filter(|w| !is_none(w));
        let word = words.next();
        if let (Some(word), Some(other)) = (word, words.find(|w| Some(*w) != word)) {
            return whole(Fault::Malformed {
                what: format!(
                    "branch {:?} hangs on {:?} in one row and on {:?} in another; allowed is one \
                     parent",
                    cut(&parents.branches[parent.len()]),
                    cut(word),
                    cut(other)
                ),
            });
        }
        parent.push(word.and_then(|w| named.get(w).copied()));
    }
    if let Some(branch) = on_its_own_way(&parent) {
        return whole(Fault::Loop {
            what: format!(
                "the way from branch {:?} to its parents",
                cut(&parents.branches[branch])
            ),
        });
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
                listed(&names)
            ),
        });
    };
    let own: Vec<Vec<usize>> = out.lines.iter().map(|l| l.points.clone()).collect();
    let compared = parent.iter().flatten().map(|p| 2 * own[*p].len() as u64);
    let compared: u64 = compared.sum();
    if compared > MOST_COMPARED {
        return whole(Fault::TooMuch {
            what: "pairs of an end of a branch and a point of its parent",
            found: compared,
            allowed: MOST_COMPARED,
        });
    }
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
        "{} hung by the column parent of the table",
        counted(own.len() - 1, "branch", "branches")
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
        "{} put behind its parent by the column parent of the table",
        counted(of.len() - 1, "point, each", "points, each")
    ));
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::fmt::Write as _;

    use crate::anatomy::read::{Arrays, parse};

    fn refusal(rows: &str) -> String {
        let text = format!("branch,parent,x,y,z,radius\n{rows}");
        let (_, fault) = parse("csv", text.as_bytes(), &Arrays::default()).unwrap_err();
        fault.to_string()
    }

    #[test]
    fn parents_that_go_round_or_contradict_are_refused() {
        let root = "r,,0,0,0,1\nr,,9,0,0,1\n";
        let round = refusal(&format!(
            "{root}a,b,9,0,0,1\na,b,9,5,0,1\nb,a,9,5,0,1\nb,a,9,9,0,1\n"
        ));
        assert!(round.contains("the way from branch"), "{round}");
        let own = refusal(&format!("{root}a,a,9,0,0,1\na,a,9,5,0,1\n"));
        assert!(own.contains("the way from branch \"a\""), "{own}");
        let two = refusal(&format!(
            "{root}a,r,9,0,0,1\na,r,9,5,0,1\nb,r,9,0,0,1\nb,a,9,9,0,1\n"
        ));
        assert!(
            two.contains("\"b\" hangs on \"r\" in one row and on \"a\""),
            "{two}"
        );
    }

    #[test]
    fn too_many_branches_on_one_long_branch_are_refused() {
        let mut rows = String::new();
        for i in 0..60_000 {
            let _ = writeln!(rows, "r,,{i},0,0,1");
        }
        for i in 0..4_000 {
            let _ = writeln!(rows, "b{i},r,{i},0,0,1\nb{i},r,{i},9,0,1");
        }
        let refused = refusal(&rows);
        assert!(refused.contains("480000000 pairs of an end"), "{refused}");
    }
}
