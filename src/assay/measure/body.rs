//! Tests along the wire: three-point bending, pinch, kink, straightening of a vessel bend.

use super::super::{kink, pinch, straightening, three_point};
use super::{AssayError, Measured, Reading, Series, Subject, keyed, series};
use crate::units::mn_to_gram_force;

/// Stiffness and apparent modulus at the stations.
pub(in crate::assay) fn three_point(on: &Subject<'_>) -> Result<Measured, AssayError> {
    let test = &on.assay.three_point;
    let mut measured = Measured::default();
    let mut points = Vec::new();
    for &station in &test.stations_mm {
        let pressed = three_point::press(on.wire, station, test.span_mm, test.deflection_mm, 1)?;
        let stiffness = pressed.stiffness / 1e3;
        let modulus = pressed.apparent_modulus(on.spec.diameter_mm) / 1e6;
        points.push(vec![station, stiffness, modulus]);
        let at = keyed(station);
        measured.readings.push(Reading::new(
            format!("flexural_stiffness_at_{at}_mm_N_mm2"),
            format!("flexural stiffness {station} mm from the tip"),
            "N mm²",
            stiffness,
        ));
        measured.readings.push(Reading::new(
            format!("apparent_modulus_at_{at}_mm_GPa"),
            format!("apparent modulus {station} mm from the tip"),
            "GPa",
            modulus,
        ));
    }
    measured.series.push(Series {
        condition: format!("span {} mm", test.span_mm),
        points,
    });
    Ok(measured)
}

/// Pull over clamp force, and half of it.
pub(in crate::assay) fn pinch(on: &Subject<'_>) -> Result<Measured, AssayError> {
    let pulled = pinch::pull(on.wire, &on.assay.pinch)?;
    let clamp = format!("clamp {:.0} gf", mn_to_gram_force(on.assay.pinch.clamp_mn));
    Ok(Measured {
        series: vec![series(&clamp, &pulled.curve)],
        readings: vec![
            Reading::new(
                "pull_force_mN",
                format!("sliding pull, {clamp}"),
                "mN",
                pulled.sliding_mn,
            ),
            Reading::new(
                "quoted_coefficient",
                "coefficient as often quoted: pull over clamp force",
                "",
                pulled.quoted_coefficient(),
            ),
            Reading::new(
                "true_coefficient",
                "true coefficient: pull over both normal forces",
                "",
                pulled.true_coefficient(),
            ),
        ],
        ..Measured::default()
    })
}

/// Smallest loop at the stations.
pub(in crate::assay) fn kink(on: &Subject<'_>) -> Result<Measured, AssayError> {
    let mut measured = Measured::default();
    for &station in &on.assay.kink.stations_mm {
        let looped = kink::loop_down(on.wire, station)?;
        measured
            .series
            .push(series(&format!("{station} mm from the tip"), &looped.curve));
        measured.readings.push(Reading::new(
            format!("smallest_loop_radius_at_{}_mm_mm", keyed(station)),
            format!("smallest loop radius {station} mm from the tip"),
            "mm",
            looped.loop_radius_mm,
        ));
        measured.readings.push(Reading::maybe(
            format!("set_after_half_that_loop_at_{}_mm_deg", keyed(station)),
            format!("set after half that loop, {station} mm from the tip"),
            "deg",
            looped.set_rad.map(f64::to_degrees),
            "the legs touch before",
        ));
    }
    Ok(measured)
}

/// Force on the bend and its movement.
pub(in crate::assay) fn straightening(on: &Subject<'_>) -> Result<Measured, AssayError> {
    let test = &on.assay.straightening;
    let rows = straightening::straighten(on.wire, test)?;
    let largest =
        |value: fn(&straightening::Row) -> f64| rows.iter().map(value).fold(0.0, f64::max);
    let bend = format!(
        "bend of {} mm radius and {:.0}°",
        test.radius_mm,
        test.angle_rad.to_degrees()
    );
    Ok(Measured {
        readings: vec![
            Reading::new(
                "largest_outward_force_mN",
                format!("largest force on the {bend}"),
                "mN",
                largest(|row| row.force_mn),
            ),
            Reading::new(
                "largest_movement_mm",
                format!("largest movement of the {bend}"),
                "mm",
                largest(|row| row.moved_mm),
            ),
            Reading::new(
                "largest_straightening_deg",
                format!("largest loss of turning within 10 mm of the {bend}"),
                "deg",
                largest(|row| row.straightened_rad.to_degrees()),
            ),
        ],
        series: vec![Series {
            condition: bend,
            points: rows
                .iter()
                .map(|row| {
                    let lost_deg = row.straightened_rad.to_degrees();
                    vec![row.apex_mm, row.force_mn, row.moved_mm, lost_deg]
                })
                .collect(),
        }],
        ..Measured::default()
    })
}
