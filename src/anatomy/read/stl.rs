//! STL, text and binary: triangles without shared points, which are joined where their
//! coordinates are equal to the last bit.

use std::collections::HashMap;

use nalgebra::Vector3;

use super::content::RawSurface;
use super::limits;
use super::not_a;
use super::words::Words;
use crate::anatomy::error::{At, Checked, Fault};
use crate::anatomy::frame::Frame;
use crate::shown::cut;

/// Bytes before the number of triangles in a binary file.
const HEAD: usize = 80;
/// Bytes of a triangle in a binary file.
const TRIANGLE: usize = 50;

/// Reads a surface.
pub(super) fn read(bytes: &[u8]) -> Checked<RawSurface> {
    let announced = bytes
        .get(HEAD..HEAD + 4)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]));
    let is_text = bytes.trim_ascii_start().starts_with(b"solid");
    let size = announced.map(|n| HEAD + 4 + TRIANGLE * n as usize);
    if is_text && size != Some(bytes.len()) {
        return text(bytes);
    }
    let Some((announced, size)) = announced.zip(size) else {
        return Err(not_a("an STL surface", bytes));
    };
    let there = (bytes.len() - HEAD - 4) / TRIANGLE;
    // A head that announces what could never be there is that of another kind of file.
    if bytes.len() < size && there == 0 {
        return Err(not_a("an STL surface", bytes));
    }
    if bytes.len() < size {
        return Err((
            At::Byte(bytes.len()),
            Fault::Truncated {
                what: format!("{announced} triangles are announced, {there} are there"),
            },
        ));
    }
    limits::at_most("triangles", u64::from(announced), limits::TRIANGLES)?;
    let mut joined = Joined::default();
    let head = String::from_utf8_lossy(&bytes[..HEAD]);
    for triangle in bytes[HEAD + 4..size].chunks_exact(TRIANGLE) {
        // Behind the normal stand three corners of three numbers.
        let (numbers, _) = triangle[12..48].as_chunks::<4>();
        let corner =
            |k: usize| Vector3::from_fn(|i, _| f64::from(f32::from_le_bytes(numbers[3 * k + i])));
        joined.add([corner(0), corner(1), corner(2)]);
    }
    Ok(joined.surface(Frame::in_comment(&head)))
}

fn text(bytes: &[u8]) -> Checked<RawSurface> {
    let mut words = Words::new(bytes);
    let title = words.rest_of_line();
    let mut joined = Joined::default();
    let mut corners: Vec<Vector3<f64>> = Vec::with_capacity(3);
    let mut closed = false;
    while let Some(word) = words.next_word() {
        match word.as_ref() {
            "vertex" => {
                let (x, y, z) = (
                    words.number("a coordinate")?,
                    words.number("a coordinate")?,
                    words.number("a coordinate")?,
                );
                corners.push(Vector3::new(x, y, z));
            }
            "endfacet" => {
                let [a, b, c] = corners[..] else {
                    return Err((
                        words.at(),
                        Fault::Malformed {
                            what: format!("a facet has {} corners, allowed is 3", corners.len()),
                        },
                    ));
                };
                joined.add([a, b, c]);
                limits::at_most(
                    "triangles",
                    joined.triangles.len() as u64,
                    limits::TRIANGLES,
                )?;
                corners.clear();
            }
            "facet" | "outer" | "endloop" | "loop" => {}
            "normal" => {
                for _ in 0..3 {
                    words.word("a normal")?;
                }
            }
            "solid" => {
                words.rest_of_line();
            }
            "endsolid" => {
                words.rest_of_line();
                closed = true;
            }
            other => {
                return Err((
                    words.at(),
                    Fault::Malformed {
                        what: format!("the word {:?} does not belong in an STL text", cut(other)),
                    },
                ));
            }
        }
    }
    if !closed {
        return Err((
            words.at(),
            Fault::Truncated {
                what: "the word endsolid is missing".into(),
            },
        ));
    }
    Ok(joined.surface(Frame::in_comment(&title)))
}

/// Corners that are the same point, found by their bits.
#[derive(Default)]
struct Joined {
    points: Vec<Vector3<f64>>,
    triangles: Vec<[u32; 3]>,
    known: HashMap<[u64; 3], u32>,
}

impl Joined {
    fn add(&mut self, corners: [Vector3<f64>; 3]) {
        let triangle = corners.map(|p| {
            // Adding 0 makes minus zero zero.
            let bits = [p.x + 0.0, p.y + 0.0, p.z + 0.0].map(f64::to_bits);
            let next = u32::try_from(self.points.len()).unwrap_or(u32::MAX);
            *self.known.entry(bits).or_insert_with(|| {
                self.points.push(p);
                next
            })
        });
        self.triangles.push(triangle);
    }

    fn surface(self, frame: Option<Frame>) -> RawSurface {
        RawSurface {
            points: self.points,
            triangles: self.triangles,
            frame,
        }
    }
}
