//! `[[assay.fit]]`: measured curves to which stiffness profiles are fitted.

use std::path::Path;

use schemars::JsonSchema;
use serde::Deserialize;

use super::super::Names;
use super::stations::rising;
use crate::scenario::bench::{CurveSpec, FitKind, FitSpec, MeasuredTipLoad};
use crate::scenario::model::{EndCondition, WireSpec};
use crate::schema::{Place, Read, Refusal};
use crate::units::gram_force_to_mn;

/// Measurements of one wire to which a stiffness profile is fitted, all in one go. A reading of
/// three-point bending reaches the wire between its supports, one of flexibility or tip load from the
/// tip to the chuck. Elsewhere the fitted wire keeps the stiffness of `wire`, with a step where the
/// two meet; a gap of up to half the span or held length beside it is interpolated. Within the reach
/// the logarithm of the stiffness is linear between knots and constant outside the first and the
/// last. A knot that no reading reaches is refused.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub(super) struct FitTable {
    /// Name of the wire that results, 1 to 60 characters.
    #[schemars(extend("x-example" = "\"fitted\""))]
    name: String,
    /// The wire that was measured.
    #[schemars(extend("x-example" = "\"soft\""))]
    wire: String,
    #[serde(flatten)]
    one: CurveFields,
    /// Several curves of one wire, fitted in one go, in place of the single curve.
    #[schemars(length(max = 2500), extend(
        "x-entry" = "curve",
        "x-example" = "[{ curve = \"measured.csv\", test = \"three-point\" }]"
    ))]
    curves: Option<Vec<CurveTable>>,
    /// Distances from the tip at which the stiffness is sought, rising.
    #[schemars(length(min = 1), inner(range(min = 0, max = 10_000)), extend(
        "x-remedy" = "give at least one number",
        "x-example" = "[20, 60, 120]"
    ))]
    knots_mm: Vec<f64>,
    /// Tip load measured with the wire held at held_mm of [assay.tip_load].
    #[schemars(range(min = 0.05, max = 50), extend("x-suspect" = "tip load", "x-example" = "0.8"))]
    tip_load_gf: Option<f64>,
    /// How it was measured.
    #[schemars(extend("x-default" = "the wire's own", "x-example" = "\"fixed-pinned\""))]
    end_condition: Option<EndCondition>,
    /// Its standard deviation over its value.
    #[schemars(range(max = 0.5), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "5 %",
        "x-suspect" = "relative error",
        "x-example" = "0.05"
    ))]
    tip_load_error: Option<f64>,
}

/// A curve of several.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
struct CurveTable {
    #[serde(flatten)]
    curve: CurveFields,
}

/// A measured curve.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
struct CurveFields {
    /// File with the curve, path from this file: three-point has the columns station_mm,
    /// deflection_mm and load_mN (or load_N, load_gf), flexibility held_mm, angle_deg and force_mN
    /// (or force_N, force_gf).
    #[schemars(extend("x-example" = "\"measured.csv\""))]
    curve: Option<String>,
    /// What was measured.
    #[schemars(extend("x-example" = "\"three-point\""))]
    test: Option<FitKind>,
    /// Distance of the supports in three-point bending.
    #[schemars(range(max = 10_000), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "that of [assay.three_point]",
        "x-example" = "20"
    ))]
    span_mm: Option<f64>,
    /// Standard deviation of a reading over its value. Each set of readings counts by it; one that
    /// is not stated is read from the scatter of the set by itself, or, where it has fewer than three
    /// readings to spare, taken as 5 %.
    #[schemars(range(max = 0.5), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "from the scatter",
        "x-suspect" = "relative error",
        "x-example" = "0.02"
    ))]
    relative_error: Option<f64>,
}

/// Checks the tables; `span_mm` is the span of the bench's own three-point test.
pub(super) fn fits(
    tables: &[FitTable],
    wires: &[WireSpec],
    folder: &Path,
    span_mm: f64,
) -> Read<Vec<FitSpec>> {
    let mut fits: Vec<FitSpec> = Vec::new();
    let mut names = Names::of(wires.iter().map(|wire| wire.name.as_str()));
    for (index, table) in tables.iter().enumerate() {
        let at = Place::top("assay").field("fit").entry(index);
        names.add(&table.name, &at)?;
        let wire = wires.iter().position(|wire| wire.name == table.wire);
        let Some(wire) = wire else {
            let names = wires.iter().map(|wire| &wire.name);
            return Err(Refusal::unknown(
                at.field("wire"),
                "the name of a wire in this file",
                names,
            ));
        };
        let curves = table.curves(&at, folder, span_mm)?;
        let knots = at.field("knots_mm");
        rising(&table.knots_mm, &knots)?;
        fits.push(FitSpec {
            name: table.name.clone(),
            wire,
            curves,
            tip_load: table.tip_load(&at, &wires[wire])?,
            knots_mm: table.knots_mm.clone(),
            place: knots,
        });
    }
    Ok(fits)
}

impl FitTable {
    /// The one curve that the table names, or those of its list.
    fn curves(&self, at: &Place, folder: &Path, span_mm: f64) -> Read<Vec<CurveSpec>> {
        let Some(curves) = &self.curves else {
            return Ok(vec![self.one.checked(at, folder, span_mm)?]);
        };
        if let Some(field) = self.one.said() {
            return Err(Refusal::at(
                at.field(field),
                "curves says it for each curve",
                format!("move {field} into the entries of curves, or remove curves"),
            ));
        }
        if curves.is_empty() {
            return Err(Refusal::missing(at.field("curve")));
        }
        let list = at.field("curves");
        let each = curves.iter().enumerate();
        each.map(|(i, table)| table.curve.checked(&list.entry(i), folder, span_mm))
            .collect()
    }

    /// A measured tip load; how it was measured is taken from the wire where the table does not say.
    fn tip_load(&self, at: &Place, wire: &WireSpec) -> Read<Option<MeasuredTipLoad>> {
        let Some(tip_load_gf) = self.tip_load_gf else {
            let needless = [
                ("end_condition", self.end_condition.is_some()),
                ("tip_load_error", self.tip_load_error.is_some()),
            ];
            return match needless.iter().find(|(_, said)| *said) {
                Some((field, _)) => Err(Refusal::at(
                    at.field(*field),
                    "it goes with a measured tip load and no tip_load_gf is given",
                    format!("add tip_load_gf or remove {field}"),
                )),
                None => Ok(None),
            };
        };
        let of_wire = wire.stiffness.tip_load_mn().map(|(_, end)| end);
        Ok(Some(MeasuredTipLoad {
            tip_load_mn: gram_force_to_mn(tip_load_gf),
            end_condition: self
                .end_condition
                .or(of_wire)
                .unwrap_or(EndCondition::FixedPinned),
            relative_error: self.tip_load_error,
        }))
    }
}

impl CurveFields {
    /// The first field that is said.
    fn said(&self) -> Option<&'static str> {
        let fields = [
            ("curve", self.curve.is_some()),
            ("test", self.test.is_some()),
            ("span_mm", self.span_mm.is_some()),
            ("relative_error", self.relative_error.is_some()),
        ];
        fields
            .iter()
            .find(|(_, said)| *said)
            .map(|(field, _)| *field)
    }

    fn checked(&self, at: &Place, folder: &Path, span_mm: f64) -> Read<CurveSpec> {
        let missing = |field| Refusal::missing(at.field(field));
        let kind = self.test.ok_or_else(|| missing("test"))?;
        let Some(curve) = &self.curve else {
            return Err(missing("curve"));
        };
        Ok(CurveSpec {
            file: folder.join(curve),
            kind,
            relative_error: self.relative_error,
            span_mm: self.span_mm.unwrap_or(span_mm),
            place: at.field("curve"),
        })
    }
}
