//! Where trials that did not reach left the way to the target: by the fork, and into which branch.

use std::collections::BTreeMap;

use maud::Markup;

use super::inputs::{Way, sortable};
use crate::study::StrategyLabel;
use crate::trial::result::{Outcome, TrialRow};

/// A row for each strategy, fork, branch and outcome.
pub(super) fn forks(
    branches: &[Way],
    target: &str,
    strategies: &[StrategyLabel],
    rows: &[Vec<TrialRow>],
) -> Markup {
    let mut table = Vec::new();
    for (label, rows) in strategies.iter().zip(rows) {
        let mut counts: BTreeMap<(String, &str, Outcome), usize> = BTreeMap::new();
        for row in rows {
            let fork = fork(branches, target, row);
            *counts
                .entry((fork, &row.tip_branch, row.outcome))
                .or_default() += 1;
        }
        for ((fork, ended, outcome), count) in counts {
            table.push(vec![
                label.name.clone(),
                fork,
                ended.to_owned(),
                outcome.label().to_owned(),
                count.to_string(),
                format!("{:.0}", 100.0 * count as f64 / rows.len().max(1) as f64),
            ]);
        }
    }
    let heads = [
        ("strategy", ""),
        ("fork at which the way to the target was left", ""),
        ("tip ended in", ""),
        ("outcome", ""),
        ("trials", ""),
        ("share", "%"),
    ];
    sortable(
        &heads.map(|(head, unit)| (head.to_owned(), unit.to_owned())),
        &table,
    )
}

/// The fork at which the tip's branch parts from the way to the target, in words.
fn fork(branches: &[Way], target: &str, row: &TrialRow) -> String {
    let (Some(ended), Some(target)) = (number(branches, &row.tip_branch), number(branches, target))
    else {
        return "not known".to_owned();
    };
    if row.outcome == Outcome::Reached {
        return "none: reached".to_owned();
    }
    match parting(branches, ended, target) {
        (None, None) => "none: in the target, not far enough or not held".to_owned(),
        // In a vessel of the way itself: the next branch of the way was not taken, or not yet.
        (None, Some(next)) => format!("{}, not taken", leaves(branches, next)),
        (Some(off), None) => format!("{}, a branch of the target", leaves(branches, off)),
        (Some(off), Some(next)) => {
            let parts = [leaves(branches, off), leaves(branches, next)];
            format!("{}, in place of {}", parts[0], parts[1])
        }
    }
}

/// The branch of the way to the target that the tip did not take; the target itself where it is in that, or
/// where its own branch is not known.
pub(super) fn missed(branches: &[Way], target: &str, ended: &str) -> Option<usize> {
    let target = number(branches, target)?;
    let next = number(branches, ended).and_then(|ended| parting(branches, ended, target).1);
    Some(next.unwrap_or(target))
}

fn number(branches: &[Way], name: &str) -> Option<usize> {
    branches.iter().position(|b| b.name == name)
}

/// The first branch of the way to `ended`, and of that to `target`, that the other way does not have.
fn parting(branches: &[Way], ended: usize, target: usize) -> (Option<usize>, Option<usize>) {
    let (own, way) = (path(branches, ended), path(branches, target));
    let common = own.iter().zip(&way).take_while(|(a, b)| a == b).count();
    (own.get(common).copied(), way.get(common).copied())
}

/// Where a branch leaves its parent, in words.
fn leaves(branches: &[Way], branch: usize) -> String {
    let own = &branches[branch];
    match own.parent {
        Some((parent, at)) => format!("{} at {at:.0} mm of {}", own.name, branches[parent].name),
        None => own.name.clone(),
    }
}

/// The branches from the inlet to this one.
fn path(branches: &[Way], branch: usize) -> Vec<usize> {
    let mut path = vec![branch];
    let mut at = branch;
    while let Some((parent, _)) = branches[at].parent {
        path.push(parent);
        at = parent;
    }
    path.reverse();
    path
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fork_is_where_the_two_ways_part() {
        let way = |name: &str, parent| Way {
            name: name.to_owned(),
            parent,
            ostium_mm: 1.0,
        };
        let tree = [
            way("LM", None),
            way("LAD", Some((0, 10.0))),
            way("LCX", Some((0, 9.0))),
            way("M1", Some((2, 20.0))),
            way("D1", Some((1, 15.0))),
            way("M1a", Some((3, 5.0))),
        ];
        let at = |branch: &str| {
            let row = TrialRow {
                tip_branch: branch.to_owned(),
                outcome: Outcome::WrongBranch,
                ..TrialRow::default()
            };
            fork(&tree, "M1", &row)
        };
        assert_eq!(
            at("D1"),
            "LAD at 10 mm of LM, in place of LCX at 9 mm of LM"
        );
        assert_eq!(at("LCX"), "M1 at 20 mm of LCX, not taken");
        assert_eq!(at("M1"), "none: in the target, not far enough or not held");
        assert_eq!(at("M1a"), "M1a at 5 mm of M1, a branch of the target");
        assert_eq!(at("elsewhere"), "not known");
        assert_eq!(missed(&tree, "M1", "D1"), Some(2));
        assert_eq!(missed(&tree, "M1", "LCX"), Some(3));
        assert_eq!(missed(&tree, "M1", "M1a"), Some(3));
    }
}
