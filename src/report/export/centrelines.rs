//! Centrelines with radius as samples, as SWC, and as a table of branches.

use std::fmt::Write as _;
use std::io;
use std::path::Path;

use nalgebra::Vector3;

use crate::study::KeepError;
use crate::study::store::{create_file, write_file};
use crate::vessel::Tree;

/// Largest distance between samples in mm: the chords then lie within 0.003 mm of a bend of 3 mm
/// radius.
const SPACING_MM: f64 = 0.25;

/// A branch as samples.
#[derive(Debug, Clone, PartialEq)]
pub struct ExportedBranch {
    /// Name.
    pub name: String,
    /// Parent, and the number of its sample on which this branch begins.
    pub parent: Option<(usize, usize)>,
    /// Points in mm from the start.
    pub points: Vec<Vector3<f64>>,
    /// Lumen radius at each in mm.
    pub radii: Vec<f64>,
}

/// The branches of a tree as samples at most 0.25 mm apart; one lies at every place where another
/// branch begins.
#[must_use]
pub fn branches(tree: &Tree) -> Vec<ExportedBranch> {
    let all = tree.branches();
    let stations: Vec<Vec<f64>> = all
        .iter()
        .enumerate()
        .map(|(i, branch)| {
            let length = branch.centreline.length_mm();
            let parts = (length / SPACING_MM).ceil().max(1.0);
            let mut list: Vec<f64> = Vec::new();
            let mut k = 0.0;
            while k <= parts {
                list.push(length * k / parts);
                k += 1.0;
            }
            list.extend(all.iter().filter_map(|b| match b.parent {
                Some((parent, station)) if parent == i => Some(station.clamp(0.0, length)),
                _ => None,
            }));
            list.sort_by(f64::total_cmp);
            list.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
            list
        })
        .collect();
    all.iter()
        .enumerate()
        .map(|(i, branch)| {
            let line = &branch.centreline;
            ExportedBranch {
                name: branch.name.clone(),
                parent: branch.parent.map(|(parent, station)| {
                    let list = &stations[parent];
                    let nearest = (0..list.len()).min_by(|a, b| {
                        (list[*a] - station)
                            .abs()
                            .total_cmp(&(list[*b] - station).abs())
                    });
                    (parent, nearest.unwrap_or(0))
                }),
                points: stations[i].iter().map(|s| line.position(*s)).collect(),
                radii: stations[i].iter().map(|s| line.radius(*s)).collect(),
            }
        })
        .collect()
}

/// Writes branches as SWC: number, type (0, undefined), x, y, z, radius, parent. A branch begins
/// with a point of its own on its parent, which keeps its radius there.
///
/// # Errors
/// The failure of a file operation.
pub fn write_swc(path: &Path, axes: &str, branches: &[ExportedBranch]) -> Result<(), KeepError> {
    let mut text = format!(
        "# centrelines of a scene; lengths in mm; frame: {axes}\n# number type x y z radius parent\n"
    );
    let mut first: Vec<usize> = Vec::with_capacity(branches.len());
    let mut number = 1;
    for branch in branches {
        first.push(number);
        for (k, (p, r)) in branch.points.iter().zip(&branch.radii).enumerate() {
            let parent = match (k, branch.parent) {
                (0, None) => "-1".to_owned(),
                (0, Some((parent, sample))) => (first[parent] + sample).to_string(),
                _ => (number - 1).to_string(),
            };
            let _ = writeln!(
                text,
                "{number} 0 {:.6} {:.6} {:.6} {r:.6} {parent}",
                p.x, p.y, p.z
            );
            number += 1;
        }
    }
    write_file(path, text)
}

/// Writes a table of branches, one a row: its number in `centrelines.vtp`, name, parent, lengths
/// and angles.
///
/// # Errors
/// The failure of a file operation.
pub fn write_branches(path: &Path, tree: &Tree) -> Result<(), KeepError> {
    let failed = |e: csv::Error| KeepError::at(path)(io::Error::other(e));
    let mut table = csv::Writer::from_writer(create_file(path)?);
    table
        .write_record([
            "branch",
            "name",
            "parent",
            "at_mm",
            "length_mm",
            "start_diameter_mm",
            "end_diameter_mm",
            "take_off_deg",
            "ostium_mm",
        ])
        .map_err(failed)?;
    for (number, branch) in tree.branches().iter().enumerate() {
        let line = &branch.centreline;
        let (parent, at) = branch.parent.map_or_else(Default::default, |(p, s)| {
            (tree.branches()[p].name.clone(), format!("{s:.4}"))
        });
        table
            .write_record([
                number.to_string(),
                branch.name.clone(),
                parent,
                at,
                format!("{:.4}", line.length_mm()),
                format!("{:.4}", 2.0 * line.radius(0.0)),
                format!("{:.4}", 2.0 * line.radius(line.length_mm())),
                format!("{:.2}", branch.take_off_rad.to_degrees()),
                format!("{:.4}", branch.ostium_mm),
            ])
            .map_err(failed)?;
    }
    table.flush().map_err(KeepError::at(path))
}
