//! From the lines of a file to tracks: single lines without forks, from the inlet outwards where
//! they begin there.

use std::collections::BTreeMap;

use super::changes::Changes;
use super::inlet::inlet;
use super::polyline::{FINE_MM, Polyline, count_of};
use super::{ImportSettings, ease, plausible, through};
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::frame::Written;
use crate::anatomy::read::{Line, Lines};
use crate::shown::counted;

/// Greatest length of all lines together in mm.
const LONGEST_MM: f64 = 20_000.0;
/// Two points closer than this, in mm, coincide.
const COINCIDENT_MM: f64 = 1e-6;

/// One line, before and after smoothing, with the same samples.
#[derive(Debug, Clone)]
pub(super) struct Track {
    pub raw: Polyline,
    pub smooth: Polyline,
    pub name: Option<String>,
    /// Begins at the inlet.
    pub from_inlet: bool,
    /// Has an end that the file says is an open one.
    pub is_open: bool,
}

/// Cuts, resamples and smooths the lines; the first track begins at the inlet.
pub(super) fn tracks(
    lines: &Lines,
    settings: &ImportSettings,
    written: Written,
    changes: &mut Changes,
) -> Checked<Vec<Track>> {
    let chained = chained(lines)?;
    let mut clean: Vec<(Polyline, Option<String>)> = Vec::new();
    for line in &chained {
        let mut out = Polyline::default();
        for &i in &line.points {
            let p = lines.points[i];
            if out
                .points
                .last()
                .is_some_and(|before| (p - before).norm() <= COINCIDENT_MM)
            {
                changes.coincident += 1;
                continue;
            }
            out.points.push(p);
            out.radii.push(lines.radii[i]);
        }
        if out.points.len() > 1 {
            clean.push((out, line.name.clone()));
        }
    }
    let total: f64 = clean.iter().map(|(line, _)| line.length()).sum();
    if clean.is_empty() {
        return whole(Fault::Empty {
            what: "line of two points or more",
        });
    }
    if total > LONGEST_MM {
        return whole(Fault::TooMuch {
            what: "mm of centrelines",
            found: count_of(total) as u64,
            allowed: count_of(LONGEST_MM) as u64,
        });
    }
    let inlet = inlet(lines, &clean, settings, written, changes)?;
    let through::Joined {
        lines: clean,
        gone,
        turned,
    } = through::through(clean, &inlet);
    changes.turned += turned;
    if gone > 0 {
        changes.notes.push(format!(
            "{} put behind {} on from, {} left",
            counted(gone, "line", "lines"),
            if gone == 1 {
                "the one that it goes"
            } else {
                "those that they go"
            },
            clean.len()
        ));
        changes.lines_went_through = true;
    }
    let mut tracks = Vec::new();
    for (line, name) in clean {
        let ends = [line.points[0], line.points[line.points.len() - 1]];
        let reach = settings.join_mm.max(COINCIDENT_MM);
        let starts = (ends[0] - inlet).norm() <= reach;
        let stops = (ends[1] - inlet).norm() <= reach;
        if starts && stops {
            return Err((
                At::Point(inlet.into()),
                Fault::Loop {
                    what: "a line that begins and ends at the inlet".into(),
                },
            ));
        }
        let from_inlet = starts || stops;
        let line = if stops {
            changes.turned += 1;
            line.reversed()
        } else {
            line
        };
        let line = if from_inlet {
            cut(line, settings, changes)?
        } else {
            line
        };
        if line.points.len() < 2 || line.length() <= COINCIDENT_MM {
            changes.duplicates += 1;
            continue;
        }
        let raw = line.resampled(FINE_MM);
        plausible::check_line(&raw)?;
        tracks.push(Track {
            smooth: ease::eased(&raw, settings, changes),
            raw,
            name,
            from_inlet,
            is_open: lines
                .open_ends
                .iter()
                .any(|p| ends.iter().any(|e| (e - p).norm() <= COINCIDENT_MM)),
        });
    }
    tracks.sort_by(|a, b| {
        let by_length = b.smooth.length().total_cmp(&a.smooth.length());
        b.from_inlet.cmp(&a.from_inlet).then(by_length)
    });
    Ok(tracks)
}

/// Cuts off the stated inlet part of a line that begins at the inlet.
fn cut(line: Polyline, settings: &ImportSettings, changes: &mut Changes) -> Checked<Polyline> {
    let stations = line.stations();
    let length = stations[stations.len() - 1];
    let mut from = settings.cut_mm;
    if let Some(limit) = settings.cut_radius_mm {
        let widest =
            (0..line.radii.len()).fold(0, |m, i| if line.radii[i] > line.radii[m] { i } else { m });
        let first = (widest..line.radii.len()).find(|i| line.radii[*i] < limit);
        let Some(first) = first else {
            return Err((
                At::Point(line.points[0].into()),
                Fault::Setting {
                    what: format!(
                        "cut_radius_mm is {limit}, but a line from the inlet is never narrower \
                         (least {:.3} mm)",
                        line.narrowest()
                    ),
                    remedy: "give a radius between those of the inlet part and of the vessel"
                        .into(),
                },
            ));
        };
        if line.radii[0] >= limit || first > 0 {
            from = from.max(stations[first]);
        }
    }
    if from <= 0.0 {
        return Ok(line);
    }
    if from >= length {
        changes.notes.push(format!(
            "a line of {length:.1} mm ends within the inlet part that was cut off"
        ));
        return Ok(Polyline::default());
    }
    let first = stations.partition_point(|s| *s < from);
    let before = first.saturating_sub(1);
    let span = stations[first] - stations[before];
    let t = if span > 0.0 {
        (from - stations[before]) / span
    } else {
        1.0
    };
    let mut out = Polyline {
        points: vec![line.points[before] * (1.0 - t) + line.points[first] * t],
        radii: vec![line.radii[before] * (1.0 - t) + line.radii[first] * t],
    };
    for i in first..line.points.len() {
        if (line.points[i] - out.points[0]).norm() > COINCIDENT_MM {
            out.points.push(line.points[i]);
            out.radii.push(line.radii[i]);
        }
    }
    changes.cut_mm = changes.cut_mm.max(from);
    changes.cut_points += first;
    Ok(out)
}

/// Most lines between ends and forks: each end is compared with all others.
const MOST_LINES: usize = 5_000;

/// Lines of two points each, as some programs write them, put together to lines between forks
/// and ends; other lines as they are. A closed way is refused.
fn chained(lines: &Lines) -> Checked<Vec<Line>> {
    let at = |i: usize| At::Point(lines.points[i].into());
    let all_pairs = lines.lines.len() > 1 && lines.lines.iter().all(|l| l.points.len() == 2);
    if !all_pairs {
        if lines.lines.len() > MOST_LINES {
            return whole(Fault::TooMuch {
                what: "lines",
                found: lines.lines.len() as u64,
                allowed: MOST_LINES as u64,
            });
        }
        for line in &lines.lines {
            let mut seen: Vec<usize> = line.points.clone();
            seen.dedup();
            seen.sort_unstable();
            if let Some(twice) = seen.windows(2).find(|p| p[0] == p[1]) {
                return Err((
                    at(twice[0]),
                    Fault::Loop {
                        what: "a line that passes one of its points twice".into(),
                    },
                ));
            }
        }
        return Ok(lines.lines.clone());
    }
    let mut neighbours: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for line in &lines.lines {
        let (a, b) = (line.points[0], line.points[1]);
        if a != b {
            neighbours.entry(a).or_default().push(b);
            neighbours.entry(b).or_default().push(a);
        }
    }
    refuse_closed_ways(&neighbours).map_err(|i| {
        (
            at(i),
            Fault::Loop {
                what: "a chain of lines".into(),
            },
        )
    })?;
    let mut out = Vec::new();
    for (&start, next) in neighbours.iter().filter(|(_, n)| n.len() != 2) {
        for &first in next {
            let mut points = vec![start, first];
            let (mut before, mut here) = (start, first);
            while neighbours[&here].len() == 2 {
                let onward = neighbours[&here].iter().copied().find(|n| *n != before);
                let Some(onward) = onward else { break };
                points.push(onward);
                (before, here) = (here, onward);
            }
            // Each chain is found from both its ends; kept from the lower one.
            if start < here {
                out.push(Line { points, name: None });
            }
        }
    }
    if out.len() > MOST_LINES {
        return whole(Fault::Setting {
            what: format!(
                "its {} pairs of points make {} separate lines between ends and forks, allowed are \
                 at most {MOST_LINES}",
                lines.lines.len(),
                out.len()
            ),
            remedy:
                "lines that meet must share the number of a point: merge points that coincide, \
                     or export each branch as one line"
                    .into(),
        });
    }
    Ok(out)
}

/// A tree has no way back to where one came from; the error is a point on a closed way.
fn refuse_closed_ways(neighbours: &BTreeMap<usize, Vec<usize>>) -> Result<(), usize> {
    let mut seen: BTreeMap<usize, usize> = BTreeMap::new();
    for &start in neighbours.keys() {
        if seen.contains_key(&start) {
            continue;
        }
        seen.insert(start, start);
        let mut waiting = vec![start];
        while let Some(here) = waiting.pop() {
            let mut back = 0;
            for &next in &neighbours[&here] {
                if next == seen[&here] && here != start {
                    back += 1;
                    if back > 1 {
                        return Err(here);
                    }
                } else if seen.insert(next, here).is_some() {
                    return Err(next);
                } else {
                    waiting.push(next);
                }
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_loose_pairs_of_points_are_refused_and_a_chain_of_them_is_not() {
        const PAIRS: usize = 300_000;
        let pairs = |gap: usize| Lines {
            points: (0..2 * PAIRS)
                .map(|i| nalgebra::Vector3::new(i as f64, 0.0, 0.0))
                .collect(),
            radii: vec![1.0; 2 * PAIRS],
            lines: (0..PAIRS)
                .map(|i| Line {
                    points: vec![gap * i, gap * i + 1],
                    name: None,
                })
                .collect(),
            ..Lines::default()
        };
        let (_, fault) = chained(&pairs(2)).unwrap_err();
        assert!(
            fault.to_string().contains("300000 separate lines"),
            "{fault}"
        );
        assert!(fault.help().contains("merge points"));
        assert_eq!(chained(&pairs(1)).expect("one line").len(), 1);
    }
}
