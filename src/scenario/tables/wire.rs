//! `[[wire]]`: a wire as a catalogue describes it.

use schemars::JsonSchema;
use serde::Deserialize;

use super::surface::SurfaceFields;
use super::{Names, rising_profile};
use crate::scenario::Warning;
use crate::scenario::model::{
    BendSpec, CoreLawSpec, EndCondition, HELD_BEHIND_TIP_MM, StiffnessSpec, TipSpec, WireSpec,
    steel,
};
use crate::schema::refusal::exclusive;
use crate::schema::{Place, Read, Refusal, shapes};
use crate::units::{self, degrees};

/// Default modulus of a superelastic core in GPa: nickel-titanium core wire (Adv. Mater. Process., October
/// 2019, p. 49).
const SUPERELASTIC_MODULUS_GPA: f64 = 48.0;
/// Default strain at which its upper plateau begins: 450 N/mm² over 50 GPa.
const PLATEAU_BEGINS: f64 = 0.009;
/// Default length of its plateau in strain, and stress of its lower plateau over that of the upper:
/// 5 % and 150 over 450 N/mm², customary values of nickel-titanium at body temperature.
const PLATEAU_STRAIN: f64 = 0.05;
const LOWER_OVER_UPPER: f64 = 1.0 / 3.0;
/// Tip load in gf above which a wire is no longer one for open vessels.
const HEAVY_TIP_GF: f64 = 12.0;

/// A wire.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
pub(super) struct WireTable {
    /// Unique name, 1 to 60 characters.
    #[schemars(extend("x-example" = "\"soft 0.3 gf\""))]
    name: String,
    /// Outer diameter; one of diameter_mm and diameter_in is said.
    #[schemars(range(min = 0.1, max = 1), extend("x-suspect" = "wire in mm", "x-example" = "0.3556"))]
    diameter_mm: Option<f64>,
    /// Outer diameter in inches.
    #[schemars(range(min = 0.004, max = 0.04), extend(
        "x-suspect" = "wire in inches",
        "x-example" = "0.014"
    ))]
    diameter_in: Option<f64>,
    /// Tip load: the load at which the last 10 mm buckle.
    #[schemars(range(min = 0.05, max = 50), extend("x-suspect" = "tip load", "x-example" = "0.3"))]
    tip_load_gf: Option<f64>,
    /// How the tip load was measured.
    #[schemars(extend("default" = "fixed-pinned", "x-example" = "\"fixed-pinned\""))]
    end_condition: Option<EndCondition>,
    /// List of [distance from tip, core diameter], rising, up to the wire's diameter; with a tip load
    /// from 10 mm on. Between its stations the diameter runs linearly. Needed without tip load and
    /// without stiffness list.
    #[schemars(schema_with = "shapes::core_profile")]
    #[schemars(extend("x-example" = "[[20, 0.06], [200, 0.18]]"))]
    #[serde(default)]
    core_mm: Option<Vec<(f64, f64)>>,
    /// Young's modulus of the core.
    #[serde(rename = "modulus_GPa")]
    #[schemars(range(min = 0.1, max = 1000), extend(
        "x-default" = "200; superelastic 48",
        "x-suspect" = "modulus",
        "x-example" = "200"
    ))]
    modulus_gpa: Option<f64>,
    /// List of [distance from tip, EI], rising, in place of a core; between its stations the
    /// logarithm runs linearly. A tip load beside it is only compared.
    #[serde(rename = "stiffness_N_mm2", default)]
    #[schemars(schema_with = "shapes::bending_profile")]
    #[schemars(extend("x-example" = "[[0, 0.015], [200, 10]]"))]
    stiffness_n_mm2: Option<Vec<(f64, f64)>>,
    #[serde(flatten)]
    surface: SurfaceFields,
    /// What the core does beyond its strain limit.
    #[schemars(extend("default" = "plastic", "x-example" = "\"superelastic\""))]
    core_law: Option<CoreLawName>,
    /// Bending strain at which the core yields, or its plateau begins.
    #[schemars(range(max = 0.2), extend(
        "exclusiveMinimum" = 0,
        "x-default" = "0.01; superelastic 0.009",
        "x-suspect" = "strain",
        "x-example" = "0.01"
    ))]
    strain_limit: Option<f64>,
    /// Length of a superelastic core's plateau, in strain.
    #[schemars(range(max = 0.2), extend(
        "exclusiveMinimum" = 0,
        "default" = PLATEAU_STRAIN,
        "x-suspect" = "strain",
        "x-example" = "0.05"
    ))]
    plateau_strain: Option<f64>,
    /// Stress of a superelastic core's lower plateau over that of the upper.
    #[schemars(range(min = 0, max = 1), extend("x-default" = "1/3", "x-example" = "0.33"))]
    lower_over_upper: Option<f64>,
    /// Primary bend of the tip: an arc that ends at the tip.
    #[schemars(extend("x-example" = "{ length_mm = 2, angle_deg = 45 }"))]
    bend: Option<BendTable>,
    /// Secondary bend, behind the primary one.
    #[schemars(extend("x-example" = "{ from_tip_mm = 8, length_mm = 3, angle_deg = 20 }"))]
    secondary_bend: Option<SecondaryBendTable>,
}

/// What a core does beyond its strain limit.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a law of the core"))]
enum CoreLawName {
    /// It flows at constant stress and keeps a set.
    Plastic,
    /// It flows along a plateau and comes back along a lower one.
    Superelastic,
    /// It never yields.
    Elastic,
}

/// An arc shaped into a wire.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
struct BendTable {
    /// Length of the bent part.
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "2"))]
    length_mm: f64,
    /// Angle turned.
    #[serde(rename = "angle_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = 0, max = 360), extend("x-example" = "45"))]
    angle_rad: f64,
    /// Direction of the bend about the wire's axis.
    #[serde(default, rename = "plane_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "0"))]
    plane_rad: f64,
}

/// An arc further back.
#[derive(Debug, Clone, Copy, Deserialize, JsonSchema)]
struct SecondaryBendTable {
    /// Distance of its distal end from the tip, behind the primary bend.
    #[schemars(range(min = 0, max = 10_000), extend("x-example" = "8"))]
    from_tip_mm: f64,
    #[serde(flatten)]
    bend: BendTable,
}

impl BendTable {
    fn at(&self, from_tip_mm: f64) -> BendSpec {
        BendSpec {
            from_tip_mm,
            length_mm: self.length_mm,
            angle_rad: self.angle_rad,
            plane_rad: self.plane_rad,
        }
    }
}

/// Checks every `[[wire]]`.
pub(super) fn wires(tables: &[WireTable], warnings: &mut Vec<Warning>) -> Read<Vec<WireSpec>> {
    let mut wires: Vec<WireSpec> = Vec::new();
    let mut names = Names::default();
    for (index, table) in tables.iter().enumerate() {
        let at = Place::top("wire").entry(index);
        names.add(&table.name, &at)?;
        wires.push(table.checked(at, warnings)?);
    }
    Ok(wires)
}

impl WireTable {
    fn checked(&self, at: Place, warnings: &mut Vec<Warning>) -> Read<WireSpec> {
        let diameter_mm = self.diameter_mm(&at)?;
        let core_law = self.core_law(&at)?;
        let (modulus_gpa, strain_limit) = match core_law {
            CoreLawSpec::Superelastic { .. } => (SUPERELASTIC_MODULUS_GPA, PLATEAU_BEGINS),
            CoreLawSpec::Plastic | CoreLawSpec::Elastic => {
                (steel::MODULUS_GPA, steel::STRAIN_LIMIT)
            }
        };
        let stiffness = self.stiffness(&at, diameter_mm, modulus_gpa, warnings)?;
        let (friction, torsion_ratio) = self.surface.checked(&at)?;
        Ok(WireSpec {
            name: self.name.clone(),
            diameter_mm,
            stiffness,
            torsion_ratio,
            friction,
            tip: self.tip(&at)?,
            strain_limit: self.strain_limit.unwrap_or(strain_limit),
            core_law,
            place: at,
        })
    }

    fn diameter_mm(&self, at: &Place) -> Read<f64> {
        exclusive(
            at,
            ("diameter_in", self.diameter_in.is_some()),
            ("diameter_mm", self.diameter_mm.is_some()),
        )?;
        match (self.diameter_in, self.diameter_mm) {
            (Some(inch), _) => Ok(units::inch_to_mm(inch)),
            (None, Some(mm)) => Ok(mm),
            (None, None) => Err(Refusal::missing(at.field("diameter_mm"))),
        }
    }

    /// What the core does beyond its strain limit: said, or it keeps a set.
    fn core_law(&self, at: &Place) -> Read<CoreLawSpec> {
        if self.core_law != Some(CoreLawName::Superelastic) {
            let fields = [
                ("plateau_strain", self.plateau_strain),
                ("lower_over_upper", self.lower_over_upper),
            ];
            if let Some((field, _)) = fields.iter().find(|(_, said)| said.is_some()) {
                return Err(Refusal::at(
                    at.field(*field),
                    "only a superelastic core has a plateau",
                    format!("add core_law = \"superelastic\" or remove {field}"),
                ));
            }
        }
        Ok(match self.core_law {
            None => CoreLawSpec::default(),
            Some(CoreLawName::Plastic) => CoreLawSpec::Plastic,
            Some(CoreLawName::Elastic) => CoreLawSpec::Elastic,
            Some(CoreLawName::Superelastic) => CoreLawSpec::Superelastic {
                lower_over_upper: self.lower_over_upper.unwrap_or(LOWER_OVER_UPPER),
                plateau_strain: self.plateau_strain.unwrap_or(PLATEAU_STRAIN),
            },
        })
    }

    fn stiffness(
        &self,
        at: &Place,
        diameter_mm: f64,
        modulus_gpa: f64,
        warnings: &mut Vec<Warning>,
    ) -> Read<StiffnessSpec> {
        let modulus_mn_per_mm2 = units::gpa_to_mn_per_mm2(self.modulus_gpa.unwrap_or(modulus_gpa));
        if self.end_condition.is_some() && self.tip_load_gf.is_none() {
            return Err(Refusal::at(
                at.field("end_condition"),
                "it says how a tip load was measured and no tip_load_gf is given",
                "add tip_load_gf or remove end_condition",
            ));
        }
        let tip_load = self.tip_load_mn(at, warnings);
        if let Some(list) = &self.stiffness_n_mm2 {
            exclusive(
                at,
                ("core_mm", self.core_mm.is_some()),
                ("stiffness_N_mm2", true),
            )?;
            let values = bending(list, &at.field("stiffness_N_mm2"))?;
            return Ok(match tip_load {
                None => StiffnessSpec::List {
                    values,
                    modulus_mn_per_mm2,
                },
                Some((tip_load_mn, end_condition)) => StiffnessSpec::ListWithTipLoad {
                    values,
                    modulus_mn_per_mm2,
                    tip_load_mn,
                    end_condition,
                },
            });
        }
        let grind = |from_mm| match &self.core_mm {
            Some(core) => grind(core, &at.field("core_mm"), diameter_mm, from_mm).map(Some),
            None => Ok(None),
        };
        let Some((tip_load_mn, end_condition)) = tip_load else {
            return match grind(0.0)? {
                Some(grind) => Ok(StiffnessSpec::Grind {
                    grind,
                    modulus_mn_per_mm2,
                }),
                None => Err(Refusal::missing(at.field("core_mm"))),
            };
        };
        Ok(StiffnessSpec::TipLoad {
            tip_load_mn,
            end_condition,
            grind: grind(HELD_BEHIND_TIP_MM)?.unwrap_or_default(),
            modulus_mn_per_mm2,
        })
    }

    /// The tip load in mN that the table states, and how it was measured.
    fn tip_load_mn(&self, at: &Place, warnings: &mut Vec<Warning>) -> Option<(f64, EndCondition)> {
        let tip_load_gf = self.tip_load_gf?;
        if tip_load_gf > HEAVY_TIP_GF {
            warnings.push(Warning {
                message: format!(
                    "tip_load_gf in [[wire]] \"{}\" is {tip_load_gf} gf, a wire for drilling rather \
                     than steering",
                    crate::shown::cut(&self.name)
                ),
                place: at.field("tip_load_gf"),
            });
        }
        let end_condition = self.end_condition.unwrap_or(EndCondition::FixedPinned);
        Some((units::gram_force_to_mn(tip_load_gf), end_condition))
    }

    fn tip(&self, at: &Place) -> Read<TipSpec> {
        let primary = self.bend.map(|bend| bend.at(0.0));
        let Some(second) = &self.secondary_bend else {
            return Ok(TipSpec {
                primary,
                secondary: None,
            });
        };
        let taken_mm = primary.map_or(0.0, |primary| primary.length_mm);
        if second.from_tip_mm < taken_mm {
            return Err(Refusal::at(
                at.field("secondary_bend").field("from_tip_mm"),
                format!(
                    "the first bend reaches {taken_mm} mm from the tip; allowed is {taken_mm} mm or \
                     more"
                ),
                "move the secondary bend back",
            ));
        }
        Ok(TipSpec {
            primary,
            secondary: Some(second.bend.at(second.from_tip_mm)),
        })
    }
}

/// A rising list of (distance from the tip, EI in N mm²), in mN mm².
pub(super) fn bending(list: &[(f64, f64)], at: &Place) -> Read<Vec<(f64, f64)>> {
    let values = rising_profile(list.to_vec(), at)?.into_iter();
    Ok(values
        .map(|(from_tip, ei)| (from_tip, units::n_mm2_to_mn_mm2(ei)))
        .collect())
}

/// A core grind that begins at `from_mm` or further back and fits into the wire.
fn grind(core: &[(f64, f64)], at: &Place, diameter_mm: f64, from_mm: f64) -> Read<Vec<(f64, f64)>> {
    let grind = rising_profile(core.to_vec(), at)?;
    if let Some((first, _)) = grind.first()
        && *first < from_mm
    {
        return Err(Refusal::at(
            at.clone(),
            format!(
                "it begins {first} mm from the tip, where the tip load says the stiffness; \
                 allowed is {from_mm} mm or more"
            ),
            "begin the grind behind the tip, or leave out tip_load_gf",
        ));
    }
    if let Some((from_tip, d)) = grind.iter().find(|(_, d)| *d > diameter_mm) {
        return Err(Refusal::at(
            at.clone(),
            format!(
                "the core is {d} mm thick at {from_tip} mm from the tip and the whole wire only \
                 {diameter_mm} mm; allowed is up to {diameter_mm} mm"
            ),
            "give core diameters within the wire's diameter",
        ));
    }
    Ok(grind)
}
