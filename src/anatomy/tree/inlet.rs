//! Where the tree begins.

use nalgebra::Vector3;

use super::ImportSettings;
use super::changes::{Changes, INLET, Inlet};
use super::pointed::{self, Candidate, READ};
use super::polyline::Polyline;
use crate::anatomy::error::{At, Checked};
use crate::anatomy::frame::Written;
use crate::anatomy::read::Lines;

/// Starts closer together than this share of the lumen radius there are one.
const SAME_START: f64 = 0.1;
/// An end this many times as wide as the inlet is worth a word.
const WIDER: f64 = 1.05;
/// Least cosine of the angle between lines that leave a common start side by side.
const SIDE_BY_SIDE: f64 = 0.7;

/// An end of a line.
#[derive(Clone, Copy)]
struct End {
    at: Vector3<f64>,
    radius: f64,
    /// Direction in which its line leaves it.
    away: Vector3<f64>,
    line: usize,
    is_start: bool,
}

/// Where the tree begins: the end of a line nearest to the stated inlet; the root that the file
/// names; the one place where all lines start (or end), if they leave it side by side; else the
/// widest end of all lines. Says which, and what else was wide.
///
/// # Errors
/// A stated inlet too far from every end.
pub(super) fn inlet(
    lines: &Lines,
    clean: &[(Polyline, Option<String>)],
    settings: &ImportSettings,
    written: Written,
    changes: &mut Changes,
) -> Checked<Vector3<f64>> {
    let ends: Vec<End> = clean
        .iter()
        .enumerate()
        .flat_map(|(number, (line, _))| ends_of(number, line))
        .collect();
    if let Some(stated) = settings.inlet {
        let end = nearest(&ends, &stated, written)?;
        let (p, distance) = (end.at, (end.at - stated).norm());
        changes.notes.push(format!(
            "{INLET}the end nearest to inlet_mm, at ({:.1}, {:.1}, {:.1}) mm, diameter {:.2} mm, \
             {distance:.2} mm from the point (read {READ})",
            p.x,
            p.y,
            p.z,
            2.0 * end.radius
        ));
        changes.inlet = Inlet {
            at: p,
            ..Inlet::default()
        };
        return Ok(p);
    }
    let mut is_guess = false;
    let (chosen, why) = if let Some(root) = lines.root {
        let at = lines.points[root];
        let reach = |e: &&End| (e.at - at).norm();
        let end = ends.iter().min_by(|a, b| reach(a).total_cmp(&reach(b)));
        let radius = lines.radii[root];
        let end = End {
            at,
            radius,
            ..end.copied().unwrap_or(ends[0])
        };
        is_guess = !lines.root_why.is_empty();
        let why = if lines.root_why.is_empty() {
            "where the file says that it begins"
        } else {
            lines.root_why
        };
        (end, why)
    } else if let Some(end) = common(&ends, clean.len(), true) {
        (end, "where all lines of the file start")
    } else if let Some(end) = common(&ends, clean.len(), false) {
        (end, "where all lines of the file end")
    } else {
        let free = |e: &&End| {
            // An end at which other lines begin or end is no free one.
            !ends
                .iter()
                .any(|o| o.line != e.line && (o.at - e.at).norm() <= SAME_START * e.radius)
        };
        let widest = |all: Vec<&End>| {
            all.into_iter().fold(None::<End>, |m, e| match m {
                Some(m) if m.radius >= e.radius => Some(m),
                _ => Some(*e),
            })
        };
        let end = widest(ends.iter().filter(free).collect())
            .or_else(|| widest(ends.iter().collect()))
            .unwrap_or(ends[0]);
        is_guess = true;
        (end, "the widest end")
    };
    let p = chosen.at;
    let mut note = format!(
        "{INLET}{why}, at ({:.1}, {:.1}, {:.1}) mm, diameter {:.2} mm",
        p.x,
        p.y,
        p.z,
        2.0 * chosen.radius
    );
    let wider = ends
        .iter()
        .filter(|e| e.radius > WIDER * chosen.radius && (e.at - p).norm() > chosen.radius)
        .max_by(|a, b| a.radius.total_cmp(&b.radius));
    if let Some(other) = wider {
        note += &format!(
            "; the end at ({:.1}, {:.1}, {:.1}) mm is wider ({:.2} mm): inlet_mm = [...] would \
             begin there",
            other.at.x,
            other.at.y,
            other.at.z,
            2.0 * other.radius
        );
    }
    if is_guess {
        note += "; this is a guess: if the blood comes in elsewhere say inlet_mm = [x, y, z] in [vessel]";
    }
    changes.notes.push(note);
    changes.inlet = Inlet {
        at: p,
        is_guess,
        doubt: None,
    };
    Ok(p)
}

/// The end nearest to a stated inlet.
fn nearest(ends: &[End], stated: &Vector3<f64>, written: Written) -> Checked<End> {
    let distance = |e: &&End| (e.at - stated).norm();
    let nearest = ends
        .iter()
        .min_by(|a, b| distance(a).total_cmp(&distance(b)));
    let candidate = |end: &End| Candidate {
        called: format!("one of diameter {:.2} mm", 2.0 * end.radius),
        at: end.at,
        radius: end.radius,
    };
    let candidates = |_: &Vector3<f64>| -> Vec<Candidate> {
        let mut apart: Vec<&End> = Vec::new();
        for end in ends {
            let is_known = |e: &&End| (e.at - end.at).norm() <= SAME_START * end.radius;
            if !apart.iter().any(is_known) {
                apart.push(end);
            }
        }
        apart.into_iter().map(candidate).collect()
    };
    let end = nearest.copied().unwrap_or(ends[0]);
    let checked = pointed::within(
        "inlet_mm",
        "end",
        stated,
        &candidate(&end),
        written,
        candidates,
    );
    checked.map_err(|fault| (At::Whole, fault))?;
    Ok(end)
}

fn ends_of(number: usize, line: &Polyline) -> [End; 2] {
    let last = line.points.len() - 1;
    [(0, true), (last, false)].map(|(i, is_start)| {
        let (at, radius) = (line.points[i], line.radii[i]);
        let step = |k: usize| if is_start { k } else { last - k };
        let beyond = (1..=last).find(|k| (line.points[step(*k)] - at).norm() >= radius);
        let away = line.points[step(beyond.unwrap_or(last))] - at;
        End {
            at,
            radius,
            away: away.try_normalize(0.0).unwrap_or_else(Vector3::x),
            line: number,
            is_start,
        }
    })
}

/// The place at which every one of several lines starts (or ends), leaving it side by side; at a
/// fork they would leave it on several sides.
fn common(ends: &[End], lines: usize, starts: bool) -> Option<End> {
    let all: Vec<&End> = ends.iter().filter(|e| e.is_start == starts).collect();
    let first = **all.first()?;
    let one = all.iter().all(|e| {
        (e.at - first.at).norm() <= SAME_START * first.radius
            && e.away.dot(&first.away) >= SIDE_BY_SIDE
    });
    (lines > 1 && one).then_some(first)
}
