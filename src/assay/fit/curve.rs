//! A measured curve, read from a CSV file.

use std::path::{Path, PathBuf};

use super::reach::{Reach, in_words};
use crate::input;
use crate::scenario::bench::{CurveSpec, FitKind, FitSpec};
use crate::schema::Place;
use crate::shown::cut;
use crate::units::STANDARD_GRAVITY_M_PER_S2;

/// Readings more than this factor apart from the smallest hint at mixed units.
const LARGEST_SPREAD: f64 = 1e7;

/// What was measured.
#[derive(Debug, Clone, PartialEq)]
pub enum Curve {
    /// Three-point bending: station from the tip in mm, deflection in mm, load in mN.
    ThreePoint(Vec<[f64; 3]>),
    /// Tip flexibility: held length in mm, angle of the tip in rad, side force square to the tip
    /// in mN.
    Flexibility(Vec<[f64; 3]>),
}

impl Curve {
    /// The rows.
    #[must_use]
    pub fn rows(&self) -> &[[f64; 3]] {
        match self {
            Self::ThreePoint(rows) | Self::Flexibility(rows) => rows,
        }
    }
}

/// What is wrong with a measured curve.
#[derive(Debug, thiserror::Error)]
pub enum CurveError {
    /// The file cannot be read.
    #[error("the curve {} cannot be read: {reason}; give the path of a CSV file, counted from the scenario file", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the reader says.
        reason: String,
    },
    /// A column that must be there.
    #[error("{}: no column {wanted}, found are {found}; name the columns {all}", path.display())]
    MissingColumn {
        /// The file.
        path: PathBuf,
        /// The column wanted.
        wanted: String,
        /// The columns found.
        found: String,
        /// All columns wanted.
        all: String,
    },
    /// A column in a unit that is not understood.
    #[error("{}: column {column} is not in a known unit, allowed are {allowed}; convert the values and rename the column", path.display())]
    WrongUnit {
        /// The file.
        path: PathBuf,
        /// The column as it stands.
        column: String,
        /// Columns allowed.
        allowed: String,
    },
    /// A value that is no number or lies outside its range.
    #[error("{}, line {line}: {column} is {value}, allowed is {allowed}; {remedy}", path.display())]
    BadValue {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// The column.
        column: String,
        /// The value as written.
        value: String,
        /// The range.
        allowed: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// Rows out of order.
    #[error("{}, line {line}: {column} {value} follows {before}, but {rule}; {remedy}", path.display())]
    NotMonotone {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// The column.
        column: &'static str,
        /// The value before.
        before: f64,
        /// The value that does not fit.
        value: f64,
        /// What must hold.
        rule: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// A knot where nothing was measured.
    #[error(
        "knots_mm holds {knot_mm} mm, and no reading reaches there: the curves reach {reached}; move or remove that knot, or measure nearer to it"
    )]
    KnotOutOfReach {
        /// The knot in mm from the tip.
        knot_mm: f64,
        /// What is reached, in words.
        reached: String,
    },
    /// Not enough readings for the knots.
    #[error("{}: readings: {found}, knots: {knots}; allowed are {needed} readings or more; measure at more places or give fewer knots_mm", path.display())]
    TooFew {
        /// The last file.
        path: PathBuf,
        /// Readings found in all curves, with the tip load.
        found: usize,
        /// Readings needed.
        needed: usize,
        /// Knots asked for.
        knots: usize,
    },
}

/// A column with its accepted names and the factor of each to the internal unit.
struct Head {
    name: &'static str,
    units: &'static [(&'static str, f64)],
    allowed: &'static str,
}

const FORCE: &[(&str, f64)] = &[("mN", 1.0), ("N", 1e3), ("gf", STANDARD_GRAVITY_M_PER_S2)];
const LENGTH: &[(&str, f64)] = &[("mm", 1.0)];
const ANGLE: &[(&str, f64)] = &[("deg", std::f64::consts::PI / 180.0)];

fn heads(kind: FitKind) -> [Head; 3] {
    let head = |name, units, allowed| Head {
        name,
        units,
        allowed,
    };
    match kind {
        FitKind::ThreePoint => [
            head("station", LENGTH, "0 mm or more"),
            head("deflection", LENGTH, "above 0 mm"),
            head("load", FORCE, "above 0"),
        ],
        FitKind::Flexibility => [
            head("held", LENGTH, "above 0 mm"),
            head("angle", ANGLE, "above 0 and up to 100 degrees"),
            head("force", FORCE, "above 0"),
        ],
    }
}

impl Head {
    fn names(&self) -> String {
        let names = self
            .units
            .iter()
            .map(|(unit, _)| format!("{}_{unit}", self.name));
        names.collect::<Vec<_>>().join(" or ")
    }

    fn holds(&self, value: f64) -> bool {
        let above_zero = value > 0.0 || (self.name == "station" && value >= 0.0);
        value.is_finite() && above_zero && !(self.name == "angle" && value > 100f64.to_radians())
    }
}

/// Reads and checks the curves of a fit.
///
/// # Errors
/// [`CurveError`] for the first thing found wrong, and the place of the scenario that names it.
pub fn read(fit: &FitSpec, held_mm: f64) -> Result<Vec<Curve>, (Box<CurveError>, Place)> {
    let curves = fit
        .curves
        .iter()
        .map(|spec| read_one(spec).map_err(|error| (Box::new(error), spec.place.clone())))
        .collect::<Result<Vec<_>, _>>()?;
    let found = curves.iter().map(|curve| curve.rows().len()).sum::<usize>()
        + usize::from(fit.tip_load.is_some());
    let needed = (fit.knots_mm.len() + 1).max(3);
    if found < needed {
        let last = fit.curves.last();
        let error = CurveError::TooFew {
            path: last.map(|spec| spec.file.clone()).unwrap_or_default(),
            found,
            needed,
            knots: fit.knots_mm.len(),
        };
        return Err((
            Box::new(error),
            last.map_or(&fit.place, |spec| &spec.place).clone(),
        ));
    }
    let reach = Reach::of(fit, &curves, held_mm);
    match fit.knots_mm.iter().find(|&&knot| !reach.holds(knot)) {
        Some(&knot_mm) => {
            let reached = in_words(&reach.stretches);
            let error = CurveError::KnotOutOfReach { knot_mm, reached };
            Err((Box::new(error), fit.place.clone()))
        }
        None => Ok(curves),
    }
}

fn read_one(spec: &CurveSpec) -> Result<Curve, CurveError> {
    let path = &spec.file;
    let unreadable = |error: csv::Error| CurveError::Unreadable {
        path: path.clone(),
        reason: error.to_string(),
    };
    let bytes = input::bytes(path, input::TEXT_BYTES);
    let bytes = bytes.map_err(|error| unreadable(error.into()))?;
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .comment(Some(b'#'))
        .from_reader(bytes.as_slice());
    let found: Vec<String> = reader
        .headers()
        .map_err(unreadable)?
        .iter()
        .map(str::to_owned)
        .collect();
    let heads = heads(spec.kind);
    let columns = columns(path, &heads, &found)?;
    let mut rows: Vec<([f64; 3], usize)> = Vec::new();
    for record in reader.records() {
        let record = record.map_err(unreadable)?;
        let line = record.position().map_or(0, csv::Position::line);
        let line = usize::try_from(line).unwrap_or(usize::MAX);
        let mut row = [0.0; 3];
        for (c, (head, &(index, factor))) in heads.iter().zip(&columns).enumerate() {
            let text = record.get(index).unwrap_or("");
            let value = text.parse::<f64>().map(|v| v * factor);
            row[c] = match value {
                Ok(value) if head.holds(value) => value,
                _ => {
                    return Err(CurveError::BadValue {
                        path: path.clone(),
                        line,
                        column: found[index].clone(),
                        value: cut(text),
                        allowed: head.allowed,
                        remedy: "correct or remove the row",
                    });
                }
            };
        }
        rows.push((row, line));
    }
    check_order(path, spec.kind, &rows)?;
    check_spread(path, &found[columns[2].0], &rows)?;
    let rows = rows.into_iter().map(|(row, _)| row).collect();
    Ok(match spec.kind {
        FitKind::ThreePoint => Curve::ThreePoint(rows),
        FitKind::Flexibility => Curve::Flexibility(rows),
    })
}

/// Index and factor of each column.
fn columns(
    path: &Path,
    heads: &[Head; 3],
    found: &[String],
) -> Result<[(usize, f64); 3], CurveError> {
    let mut columns = [(0, 1.0); 3];
    for (column, head) in columns.iter_mut().zip(heads) {
        let known = found.iter().enumerate().find_map(|(index, text)| {
            let unit = text.strip_prefix(head.name)?.strip_prefix('_')?;
            let known = head.units.iter().find(|(name, _)| *name == unit)?;
            Some((index, known.1))
        });
        let Some(known) = known else {
            let near = found.iter().find(|text| {
                text.strip_prefix(head.name)
                    .is_some_and(|rest| !rest.starts_with(char::is_alphabetic))
            });
            return Err(match near {
                Some(near) => CurveError::WrongUnit {
                    path: path.to_owned(),
                    column: near.clone(),
                    allowed: head.names(),
                },
                None => CurveError::MissingColumn {
                    path: path.to_owned(),
                    wanted: head.names(),
                    found: found.join(", "),
                    all: heads.iter().map(Head::names).collect::<Vec<_>>().join(", "),
                },
            });
        };
        *column = known;
    }
    Ok(columns)
}

fn check_order(path: &Path, kind: FitKind, rows: &[([f64; 3], usize)]) -> Result<(), CurveError> {
    for pair in rows.windows(2) {
        let (a, (b, line)) = (pair[0].0, pair[1]);
        let fault = |column, c: usize, factor: f64, rule, remedy| CurveError::NotMonotone {
            path: path.to_owned(),
            line,
            column,
            before: a[c] * factor,
            value: b[c] * factor,
            rule,
            remedy,
        };
        let degrees = 1f64.to_degrees();
        match kind {
            FitKind::ThreePoint if b[0] <= a[0] => {
                return Err(fault(
                    "station",
                    0,
                    1.0,
                    "stations must rise",
                    "sort the rows from the tip backwards and average readings at one station",
                ));
            }
            FitKind::Flexibility if b[0] < a[0] => {
                return Err(fault(
                    "held length",
                    0,
                    1.0,
                    "held lengths must not fall",
                    "sort the rows by held length and angle",
                ));
            }
            FitKind::Flexibility if b[0] <= a[0] && b[1] <= a[1] => {
                return Err(fault(
                    "angle",
                    1,
                    degrees,
                    "angles at one held length must rise",
                    "sort the rows by held length and angle",
                ));
            }
            FitKind::Flexibility if b[0] <= a[0] && b[2] <= a[2] => {
                return Err(fault(
                    "force",
                    2,
                    1.0,
                    "a larger angle takes a larger force",
                    "check the reading and the order of the columns",
                ));
            }
            _ => {}
        }
    }
    Ok(())
}

/// Loads that differ by many orders of magnitude were not all taken in one unit.
fn check_spread(path: &Path, column: &str, rows: &[([f64; 3], usize)]) -> Result<(), CurveError> {
    let least = rows.iter().map(|(r, _)| r[2]).fold(f64::INFINITY, f64::min);
    match rows.iter().find(|(r, _)| r[2] > LARGEST_SPREAD * least) {
        None => Ok(()),
        Some((row, line)) => Err(CurveError::BadValue {
            path: path.to_owned(),
            line: *line,
            column: column.to_owned(),
            value: format!("{:.4} mN", row[2]),
            allowed: "up to 1e7 times the smallest reading",
            remedy: "check that all rows are in the unit of the column's head",
        }),
    }
}
