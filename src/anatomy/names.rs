//! A file of names: a table with a column `name` and columns that point at the branch: `branch`
//! (its name in the file of anatomy, or by order), `tip` (its number), or `x`, `y`, `z` (a point
//! in the scene's frame in mm). A row may use any one of them. Lines that begin with `#` are
//! comments.

use std::path::Path;

use nalgebra::Vector3;

use super::error::{AnatomyError, At, Checked, Fault};
use super::read::{bytes, plain};
use super::tree::{Naming, Which};
use crate::shown::{cut, listed};

/// Most names in a file.
const MOST: usize = 10_000;
/// Most characters of a name.
const LONGEST: usize = 60;

/// Reads the names of branches from the file at `path`; also gives its bytes.
///
/// # Errors
/// The first fault found, with its place in the file.
pub fn names(path: &Path) -> Result<(Vec<Naming>, Vec<u8>), Box<AnatomyError>> {
    let bytes = bytes(path)?;
    match table(&bytes, path) {
        Ok(names) => Ok((names, bytes)),
        Err((at, fault)) => Err(fault.at(path, at)),
    }
}

fn fault(what: String) -> Fault {
    let remedy = "a file of names has a head such as \"tip,name\" and then lines such as \"1,LAD\"";
    let remedy = remedy.into();
    Fault::Setting { what, remedy }
}

fn malformed<T>(at: At, what: String) -> Checked<T> {
    Err((at, fault(what)))
}

fn table(bytes: &[u8], path: &Path) -> Checked<Vec<Naming>> {
    let mut table = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(bytes);
    let broken = |at: At, error: &csv::Error| (at, fault(format!("not a table of names: {error}")));
    let heads = table.headers().map_err(|e| broken(At::Whole, &e))?.clone();
    let of = |name: &str| heads.iter().position(|head| plain(head) == name);
    let (branch, tip) = (of("branch"), of("tip"));
    let point = match (of("x"), of("y"), of("z")) {
        (Some(x), Some(y), Some(z)) => Some([x, y, z]),
        _ => None,
    };
    let (Some(name), true) = (of("name"), branch.or(tip).is_some() || point.is_some()) else {
        let heads: Vec<&str> = heads.iter().collect();
        let what = format!(
            "columns are {}; needed are name, and branch, tip, or x with y and z",
            listed(&heads)
        );
        return malformed(At::Line(1), what);
    };
    let mut out: Vec<Naming> = Vec::new();
    for record in table.records() {
        let record = record.map_err(|e| broken(At::Whole, &e))?;
        let line = record.position().map_or(0, csv::Position::line);
        let line = usize::try_from(line).unwrap_or(usize::MAX);
        let at = At::Line(line);
        let cell = |column: Option<usize>| {
            let text = column.and_then(|c| record.get(c)).unwrap_or("");
            Some(text).filter(|t| !t.is_empty())
        };
        let number = |column: usize| -> Checked<f64> {
            let text = record.get(column).unwrap_or("");
            match text.parse::<f64>() {
                Ok(x) if x.is_finite() => Ok(x),
                _ => malformed(
                    at,
                    format!(
                        "{} must be a number, found {:?}",
                        cut(&heads[column]),
                        cut(text)
                    ),
                ),
            }
        };
        let said = cell(Some(name)).unwrap_or("");
        if said.is_empty() || said.chars().count() > LONGEST {
            return malformed(
                at,
                format!(
                    "a name must have 1 to {LONGEST} characters, found {:?}",
                    cut(said)
                ),
            );
        }
        if said.contains(char::is_control) {
            return malformed(
                at,
                format!(
                    "a name must be of one line without control characters, found {:?}",
                    cut(said)
                ),
            );
        }
        let which = match (cell(branch), cell(tip), point) {
            (Some(branch), _, _) => Which::Branch(branch.to_owned()),
            (None, Some(tip), _) => match tip.parse() {
                Ok(tip) => Which::Tip(tip),
                Err(_) => {
                    return malformed(
                        at,
                        format!("tip must be a whole number from 1, found {:?}", cut(tip)),
                    );
                }
            },
            (None, None, Some([x, y, z])) => {
                Which::Near(Vector3::new(number(x)?, number(y)?, number(z)?))
            }
            (None, None, None) => {
                return malformed(at, format!("{:?} points at no branch", cut(said)));
            }
        };
        out.push(Naming {
            which,
            name: said.to_owned(),
            said: Some((path.to_owned(), line)),
        });
        if out.len() > MOST {
            return malformed(at, format!("more than {MOST} names"));
        }
    }
    Ok(out)
}
