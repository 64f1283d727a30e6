//! Cuts placed tracks at their forks into branches, each from one fork to the next or to a tip.

use super::changes::Changes;
use super::grow::Placed;
use super::near::foot;
use super::polyline::{FINE_MM, Polyline, count_of};

/// Lumen radius over bend radius that a branch may reach inside its parent's lumen before its
/// radius is limited there.
const MOUTH_SHARE: f64 = 0.8;

/// A branch between forks.
#[derive(Debug, Clone)]
pub(super) struct Segment {
    pub raw: Polyline,
    pub line: Polyline,
    pub name: Option<String>,
    /// Number of the branch on whose end it hangs; `None` for the inlet.
    pub parent: Option<usize>,
    /// Hangs at the parent's start, where the inlet itself is a fork.
    pub at_start: bool,
}

/// A track whose parent branch is known.
struct Ready {
    track: usize,
    parent: Option<usize>,
    at_start: bool,
    /// What leads from the end of the parent branch to the track's first sample.
    lead: [Polyline; 2],
}

/// A place of a track at which others leave it.
struct Fork {
    sample: usize,
    /// Tracks that leave, each with the sample at which it does.
    leaving: Vec<(usize, usize)>,
}

/// All branches; a branch stands behind its parent.
pub(super) fn segments(placed: &[Placed], stub_mm: f64, changes: &mut Changes) -> Vec<Segment> {
    let mut out: Vec<Segment> = Vec::new();
    let mut ready = vec![Ready {
        track: 0,
        parent: None,
        at_start: false,
        lead: Default::default(),
    }];
    while let Some(next) = ready.pop() {
        let track = &placed[next.track];
        let both = |from: usize, to: usize| [&track.raw, &track.line].map(|l| l.part(from..=to));
        let last = track.line.points.len() - 1;
        let mut from = 0;
        let mut parent = next.parent;
        let mut lead = next.lead;
        let mut at_start = next.at_start;
        for fork in forks(placed, next.track, changes) {
            let own_parent = if fork.sample > from {
                let piece = [&track.raw, &track.line].map(|l| l.part(from..=fork.sample));
                let number = out.len();
                out.push(segment(piece, &lead, track, parent, at_start));
                lead = Default::default();
                at_start = false;
                from = fork.sample;
                parent = Some(number);
                Some(number)
            } else {
                parent
            };
            for (sample, child) in fork.leaving {
                let way = joined(&lead, &both(fork.sample, sample));
                ready.push(Ready {
                    track: child,
                    // Where the inlet is a fork, the branch about to be cut is the parent.
                    parent: own_parent.or(Some(out.len())),
                    at_start: own_parent.is_none() || at_start,
                    lead: way,
                });
            }
        }
        let rest = track.line.part(from..=last);
        let needed = stub_mm.max(rest.radii[0]);
        if parent.is_some() && from > 0 && rest.length() < needed {
            changes.stubs.push((rest.points[0], rest.length()));
            continue;
        }
        let piece = [&track.raw, &track.line].map(|l| l.part(from..=last));
        out.push(segment(piece, &lead, track, parent, at_start));
    }
    limit_mouths(&mut out, changes);
    out
}

/// The forks of a track in order; those that lie within a lumen radius of each other, or of the
/// track's start, are one.
fn forks(placed: &[Placed], track: usize, changes: &mut Changes) -> Vec<Fork> {
    let line = &placed[track].line;
    let last = line.points.len() - 1;
    let reach = |at: usize| count_of((line.radii[at] / FINE_MM).ceil());
    let mut leaving: Vec<(usize, usize)> = placed
        .iter()
        .enumerate()
        .filter_map(|(child, p)| match p.parent {
            Some((parent, sample)) if parent == track => Some((sample.min(last), child)),
            _ => None,
        })
        .collect();
    leaving.sort_unstable();
    let mut forks: Vec<Fork> = Vec::new();
    for (sample, child) in leaving {
        match forks.last_mut() {
            Some(fork) if sample <= fork.sample + reach(fork.sample) => {
                changes.forks_joined += usize::from(sample > fork.sample);
                fork.leaving.push((sample, child));
            }
            _ => {
                let early = sample <= reach(0);
                changes.forks_joined +=
                    usize::from(early && sample > 0 && placed[track].parent.is_some());
                forks.push(Fork {
                    sample: if early { 0 } else { sample },
                    leaving: vec![(sample, child)],
                });
            }
        }
    }
    forks
}

fn segment(
    [raw, line]: [Polyline; 2],
    lead: &[Polyline; 2],
    track: &Placed,
    parent: Option<usize>,
    at_start: bool,
) -> Segment {
    let [raw, line] = joined(lead, &[raw, line]);
    Segment {
        raw,
        line,
        name: track.name.clone(),
        parent,
        at_start,
    }
}

fn joined(first: &[Polyline; 2], then: &[Polyline; 2]) -> [Polyline; 2] {
    let both = |a: &Polyline, b: &Polyline| Polyline {
        points: [a.points.as_slice(), &b.points].concat(),
        radii: [a.radii.as_slice(), &b.radii].concat(),
    };
    [both(&first[0], &then[0]), both(&first[1], &then[1])]
}

/// Inside its parent's lumen a branch may turn more tightly than that lumen is wide, which no
/// tube can do: there its radius is limited to that at its ostium.
fn limit_mouths(segments: &mut [Segment], changes: &mut Changes) {
    for i in 0..segments.len() {
        let Some(parent) = segments[i].parent else {
            continue;
        };
        let line = &segments[i].line;
        let beyond = (0..line.points.len())
            .find(|k| is_outside(&segments[parent].line, &line.points[*k]))
            .unwrap_or(line.points.len() - 1);
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
