//! `[[wire]]`: a wire as a catalogue describes it.

use super::{allowed, at_least_one, unique_name};
use crate::scenario::Warning;
use crate::scenario::error::Checked;
use crate::scenario::model::{
    BendSpec, CoreLawSpec, EndCondition, StiffnessSpec, TipSpec, WireSpec,
};
use crate::scenario::read::{Entry, Fields, Table};
use crate::scenario::surface::SURFACES;
use crate::units;

/// Fields of the table.
const WIRE: Fields = &[
    ("name", "\"soft 0.3 gf\""),
    ("diameter_mm", "0.3556"),
    ("diameter_in", "0.014"),
    ("tip_load_gf", "0.3"),
    ("end_condition", "\"fixed-pinned\""),
    ("core_mm", "[[20, 0.06], [200, 0.18]]"),
    ("modulus_GPa", "200"),
    ("stiffness_N_mm2", "[[0, 0.015], [200, 10]]"),
    ("poisson_ratio", "0.3"),
    ("torsion_ratio", "0.77"),
    ("surface", "\"hydrophilic\""),
    ("friction", "0.03"),
    ("strain_limit", "0.01"),
    ("core_law", "\"superelastic\""),
    ("plateau_strain", "0.05"),
    ("lower_over_upper", "0.33"),
    ("bend", "{ length_mm = 2, angle_deg = 45 }"),
    (
        "secondary_bend",
        "{ from_tip_mm = 8, length_mm = 3, angle_deg = 20 }",
    ),
];
const BEND: Fields = &[("length_mm", "2"), ("angle_deg", "45"), ("plane_deg", "0")];
const SECONDARY_BEND: Fields = &[
    ("from_tip_mm", "8"),
    ("length_mm", "3"),
    ("angle_deg", "20"),
    ("plane_deg", "0"),
];

/// Default modulus of a core in GPa: steel.
const MODULUS_GPA: f64 = 200.0;
/// Default Poisson's ratio: steel.
const POISSON_RATIO: f64 = 0.3;
/// Default strain at which a core yields: spring-temper steel wire at 2000 N/mm² over 200 GPa. A
/// cobalt-chromium core wire of 197 GPa breaks at 2600 N/mm², a strain of 0.013 (Adv. Mater. Process.,
/// October 2019, p. 49), which bounds it.
const STRAIN_LIMIT: f64 = 0.01;
/// Default modulus of a superelastic core in GPa: nickel-titanium core wire (the same source).
const SUPERELASTIC_MODULUS_GPA: f64 = 48.0;
/// Default strain at which its upper plateau begins: 450 N/mm² over 50 GPa.
const PLATEAU_BEGINS: f64 = 0.009;
/// Default length of its plateau in strain, and stress of its lower plateau over that of the upper:
/// 5 % and 150 over 450 N/mm², customary values of nickel-titanium at body temperature.
const PLATEAU_STRAIN: f64 = 0.05;
const LOWER_OVER_UPPER: f64 = 1.0 / 3.0;
/// Free length of the tip-load test in mm, over which the tip load alone says the stiffness.
const TIP_LENGTH_MM: f64 = 10.0;
/// Tip load in gf above which a wire is no longer one for open vessels.
const HEAVY_TIP_GF: f64 = 12.0;

/// Reads every `[[wire]]`, at least one.
pub(super) fn wires(root: &Table<'_>, warnings: &mut Vec<Warning>) -> Checked<Vec<WireSpec>> {
    let mut wires: Vec<WireSpec> = Vec::new();
    for table in at_least_one(root, "wire", WIRE)? {
        let names: Vec<&str> = wires.iter().map(|wire| wire.name.as_str()).collect();
        let name = unique_name(&table, &names, None)?;
        let diameter_mm = diameter_mm(&table)?;
        let core_law = core_law(&table)?;
        let (modulus_gpa, strain_limit) = match core_law {
            CoreLawSpec::Superelastic { .. } => (SUPERELASTIC_MODULUS_GPA, PLATEAU_BEGINS),
            CoreLawSpec::Plastic | CoreLawSpec::Elastic => (MODULUS_GPA, STRAIN_LIMIT),
        };
        wires.push(WireSpec {
            name,
            diameter_mm,
            stiffness: stiffness(&table, diameter_mm, modulus_gpa, warnings)?,
            torsion_ratio: torsion_ratio(&table)?,
            friction: friction(&table)?,
            tip: tip(&table)?,
            strain_limit: table.number_or("strain_limit", &allowed::STRAIN, strain_limit)?,
            core_law,
            place: table.place,
        });
    }
    Ok(wires)
}

/// Refuses `field` where `other` says the same already.
pub(super) fn exclusive(table: &Table<'_>, field: &str, other: &str) -> Checked<()> {
    if table.has(field) && table.has(other) {
        return Err(table.disagreement(
            field,
            format!("{other} says the same already"),
            format!("keep one of {field} and {other}"),
        ));
    }
    Ok(())
}

fn diameter_mm(table: &Table<'_>) -> Checked<f64> {
    exclusive(table, "diameter_in", "diameter_mm")?;
    match table.number_if("diameter_in", &allowed::WIRE_DIAMETER_INCH)? {
        Some(inch) => Ok(units::inch_to_mm(inch)),
        None => table.number("diameter_mm", &allowed::WIRE_DIAMETER),
    }
}

/// What the core does beyond its strain limit: said, or it keeps a set.
fn core_law(table: &Table<'_>) -> Checked<CoreLawSpec> {
    let superelastic = CoreLawSpec::Superelastic {
        lower_over_upper: table.number_or(
            "lower_over_upper",
            &allowed::PLATEAU_RATIO,
            LOWER_OVER_UPPER,
        )?,
        plateau_strain: table.number_or("plateau_strain", &allowed::STRAIN, PLATEAU_STRAIN)?,
    };
    let laws = [
        ("plastic", CoreLawSpec::Plastic),
        ("superelastic", superelastic),
        ("elastic", CoreLawSpec::Elastic),
    ];
    let law = match table.optional("core_law") {
        Some(entry) => entry.choice("a law of the core", &laws)?,
        None => CoreLawSpec::default(),
    };
    for field in ["plateau_strain", "lower_over_upper"] {
        if table.has(field) && law != superelastic {
            return Err(table.disagreement(
                field,
                "only a superelastic core has a plateau".into(),
                format!("add core_law = \"superelastic\" or remove {field}"),
            ));
        }
    }
    Ok(law)
}

fn stiffness(
    table: &Table<'_>,
    diameter_mm: f64,
    modulus_gpa: f64,
    warnings: &mut Vec<Warning>,
) -> Checked<StiffnessSpec> {
    let modulus_gpa = table.number_or("modulus_GPa", &allowed::MODULUS, modulus_gpa)?;
    let modulus_mn_per_mm2 = units::gpa_to_mn_per_mm2(modulus_gpa);
    if table.has("end_condition") && !table.has("tip_load_gf") {
        return Err(table.disagreement(
            "end_condition",
            "it says how a tip load was measured and no tip_load_gf is given".into(),
            "add tip_load_gf or remove end_condition".into(),
        ));
    }
    let stated = tip_load(table, warnings)?;
    if let Some(list) = table.optional("stiffness_N_mm2") {
        exclusive(table, "core_mm", "stiffness_N_mm2")?;
        let values = list.profile(&allowed::BENDING)?.into_iter();
        let values = values
            .map(|(from_tip, ei)| (from_tip, units::n_mm2_to_mn_mm2(ei)))
            .collect();
        return Ok(match stated {
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
    let Some((tip_load_mn, end_condition)) = stated else {
        let core = table.required("core_mm")?;
        return Ok(StiffnessSpec::Grind {
            grind: grind(&core, diameter_mm, 0.0)?,
            modulus_mn_per_mm2,
        });
    };
    Ok(StiffnessSpec::TipLoad {
        tip_load_mn,
        end_condition,
        grind: match table.optional("core_mm") {
            Some(core) => grind(&core, diameter_mm, TIP_LENGTH_MM)?,
            None => Vec::new(),
        },
        modulus_mn_per_mm2,
    })
}

/// The tip load in mN that the table states, and how it was measured.
fn tip_load(
    table: &Table<'_>,
    warnings: &mut Vec<Warning>,
) -> Checked<Option<(f64, EndCondition)>> {
    let Some(tip_load) = table.optional("tip_load_gf") else {
        return Ok(None);
    };
    let tip_load_gf = tip_load.number(&allowed::TIP_LOAD)?;
    if tip_load_gf > HEAVY_TIP_GF {
        warnings.push(Warning {
            message: format!(
                "tip_load_gf in {} is {tip_load_gf} gf, a wire for drilling rather than steering",
                table.title
            ),
            place: tip_load.place(),
        });
    }
    let end_condition = end_condition(table)?.unwrap_or(EndCondition::FixedPinned);
    Ok(Some((units::gram_force_to_mn(tip_load_gf), end_condition)))
}

/// How a tip load was measured, if the table says it.
pub(super) fn end_condition(table: &Table<'_>) -> Checked<Option<EndCondition>> {
    let known = [EndCondition::FixedPinned, EndCondition::FixedFree].map(|end| (end.words(), end));
    match table.optional("end_condition") {
        Some(entry) => entry.choice("an end condition", &known).map(Some),
        None => Ok(None),
    }
}

/// A core grind that begins at `from_mm` or further back and fits into the wire.
fn grind(core: &Entry<'_>, diameter_mm: f64, from_mm: f64) -> Checked<Vec<(f64, f64)>> {
    let grind = core.profile(&allowed::CORE)?;
    if let Some((first, _)) = grind.first()
        && *first < from_mm
    {
        return Err(core.disagreement(
            format!(
                "it begins {first} mm from the tip, where the tip load says the stiffness; \
                 allowed is {from_mm} mm or more"
            ),
            "begin the grind behind the tip, or leave out tip_load_gf".into(),
        ));
    }
    if let Some((from_tip, d)) = grind.iter().find(|(_, d)| *d > diameter_mm) {
        return Err(core.disagreement(
            format!(
                "the core is {d} mm thick at {from_tip} mm from the tip and the whole wire only \
                 {diameter_mm} mm; allowed is up to {diameter_mm} mm"
            ),
            "give core diameters within the wire's diameter".into(),
        ));
    }
    Ok(grind)
}

/// GJ/EI: said, or 1/(1+nu) for a round core.
pub(super) fn torsion_ratio(table: &Table<'_>) -> Checked<f64> {
    exclusive(table, "torsion_ratio", "poisson_ratio")?;
    match table.number_if("torsion_ratio", &allowed::TORSION_RATIO)? {
        Some(ratio) => Ok(ratio),
        None => {
            let nu = table.number_or("poisson_ratio", &allowed::POISSON, POISSON_RATIO)?;
            Ok(1.0 / (1.0 + nu))
        }
    }
}

pub(super) fn friction(table: &Table<'_>) -> Checked<f64> {
    exclusive(table, "friction", "surface")?;
    if let Some(friction) = table.number_if("friction", &allowed::FRICTION)? {
        return Ok(friction);
    }
    let surfaces = SURFACES.map(|surface| (surface.name, surface.friction));
    table.required("surface")?.choice("a surface", &surfaces)
}

fn tip(table: &Table<'_>) -> Checked<TipSpec> {
    let primary = match table.table("bend", BEND)? {
        Some(bend) => Some(bend_spec(&bend, 0.0)?),
        None => None,
    };
    let Some(bend) = table.table("secondary_bend", SECONDARY_BEND)? else {
        return Ok(TipSpec {
            primary,
            secondary: None,
        });
    };
    let from_tip_mm = bend.number("from_tip_mm", &allowed::STATION)?;
    let taken_mm = primary.map_or(0.0, |primary| primary.length_mm);
    if from_tip_mm < taken_mm {
        return Err(bend.disagreement(
            "from_tip_mm",
            format!("the first bend reaches {taken_mm} mm from the tip; allowed is {taken_mm} mm or more"),
            "move the secondary bend back".into(),
        ));
    }
    Ok(TipSpec {
        primary,
        secondary: Some(bend_spec(&bend, from_tip_mm)?),
    })
}

fn bend_spec(table: &Table<'_>, from_tip_mm: f64) -> Checked<BendSpec> {
    Ok(BendSpec {
        from_tip_mm,
        length_mm: table.number("length_mm", &allowed::LENGTH)?,
        angle_rad: table.number("angle_deg", &allowed::TIP_BEND)?.to_radians(),
        plane_rad: table.angle_or("plane_deg", &allowed::PLANE, 0.0)?,
    })
}
