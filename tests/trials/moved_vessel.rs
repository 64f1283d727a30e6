//! Recorded shapes of a vessel that gives way: the wire lies in it as it has moved, not as it lies at rest.
#![allow(clippy::print_stdout, reason = "the table of checks")]

use std::path::Path;

use bendwise::scenario::load;
use bendwise::trial::result::TrialRecord;
use bendwise::trial::{Prepared, run_trial, strategies};
use nalgebra::Vector3;

/// Half the distance of two points along a drawn axis, over which the axis turns, in mm: a wire on a wall at
/// the distance of the lumen's radius is at most this much farther from the nearest of them.
const BETWEEN_MM: f64 = 0.05;

/// Farthest that the wire of the last recorded step lies outside the lumen of branches with these axes, in mm.
fn outside_mm(record: &TrialRecord, branches: &[(Vec<Vector3<f64>>, f64)]) -> f64 {
    let shape = record.shapes.last().expect("a recorded step");
    let beyond = |node: &Vector3<f64>| {
        let each = branches.iter().map(|(axis, radius_mm)| {
            let apart = axis.iter().map(|p| (p - node).norm());
            apart.fold(f64::INFINITY, f64::min) - radius_mm
        });
        each.fold(f64::INFINITY, f64::min)
    };
    shape.nodes_mm.iter().map(beyond).fold(0.0, f64::max)
}

#[test]
fn a_wire_that_straightens_its_vessel_lies_in_it_as_it_has_moved() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/soft-tip-tracks.toml");
    let mut scenario = load(&path).expect("a shipped scenario").scenario;
    scenario.variation.diameter_cv = 0.0;
    let prepared = Prepared::new(&scenario).expect("a shipped scenario");
    let all = strategies(&scenario);
    let stiff = all.iter().find(|s| s.name == "push, stiff shaft");
    let record = run_trial(&prepared, stiff.expect("a shipped strategy"), 0, true);
    assert_eq!(record.axes.len(), record.shapes.len());
    let with_radius = |axes: &[Vec<Vector3<f64>>]| -> Vec<(Vec<Vector3<f64>>, f64)> {
        let branches = prepared.tree().branches().iter().zip(axes);
        let tube = |(branch, axis): (&bendwise::vessel::Branch, &Vec<Vector3<f64>>)| {
            (axis.clone(), branch.centreline.radius(0.0))
        };
        branches.map(tube).collect()
    };
    let at_rest: Vec<Vec<Vector3<f64>>> = (prepared.tree().branches().iter())
        .map(|b| {
            b.centreline
                .drawn_stations()
                .map(|s| b.centreline.position(s))
                .collect()
        })
        .collect();
    let now = &record.axes.last().expect("a recorded step").branches_mm;
    let (moved, rest) = (
        outside_mm(&record, &with_radius(now)),
        outside_mm(&record, &with_radius(&at_rest)),
    );
    println!(
        "CHECK | wire beyond the moved lumen, and beyond the one at rest, mm | {moved:.3} | {rest:.3}"
    );
    let dent = record.row.peak_wall_deflection_mm;
    assert!(moved < dent + BETWEEN_MM, "{moved} mm, dent {dent} mm");
    assert!(rest > 0.5, "{rest} mm");
}
