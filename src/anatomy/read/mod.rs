//! Readers of open formats, each for centrelines or for surfaces or for both.
//!
//! Every reader takes the bytes of a file and gives its [`Content`], or a fault with the place in
//! the file. None of them trusts a number in the file: what a header announces is compared with
//! what is there before memory is taken, and what compressed data unpacks to is bounded
//! (see `limits`).
mod content;
mod csv_table;
mod legacy;
mod limits;
mod numbers;
mod obj;
mod parents;
mod ply;
mod stl;
mod swc;
mod tracts;
mod vtp;
mod words;

use std::path::Path;

pub(super) use content::plain;
pub use content::{Arrays, Content, Line, Lines, RawSurface};

use super::error::{AnatomyError, At, Checked, Fault};
use crate::input;
use crate::shown;

/// Endings that are known.
const ENDINGS: &str = "vtp, vtk, swc, csv (centrelines), vtp, vtk, stl, ply, obj (surfaces)";

/// Reads the content of a file from its bytes; `ending` is that of its name, in small letters.
///
/// # Errors
/// The first fault found, with its place.
pub fn parse(ending: &str, bytes: &[u8], arrays: &Arrays) -> Checked<Content> {
    if bytes.is_empty() {
        return Err((
            At::Whole,
            Fault::Truncated {
                what: "it is empty".into(),
            },
        ));
    }
    if let Some(stated) = &arrays.name
        && !["vtp", "vtk", "csv"].contains(&ending)
    {
        return Err((
            At::Whole,
            Fault::NoNames {
                wanted: stated.clone(),
                present: format!("no .{ending} file carries names"),
            },
        ));
    }
    let mut content = match ending {
        "vtp" => vtp::read(bytes)?.content(arrays)?,
        "vtk" => legacy::read(bytes)?.content(arrays)?,
        "swc" => Content::Lines(swc::read(bytes)?),
        "csv" => Content::Lines(csv_table::read(bytes, arrays)?),
        "stl" => Content::Surface(stl::read(bytes)?),
        "ply" => Content::Surface(ply::read(bytes)?),
        "obj" => Content::Surface(obj::read(bytes)?),
        _ => {
            return Err((
                At::Whole,
                Fault::UnknownEnding {
                    ending: ending.to_owned(),
                    allowed: ENDINGS,
                },
            ));
        }
    };
    if let Content::Lines(lines) = &mut content {
        clean_names(lines);
    }
    sound(&content)?;
    Ok(content)
}

/// Names stand in tables, messages and comments: line ends and other control characters in them
/// become blanks.
fn clean_names(lines: &mut Lines) {
    let names = lines.lines.iter_mut().filter_map(|line| line.name.as_mut());
    for name in names.chain(&mut lines.labels).chain(&mut lines.notes) {
        if name.contains(char::is_control) {
            *name = shown::without_controls(name).trim().to_owned();
        }
    }
}

/// The ending of a file's name, in small letters.
pub(super) fn ending(path: &Path) -> String {
    let ending = path.extension().unwrap_or_default();
    ending.to_string_lossy().to_ascii_lowercase()
}

/// The bytes of the file at `path`, if it is not too large.
pub(super) fn bytes(path: &Path) -> Result<Vec<u8>, Box<AnatomyError>> {
    let unreadable = |cause: std::io::Error| {
        Fault::Unreadable {
            cause: cause.to_string(),
        }
        .at(path, At::Whole)
    };
    input::bytes(path, limits::FILE_BYTES).map_err(unreadable)
}

/// Counts, coordinates and radii are such as a vessel can have.
fn sound(content: &Content) -> Checked<()> {
    let points = match content {
        Content::Lines(lines) => &lines.points,
        Content::Surface(surface) => &surface.points,
    };
    limits::at_most("points", points.len() as u64, limits::POINTS)?;
    for (point, p) in points.iter().enumerate() {
        if let Some(&value) = p.iter().find(|x| !x.is_finite()) {
            return Err((At::Whole, Fault::NotFinite { point, value }));
        }
    }
    match content {
        Content::Lines(lines) => {
            limits::at_most("lines", lines.lines.len() as u64, limits::LINES)?;
            if lines.lines.iter().all(|line| line.points.len() < 2) {
                return Err((At::Whole, Fault::Empty { what: "lines" }));
            }
            let is_bad = |r: &f64| !(r.is_finite() && *r > 0.0);
            match lines.radii.iter().position(is_bad) {
                Some(point) => Err((
                    At::Whole,
                    Fault::BadRadius {
                        point,
                        value: lines.radii[point],
                    },
                )),
                None => Ok(()),
            }
        }
        Content::Surface(surface) => {
            limits::at_most(
                "triangles",
                surface.triangles.len() as u64,
                limits::TRIANGLES,
            )?;
            if surface.triangles.is_empty() {
                return Err((
                    At::Whole,
                    Fault::Empty {
                        what: "lines and no triangles",
                    },
                ));
            }
            Ok(())
        }
    }
}

/// The first characters of a file, for a message.
fn beginning(bytes: &[u8]) -> String {
    String::from_utf8_lossy(&bytes[..bytes.len().min(24)]).into_owned()
}

/// The fault that a file is not what its ending says.
fn not_a(expected: &'static str, bytes: &[u8]) -> super::error::Found {
    (
        At::Whole,
        Fault::WrongType {
            expected,
            found: beginning(bytes),
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_in_names_become_blanks() {
        let table = "branch,x,y,z,radius\n\"a\n\u{1b}[31mb\",0,0,0,1\n\"a\n\u{1b}[31mb\",9,0,0,1\n";
        let Ok(Content::Lines(lines)) = parse("csv", table.as_bytes(), &Arrays::default()) else {
            panic!("lines");
        };
        assert_eq!(lines.lines[0].name.as_deref(), Some("a  [31mb"));
    }
}
