//! `[[catheter]]`: a support catheter as a catalogue describes it.

use schemars::JsonSchema;
use serde::Deserialize;

use super::Names;
use super::surface::SurfaceFields;
use super::wire::bending;
use crate::scenario::model::{CatheterSpec, CatheterTipSpec, SidePortSpec};
use crate::scenario::surface::FRICTION;
use crate::schema::refusal::exclusive;
use crate::schema::{Place, Read, Refusal, defaults, shapes};
use crate::units::{self, degrees};

/// A support catheter.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct CatheterTable {
    /// Unique name, 1 to 60 characters.
    #[schemars(extend("x-example" = "\"straight\""))]
    name: String,
    /// Outer diameter; one of outer_diameter_mm and outer_diameter_fr is said.
    #[schemars(range(max = 4), extend(
        "exclusiveMinimum" = 0,
        "x-suspect" = "catheter",
        "x-example" = "0.8"
    ))]
    outer_diameter_mm: Option<f64>,
    /// Outer diameter in French.
    #[schemars(range(max = 12), extend("exclusiveMinimum" = 0, "x-example" = "2.4"))]
    outer_diameter_fr: Option<f64>,
    /// Diameter of its lumen, above that of every wire and below the outer diameter; one of
    /// inner_diameter_mm and inner_diameter_fr is said.
    #[schemars(range(max = 4), extend(
        "exclusiveMinimum" = 0,
        "x-suspect" = "catheter",
        "x-example" = "0.45"
    ))]
    inner_diameter_mm: Option<f64>,
    /// Diameter of its lumen in French.
    #[schemars(range(max = 12), extend("exclusiveMinimum" = 0, "x-example" = "1.35"))]
    inner_diameter_fr: Option<f64>,
    /// List of [distance from tip, EI], rising.
    #[serde(rename = "stiffness_N_mm2")]
    #[schemars(schema_with = "shapes::bending_profile")]
    #[schemars(extend("x-example" = "[[0, 0.3], [100, 3]]"))]
    stiffness_n_mm2: Vec<(f64, f64)>,
    #[serde(flatten)]
    surface: SurfaceFields,
    /// Coulomb coefficient of its bore against the wire that it carries; 0 lets the wire slide and turn in it
    /// for free.
    #[serde(default)]
    #[schemars(range(min = *FRICTION.start(), max = *FRICTION.end()), extend("x-suspect" = "friction", "x-example" = "0.1"))]
    friction_inside: f64,
    /// Bent tip, preformed, or steerable in use; without it the catheter is straight.
    #[schemars(extend("x-example" = "{ length_mm = 6, angle_deg = 90 }"))]
    tip: Option<TipTable>,
    // The default is that of a catheter for the coronary arteries (common practice, no source).
    /// Whole length.
    #[serde(default = "defaults::number::<1350>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "1350"))]
    length_mm: f64,
    /// Port of a second lumen, on the catheter, out of which a wire comes.
    #[schemars(extend("x-example" = "{ behind_tip_mm = 8, angle_deg = 30 }"))]
    side_port: Option<SidePortSpec>,
}

/// The bent tip of a catheter.
#[derive(Debug, Deserialize, JsonSchema)]
struct TipTable {
    /// Length of the bent part.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "6"))]
    length_mm: f64,
    /// Angle turned; of a steerable tip, the angle with which it is put in.
    #[serde(default, rename = "angle_deg", with = "degrees")]
    #[schemars(with = "Option<f64>", range(min = -180, max = 180), extend(
        "x-default" = "of a steerable tip: the one in its range nearest to 0",
        "x-example" = "90"
    ))]
    angle_rad: Option<f64>,
    /// Least and largest angle of a tip that is steered in use.
    #[serde(default, rename = "steerable_deg", with = "degrees")]
    #[schemars(with = "Option<[f64; 2]>", inner(range(min = -180, max = 180)))]
    #[schemars(extend("x-example" = "[0, 90]"))]
    steerable_rad: Option<[f64; 2]>,
}

/// Checks every `[[catheter]]`; there may be none.
pub(super) fn catheters(tables: &[CatheterTable]) -> Read<Vec<CatheterSpec>> {
    let mut catheters: Vec<CatheterSpec> = Vec::new();
    let mut names = Names::default();
    for (index, table) in tables.iter().enumerate() {
        let at = Place::top("catheter").entry(index);
        names.add(&table.name, &at)?;
        catheters.push(table.checked(at)?);
    }
    Ok(catheters)
}

impl CatheterTable {
    /// The field that says the outer diameter.
    pub(super) fn outer_field(&self) -> &'static str {
        match self.outer_diameter_fr {
            Some(_) => "outer_diameter_fr",
            None => "outer_diameter_mm",
        }
    }

    /// The field that says the diameter of the lumen.
    pub(super) fn inner_field(&self) -> &'static str {
        match self.inner_diameter_fr {
            Some(_) => "inner_diameter_fr",
            None => "inner_diameter_mm",
        }
    }

    fn checked(&self, at: Place) -> Read<CatheterSpec> {
        let outer_diameter_mm = diameter(
            &at,
            ("outer_diameter_fr", self.outer_diameter_fr),
            ("outer_diameter_mm", self.outer_diameter_mm),
        )?;
        let inner_diameter_mm = diameter(
            &at,
            ("inner_diameter_fr", self.inner_diameter_fr),
            ("inner_diameter_mm", self.inner_diameter_mm),
        )?;
        if inner_diameter_mm >= outer_diameter_mm {
            return Err(Refusal::at(
                at.field(self.inner_field()),
                format!(
                    "the catheter is {outer_diameter_mm:.3} mm thick outside; allowed is below that"
                ),
                "exchange the two diameters, or correct one",
            ));
        }
        let stiffness = bending(&self.stiffness_n_mm2, &at.field("stiffness_N_mm2"))?;
        let (friction, torsion_ratio) = self.surface.checked(&at)?;
        let tip = match &self.tip {
            Some(tip) => Some(tip.checked(&at.field("tip"))?),
            None => None,
        };
        self.check_port(&at)?;
        Ok(CatheterSpec {
            name: self.name.clone(),
            outer_diameter_mm,
            inner_diameter_mm,
            stiffness,
            torsion_ratio,
            friction,
            friction_inside: self.friction_inside,
            tip,
            side_port: self.side_port,
            place: at,
        })
    }

    fn check_port(&self, at: &Place) -> Read<()> {
        let length_mm = self.length_mm;
        match &self.side_port {
            Some(port) if port.behind_tip_mm >= length_mm => Err(Refusal::at(
                at.field("side_port").field("behind_tip_mm"),
                format!("the catheter is {length_mm} mm long; allowed is a port on it"),
                format!("choose behind_tip_mm below {length_mm}, or correct length_mm"),
            )),
            _ => Ok(()),
        }
    }
}

/// A diameter in mm, said in mm or in French.
fn diameter(
    at: &Place,
    french: (&'static str, Option<f64>),
    mm: (&'static str, Option<f64>),
) -> Read<f64> {
    exclusive(at, (french.0, french.1.is_some()), (mm.0, mm.1.is_some()))?;
    match (french.1, mm.1) {
        (Some(french), _) => Ok(units::french_to_mm(french)),
        (None, Some(mm)) => Ok(mm),
        (None, None) => Err(Refusal::missing(at.field(mm.0))),
    }
}

impl TipTable {
    fn checked(&self, at: &Place) -> Read<CatheterTipSpec> {
        let length_mm = self.length_mm;
        let Some([low, high]) = self.steerable_rad else {
            let Some(angle_rad) = self.angle_rad else {
                return Err(Refusal::missing(at.field("angle_deg")));
            };
            return Ok(CatheterTipSpec {
                length_mm,
                angle_rad,
                range_rad: None,
            });
        };
        if low >= high {
            return Err(Refusal::at(
                at.field("steerable_deg"),
                format!(
                    "the range runs from {} to {} deg",
                    low.to_degrees(),
                    high.to_degrees()
                ),
                "give the smaller angle first",
            ));
        }
        let angle_rad = self.angle_rad.unwrap_or(0.0f64.clamp(low, high));
        if angle_rad < low || angle_rad > high {
            return Err(Refusal::at(
                at.field("angle_deg"),
                format!(
                    "the tip can be steered from {} to {} deg",
                    low.to_degrees(),
                    high.to_degrees()
                ),
                "choose an angle in that range",
            ));
        }
        Ok(CatheterTipSpec {
            length_mm,
            angle_rad,
            range_rad: Some((low, high)),
        })
    }
}
