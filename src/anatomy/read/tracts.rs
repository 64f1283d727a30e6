//! Centrelines that were cut into tracts, a line each: every tract carries the number of its
//! centreline and its place on it, as the cell arrays `CenterlineIds` and `TractIds` of common
//! centreline tools.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use super::content::{Line, PolyData, plain};
use crate::shown::counted;

/// Names of the arrays that number the centrelines.
const CENTRELINES: [&str; 2] = ["centerlineids", "centrelineids"];
/// Name of the array that numbers the tracts of a centreline.
const TRACTS: &str = "tractids";

/// The lines of each centreline in order, if the file says it without contradiction.
pub(super) fn ordered(data: &PolyData, points: &[Vector3<f64>]) -> Option<Vec<Vec<usize>>> {
    let of = |names: &[&str]| {
        let found = data
            .cell_arrays
            .iter()
            .find(|(name, _)| names.contains(&plain(name).as_str()));
        found.map(|(_, values)| values.as_slice())
    };
    let (centrelines, tracts) = (of(&CENTRELINES)?, of(&[TRACTS])?);
    let mut all: BTreeMap<i64, BTreeMap<i64, usize>> = BTreeMap::new();
    for number in 0..data.lines.len() {
        let cell = data.vertex_cells + number;
        let (centreline, tract) = (whole(*centrelines.get(cell)?)?, whole(*tracts.get(cell)?)?);
        if data.lines[number].len() < 2 || points.is_empty() {
            continue;
        }
        if all
            .entry(centreline)
            .or_default()
            .insert(tract, number)
            .is_some()
        {
            return None;
        }
    }
    let lists: Vec<Vec<usize>> = all
        .into_values()
        .map(|t| t.into_values().collect())
        .collect();
    lists.iter().any(|list| list.len() > 1).then_some(lists)
}

/// One line for each centreline, its tracts one behind the other, and what was done in words.
pub(super) fn joined(
    lines: &[Line],
    order: &[Vec<usize>],
    points: &[Vector3<f64>],
) -> (Vec<Line>, Vec<String>) {
    let mut largest = 0.0_f64;
    let whole: Vec<Line> = order
        .iter()
        .map(|list| {
            let mut out = Line {
                points: Vec::new(),
                name: None,
            };
            for number in list {
                let line = &lines[*number];
                out.name = out.name.or_else(|| line.name.clone());
                if let (Some(last), Some(first)) = (out.points.last(), line.points.first()) {
                    largest = largest.max((points[*last] - points[*first]).norm());
                }
                let again = out.points.last() == line.points.first();
                out.points.extend(&line.points[usize::from(again)..]);
            }
            out
        })
        .collect();
    let note = format!(
        "{} put together to {} by their numbers (CenterlineIds, TractIds); the largest gap between \
         two is {largest:.3} in the unit of the file",
        counted(lines.len(), "tract", "tracts"),
        counted(whole.len(), "line", "lines")
    );
    (whole, vec![note])
}

fn whole(x: f64) -> Option<i64> {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "checked to be whole and small"
    )]
    let n = x as i64;
    (x.is_finite() && x.abs() < 1e15 && x.fract().abs() <= 0.0).then_some(n)
}
