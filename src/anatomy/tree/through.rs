//! Lines that end where others begin, put together to lines that run through their forks: a file
//! that holds a line for each branch is smoothed there as one that holds a line for each tip.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use super::polyline::Polyline;

/// Ends closer together than this, in mm, are one place.
const SAME_MM: f64 = 1e-3;
/// Least cosine of the turn at which a line goes on as another.
const ON: f64 = 0.5;

/// A line with its name.
pub(super) type Named = (Polyline, Option<String>);

/// Lines put together.
pub(super) struct Joined {
    pub lines: Vec<Named>,
    /// How many lines went into others.
    pub gone: usize,
    /// How many lines ran towards the inlet and were turned.
    pub turned: usize,
}

/// The lines put together from the inlet outwards: at each place where lines meet, a line goes on as
/// the one that turns least. Lines that no way of shared ends leads to stay as they are.
pub(super) fn through(lines: Vec<Named>, inlet: &Vector3<f64>) -> Joined {
    let before = lines.len();
    let mut at: BTreeMap<[i64; 3], Vec<usize>> = BTreeMap::new();
    for (number, (line, _)) in lines.iter().enumerate() {
        for end in [0, line.points.len() - 1] {
            at.entry(place(&line.points[end])).or_default().push(number);
        }
    }
    let mut lines: Vec<Option<Named>> = lines.into_iter().map(Some).collect();
    let mut out = Vec::with_capacity(before);
    let mut waiting = vec![place(inlet)];
    let mut next = 0;
    let mut turned = 0;
    while next < waiting.len() {
        let here = waiting[next];
        next += 1;
        let meeting = at.get(&here).cloned().unwrap_or_default();
        for number in meeting {
            let Some((line, name)) = lines[number].take() else {
                continue;
            };
            let mut whole = from(line, here, &mut turned);
            loop {
                let last = whole.points.len() - 1;
                let there = place(&whole.points[last]);
                waiting.push(there);
                let arrives = direction(&whole, true);
                let turn = |i: &usize| {
                    let (line, _) = lines[*i].as_ref()?;
                    let starts = place(&line.points[0]) == there;
                    let leaves = if starts {
                        direction(line, false)
                    } else {
                        -direction(line, true)
                    };
                    Some((arrives.dot(&leaves), *i))
                };
                let meeting = at.get(&there).map_or(&[][..], Vec::as_slice);
                let best = meeting
                    .iter()
                    .filter_map(turn)
                    .max_by(|a, b| a.0.total_cmp(&b.0));
                let Some((cosine, onward)) = best else { break };
                if cosine < ON {
                    break;
                }
                let Some((line, _)) = lines[onward].take() else {
                    break;
                };
                let line = from(line, there, &mut turned);
                whole.points.extend(&line.points[1..]);
                whole.radii.extend(&line.radii[1..]);
            }
            out.push((whole, name));
        }
    }
    out.extend(lines.into_iter().flatten());
    Joined {
        gone: before - out.len(),
        lines: out,
        turned,
    }
}

fn place(p: &Vector3<f64>) -> [i64; 3] {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the cast saturates; coordinates are limited"
    )]
    let of = |x: f64| (x / SAME_MM).round() as i64;
    [of(p.x), of(p.y), of(p.z)]
}

/// The line so that it begins at a place where one of its ends lies; counts one that is turned.
fn from(line: Polyline, start: [i64; 3], turned: &mut usize) -> Polyline {
    if place(&line.points[0]) == start {
        line
    } else {
        *turned += 1;
        line.reversed()
    }
}

/// Direction of a line at its start or at its end, over one lumen radius, along the line.
fn direction(line: &Polyline, at_end: bool) -> Vector3<f64> {
    let last = line.points.len() - 1;
    let step = |k: usize| if at_end { last - k } else { k };
    let (from, radius) = (line.points[step(0)], line.radii[step(0)]);
    let far = (1..=last).find(|k| (line.points[step(*k)] - from).norm() >= radius);
    let away = line.points[step(far.unwrap_or(last))] - from;
    let along = if at_end { -away } else { away };
    along.try_normalize(0.0).unwrap_or_else(Vector3::x)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[[f64; 2]]) -> Polyline {
        Polyline {
            points: points
                .iter()
                .map(|[x, y]| Vector3::new(*x, *y, 0.0))
                .collect(),
            radii: vec![1.0; points.len()],
        }
    }

    /// A trunk to (10, 0), from there straight on to (20, 0) and aside to (12, 9), and at (20, 0) a
    /// fork square to both; some of them reversed.
    #[test]
    fn a_line_goes_on_as_the_one_that_turns_least() {
        let named = |points: &[[f64; 2]], name: &str| (line(points), Some(name.to_owned()));
        let lines = vec![
            named(&[[12.0, 9.0], [10.0, 0.0]], "side"),
            named(&[[0.0, 0.0], [10.0, 0.0]], "trunk"),
            named(&[[20.0, 0.0], [10.0, 0.0]], "on"),
            named(&[[20.0, 0.0], [20.0, 9.0]], "left"),
            named(&[[20.0, -9.0], [20.0, 0.0]], "right"),
            named(&[[50.0, 0.0], [60.0, 0.0]], "far"),
        ];
        let joined = through(lines, &Vector3::zeros());
        assert_eq!((joined.gone, joined.turned), (1, 3));
        let out = joined.lines;
        let names: Vec<_> = out.iter().map(|l| l.1.as_deref().unwrap()).collect();
        assert_eq!(names, ["trunk", "side", "left", "right", "far"]);
        let ends: Vec<f64> = out
            .iter()
            .map(|l| l.0.points[l.0.points.len() - 1].y)
            .collect();
        assert_eq!(ends, [0.0, 9.0, 9.0, -9.0, 0.0]);
        assert_eq!(out[0].0.points.len(), 3);
    }
}
