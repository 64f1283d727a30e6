//! `[[assay.fit]]`: measured curves to which stiffness profiles are fitted.

use std::path::Path;

use super::super::{allowed, unique_name};
use super::stations::rising;
use crate::scenario::bench::{FitKind, FitSpec};
use crate::scenario::error::Checked;
use crate::scenario::model::WireSpec;
use crate::scenario::read::{Fields, Table};
use crate::units::gram_force_to_mn;

const FIT: Fields = &[
    ("name", "\"fitted\""),
    ("wire", "\"soft\""),
    ("curve", "\"measured.csv\""),
    ("test", "\"three-point\""),
    ("knots_mm", "[20, 60, 120]"),
    ("span_mm", "20"),
    ("relative_error", "0.02"),
    ("tip_load_gf", "0.8"),
];

/// Reads the tables; `span_mm` is the span of the bench's own three-point test.
pub(super) fn fits(
    table: &Table<'_>,
    wires: &[WireSpec],
    folder: &Path,
    span_mm: f64,
) -> Checked<Vec<FitSpec>> {
    let mut fits: Vec<FitSpec> = Vec::new();
    for fit in table.tables("fit", "[[assay.fit]]", FIT)? {
        let names: Vec<&str> = fits
            .iter()
            .map(|fit| fit.name.as_str())
            .chain(wires.iter().map(|wire| wire.name.as_str()))
            .collect();
        let name = unique_name(&fit, &names, None)?;
        let known: Vec<(&str, usize)> = wires
            .iter()
            .enumerate()
            .map(|(index, wire)| (wire.name.as_str(), index))
            .collect();
        let kinds = [
            ("three-point", FitKind::ThreePoint),
            ("flexibility", FitKind::Flexibility),
        ];
        let kind = fit
            .required("test")?
            .choice("a test that can be fitted", &kinds)?;
        if kind == FitKind::ThreePoint && fit.has("tip_load_gf") {
            return Err(fit.disagreement(
                "tip_load_gf",
                "it goes with a flexibility curve and the curve is one of three-point bending"
                    .into(),
                "remove it".into(),
            ));
        }
        let curve = fit.required("curve")?;
        let Some(knots) = rising(Some(&fit), "knots_mm", &allowed::STATION)? else {
            return Err(fit.missing("knots_mm"));
        };
        fits.push(FitSpec {
            name,
            wire: fit
                .required("wire")?
                .choice("the name of a wire in this file", &known)?,
            curve: folder.join(curve.text()?),
            kind,
            knots_mm: knots.into_iter().map(|(knot, _)| knot).collect(),
            relative_error: fit.number_if("relative_error", &allowed::RELATIVE_ERROR)?,
            tip_load_mn: fit
                .number_if("tip_load_gf", &allowed::TIP_LOAD)?
                .map(gram_force_to_mn),
            span_mm: fit.number_or("span_mm", &allowed::LENGTH, span_mm)?,
            place: curve.place(),
        });
    }
    Ok(fits)
}
