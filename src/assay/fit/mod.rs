//! Fit: the stiffness profile whose simulated tests give measured curves, all in one go.
//!
//! Read in this order: `curve` (files), `reach` (which stretches they say anything about),
//! `profile` (the wire that results), `simulate` (its tests), `least_squares`, `joint` (sets of
//! readings and their errors), `agreement` (do the sets say the same?), `words` and `written`.

mod agreement;
mod curve;
mod joint;
mod least_squares;
mod profile;
mod reach;
mod simulate;
mod words;
mod written;

use nalgebra::DVector;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

pub use agreement::Agreement;
pub use curve::{Curve, CurveError, read};
pub use reach::{Reach, in_words};
pub use simulate::predict;
pub use written::as_toml;

use self::joint::Joint;
use super::AssayError;
use crate::device::Wire;
use crate::scenario::bench::{AssaySpec, FitKind, FitSpec, described_mm};
use crate::scenario::model::{StiffnessSpec, WireSpec};

/// Probability that an interval covers the value.
const COVERED: f64 = 0.95;
/// Points at which a profile is listed for curves and figures.
const PROFILE_POINTS: u32 = 200;

/// The stiffness at one knot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// Distance from the tip in mm.
    pub station_mm: f64,
    /// Bending stiffness in mN mm².
    pub stiffness: f64,
    /// Standard error over the stiffness.
    pub relative_error: f64,
    /// Lower end of the 95 % interval in mN mm².
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Bending stiffness there of the wire as described, in mN mm².
    pub described: f64,
}

/// A fitted profile at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfilePoint {
    /// Distance from the tip in mm.
    pub station_mm: f64,
    /// Bending stiffness in mN mm².
    pub stiffness: f64,
    /// The 95 % interval in mN mm²; `None` where no reading reaches.
    pub interval: Option<(f64, f64)>,
    /// Bending stiffness of the wire as described, in mN mm².
    pub described: f64,
}

/// Where the error of a set of readings comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorSource {
    /// The file states it.
    Stated,
    /// From the scatter of the set about the best wire for it alone.
    Estimated,
    /// Too few readings to estimate it.
    Assumed,
}

/// One reading against the fitted wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FittedReading {
    /// The place on the wire that the reading says most about, in mm from the tip.
    pub station_mm: f64,
    /// Measured load in mN.
    pub measured_mn: f64,
    /// Load of the fitted wire in mN.
    pub fitted_mn: f64,
    /// Logarithm of measured over fitted load, over the error of the set.
    pub deviations: f64,
}

/// A set of readings against the fitted wire.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedSet {
    /// Name of the file, or "tip load".
    pub name: String,
    /// What was measured; `None` for a tip load.
    pub kind: Option<FitKind>,
    /// Standard deviation of a reading over its value.
    pub error: f64,
    /// Where that comes from.
    pub source: ErrorSource,
    /// Sum of squares of the deviations.
    pub chi_square: f64,
    /// What that sum is expected to be: readings less the unknowns that they determine.
    pub expected: f64,
    /// Probability of as large a scatter of the set about the best wire for it alone; `None` where
    /// the error is not stated or no reading is left over.
    pub scatter_probability: Option<f64>,
    /// The set against all others; `None` for a single set and for one that shares nothing with
    /// the others.
    pub agreement: Option<Agreement>,
    /// The readings.
    pub readings: Vec<FittedReading>,
}

/// A profile that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Name of the wire that results.
    pub name: String,
    /// The knots.
    pub knots: Vec<Knot>,
    /// The wire that results.
    pub wire: WireSpec,
    /// For each station of that wire, whether the readings say its stiffness.
    pub station_reached: Vec<bool>,
    /// Which stretches the readings reach.
    pub reach: Reach,
    /// The profile along the wire.
    pub profile: Vec<ProfilePoint>,
    /// The sets of readings.
    pub sets: Vec<FittedSet>,
    /// Factor by which the intervals are wider than the errors say, because the readings scatter
    /// more than stated or the sets disagree (Birge, *Phys. Rev.* 40:207, 1932); 1 where they do not.
    pub widened: f64,
    /// Standard deviation of a reading over its value, as the residuals show it.
    pub relative_scatter: f64,
    /// Readings, a tip load included.
    pub readings: usize,
    /// What a person should know about the fit, in sentences.
    pub remarks: Vec<String>,
}

/// What a fit is made from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Task<'a> {
    /// The wire as described.
    pub spec: &'a WireSpec,
    /// The same, built.
    pub described: &'a Wire,
    /// What is to be fitted.
    pub fit: &'a FitSpec,
    /// Its curves.
    pub curves: &'a [Curve],
    /// What they reach.
    pub reach: &'a Reach,
    /// Settings of the tests.
    pub assay: &'a AssaySpec,
}

impl Task<'_> {
    fn stations(&self, logarithms: &DVector<f64>) -> Vec<profile::Station> {
        profile::stations(
            &self.fit.knots_mm,
            logarithms.as_slice(),
            self.reach,
            self.described,
            described_mm(self.spec).unwrap_or(0.0),
        )
    }

    /// The wire with the stiffness `exp(logarithm)` at each knot, the described one out of reach.
    fn wire(&self, logarithms: &DVector<f64>) -> WireSpec {
        let stations = self.stations(logarithms);
        let values = stations.iter().map(|s| (s.station_mm, s.stiffness));
        let values = values.collect();
        let modulus_mn_per_mm2 = self.spec.stiffness.modulus_mn_per_mm2();
        let measured = self.fit.tip_load.map(|t| (t.tip_load_mn, t.end_condition));
        let stiffness = match self.spec.stiffness.tip_load_mn().or(measured) {
            Some((tip_load_mn, end_condition)) => StiffnessSpec::ListWithTipLoad {
                values,
                modulus_mn_per_mm2,
                tip_load_mn,
                end_condition,
            },
            None => StiffnessSpec::List {
                values,
                modulus_mn_per_mm2,
            },
        };
        WireSpec {
            name: self.fit.name.clone(),
            stiffness,
            ..self.spec.clone()
        }
    }

    fn build(&self, spec: &WireSpec) -> Result<Wire, AssayError> {
        Wire::from_spec(spec).map_err(|error| AssayError::Fixture {
            test: format!("fit {}", self.fit.name),
            reason: error.to_string(),
        })
    }
}

/// Finds the stiffness at the knots, starting from the description of the wire `spec`.
///
/// The unknowns are the logarithms of the stiffness. Each reading counts by the logarithm of its
/// load over the relative error of its set: the stated one, or the one that the scatter of the set
/// by itself shows. All sets are fitted together. Where no reading reaches, the wire keeps the
/// stiffness of `spec`.
///
/// # Errors
/// [`AssayError`] where a simulated test fails, where the curves say nothing about a knot, or where the
/// search does not end.
pub fn fit(
    spec: &WireSpec,
    fit: &FitSpec,
    curves: &[Curve],
    assay: &AssaySpec,
) -> Result<Fitted, AssayError> {
    let described = Wire::from_spec(spec).map_err(|error| AssayError::Fixture {
        test: format!("fit {}", fit.name),
        reason: error.to_string(),
    })?;
    let reach = Reach::of(fit, curves, assay.tip_load.held_mm);
    let task = Task {
        spec,
        described: &described,
        fit,
        curves,
        reach: &reach,
        assay,
    };
    let joint = Joint::solve(&task)?;
    let mut fitted = summed_up(&task, &joint);
    fitted.remarks = words::remarks(&task, &fitted, &task.build(&fitted.wire)?);
    Ok(fitted)
}

fn summed_up(task: &Task<'_>, joint: &Joint) -> Fitted {
    let fit = task.fit;
    let upper = 0.5 * (1.0 + COVERED);
    // A stated error is taken as known; one read from the scatter is itself uncertain.
    let quantile = match joint.estimated_freedom() {
        None => Normal::standard().inverse_cdf(upper),
        Some(freedom) => {
            #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
            let student = StudentsT::new(0.0, 1.0, freedom as f64);
            student.map_or(f64::INFINITY, |t| t.inverse_cdf(upper))
        }
    };
    let sets = joint.sets(task);
    let widened = joint.widened(&sets);
    let reach_of = |variance: f64| (quantile * widened * variance.sqrt()).exp();
    let knots = fit.knots_mm.iter().enumerate().map(|(k, &station_mm)| {
        let stiffness = joint.logarithms[k].exp();
        let variance = joint.covariance[(k, k)];
        let factor = reach_of(variance);
        Knot {
            station_mm,
            stiffness,
            relative_error: widened * variance.sqrt(),
            low: stiffness / factor,
            high: stiffness * factor,
            described: task.described.bending_stiffness(station_mm),
        }
    });
    let stations = task.stations(&joint.logarithms);
    let end = stations.last().map_or(0.0, |s| s.station_mm);
    let grid = (0..=PROFILE_POINTS).map(|i| end * f64::from(i) / f64::from(PROFILE_POINTS));
    let mut places: Vec<f64> = grid.chain(stations.iter().map(|s| s.station_mm)).collect();
    places.sort_by(f64::total_cmp);
    places.dedup();
    let wire = task.wire(&joint.logarithms);
    let along = listed(&stations);
    let profile = places.into_iter().map(|station_mm| {
        let interval = task.reach.holds(station_mm).then(|| {
            let shares = DVector::from_vec(profile::shares(&fit.knots_mm, station_mm));
            let factor = reach_of((shares.transpose() * &joint.covariance * &shares)[0]);
            let at = profile::fitted_at(&fit.knots_mm, joint.logarithms.as_slice(), station_mm);
            (at / factor, at * factor)
        });
        ProfilePoint {
            station_mm,
            stiffness: along(station_mm),
            interval,
            described: task.described.bending_stiffness(station_mm),
        }
    });
    Fitted {
        name: fit.name.clone(),
        knots: knots.collect(),
        profile: profile.collect(),
        wire,
        station_reached: stations.iter().map(|s| s.reached).collect(),
        reach: task.reach.clone(),
        widened,
        relative_scatter: joint.scatter(),
        readings: joint.readings(),
        sets,
        remarks: Vec::new(),
    }
}

/// The stiffness along a list of stations: its logarithm is linear between them.
fn listed(stations: &[profile::Station]) -> impl Fn(f64) -> f64 {
    let places: Vec<f64> = stations.iter().map(|s| s.station_mm).collect();
    let logarithms: Vec<f64> = stations.iter().map(|s| s.stiffness.ln()).collect();
    move |s| profile::fitted_at(&places, &logarithms, s)
}
