//! SWC, the text format of branching shapes: number, type, x, y, z, radius, number of the parent.
//!
//! Source: R. C. Cannon, D. A. Turner, G. K. Pyapali, H. V. Wheal, An on-line archive of
//! reconstructed hippocampal neurons, J Neurosci Methods 84:49-54, 1998; a parent of -1 is the
//! root, and the radius (not the diameter) is given.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use super::content::{Line, Lines};
use super::not_a;
use super::words::number;
use crate::anatomy::error::{At, Checked, Fault, whole};
use crate::anatomy::frame::Frame;
use crate::shown::cut;

/// Reads a tree.
pub(super) fn read(bytes: &[u8]) -> Checked<Lines> {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Err(not_a("an SWC text", bytes));
    };
    let mut out = Lines::default();
    let mut parents: Vec<(i64, usize)> = Vec::new();
    let mut numbers: BTreeMap<i64, usize> = BTreeMap::new();
    for (index, line) in text.lines().enumerate() {
        let at = At::Line(index + 1);
        let line = line.trim();
        if let Some(comment) = line.strip_prefix('#') {
            out.frame = out.frame.or(Frame::in_comment(comment));
            continue;
        }
        if line.is_empty() {
            continue;
        }
        let words: Vec<&str> = line.split_whitespace().collect();
        if words.len() < 7 {
            return Err((
                at,
                Fault::Malformed {
                    what: format!(
                        "an SWC line has 7 columns (number, type, x, y, z, radius, parent), this \
                         one has {}",
                        words.len()
                    ),
                },
            ));
        }
        let value = |i: usize, what: &str| number(words[i], what).map_err(|f| (at, f));
        let id = whole_number(words[0], "the number of a point").map_err(|f| (at, f))?;
        let parent = whole_number(words[6], "the number of the parent").map_err(|f| (at, f))?;
        if numbers.insert(id, out.points.len()).is_some() {
            return Err((
                at,
                Fault::Malformed {
                    what: format!("point {id} is described a second time"),
                },
            ));
        }
        let point = Vector3::new(value(2, "x")?, value(3, "y")?, value(4, "z")?);
        out.add(at, point, value(5, "the radius")?)?;
        parents.push((parent, index + 1));
    }
    let parents = resolved(&parents, &numbers)?;
    out.root = parents.iter().position(Option::is_none);
    let roots = parents.iter().filter(|p| p.is_none()).count();
    if roots > 1 {
        return whole(Fault::Malformed {
            what: format!("{roots} points have no parent; allowed is one, the inlet"),
        });
    }
    out.lines = chains(&parents)?;
    Ok(out)
}

fn whole_number(word: &str, what: &str) -> Result<i64, Fault> {
    let float = number(word, what)?;
    #[expect(
        clippy::cast_possible_truncation,
        reason = "checked to be whole and small"
    )]
    let n = float as i64;
    if float.fract().abs() > 0.0 || float.abs() > 1e15 {
        return Err(Fault::Malformed {
            what: format!("{what} must be a whole number, found {:?}", cut(word)),
        });
    }
    Ok(n)
}

/// The parent of each point as an index; none is its own ancestor.
fn resolved(
    parents: &[(i64, usize)],
    numbers: &BTreeMap<i64, usize>,
) -> Checked<Vec<Option<usize>>> {
    let mut out = Vec::with_capacity(parents.len());
    for &(parent, line) in parents {
        if parent < 0 {
            out.push(None);
            continue;
        }
        match numbers.get(&parent) {
            Some(&index) => out.push(Some(index)),
            None => {
                return Err((
                    At::Line(line),
                    Fault::Malformed {
                        what: format!("the parent {parent} is not a point of the file"),
                    },
                ));
            }
        }
    }
    match on_its_own_way(&out) {
        None => Ok(out),
        Some(i) => Err((
            At::Line(parents[i].1),
            Fault::Loop {
                what: format!("the way from point {} to its parents", i + 1),
            },
        )),
    }
}

/// A point that is its own ancestor, if there is one.
pub(super) fn on_its_own_way(parents: &[Option<usize>]) -> Option<usize> {
    // 0 not seen, 1 on the way being followed, 2 known to lead to a root.
    let mut state = vec![0_u8; parents.len()];
    for start in 0..parents.len() {
        let mut way = Vec::new();
        let mut at = Some(start);
        while let Some(i) = at {
            if state[i] == 1 {
                return Some(i);
            }
            if state[i] == 2 {
                break;
            }
            state[i] = 1;
            way.push(i);
            at = parents[i];
        }
        for i in way {
            state[i] = 2;
        }
    }
    None
}

/// Lines from the root or a fork to the next fork or a tip.
pub(super) fn chains(parents: &[Option<usize>]) -> Checked<Vec<Line>> {
    let mut children = vec![0_u32; parents.len()];
    for parent in parents.iter().flatten() {
        children[*parent] += 1;
    }
    let mut lines = Vec::new();
    for (end, &count) in children.iter().enumerate() {
        if count == 1 || parents[end].is_none() {
            continue;
        }
        let mut points = vec![end];
        let mut at = parents[end];
        while let Some(i) = at {
            points.push(i);
            if children[i] != 1 {
                break;
            }
            at = parents[i];
        }
        points.reverse();
        lines.push(Line { points, name: None });
    }
    if lines.is_empty() {
        return whole(Fault::Empty { what: "lines" });
    }
    Ok(lines)
}
