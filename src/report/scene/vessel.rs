//! Branches, their courses, and what else the vessel is.

use super::BranchLine;
use super::text::{Flow, Table, dash, fixed, pairs};
use crate::scenario::model::{BedSpec, ObstacleSpec, VesselSpec};
use crate::shown::degrees;

pub(super) fn branch_table(branches: &[BranchLine]) -> Flow {
    let mut table = Table::new(&[
        ("branch", ""),
        ("parent", ""),
        ("leaves at", "mm"),
        ("length", "mm"),
        ("lumen", "start mm"),
        ("lumen", "end mm"),
        ("lumen", "least mm"),
        ("take-off", "deg"),
        ("ostium", "mm"),
        ("mouth", "to mm"),
        ("tightest", "radius mm"),
        ("tightest", "at mm"),
    ]);
    for branch in branches {
        let bent = branch.tightest_radius_mm.is_finite();
        let (parent, at) = match &branch.parent {
            Some((parent, at)) => (parent.clone(), fixed(*at, 1)),
            None => ("(inlet)".to_owned(), dash()),
        };
        table.row(vec![
            branch.name.clone(),
            parent,
            at,
            fixed(branch.length_mm, 1),
            fixed(branch.diameters_mm[0], 2),
            fixed(branch.diameters_mm[1], 2),
            fixed(branch.diameters_mm[2], 2),
            branch.take_off_rad.map_or_else(dash, degrees),
            branch.ostium_mm.map_or_else(dash, |s| fixed(s, 2)),
            branch.mouth_mm.map_or_else(dash, |s| fixed(s, 2)),
            if bent {
                fixed(branch.tightest_radius_mm, 1)
            } else {
                "straight".to_owned()
            },
            if bent {
                fixed(branch.tightest_at_mm, 1)
            } else {
                dash()
            },
        ]);
    }
    table.flow()
}

/// How each branch runs.
pub(super) fn course_table(branches: &[BranchLine]) -> Flow {
    let mut table = Table::new(&[
        ("branch", ""),
        ("tortuosity", "length/chord"),
        ("all bends", "deg"),
        ("curvature", "mean 1/mm"),
        ("torsion", "mean 1/mm"),
    ]);
    for branch in branches {
        let course = &branch.course;
        table.row(vec![
            branch.name.clone(),
            fixed(course.tortuosity, 3),
            fixed(course.bend_rad.to_degrees(), 0),
            fixed(course.curvature_per_mm, 4),
            fixed(course.torsion_per_mm, 4),
        ]);
    }
    table.flow()
}

pub(super) fn vessel_lines(
    vessel: &VesselSpec,
    bed: Option<&BedSpec>,
    obstacles: &[ObstacleSpec],
) -> Flow {
    let mut lines: Vec<(&str, String)> = vessel
        .narrowings
        .iter()
        .map(|n| {
            let text = format!(
                "{} to {} mm at {} mm over {} mm",
                n.branch, n.diameter_mm, n.station_mm, n.length_mm
            );
            ("narrowing", text)
        })
        .chain(obstacles.iter().map(obstacle))
        .collect();
    lines.push((
        "take-off",
        "the turn from the parent's chord over the 5 mm before the attachment to the branch's chord \
         from its start to 5 mm beyond its ostium; as specified where it is built from pieces"
            .to_owned(),
    ));
    lines.push((
        "course",
        "all bends is the sum of the turns between chords of 2 mm at most; a chord within which the vessel \
         bends to one side and back counts as straight; torsion is how fast the plane of the bends turns \
         about the vessel, from the same chords; tortuosity is the length over the distance of the ends"
            .to_owned(),
    ));
    if let Some(bed) = bed {
        lines.push(("bed", bed.words()));
    }
    lines.push(("carina blend", format!("{} mm", vessel.carina_blend_mm)));
    lines.push(("wall stiffness", vessel.wall.words()));
    pairs(&lines)
}

/// A body that stands in the lumen.
fn obstacle(o: &ObstacleSpec) -> (&'static str, String) {
    let aside = if o.off_axis_mm > 0.0 {
        format!(
            ", {} mm off the axis towards {} deg",
            o.off_axis_mm,
            degrees(o.plane_rad)
        )
    } else {
        String::new()
    };
    let text = format!(
        "{} at {} mm: {} mm long, {} mm wide{aside}, {} mN/mm for each mm of wire",
        o.branch,
        fixed(o.station_mm, 1),
        o.length_mm,
        o.diameter_mm,
        o.stiffness_mn_per_mm2
    );
    ("obstacle", text)
}
