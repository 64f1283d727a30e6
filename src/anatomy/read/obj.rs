//! OBJ: the lines `v` (points) and `f` (faces) of a surface; all others are left out.

use nalgebra::Vector3;

use super::content::{RawSurface, fan};
use super::limits;
use super::not_a;
use super::words::number;
use crate::anatomy::error::{At, Checked, Fault};
use crate::anatomy::frame::Frame;
use crate::shown::cut;

/// Reads a surface.
pub(super) fn read(bytes: &[u8]) -> Checked<RawSurface> {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Err(not_a("an OBJ text", bytes));
    };
    let mut out = RawSurface::default();
    let mut faces: Vec<Vec<u64>> = Vec::new();
    let mut known = false;
    for (number_of_line, line) in text.lines().enumerate() {
        let at = At::Line(number_of_line + 1);
        if let Some(comment) = line.strip_prefix('#') {
            out.frame = out.frame.or(Frame::in_comment(comment));
            continue;
        }
        let mut words = line.split_whitespace();
        match words.next() {
            Some("v") => {
                let mut p = Vector3::zeros();
                for i in 0..3 {
                    let word = words.next().ok_or_else(|| {
                        let what = "a point has fewer than three coordinates".into();
                        (at, Fault::Truncated { what })
                    })?;
                    p[i] = number(word, "a coordinate").map_err(|f| (at, f))?;
                }
                out.points.push(p);
                limits::at_most("points", out.points.len() as u64, limits::POINTS)?;
            }
            Some("f") => {
                let mut face = Vec::new();
                for word in words {
                    face.push(corner(word, out.points.len()).map_err(|f| (at, f))?);
                }
                faces.push(face);
                limits::at_most("faces", faces.len() as u64, limits::TRIANGLES)?;
            }
            None | Some("vn" | "vt" | "vp" | "o" | "g" | "s" | "usemtl" | "mtllib" | "l" | "p") => {
            }
            Some(other) if !known => {
                return Err((
                    at,
                    Fault::WrongType {
                        expected: "an OBJ surface",
                        found: other.to_owned(),
                    },
                ));
            }
            Some(_) => {}
        }
        known = known || !out.points.is_empty();
    }
    for face in &faces {
        fan(face, out.points.len(), &mut out.triangles)?;
    }
    Ok(out)
}

/// A corner `point/texture/normal`; points count from 1, or backwards from the last one.
fn corner(word: &str, points: usize) -> Result<u64, Fault> {
    let first = word.split('/').next().unwrap_or_default();
    let wrong = || Fault::Malformed {
        what: format!(
            "a corner of a face must be the number of a point, found {:?}",
            cut(word)
        ),
    };
    let number: i64 = first.parse().map_err(|_| wrong())?;
    let count = i64::try_from(points).unwrap_or(i64::MAX);
    let index = if number > 0 {
        number - 1
    } else {
        count + number
    };
    u64::try_from(index)
        .ok()
        .filter(|_| number != 0)
        .ok_or_else(wrong)
}
