//! Stiffness profiles fitted to measured curves.

use super::super::fit;
use super::{Fault, Measured, Reading, Series, Subject, keyed};
use crate::scenario::bench::FitSpec;

/// A stiffness profile from a measured curve.
pub(in crate::assay) fn fitted(
    on: &Subject<'_>,
    spec: &FitSpec,
    curve: &fit::Curve,
) -> Result<Measured, Fault> {
    let fitted = fit::fit(on.spec, spec, curve, on.assay)?;
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
        let in_n = |value: f64| value / 1e3;
        measured.readings.push(
            Reading::new(
                format!("{key}_stiffness_at_{}_mm_N_mm2", keyed(knot.station_mm)),
                format!("{name}: stiffness {} mm from the tip", knot.station_mm),
                "N mm²",
                in_n(knot.stiffness),
            )
            .noted(format!(
                "95 %: {:.4} to {:.4}",
                in_n(knot.low),
                in_n(knot.high)
            )),
        );
    }
    measured.readings.push(Reading::new(
        format!("{key}_scatter_percent"),
        format!("{name}: scatter of the readings"),
        "%",
        100.0 * fitted.relative_scatter,
    ));
    let row = |k: &fit::Knot| vec![k.station_mm, k.stiffness / 1e3, k.low / 1e3, k.high / 1e3];
    measured.series.push(Series {
        condition: name.clone(),
        points: fitted.knots.iter().map(row).collect(),
    });
    let file = format!("wires/{}.toml", key.replace('_', "-"));
    measured.files.push((file, fit::as_toml(&fitted, spec)));
    Ok(measured)
}
