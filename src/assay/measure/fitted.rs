//! Stiffness profiles fitted to measured curves.

use std::fmt::Write as _;

use super::super::fit::{self, Fitted, FittedSet, ProfilePoint};
use super::{AssayError, Measured, Reading, Series, Subject, keyed};
use crate::scenario::bench::FitSpec;
use crate::scenario::model::EndCondition;
use crate::units::mn_to_gram_force;

/// A stiffness profile from measured curves.
pub(in crate::assay) fn fitted(
    on: &Subject<'_>,
    spec: &FitSpec,
    curves: &[fit::Curve],
) -> Result<Measured, AssayError> {
    let fitted = fit::fit(on.spec, spec, curves, on.assay)?;
    let mut measured = Measured::default();
    let name = &spec.name;
    let key: String = name
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '_'
            }
        })
        .collect();
    for knot in &fitted.knots {
        measured.readings.push(
            Reading::new(
                format!("{key}_stiffness_at_{}_mm_N_mm2", keyed(knot.station_mm)),
                format!("{name}: stiffness {} mm from the tip", knot.station_mm),
                "N mm²",
                in_n(knot.stiffness),
            )
            .noted(format!(
                "± {:.1} %, 95 %: {:.4} to {:.4}; described {:.4}",
                100.0 * knot.relative_error,
                in_n(knot.low),
                in_n(knot.high),
                in_n(knot.described)
            )),
        );
    }
    measured.readings.push(Reading::new(
        format!("{key}_scatter_percent"),
        format!("{name}: scatter of the readings"),
        "%",
        100.0 * fitted.relative_scatter,
    ));
    for (number, set) in fitted.sets.iter().enumerate() {
        measured.readings.push(of_set(&key, name, number + 1, set));
    }
    let wire =
        crate::device::Wire::from_spec(&fitted.wire).map_err(|error| AssayError::Fixture {
            test: format!("fit {name}"),
            reason: error.to_string(),
        })?;
    for (end, of) in [
        (EndCondition::FixedPinned, "fixed_pinned"),
        (EndCondition::FixedFree, "fixed_free"),
    ] {
        measured.readings.push(Reading::new(
            format!("{key}_tip_load_{of}_gf"),
            format!("{name}: tip load {}", end.words()),
            "gf",
            mn_to_gram_force(wire.tip_load_mn(end)),
        ));
    }
    measured.series.push(Series {
        condition: name.clone(),
        points: fitted.knots.iter().map(|k| point(&at_knot(k))).collect(),
    });
    measured.series.push(Series {
        condition: format!("{name}, whole profile"),
        points: fitted.profile.iter().map(point).collect(),
    });
    let file = key.replace('_', "-");
    let of_wire = fit::as_toml(&fitted, &on.spec.name);
    measured.files.push((format!("wires/{file}.toml"), of_wire));
    let residuals = format!("curves/fit-residuals-{file}.csv");
    measured.files.push((residuals, residual_table(&fitted)));
    let remarks = fitted
        .remarks
        .iter()
        .map(|remark| format!("{name}: {remark}"));
    measured.remarks.extend(remarks);
    measured.fits.push(fitted);
    Ok(measured)
}

fn in_n(stiffness: f64) -> f64 {
    stiffness / 1e3
}

fn at_knot(knot: &fit::Knot) -> ProfilePoint {
    ProfilePoint {
        station_mm: knot.station_mm,
        stiffness: knot.stiffness,
        interval: Some((knot.low, knot.high)),
        described: knot.described,
    }
}

/// A row of the test's columns.
fn point(at: &ProfilePoint) -> Vec<f64> {
    let (low, high) = at.interval.unwrap_or((f64::NAN, f64::NAN));
    vec![
        at.station_mm,
        in_n(at.stiffness),
        in_n(low),
        in_n(high),
        in_n(at.described),
        f64::from(u8::from(at.interval.is_some())),
    ]
}

/// How a set of readings lies about the fit.
fn of_set(key: &str, name: &str, number: usize, set: &FittedSet) -> Reading {
    let source = match set.source {
        fit::ErrorSource::Stated => "stated",
        fit::ErrorSource::Estimated => "from its scatter",
        fit::ErrorSource::Assumed => "assumed",
    };
    let mut note = format!(
        "readings: {}, error {:.2} % {source}, chi-square {:.1} where {:.1} is expected",
        set.readings.len(),
        100.0 * set.error,
        set.chi_square,
        set.expected
    );
    if let Some(found) = &set.agreement {
        let probability = if found.probability < 1e-3 {
            "below 0.001".to_owned()
        } else {
            format!("{:.3}", found.probability)
        };
        let _ = write!(
            note,
            "; probability of as much disagreement with the others {probability}"
        );
    }
    #[expect(clippy::cast_precision_loss, reason = "a count of readings")]
    let count = set.readings.len() as f64;
    let off = set
        .readings
        .iter()
        .map(|r| (r.measured_mn / r.fitted_mn).ln());
    let mean = (off.sum::<f64>() / count).exp() - 1.0;
    Reading::new(
        format!("{key}_set_{number}_off_percent"),
        format!("{name}: {} on average above the fit", set.name),
        "%",
        100.0 * mean,
    )
    .noted(note)
}

/// The readings against the fitted wire.
fn residual_table(fitted: &Fitted) -> String {
    let mut text =
        String::from("set,number,station_mm,measured_mN,fitted_mN,off_percent,deviations\n");
    for set in &fitted.sets {
        let name = if set.name.contains([',', '"', '\n', '\r']) {
            format!("\"{}\"", set.name.replace('"', "\"\""))
        } else {
            set.name.clone()
        };
        for (number, reading) in set.readings.iter().enumerate() {
            let off = 100.0 * (reading.measured_mn / reading.fitted_mn - 1.0);
            let _ = writeln!(
                text,
                "{name},{},{},{},{},{off},{}",
                number + 1,
                reading.station_mm,
                reading.measured_mn,
                reading.fitted_mn,
                reading.deviations
            );
        }
    }
    text
}
