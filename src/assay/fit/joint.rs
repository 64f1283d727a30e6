//! All sets of readings of a wire in one least-squares problem, each counted by its error.

use nalgebra::{DMatrix, DVector};

use super::agreement::{self, Rows, agreement, beyond};
use super::least_squares::{NoSolution, solve};
use super::{Curve, ErrorSource, FittedReading, FittedSet, Task, predict};
use crate::assay::AssayError;
use crate::scenario::bench::FitKind;

/// Relative error of a set whose readings are too few to show it and for which none is stated.
const ASSUMED_ERROR: f64 = 0.05;
/// Least number of readings left over from which the error of one set among several is read.
const LEAST_FREEDOM: usize = 3;
/// Least error of a set among several; the simulated tests are not more exact.
const LEAST_ERROR: f64 = 1e-4;
/// Least error of a set that is not weighed against others: below it there is only rounding.
const ROUNDING: f64 = 1e-12;
/// Most solutions with improved errors.
const ROUNDS: u32 = 6;
/// Change of an error below which it counts as found.
const SETTLED: f64 = 1e-3;
/// Probability below which a scatter or a disagreement counts as real.
pub(super) const DOUBTFUL: f64 = 0.01;

/// Error of one set.
#[derive(Debug, Clone, Copy)]
struct SetError {
    value: f64,
    source: ErrorSource,
    /// Readings left over by the set itself.
    freedom: usize,
    /// Sum of squares about the best wire for the set alone.
    alone: f64,
}

/// The solution.
pub(super) struct Joint {
    /// Logarithms of the stiffness in mN mm² at the knots.
    pub logarithms: DVector<f64>,
    /// Their covariance by the errors of the sets.
    pub covariance: DMatrix<f64>,
    measured: Vec<Vec<f64>>,
    rows: Vec<Rows>,
    errors: Vec<SetError>,
}

impl Joint {
    /// Fits all sets; errors that are not stated are read from the scatter of each set by itself,
    /// and the fit is repeated with them.
    pub fn solve(task: &Task<'_>) -> Result<Self, AssayError> {
        let measured = measured(task);
        let stated = task.fit.curves.iter().map(|spec| spec.relative_error);
        let stated: Vec<Option<f64>> = stated
            .chain(task.fit.tip_load.map(|measured| measured.relative_error))
            .collect();
        let mut values: Vec<f64> = stated.iter().map(|s| s.unwrap_or(ASSUMED_ERROR)).collect();
        let start = task.fit.knots_mm.iter();
        let start = start.map(|&s| task.described.bending_stiffness(s).ln());
        let mut logarithms = DVector::from_iterator(task.fit.knots_mm.len(), start);
        for _ in 0..ROUNDS {
            let (found, rows) = one_solution(task, &measured, &values, logarithms)?;
            let errors = errors_of(&rows, &stated, task.fit.knots_mm.len());
            let moved = errors.iter().zip(&values);
            let settled = moved
                .map(|(e, v)| (e.value / v - 1.0).abs())
                .fold(0.0, f64::max);
            logarithms = found;
            values = errors.iter().map(|e| e.value).collect();
            // The error of a single set moves no unknown.
            if settled <= SETTLED || rows.len() == 1 {
                return Self::summed_up(task, logarithms, measured, rows, errors);
            }
        }
        Err(AssayError::Search {
            test: format!("fit {}", task.fit.name),
            wanted: "the errors of the sets (state relative_error for each)".into(),
        })
    }

    fn summed_up(
        task: &Task<'_>,
        logarithms: DVector<f64>,
        measured: Vec<Vec<f64>>,
        rows: Vec<Rows>,
        errors: Vec<SetError>,
    ) -> Result<Self, AssayError> {
        let unknowns = logarithms.len();
        let mut normal = DMatrix::zeros(unknowns, unknowns);
        for (set, error) in rows.iter().zip(&errors) {
            normal += set.jacobian.transpose() * &set.jacobian / (error.value * error.value);
        }
        let covariance = normal.cholesky().ok_or_else(|| AssayError::Undetermined {
            test: format!("fit {}", task.fit.name),
            station_mm: task.fit.knots_mm[0],
        })?;
        Ok(Self {
            logarithms,
            covariance: covariance.inverse(),
            measured,
            rows,
            errors,
        })
    }

    /// Readings left over from which errors were read; `None` where all were stated or assumed.
    pub fn estimated_freedom(&self) -> Option<usize> {
        let estimated = self
            .errors
            .iter()
            .filter(|e| e.source == ErrorSource::Estimated);
        let sum: usize = estimated.map(|e| e.freedom).sum();
        (sum > 0).then_some(sum)
    }

    /// Number of readings.
    pub fn readings(&self) -> usize {
        self.measured.iter().map(Vec::len).sum()
    }

    /// Standard deviation of a reading over its value, over all sets.
    pub fn scatter(&self) -> f64 {
        let sum: f64 = self.rows.iter().map(|r| r.residuals.norm_squared()).sum();
        (sum / self.freedom()).sqrt()
    }

    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    fn freedom(&self) -> f64 {
        (self.readings() - self.logarithms.len()) as f64
    }

    /// The sets against the solution.
    pub fn sets(&self, task: &Task<'_>) -> Vec<FittedSet> {
        let values: Vec<f64> = self.errors.iter().map(|e| e.value).collect();
        let curves = task.fit.curves.iter().map(|spec| {
            let file = spec.file.file_name();
            let name = file.map_or_else(String::new, |name| name.to_string_lossy().into());
            (name, Some(spec.kind))
        });
        let names = curves.chain(task.fit.tip_load.map(|_| ("tip load".to_owned(), None)));
        names
            .enumerate()
            .map(|(k, (name, kind))| {
                let (rows, error) = (&self.rows[k], &self.errors[k]);
                let chi_square = rows.residuals.norm_squared() / error.value.powi(2);
                let taken = (&rows.jacobian * &self.covariance)
                    .component_mul(&rows.jacobian)
                    .sum();
                #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
                let count = rows.residuals.len() as f64;
                let checked = error.source == ErrorSource::Stated && error.freedom > 0;
                FittedSet {
                    name,
                    kind,
                    error: error.value,
                    source: error.source,
                    chi_square,
                    expected: count - taken / error.value.powi(2),
                    scatter_probability: checked
                        .then(|| beyond(error.alone / error.value.powi(2), error.freedom, None)),
                    agreement: if self.rows.len() > 1 {
                        agreement(&self.rows, &values, k, self.estimated_freedom())
                    } else {
                        None
                    },
                    readings: self.set_readings(task, k, kind),
                }
            })
            .collect()
    }

    fn set_readings(
        &self,
        task: &Task<'_>,
        set: usize,
        kind: Option<FitKind>,
    ) -> Vec<FittedReading> {
        let rows = &self.rows[set];
        let measured = self.measured[set].iter().enumerate();
        measured
            .map(|(i, &measured_mn)| {
                let station_mm = match (kind, task.curves.get(set)) {
                    (Some(FitKind::ThreePoint), Some(curve)) => curve.rows()[i][0],
                    _ => centre(&task.fit.knots_mm, rows, i),
                };
                FittedReading {
                    station_mm,
                    measured_mn,
                    fitted_mn: measured_mn / rows.residuals[i].exp(),
                    deviations: rows.residuals[i] / self.errors[set].value,
                }
            })
            .collect()
    }

    /// Factor by which the intervals are widened: the root of the sum of squares over the readings
    /// left over, where a set scatters more than stated or disagrees with the others.
    pub fn widened(&self, sets: &[FittedSet]) -> f64 {
        let doubtful = sets.iter().any(|set| {
            let scatter = set.scatter_probability.is_some_and(|p| p < DOUBTFUL);
            scatter || set.agreement.is_some_and(|a| a.probability < DOUBTFUL)
        });
        let sum: f64 = sets.iter().map(|set| set.chi_square).sum();
        if doubtful {
            (sum / self.freedom()).sqrt().max(1.0)
        } else {
            1.0
        }
    }
}

/// Measured loads of each set in mN.
fn measured(task: &Task<'_>) -> Vec<Vec<f64>> {
    let of_curve = |curve: &Curve| curve.rows().iter().map(|row| row[2]).collect();
    let curves = task.curves.iter().map(of_curve);
    curves
        .chain(task.fit.tip_load.map(|t| vec![t.tip_load_mn]))
        .collect()
}

/// The unknowns for given errors, and the rows of each set there.
fn one_solution(
    task: &Task<'_>,
    measured: &[Vec<f64>],
    errors: &[f64],
    start: DVector<f64>,
) -> Result<(DVector<f64>, Vec<Rows>), AssayError> {
    let weights = measured.iter().zip(errors);
    let weights = weights.flat_map(|(set, error)| vec![1.0 / error; set.len()]);
    let weights = DVector::from_iterator(measured.iter().map(Vec::len).sum(), weights);
    let test = || format!("fit {}", task.fit.name);
    let found = solve(start, |logarithms| {
        let wire = task.build(&task.wire(logarithms))?;
        let loads = predict(&wire, task.fit, task.curves, task.assay)?;
        let off = measured
            .iter()
            .flatten()
            .zip(&loads)
            .map(|(m, l)| (m / l).ln());
        Ok(DVector::from_iterator(loads.len(), off).component_mul(&weights))
    })
    .map_err(|none| match none {
        NoSolution::Model(fault) => fault,
        NoSolution::Undetermined(knot) => AssayError::Undetermined {
            test: test(),
            station_mm: task.fit.knots_mm[knot],
        },
        NoSolution::Endless => AssayError::Search {
            test: test(),
            wanted: "the least sum of squares".into(),
        },
    })?;
    let mut rows = Vec::new();
    let mut first = 0;
    for (set, error) in measured.iter().zip(errors) {
        rows.push(Rows {
            residuals: found.residuals.rows(first, set.len()) * *error,
            jacobian: found.jacobian.rows(first, set.len()) * *error,
        });
        first += set.len();
    }
    Ok((found.values, rows))
}

/// The error of each set: stated, or by the scatter of its readings about the best wire for it.
fn errors_of(rows: &[Rows], stated: &[Option<f64>], unknowns: usize) -> Vec<SetError> {
    let single = rows.len() == 1;
    let each = rows.iter().zip(stated).map(|(set, stated)| {
        // A single set determines every unknown, however weakly.
        let (alone, freedom) = if single {
            let left = set.residuals.len().saturating_sub(unknowns);
            (set.residuals.norm_squared(), left)
        } else {
            agreement::alone(set)
        };
        let enough = freedom >= if single { 1 } else { LEAST_FREEDOM };
        #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
        let estimate = || (alone / freedom as f64).sqrt();
        let (value, source) = match stated {
            Some(value) => (*value, ErrorSource::Stated),
            None if enough => {
                let least = if single { ROUNDING } else { LEAST_ERROR };
                (estimate().max(least), ErrorSource::Estimated)
            }
            None => (ASSUMED_ERROR, ErrorSource::Assumed),
        };
        SetError {
            value,
            source,
            freedom,
            alone,
        }
    });
    each.collect()
}

/// Where on the wire reading `i` says most: the mean of the knots by how much the load changes with
/// the stiffness at each.
fn centre(knots_mm: &[f64], rows: &Rows, i: usize) -> f64 {
    let pulls = rows.jacobian.row(i).map(f64::abs);
    let sum = pulls.sum();
    if sum > 0.0 {
        knots_mm
            .iter()
            .zip(pulls.iter())
            .map(|(s, pull)| s * pull)
            .sum::<f64>()
            / sum
    } else {
        knots_mm[0]
    }
}
