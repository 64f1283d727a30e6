//! Tests of the tip: tip load and flexibility.

use super::super::flexibility::{self, SideForce};
use super::super::tip_load;
use super::{AssayError, Measured, Reading, Series, Subject, keyed, series};
use crate::device::{TIP_LOAD_TOLERANCE, Wire, tip_load_off};
use crate::scenario::model::EndCondition;
use crate::units::mn_to_gram_force;

/// Angle between two points of a flexibility curve in rad.
const FLEXIBILITY_STEP_RAD: f64 = std::f64::consts::PI / 36.0;

/// Tip load, with the tip straight and, if it is shaped, as it is.
pub(in crate::assay) fn tip_load(on: &Subject<'_>) -> Result<Measured, AssayError> {
    let test = &on.assay.tip_load;
    let catalogue = on.spec.stiffness.tip_load_mn();
    let friction = match catalogue {
        Some((_, EndCondition::FixedFree)) => 0.0,
        _ => test.plate_friction.unwrap_or(on.wire.friction()),
    };
    let drive = |wire: &Wire, travel_mm: f64| {
        tip_load::drive(wire, test.held_mm, travel_mm, friction, on.assay.edge_mm)
    };
    let mut measured = Measured::default();
    let straight = drive(&on.wire.with_bend_factor(0.0), test.travel_mm)?;
    measured
        .series
        .push(series("tip straight", &straight.curve));
    let straight_gf = mn_to_gram_force(straight.tip_load_mn);
    measured.readings.push(Reading::new(
        "tip_load_straight_gf",
        "tip load, tip straight",
        "gf",
        straight_gf,
    ));
    measured.readings.push(Reading::maybe(
        "tip_load_off_catalogue_percent",
        "tip load off the catalogue's, tip straight",
        "%",
        catalogue.map(|(stated_mn, _)| 100.0 * (straight.tip_load_mn / stated_mn - 1.0)),
        "no catalogue value",
    ));
    if let Some((stated_mn, end)) = catalogue
        && (straight.tip_load_mn / stated_mn - 1.0).abs() > TIP_LOAD_TOLERANCE
    {
        measured.remarks.push(format!(
            "The straight tip gives way at {straight_gf:.3} gf on a plate of friction {friction}, and {:.3} \
             gf {} is stated. {}",
            mn_to_gram_force(stated_mn),
            end.words(),
            tip_load_off(on.spec, on.wire).unwrap_or_else(|| {
                "The stiffness of the last 10 mm agrees with it, so the bench differs: the held \
                 length, or a plate on which the tip slides (a tip that slides gives way at about an \
                 eighth of the load of one that does not)"
                    .to_owned()
            })
        ));
    }
    if on.wire.bends_end_mm() > 0.0 {
        let shaped = drive(on.wire, test.shaped_travel_mm)?;
        measured.series.push(series("as shaped", &shaped.curve));
        let shaped_gf = mn_to_gram_force(shaped.tip_load_mn);
        measured.readings.push(Reading::new(
            "tip_load_shaped_gf",
            "tip load, as shaped",
            "gf",
            shaped_gf,
        ));
        measured.readings.push(Reading::new(
            "tip_load_shaped_off_straight_percent",
            "tip load as shaped, off the straight tip's",
            "%",
            100.0 * (shaped_gf / straight_gf - 1.0),
        ));
    }
    Ok(measured)
}

/// Side forces at the angles asked for, and curves up to the largest of them.
pub(in crate::assay) fn flexibility(on: &Subject<'_>) -> Result<Measured, AssayError> {
    let test = &on.assay.flexibility;
    let largest = test.angles_rad.last().copied().unwrap_or(0.0);
    let mut angles: Vec<f64> = test.angles_rad.clone();
    let mut angle = FLEXIBILITY_STEP_RAD;
    while angle < largest {
        if angles.iter().all(|a| (a - angle).abs() > 1e-9) {
            angles.push(angle);
        }
        angle += FLEXIBILITY_STEP_RAD;
    }
    angles.sort_by(f64::total_cmp);
    let mut measured = Measured::default();
    for (side, name, key, why_not) in [
        (
            SideForce::SquareToTip,
            "square to the tip",
            "square",
            "out of reach: the tip snaps over",
        ),
        (
            SideForce::Fixed,
            "fixed direction",
            "fixed",
            "out of reach for a force of fixed direction",
        ),
    ] {
        for &held in &test.held_mm {
            let forces = flexibility::forces(on.wire, held, &angles, side, on.assay.edge_mm)?;
            let mut points = vec![vec![0.0, 0.0]];
            for (angle, force) in angles.iter().zip(&forces) {
                points.extend(force.map(|force| vec![angle.to_degrees(), force]));
            }
            measured.series.push(Series {
                condition: format!("held {held} mm, {name}"),
                points,
            });
            for wanted in &test.angles_rad {
                let at = angles.iter().position(|a| (a - wanted).abs() <= 1e-9);
                let degrees = (wanted.to_degrees() * 1e6).round() / 1e6;
                measured.readings.push(Reading::maybe(
                    format!(
                        "force_{key}_held_{}_at_{}_deg_mN",
                        keyed(held),
                        keyed(degrees)
                    ),
                    format!("side force {name}, held {held} mm, {degrees}°"),
                    "mN",
                    at.and_then(|at| forces[at]),
                    why_not,
                ));
            }
        }
    }
    Ok(measured)
}
