//! Fit: the stiffness profile whose simulated test gives a measured curve.

mod curve;
mod least_squares;

use nalgebra::DVector;
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};
use std::fmt::Write as _;

pub use curve::{Curve, CurveError, read};

use self::least_squares::{NoSolution, Solution, solve};
use super::flexibility::{self, SideForce};
use super::{Fault, three_point, tip_load};
use crate::device::Wire;
use crate::scenario::bench::{AssaySpec, FitSpec};
use crate::scenario::model::{BendSpec, StiffnessSpec, WireSpec};

/// Travel of the chuck over the held length in the simulated tip load of a fit.
const TIP_LOAD_TRAVEL: f64 = 0.03;
/// Probability that an interval covers the value.
const COVERED: f64 = 0.95;

/// The stiffness at one knot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// Distance from the tip in mm.
    pub station_mm: f64,
    /// Bending stiffness in mN mm².
    pub stiffness: f64,
    /// Lower end of the 95 % interval in mN mm².
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A profile that was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The knots.
    pub knots: Vec<Knot>,
    /// The wire that results.
    pub wire: WireSpec,
    /// Standard deviation of a reading over its value, as the residuals show it.
    pub relative_scatter: f64,
    /// Readings, a tip load included.
    pub readings: usize,
}

/// A wire with the stiffness `exp(unknown)` at each knot.
fn with_knots(spec: &WireSpec, fit: &FitSpec, unknowns: &DVector<f64>) -> WireSpec {
    let modulus_mn_per_mm2 = spec.stiffness.modulus_mn_per_mm2();
    let stiffness = unknowns.iter().map(|u| u.exp());
    WireSpec {
        name: fit.name.clone(),
        stiffness: StiffnessSpec::List {
            values: fit.knots_mm.iter().copied().zip(stiffness).collect(),
            modulus_mn_per_mm2,
        },
        ..spec.clone()
    }
}

/// Loads in mN that the simulated test gives where the curve was measured, in its order, the tip
/// load last if one was measured.
///
/// # Errors
/// [`Fault`] where no equilibrium is found.
pub fn predict(
    wire: &Wire,
    fit: &FitSpec,
    curve: &Curve,
    assay: &AssaySpec,
) -> Result<Vec<f64>, Fault> {
    let mut loads = Vec::new();
    match curve {
        Curve::ThreePoint(rows) => {
            for &[station, deflection, _] in rows {
                let pressed = three_point::press(wire, station, fit.span_mm, deflection, 1)?;
                loads.extend(pressed.curve.last().map(|reading| reading[1]));
            }
        }
        Curve::Flexibility(rows) => {
            for same in rows.chunk_by(|a, b| a[0].total_cmp(&b[0]).is_eq()) {
                let angles: Vec<f64> = same.iter().map(|row| row[1]).collect();
                let side = SideForce::SquareToTip;
                let forces = flexibility::forces(wire, same[0][0], &angles, side, assay.edge_mm)?;
                for (force, angle) in forces.into_iter().zip(angles) {
                    loads.push(force.ok_or_else(|| Fault::Search {
                        test: format!("fit {}, held {} mm", fit.name, same[0][0]),
                        wanted: format!("the tip to {:.1} degrees", angle.to_degrees()),
                    })?);
                }
            }
        }
    }
    if fit.tip_load_mn.is_some() {
        let held = assay.tip_load.held_mm;
        let friction = assay.tip_load.plate_friction.unwrap_or(wire.friction());
        let straight = wire.with_bend_factor(0.0);
        let travel = TIP_LOAD_TRAVEL * held;
        let driven = tip_load::drive(&straight, held, travel, friction, assay.edge_mm)?;
        loads.push(driven.peak_mn);
    }
    Ok(loads)
}

/// Finds the stiffness at the knots, starting from the description of the wire `spec`.
///
/// The unknowns are the logarithms of the stiffness; between knots they run
/// linearly. Each reading counts by the logarithm of its load, so that all readings have the
/// same relative error: the stated one, or the one that the residuals show.
///
/// # Errors
/// [`Fault`] where the simulated test fails, where the curve says nothing about a knot, or where
/// the search does not end.
pub fn fit(
    spec: &WireSpec,
    fit: &FitSpec,
    curve: &Curve,
    assay: &AssaySpec,
) -> Result<Fitted, Fault> {
    let device = |spec: &WireSpec| {
        Wire::from_spec(spec).map_err(|error| Fault::Fixture {
            test: format!("fit {}", fit.name),
            reason: error.to_string(),
        })
    };
    let described = device(spec)?;
    let start = fit
        .knots_mm
        .iter()
        .map(|&s| described.bending_stiffness(s).ln());
    let start = DVector::from_iterator(fit.knots_mm.len(), start);
    let measured: Vec<f64> = curve
        .rows()
        .iter()
        .map(|row| row[2])
        .chain(fit.tip_load_mn)
        .collect();
    let found = solve(start, |unknowns| {
        let wire = device(&with_knots(spec, fit, unknowns))?;
        let loads = predict(&wire, fit, curve, assay)?;
        let off = measured.iter().zip(&loads).map(|(m, l)| (m / l).ln());
        Ok(DVector::from_iterator(measured.len(), off))
    })
    .map_err(|none| match none {
        NoSolution::Model(fault) => fault,
        NoSolution::Undetermined(knot) => Fault::Undetermined {
            test: format!("fit {}", fit.name),
            station_mm: fit.knots_mm[knot],
        },
        NoSolution::Endless => Fault::Search {
            test: format!("fit {}", fit.name),
            wanted: "the least sum of squares".into(),
        },
    })?;
    Ok(summed_up(spec, fit, &found))
}

fn summed_up(spec: &WireSpec, fit: &FitSpec, found: &Solution) -> Fitted {
    let (readings, knots) = (found.residuals.len(), found.values.len());
    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    let freedom = (readings - knots) as f64;
    let scatter = (found.residuals.norm_squared() / freedom).sqrt();
    let upper = 0.5 * (1.0 + COVERED);
    // A stated error is taken as known; one read from the residuals is itself uncertain.
    let reach = match fit.relative_error {
        Some(error) => error * Normal::standard().inverse_cdf(upper),
        None => {
            let student = StudentsT::new(0.0, 1.0, freedom);
            scatter * student.map_or(f64::INFINITY, |t| t.inverse_cdf(upper))
        }
    };
    let knots = fit
        .knots_mm
        .iter()
        .enumerate()
        .map(|(k, &station_mm)| {
            let stiffness = found.values[k].exp();
            let factor = (reach * found.covariance[(k, k)].sqrt()).exp();
            Knot {
                station_mm,
                stiffness,
                low: stiffness / factor,
                high: stiffness * factor,
            }
        })
        .collect();
    Fitted {
        knots,
        wire: with_knots(spec, fit, &found.values),
        relative_scatter: scatter,
        readings,
    }
}

/// The wire as a `[[wire]]` table that a scenario can use, with the intervals as comments.
#[must_use]
pub fn as_toml(fitted: &Fitted, fit: &FitSpec) -> String {
    let wire = &fitted.wire;
    let mut text = String::new();
    let file = fit
        .curve
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into());
    let _ = writeln!(
        text,
        "# Stiffness fitted by bendwise to {} readings in {file}; scatter {:.2} % of a reading.\n\
         # 95 % intervals in N mm²:",
        fitted.readings,
        100.0 * fitted.relative_scatter
    );
    for knot in &fitted.knots {
        let _ = writeln!(
            text,
            "#   {} mm from the tip: {:.6} to {:.6}",
            knot.station_mm,
            knot.low / 1e3,
            knot.high / 1e3
        );
    }
    let quoted = toml::Value::String(wire.name.clone());
    let list: Vec<String> = fitted
        .knots
        .iter()
        .map(|k| format!("[{}, {:.6e}]", k.station_mm, k.stiffness / 1e3))
        .collect();
    let StiffnessSpec::List {
        modulus_mn_per_mm2, ..
    } = wire.stiffness
    else {
        unreachable!("a fitted wire is described by a list")
    };
    let _ = writeln!(
        text,
        "[[wire]]\nname = {quoted}\ndiameter_mm = {}\nstiffness_N_mm2 = [{}]\nmodulus_GPa = {}\n\
         torsion_ratio = {}\nfriction = {}\nstrain_limit = {}",
        wire.diameter_mm,
        list.join(", "),
        modulus_mn_per_mm2 / 1e6,
        wire.torsion_ratio,
        wire.friction,
        wire.strain_limit
    );
    let bend = |b: &BendSpec| {
        format!(
            "length_mm = {}, angle_deg = {}, plane_deg = {}",
            b.length_mm,
            b.angle_rad.to_degrees(),
            b.plane_rad.to_degrees()
        )
    };
    if let Some(b) = &wire.tip.primary {
        let _ = writeln!(text, "bend = {{ {} }}", bend(b));
    }
    if let Some(b) = &wire.tip.secondary {
        let _ = writeln!(
            text,
            "secondary_bend = {{ from_tip_mm = {}, {} }}",
            b.from_tip_mm,
            bend(b)
        );
    }
    text
}
