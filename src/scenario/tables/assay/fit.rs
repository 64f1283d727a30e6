//! `[[assay.fit]]`: measured curves to which stiffness profiles are fitted.

use std::path::Path;

use super::super::wire::end_condition;
use super::super::{allowed, unique_name};
use super::stations::rising;
use crate::scenario::bench::{CurveSpec, FitKind, FitSpec, MeasuredTipLoad};
use crate::scenario::error::Checked;
use crate::scenario::model::{EndCondition, WireSpec};
use crate::scenario::read::{Fields, Table};
use crate::units::gram_force_to_mn;

const FIT: Fields = &[
    ("name", "\"fitted\""),
    ("wire", "\"soft\""),
    ("curve", "\"measured.csv\""),
    ("test", "\"three-point\""),
    (
        "curves",
        "[{ curve = \"measured.csv\", test = \"three-point\" }]",
    ),
    ("knots_mm", "[20, 60, 120]"),
    ("span_mm", "20"),
    ("relative_error", "0.02"),
    ("tip_load_gf", "0.8"),
    ("end_condition", "\"fixed-pinned\""),
    ("tip_load_error", "0.05"),
];
const CURVE: Fields = &[
    ("curve", "\"measured.csv\""),
    ("test", "\"three-point\""),
    ("span_mm", "20"),
    ("relative_error", "0.02"),
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
        let wire = fit
            .required("wire")?
            .choice("the name of a wire in this file", &known)?;
        let curves = curves(&fit, folder, span_mm)?;
        let knots = fit.required("knots_mm")?;
        let Some(knots_mm) = rising(Some(&fit), "knots_mm", &allowed::STATION)? else {
            return Err(fit.missing("knots_mm"));
        };
        fits.push(FitSpec {
            name,
            wire,
            curves,
            tip_load: tip_load(&fit, &wires[wire])?,
            knots_mm: knots_mm.into_iter().map(|(knot, _)| knot).collect(),
            place: knots.place(),
        });
    }
    Ok(fits)
}

/// The one curve that the table names, or those of its list.
fn curves(fit: &Table<'_>, folder: &Path, span_mm: f64) -> Checked<Vec<CurveSpec>> {
    if !fit.has("curves") {
        return Ok(vec![curve(fit, folder, span_mm)?]);
    }
    for field in ["curve", "test", "span_mm", "relative_error"] {
        if fit.has(field) {
            return Err(fit.disagreement(
                field,
                "curves says it for each curve".into(),
                format!("move {field} into the entries of curves, or remove curves"),
            ));
        }
    }
    let list = fit.tables("curves", "curve", CURVE)?;
    if list.is_empty() {
        return Err(fit.missing("curve"));
    }
    list.iter()
        .map(|table| curve(table, folder, span_mm))
        .collect()
}

fn curve(table: &Table<'_>, folder: &Path, span_mm: f64) -> Checked<CurveSpec> {
    let kinds = [
        ("three-point", FitKind::ThreePoint),
        ("flexibility", FitKind::Flexibility),
    ];
    let kind = table
        .required("test")?
        .choice("a test that can be fitted", &kinds)?;
    let curve = table.required("curve")?;
    Ok(CurveSpec {
        file: folder.join(curve.text()?),
        kind,
        relative_error: table.number_if("relative_error", &allowed::RELATIVE_ERROR)?,
        span_mm: table.number_or("span_mm", &allowed::LENGTH, span_mm)?,
        place: curve.place(),
    })
}

/// A measured tip load; how it was measured is taken from the wire where the table does not say.
fn tip_load(fit: &Table<'_>, wire: &WireSpec) -> Checked<Option<MeasuredTipLoad>> {
    let Some(gf) = fit.number_if("tip_load_gf", &allowed::TIP_LOAD)? else {
        for field in ["end_condition", "tip_load_error"] {
            if fit.has(field) {
                return Err(fit.disagreement(
                    field,
                    "it goes with a measured tip load and no tip_load_gf is given".into(),
                    format!("add tip_load_gf or remove {field}"),
                ));
            }
        }
        return Ok(None);
    };
    let of_wire = wire.stiffness.stated_tip_load().map(|(_, end)| end);
    Ok(Some(MeasuredTipLoad {
        load_mn: gram_force_to_mn(gf),
        end_condition: end_condition(fit)?
            .or(of_wire)
            .unwrap_or(EndCondition::FixedPinned),
        relative_error: fit.number_if("tip_load_error", &allowed::RELATIVE_ERROR)?,
    }))
}
