//! Cuts placed tracks at their forks into branches, each from one fork to the next or to a tip.

use super::changes::Changes;
use super::grow::Placed;
use super::near::foot;
use super::polyline::{FINE_MM, Polyline, count_of};
use crate::anatomy::error::{Checked, Fault, whole};

/// Lumen radius over bend radius that a branch may reach inside its parent's lumen before its
/// radius is limited there.
const MOUTH_SHARE: f64 = 0.8;
/// Longest mouth in radii of the parent.
const LONGEST_MOUTH: f64 = 20.0;
/// Places along a line, in samples, that are one.
const SAME_PLACE: f64 = 1e-6;

/// A branch between forks.
#[derive(Debug, Clone)]
pub(super) struct Segment {
    pub raw: Polyline,
    pub line: Polyline,
    pub name: Option<String>,
    /// Number of the branch on which its first point lies; `None` for the inlet.
    pub parent: Option<usize>,
}

/// All branches; a branch stands behind its parent.
///
/// A track is cut where another leaves it, unless that is within a lumen radius of the last cut or
/// of an end: the other is then attached to the branch in its middle.
pub(super) fn segments(placed: &[Placed], stub_mm: f64, changes: &mut Changes) -> Vec<Segment> {
    let placed = with_feet(placed);
    let mut out: Vec<Segment> = Vec::new();
    let mut ready: Vec<(usize, Option<usize>)> = vec![(0, None)];
    while let Some((number, first_parent)) = ready.pop() {
        let track = &placed[number];
        let last = track.line.points.len() - 1;
        let mut parent = first_parent;
        let mut from = 0;
        let mut cut = |from: usize, to: usize, parent: Option<usize>| {
            out.push(Segment {
                raw: track.raw.part(from..=to),
                line: track.line.part(from..=to),
                name: track.name.clone(),
                parent,
            });
            out.len() - 1
        };
        let mut waiting: Vec<usize> = Vec::new();
        let mut at_cut: Option<(usize, usize)> = None;
        for (sample, child) in leaving(&placed, number) {
            if let Some((same, branch)) = at_cut
                && same == sample
            {
                ready.push((child, Some(branch)));
                continue;
            }
            let reach = |at: usize| count_of((track.line.radii[at] / FINE_MM).ceil());
            let tail = reach(sample).max(count_of((stub_mm / FINE_MM).ceil()));
            if sample < from + reach(from) || sample + tail > last {
                changes.forks_joined += 1;
                waiting.push(child);
                continue;
            }
            let branch = cut(from, sample, parent);
            ready.extend(waiting.drain(..).map(|child| (child, Some(branch))));
            ready.push((child, Some(branch)));
            (from, parent, at_cut) = (sample, Some(branch), Some((sample, branch)));
        }
        let branch = cut(from, last, parent);
        ready.extend(waiting.into_iter().map(|child| (child, Some(branch))));
    }
    limit_mouths(&mut out, changes);
    out
}

/// Divides a vessel without forks at a distance from its inlet, so that its second part can be
/// pointed at.
pub(super) fn divide(segments: &mut Vec<Segment>, at_mm: f64) -> Checked<()> {
    let refused = |what: String, remedy: &str| {
        let remedy = remedy.to_owned();
        whole(Fault::Setting { what, remedy })
    };
    let [only] = segments.as_slice() else {
        return refused(
            format!(
                "divide_at_mm goes with a vessel without forks, this one has {} branches",
                segments.len()
            ),
            "remove divide_at_mm from [vessel]; its branches can be pointed at",
        );
    };
    let stations = only.line.stations();
    let last = stations.len() - 1;
    let at = stations.partition_point(|s| *s < at_mm);
    if at == 0 || at >= last {
        return refused(
            format!(
                "divide_at_mm is {at_mm}, but the vessel is {:.1} mm long",
                stations[last]
            ),
            "give a distance from the inlet that lies within the vessel",
        );
    }
    let second = Segment {
        raw: only.raw.part(at..=last),
        line: only.line.part(at..=last),
        name: only.name.clone(),
        parent: Some(0),
    };
    segments[0].raw = segments[0].raw.part(0..=at);
    segments[0].line = segments[0].line.part(0..=at);
    segments.push(second);
    Ok(())
}

/// The tracks that leave a track, each with the sample at which it does, in order.
fn leaving(placed: &[Placed], track: usize) -> Vec<(usize, usize)> {
    let mut leaving: Vec<(usize, usize)> = placed
        .iter()
        .enumerate()
        .filter_map(|(child, p)| match p.parent {
            Some((parent, sample)) if parent == track => Some((sample, child)),
            _ => None,
        })
        .collect();
    leaving.sort_unstable();
    leaving
}

/// The tracks with a sample more wherever another begins between two of them.
fn with_feet(placed: &[Placed]) -> Vec<Placed> {
    let mut out = placed.to_vec();
    for (track, original) in placed.iter().enumerate() {
        // Place of each child along the samples: number and share of the way to the next.
        let mut feet: Vec<(f64, usize)> = leaving(placed, track)
            .into_iter()
            .map(|(sample, child)| {
                let line = &original.line;
                let next = (sample + 1).min(line.points.len() - 1);
                let span = (line.points[next] - line.points[sample]).norm();
                let along = (placed[child].line.points[0] - line.points[sample]).norm();
                let share = if span > 0.0 {
                    (along / span).min(1.0)
                } else {
                    0.0
                };
                (sample as f64 + share, child)
            })
            .collect();
        feet.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut places: Vec<f64> = (0..original.line.points.len()).map(|i| i as f64).collect();
        places.extend(feet.iter().map(|f| f.0));
        places.sort_by(f64::total_cmp);
        places.dedup_by(|a, b| *a - *b < SAME_PLACE);
        for (place, child) in feet {
            let at = places.partition_point(|p| *p < place - SAME_PLACE);
            out[child].parent = Some((track, at));
        }
        out[track].raw = original.raw.at_places(&places);
        out[track].line = original.line.at_places(&places);
    }
    out
}

/// Inside its parent's lumen a branch may turn more tightly than that lumen is wide, which no
/// tube can do: there its radius is limited to that at its ostium.
fn limit_mouths(segments: &mut [Segment], changes: &mut Changes) {
    for i in 0..segments.len() {
        let Some(parent) = segments[i].parent else {
            continue;
        };
        let line = &segments[i].line;
        // A mouth is some radii long; a branch that stays inside for longer has none.
        let widest = segments[parent]
            .line
            .radii
            .iter()
            .fold(0.0_f64, |m, r| m.max(*r));
        let longest = count_of(LONGEST_MOUTH * widest / FINE_MM).min(line.points.len());
        let beyond = (0..longest)
            .find(|k| is_outside(&segments[parent].line, &line.points[*k]))
            .unwrap_or(longest - 1);
        let too_tight = |k: usize| line.radii[k] > MOUTH_SHARE * line.bend_radius(k);
        if (0..beyond).any(too_tight) {
            let limit = line.radii[beyond];
            for r in &mut segments[i].line.radii[..beyond] {
                *r = r.min(limit);
            }
            changes.mouths_limited += 1;
        }
    }
}

fn is_outside(parent: &Polyline, p: &nalgebra::Vector3<f64>) -> bool {
    let pairs = parent.points.windows(2).zip(&parent.radii);
    let nearest = pairs
        .map(|(pair, radius)| ((p - foot(p, &pair[0], &pair[1])).norm(), *radius))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    nearest.is_none_or(|(distance, radius)| distance > radius)
}
