//! Centrelines as a table with named columns: `x`, `y`, `z`, `radius` (or `r`, or `diameter`), and
//! `branch` where there is more than one line. `parent` may say on which branch each hangs, or,
//! with `id`, which point stands before each (`parents`). A further column may name the vessel in which each
//! point lies. Lines that begin with `#` are comments.

use nalgebra::Vector3;

use super::content::{Arrays, Line, Lines, plain};
use super::limits;
use super::not_a;
use super::parents::{self, Parents};
use super::words::number;
use crate::anatomy::error::{At, Checked, Fault};
use crate::anatomy::frame::Frame;
use crate::shown::{cut, listed};

/// Which column holds what.
struct Columns {
    coordinates: [usize; 3],
    radius: usize,
    factor: f64,
    branch: Option<usize>,
    label: Option<usize>,
    parent: Option<usize>,
    id: Option<usize>,
}

/// Reads centrelines.
pub(super) fn read(bytes: &[u8], stated: &Arrays) -> Checked<Lines> {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return Err(not_a("a table in text", bytes));
    };
    let mut table = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let heads = table
        .headers()
        .map_err(|error| (At::Whole, broken(&error)))?
        .clone();
    let columns = columns(&heads, stated)?;
    let mut out = Lines {
        frame: text
            .lines()
            .take_while(|line| line.starts_with('#'))
            .find_map(Frame::in_comment),
        ..Lines::default()
    };
    let mut before: Option<String> = None;
    let mut parents = Parents::default();
    let mut record = csv::StringRecord::new();
    loop {
        let line = usize::try_from(table.position().line()).unwrap_or(usize::MAX);
        let more = table
            .read_record(&mut record)
            .map_err(|error| (At::Line(line), broken(&error)))?;
        if !more {
            break;
        }
        let line = record
            .position()
            .map_or(line, |p| usize::try_from(p.line()).unwrap_or(usize::MAX));
        let at = At::Line(line);
        let value = |column: usize| {
            let word = record.get(column).ok_or_else(|| {
                let what = format!(
                    "the row has {} columns, {} are named",
                    record.len(),
                    heads.len()
                );
                (at, Fault::Truncated { what })
            })?;
            number(word, &heads[column]).map_err(|fault| (at, fault))
        };
        let [x, y, z] = columns.coordinates;
        let point = Vector3::new(value(x)?, value(y)?, value(z)?);
        out.add(at, point, columns.factor * value(columns.radius)?)?;
        if let Some(column) = columns.label {
            out.labels.push(record.get(column).unwrap_or("").to_owned());
        }
        if let Some(column) = columns.parent {
            parents.of.push(record.get(column).unwrap_or("").to_owned());
            if let Some(column) = columns.id {
                parents
                    .ids
                    .push(record.get(column).unwrap_or("").to_owned());
            }
        }
        let name = columns
            .branch
            .map(|c| record.get(c).unwrap_or("").to_owned());
        if out.lines.is_empty() || name != before {
            let known = out.lines.iter().any(|l| l.name.is_some() && l.name == name);
            if known {
                return Err((
                    at,
                    Fault::Malformed {
                        what: format!(
                            "branch {:?} goes on after another began; its rows must stand together",
                            cut(name.unwrap_or_default())
                        ),
                    },
                ));
            }
            out.lines.push(Line {
                points: Vec::new(),
                name: name.clone(),
            });
            parents.branches.push(name.clone().unwrap_or_default());
            limits::at_most("branches", out.lines.len() as u64, 10_000)?;
            before = name;
        }
        if let Some(last) = out.lines.last_mut() {
            last.points.push(out.points.len() - 1);
        }
    }
    // Bare numbers are no names.
    let numbers = |l: &Line| l.name.as_deref().is_none_or(|n| n.parse::<f64>().is_ok());
    if out.lines.iter().all(numbers) {
        for line in &mut out.lines {
            line.name = None;
        }
    }
    if columns.parent.is_some() {
        parents::honour(&mut out, &parents)?;
    }
    out.lines.retain(|line| line.points.len() > 1);
    Ok(out)
}

fn broken(error: &csv::Error) -> Fault {
    Fault::Malformed {
        what: format!("not a table: {error}"),
    }
}

fn columns(heads: &csv::StringRecord, stated: &Arrays) -> Checked<Columns> {
    let radius_column = stated.radius.as_deref();
    let of = |names: &[&str]| {
        heads
            .iter()
            .position(|head| names.contains(&plain(head).as_str()))
    };
    if heads.len() == 1 && heads.iter().any(|head| head.contains([';', '\t'])) {
        return Err((
            At::Line(1),
            Fault::Malformed {
                what:
                    "the columns are parted by semicolons or tabs; part them by commas, and write \
                       numbers with a point"
                        .to_owned(),
            },
        ));
    }
    let named = || listed(&heads.iter().collect::<Vec<_>>());
    let must = |name: &'static str| {
        of(&[name]).ok_or_else(|| {
            (
                At::Line(1),
                Fault::Malformed {
                    what: format!("no column is called {name}; columns are {}", named()),
                },
            )
        })
    };
    let coordinates = [must("x")?, must("y")?, must("z")?];
    let (radius, factor) = match radius_column {
        Some(name) => (heads.iter().position(|head| head == name), 1.0),
        None => match of(&["radius", "r", "maximuminscribedsphereradius"]) {
            Some(column) => (Some(column), 1.0),
            None => (of(&["diameter", "d"]), 0.5),
        },
    };
    let radius = radius.ok_or_else(|| {
        (
            At::Line(1),
            Fault::NoRadius {
                wanted: radius_column.map_or("called radius, r or diameter".into(), |n| {
                    format!("called \"{n}\"")
                }),
                present: format!("columns are {}", named()),
            },
        )
    })?;
    let names = match &stated.name {
        None => None,
        Some(name) => {
            let column = heads.iter().position(|head| head == name);
            Some(column.ok_or_else(|| {
                let (wanted, present) = (name.clone(), format!("columns are {}", named()));
                (At::Line(1), Fault::NoNames { wanted, present })
            })?)
        }
    };
    let branch = of(&["branch", "name", "line", "label"]).or(names);
    Ok(Columns {
        coordinates,
        radius,
        factor,
        branch,
        label: names.filter(|n| branch != Some(*n)),
        parent: of(&["parent", "parentid", "parentbranch"]),
        id: of(&["id", "index", "point", "pointid", "node", "number"]),
    })
}
