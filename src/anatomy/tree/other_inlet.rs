//! Whether another end is more likely the inlet than the widest one.
//!
//! Most branches leave a vessel forwards. Where, seen from the chosen inlet, some lead back, and seen
//! from another end none or fewer do, that end is named in a note. Nothing is changed by it.

use std::f64::consts::{FRAC_PI_2, PI};

use super::ImportedBranch;
use super::angles::{spread, take_off};
use super::pointed::written_out;

/// The sum of what take-off angles exceed a right angle by must be smaller by this, in rad (about 23
/// degrees), for another end to be told; chosen, no source.
const SMALLER: f64 = 0.4;
/// Branches that begin within this distance of each other, in mm, leave at one place.
const BESIDE_MM: f64 = 1.0;

/// What speaks against the chosen inlet, and the line that would begin elsewhere; `None` where no
/// other end has clearly fewer branches that lead back.
pub(super) fn doubt(branches: &[ImportedBranch]) -> Option<String> {
    let chosen = turns(branches, 0)?;
    let back =
        |turns: &[(usize, f64)]| -> f64 { turns.iter().map(|t| (t.1 - FRAC_PI_2).max(0.0)).sum() };
    if back(&chosen) < SMALLER {
        return None;
    }
    let tips = (1..branches.len()).filter(|i| branches[*i].tip.is_some());
    let others = tips.filter_map(|tip| Some((tip, turns(branches, tip)?)));
    let (tip, other) = others.min_by(|a, b| back(&a.1).total_cmp(&back(&b.1)))?;
    if back(&chosen) - back(&other) < SMALLER {
        return None;
    }
    let largest = |turns: &[(usize, f64)]| {
        let turn = turns.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        turn.map_or((0, 0.0), |t| (t.0, t.1.to_degrees()))
    };
    let (branch, angle) = largest(&chosen);
    let end = branches[tip].points[branches[tip].points.len() - 1];
    Some(format!(
        "the inlet may be another end: from the widest one, which was chosen, a wire turns by up to \
         {angle:.0} deg ({}), from the end of {} by {:.0} deg at most; if the blood comes from there \
         say inlet_mm = {} in [vessel]",
        branches[branch].name,
        branches[tip].name,
        largest(&other).1,
        written_out(&end)
    ))
}

/// The turns in rad that wires make at the branch points if the tree is entered at the end of branch
/// `entry` (at the inlet where that is 0), each with the number of the branch that is entered there.
/// `None` for a tree without branch points.
fn turns(branches: &[ImportedBranch], entry: usize) -> Option<Vec<(usize, f64)>> {
    // The branches from the entry back to the inlet.
    let mut way = vec![entry];
    while let Some(parent) = branches[way[way.len() - 1]].parent {
        way.push(parent);
    }
    let mut out = Vec::new();
    for i in 1..branches.len() {
        let Some(parent) = branches[i].parent else {
            continue;
        };
        let forwards = take_off(branches, i)?;
        // The way's own branch on the same parent, along which the parent is come to from ahead.
        let from = way.iter().position(|b| *b == parent);
        let from = from.and_then(|at| at.checked_sub(1)).map(|at| way[at]);
        let turn = match from {
            Some(from) if from == i => {
                out.push((parent, forwards));
                continue;
            }
            None => forwards,
            Some(from) => {
                let apart = (branches[from].points[0] - branches[i].points[0]).norm();
                let beside = (apart < BESIDE_MM).then(|| spread(branches, i)).flatten();
                PI - beside.unwrap_or(forwards)
            }
        };
        out.push((i, turn));
    }
    (!out.is_empty()).then_some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;

    /// A trunk along x to the origin and branches from there in a plane, by their directions in
    /// degrees from x.
    fn fork(directions: &[f64]) -> Vec<ImportedBranch> {
        let line = |from: Vector3<f64>, to: Vector3<f64>| -> Vec<Vector3<f64>> {
            (0..=40)
                .map(|k| from + (to - from) * (f64::from(k) / 40.0))
                .collect()
        };
        let mut all = vec![ImportedBranch {
            name: "trunk".into(),
            points: line(Vector3::new(-20.0, 0.0, 0.0), Vector3::zeros()),
            radii: vec![1.0; 41],
            ..ImportedBranch::default()
        }];
        for (i, angle) in directions.iter().enumerate() {
            let a = angle.to_radians();
            all.push(ImportedBranch {
                name: format!("b{i}"),
                parent: Some(0),
                tip: Some(i + 1),
                points: line(Vector3::zeros(), Vector3::new(a.cos(), a.sin(), 0.0) * 20.0),
                radii: vec![1.0; 41],
                ..ImportedBranch::default()
            });
        }
        all
    }

    /// A Y whose stem is b0: entered at the trunk one turns by 150 degrees into b1; from the end of b0,
    /// at 30 degrees, by 30 degrees into the trunk and by 60 into b1, at 120 degrees to b0.
    #[test]
    fn a_y_entered_at_an_arm_tells_its_stem() {
        let branches = fork(&[30.0, 150.0]);
        let seen = turns(&branches, 1).expect("turns");
        let angle = |b: usize| seen.iter().find(|t| t.0 == b).map(|t| t.1.to_degrees());
        assert!((angle(0).expect("trunk") - 30.0).abs() < 0.01, "{seen:?}");
        assert!((angle(2).expect("b1") - 60.0).abs() < 0.01, "{seen:?}");
        let said = doubt(&branches).expect("a doubt");
        assert!(said.contains("150 deg (b1)"), "{said}");
        assert!(said.contains("inlet_mm = [17.32, 10.00, 0.00]"), "{said}");
    }

    #[test]
    fn a_tree_whose_branches_leave_forwards_raises_no_doubt() {
        assert_eq!(doubt(&fork(&[20.0, -40.0])), None);
        assert_eq!(doubt(&fork(&[0.0, 100.0])), None);
        assert_eq!(doubt(&fork(&[])), None);
    }
}
