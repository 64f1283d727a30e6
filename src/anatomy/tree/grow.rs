//! Puts tracks together: each hangs where it parts from those that are there already.

use nalgebra::Vector3;

use super::ImportSettings;
use super::changes::Changes;
use super::near::Nearness;
use super::polyline::{FINE_MM, Polyline, count_of};
use super::tracks::Track;
use crate::anatomy::error::{At, Checked, Fault};

/// Length in mm over which a branch that begins off its parent is led onto it, at least; else ten
/// times the distance, and so long that leading adds no more curvature than a tenth of what the
/// lumen allows.
const LEAD_MM: f64 = 3.0;

/// A track that has its place.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    /// Before smoothing, sample for sample as `line`.
    pub raw: Polyline,
    /// The part that is its own, beginning on the parent.
    pub line: Polyline,
    pub name: Option<String>,
    /// Parent and the number of its sample at or before which this one begins; `None` for the
    /// track from the inlet.
    pub parent: Option<(usize, usize)>,
}

/// A line that ends within this many lumen radii of the tree is a bulge.
const BULGE: f64 = 1.25;

/// How a waiting track meets the tree.
struct Meeting {
    /// The track runs against its samples.
    reversed: bool,
    /// Last sample that still repeats the tree; 0 if none does.
    parts_at: usize,
    /// Distance of its first sample from the tree.
    gap: f64,
}

/// Places all tracks, the first one being that from the inlet.
pub(super) fn grow(
    tracks: Vec<Track>,
    settings: &ImportSettings,
    changes: &mut Changes,
) -> Checked<Vec<Placed>> {
    let widest = tracks.iter().flat_map(|t| &t.smooth.radii);
    let widest = widest.copied().fold(0.0, f64::max);
    let reach = settings
        .join_mm
        .max(settings.split_mm)
        .max(2.0 * FINE_MM)
        .max(BULGE * widest)
        .max(if settings.join_lumens {
            2.0 * widest
        } else {
            0.0
        });
    let mut nearness = Nearness::new(reach);
    let mut placed: Vec<Placed> = Vec::new();
    let mut waiting = tracks;
    while !waiting.is_empty() {
        let mut found = None;
        for (i, track) in waiting.iter().enumerate() {
            if placed.is_empty() {
                found = Some((i, None));
                break;
            }
            let within = settings.join_mm.max(settings.split_mm);
            if let Some(meeting) = meet(track, &placed, &nearness, settings, within)? {
                found = Some((i, Some(meeting)));
                break;
            }
        }
        if found.is_none()
            && settings.join_lumens
            && let Some((i, gap)) = overlapping(&waiting, &placed, &nearness)
        {
            let meeting = meet(&waiting[i], &placed, &nearness, settings, gap)?;
            changes.notes.extend(meeting.as_ref().map(|_| {
                let p = waiting[i].smooth.points[0];
                format!(
                    "{} near ({:.1}, {:.1}, {:.1}) mm begins {gap:.2} mm off the tree, joined \
                     because the lumens run into each other",
                    called(&waiting[i]),
                    p.x,
                    p.y,
                    p.z
                )
            }));
            found = meeting.map(|m| (i, Some(m)));
        }
        let Some((i, meeting)) = found else {
            return Err(strays(&waiting, &placed, settings));
        };
        let track = waiting.remove(i);
        let new = match meeting {
            None => Some(Placed {
                raw: track.raw,
                line: track.smooth,
                name: track.name,
                parent: None,
            }),
            Some(meeting) => hang(track, &meeting, &placed, &nearness, settings, changes),
        };
        if let Some(new) = new {
            nearness.add(placed.len(), &new.line);
            placed.push(new);
        }
    }
    Ok(placed)
}

fn lines(placed: &[Placed]) -> Vec<&Polyline> {
    placed.iter().map(|p| &p.line).collect()
}

/// Whether an end of the track lies on the tree, and how far the track goes along with it.
fn meet(
    track: &Track,
    placed: &[Placed],
    nearness: &Nearness,
    settings: &ImportSettings,
    within: f64,
) -> Checked<Option<Meeting>> {
    let all = lines(placed);
    let samples = &track.smooth.points;
    let last = samples.len() - 1;
    let gap = |i: usize| nearness.nearest(&samples[i], &all).map(|n| n.distance);
    let [start, end] = [gap(0), gap(last)].map(|g| g.filter(|g| *g <= within));
    let reversed = match (start, end) {
        (None, None) => return Ok(None),
        (Some(_), None) => false,
        (None, Some(_)) => true,
        (Some(a), Some(b)) => !track.from_inlet && b < a,
    };
    let at = |k: usize| if reversed { last - k } else { k };
    let mut parts_at = 0;
    let mut farthest = 0.0_f64;
    // A line that only moves away from where it begins repeats nothing.
    let mut leaves_at_once = true;
    let mut before = 0.0;
    for k in 0..=last {
        let i = at(k);
        let distance = gap(i).unwrap_or(f64::INFINITY);
        if parts_at + 1 >= k {
            leaves_at_once = leaves_at_once && (k == 0 || distance > before);
            before = distance;
        }
        farthest = farthest.max(distance);
        if distance > settings.split_mm {
            continue;
        }
        let apart = (4.0 * settings.split_mm)
            .max(track.smooth.radii[i])
            .max(within);
        if farthest > apart {
            return Err((
                At::Point(samples[i].into()),
                Fault::Loop {
                    what: format!(
                        "{}, {:.1} mm from where it parted,",
                        called(track),
                        FINE_MM * (k - parts_at) as f64
                    ),
                },
            ));
        }
        parts_at = k;
        farthest = 0.0;
    }
    let gap = if reversed { end } else { start };
    Ok(Some(Meeting {
        reversed,
        parts_at: if leaves_at_once { 0 } else { parts_at },
        gap: gap.unwrap_or(0.0),
    }))
}

/// The waiting track whose lumen runs furthest into that of the tree at one of its ends, and how far
/// that end lies from the tree's line, in mm.
fn overlapping(waiting: &[Track], placed: &[Placed], nearness: &Nearness) -> Option<(usize, f64)> {
    let all = lines(placed);
    let mut best: Option<(f64, usize, f64)> = None;
    for (i, track) in waiting.iter().enumerate() {
        let line = &track.smooth;
        for end in [0, line.points.len() - 1] {
            let Some(near) = nearness.nearest(&line.points[end], &all) else {
                continue;
            };
            let reach = line.radii[end] + all[near.track].radii[near.sample];
            let share = near.distance / reach;
            if share < 1.0 && best.is_none_or(|b| share < b.0) {
                best = Some((share, i, near.distance));
            }
        }
    }
    best.map(|(_, i, gap)| (i, gap))
}

fn called(track: &Track) -> String {
    track
        .name
        .as_ref()
        .map_or_else(|| "a line".to_owned(), |n| format!("the line \"{n}\""))
}

/// Hangs a track on the tree; `None` if nothing of it is its own.
fn hang(
    track: Track,
    meeting: &Meeting,
    placed: &[Placed],
    nearness: &Nearness,
    settings: &ImportSettings,
    changes: &mut Changes,
) -> Option<Placed> {
    let (raw, smooth) = if meeting.reversed {
        changes.turned += 1;
        (track.raw.reversed(), track.smooth.reversed())
    } else {
        (track.raw, track.smooth)
    };
    let last = smooth.points.len() - 1;
    changes.repeated_mm += smooth.part(0..=meeting.parts_at).length();
    if meeting.parts_at >= last {
        changes.duplicates += 1;
        return None;
    }
    let mut line = smooth.part(meeting.parts_at..=last);
    let raw = raw.part(meeting.parts_at..=last);
    let near = nearness.nearest(&line.points[0], &lines(placed))?;
    let length = line.length();
    let is_short = length < settings.stub_mm || ends_inside(&line, placed, nearness);
    if is_short && !track.is_open {
        changes.stubs.push((line.points[0], length));
        return None;
    }
    let offset = near.foot - line.points[0];
    let gap = offset.norm();
    if meeting.gap > settings.split_mm {
        changes.joined += 1;
        changes.largest_gap_mm = changes.largest_gap_mm.max(gap);
    }
    // A cubic that leads by a gap over a length L bends by 6 gap / L² at most.
    let gently = (60.0 * gap * line.radii[0]).sqrt();
    lead_onto(&mut line, offset, LEAD_MM.max(10.0 * gap).max(gently));
    Some(Placed {
        raw,
        line,
        name: track.name,
        parent: Some((near.track, near.sample)),
    })
}

/// Whether a line ends within the lumen of the tree, or hardly beyond it: a bulge of the wall and
/// no branch.
fn ends_inside(line: &Polyline, placed: &[Placed], nearness: &Nearness) -> bool {
    let end = &line.points[line.points.len() - 1];
    nearness.nearest(end, &lines(placed)).is_some_and(|near| {
        let radius = placed[near.track].line.radii[near.sample];
        near.distance < BULGE * radius
    })
}

/// Moves the first sample by `offset` and those behind it less and less, none from `length_mm`
/// on; with slope 0 at both ends of the stretch.
fn lead_onto(line: &mut Polyline, offset: Vector3<f64>, length_mm: f64) {
    let stations = line.stations();
    let length = length_mm.min(stations[stations.len() - 1]);
    for (p, s) in line.points.iter_mut().zip(stations) {
        let u = (s / length).min(1.0);
        *p += offset * (1.0 - u * u * (3.0 - 2.0 * u));
    }
}

/// The fault that tracks hang on nothing: all of them, the place being that of the first.
fn strays(waiting: &[Track], placed: &[Placed], settings: &ImportSettings) -> (At, Fault) {
    const NAMED: usize = 8;
    let mut found: Vec<(f64, Vector3<f64>, String)> = waiting
        .iter()
        .take(NAMED)
        .map(|t| gap_of(t, placed))
        .collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (gap_mm, place, what) = found[0].clone();
    let further: Vec<String> = found[1..]
        .iter()
        .map(|(gap, p, what)| {
            format!(
                "{what} by {gap:.2} mm, near ({:.1}, {:.1}, {:.1}) mm",
                p.x, p.y, p.z
            )
        })
        .collect();
    let needed = found[found.len() - 1].0;
    (
        At::Point(place.into()),
        Fault::Disconnected {
            what,
            gap_mm,
            allowed_mm: settings.join_mm,
            further,
            needed_mm: needed,
        },
    )
}

/// Distance in mm of a track's nearer end from the tree, that end, and what the track is.
fn gap_of(track: &Track, placed: &[Placed]) -> (f64, Vector3<f64>, String) {
    let samples = &track.smooth.points;
    let mut gap = (f64::INFINITY, samples[0]);
    for p in [samples[0], samples[samples.len() - 1]] {
        for line in lines(placed) {
            let step = count_of(line.points.len() as f64 / 2000.0);
            for q in line.points.iter().step_by(step) {
                let distance = (p - q).norm();
                if distance < gap.0 {
                    gap = (distance, p);
                }
            }
        }
    }
    let what = format!("{} of {:.1} mm", called(track), track.smooth.length());
    (gap.0, gap.1, what)
}
