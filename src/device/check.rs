//! Refuses descriptions of devices that cannot be built.

use super::DeviceError;
use super::profile::round_core_diameter;
use super::shaped_tip::ShapedTip;
use super::tip_load::HELD_BEHIND_TIP_MM;
use crate::scenario::model::{BendSpec, CatheterSpec, CoreLawSpec, StiffnessSpec, WireSpec};
use crate::scenario::surface::{FRICTION, FRICTION_ALLOWED};

/// Relative slack of a core that fills the whole wire.
const ROUNDING: f64 = 1e-9;

/// Checks every number of a description by itself.
pub(super) fn quantities(spec: &WireSpec) -> Result<(), DeviceError> {
    above_zero(spec, "diameter", spec.diameter_mm, "mm")?;
    above_zero(spec, "torsion ratio GJ/EI", spec.torsion_ratio, "")?;
    above_zero(spec, "strain limit", spec.strain_limit, "")?;
    core_law(spec)?;
    if !FRICTION.contains(&spec.friction) {
        return Err(out_of_range(
            spec,
            "friction",
            spec.friction,
            "",
            FRICTION_ALLOWED,
            "give a Coulomb coefficient",
        ));
    }
    match &spec.stiffness {
        StiffnessSpec::TipLoad {
            tip_load_mn,
            grind,
            modulus_mn_per_mm2,
            ..
        } => {
            above_zero(spec, "tip load", *tip_load_mn, "mN")?;
            above_zero(spec, "modulus", *modulus_mn_per_mm2, "mN/mm²")?;
            stations(spec, "core grind", grind, ("core diameter", "mm"))?;
            match grind.first() {
                Some(&(value_mm, _)) if value_mm < HELD_BEHIND_TIP_MM => {
                    Err(DeviceError::GrindWithinTip {
                        wire: spec.name.clone(),
                        place: spec.place.clone(),
                        value_mm,
                        allowed_mm: HELD_BEHIND_TIP_MM,
                    })
                }
                _ => Ok(()),
            }
        }
        StiffnessSpec::Grind {
            grind,
            modulus_mn_per_mm2,
        } => {
            above_zero(spec, "modulus", *modulus_mn_per_mm2, "mN/mm²")?;
            not_empty(spec, "core grind", grind)?;
            stations(spec, "core grind", grind, ("core diameter", "mm"))
        }
        StiffnessSpec::List {
            values,
            modulus_mn_per_mm2,
        }
        | StiffnessSpec::ListWithTipLoad {
            values,
            modulus_mn_per_mm2,
            ..
        } => {
            if let Some((tip_load_mn, _)) = spec.stiffness.tip_load_mn() {
                above_zero(spec, "tip load", tip_load_mn, "mN")?;
            }
            above_zero(spec, "modulus", *modulus_mn_per_mm2, "mN/mm²")?;
            not_empty(spec, "stiffness list", values)?;
            stations(
                spec,
                "stiffness list",
                values,
                ("bending stiffness", "mN mm²"),
            )
        }
    }
}

/// Checks the plateaus of a superelastic core.
fn core_law(spec: &WireSpec) -> Result<(), DeviceError> {
    let CoreLawSpec::Superelastic {
        lower_over_upper,
        plateau_strain,
    } = spec.core_law
    else {
        return Ok(());
    };
    if !(0.0..=1.0).contains(&lower_over_upper) {
        return Err(out_of_range(
            spec,
            "stress of the lower plateau over that of the upper",
            lower_over_upper,
            "",
            "0 to 1",
            "give the ratio of the two plateau stresses",
        ));
    }
    above_zero(spec, "plateau strain", plateau_strain, "")
}

/// Checks that at every station (distance from tip in mm, bending stiffness in mN mm²) the core
/// fits into the wire.
pub(super) fn core_fits(
    spec: &WireSpec,
    values: &[(f64, f64)],
    modulus: f64,
) -> Result<(), DeviceError> {
    for &(station_mm, stiffness) in values {
        let value_mm = round_core_diameter(stiffness, modulus);
        if value_mm > spec.diameter_mm * (1.0 + ROUNDING) {
            return Err(DeviceError::CoreThickerThanWire {
                wire: spec.name.clone(),
                place: spec.place.clone(),
                station_mm,
                value_mm,
                allowed_mm: spec.diameter_mm,
            });
        }
    }
    Ok(())
}

/// Checks the bends one by one and against each other.
pub(super) fn bends(spec: &WireSpec) -> Result<(), DeviceError> {
    let both = [
        ("primary", spec.tip.primary),
        ("secondary", spec.tip.secondary),
    ];
    for (name, bend) in both.iter().filter_map(|(n, b)| b.as_ref().map(|b| (*n, b))) {
        one_bend(spec, name, bend)?;
    }
    if let (Some(primary), Some(secondary)) = (spec.tip.primary, spec.tip.secondary) {
        let allowed_mm = primary.from_tip_mm + primary.length_mm;
        if secondary.from_tip_mm < allowed_mm {
            return Err(DeviceError::BendsOverlap {
                wire: spec.name.clone(),
                place: spec.place.clone(),
                value_mm: secondary.from_tip_mm,
                allowed_mm,
            });
        }
    }
    Ok(())
}

fn one_bend(spec: &WireSpec, name: &'static str, bend: &BendSpec) -> Result<(), DeviceError> {
    above_zero(spec, "length of a tip bend", bend.length_mm, "mm")?;
    if !(bend.from_tip_mm >= 0.0 && bend.from_tip_mm.is_finite()) {
        return Err(out_of_range(
            spec,
            "distance of a tip bend from the tip",
            bend.from_tip_mm,
            "mm",
            "0 or more",
            "count from the tip backwards",
        ));
    }
    for (quantity, value) in [
        ("angle of a tip bend", bend.angle_rad),
        ("plane of a tip bend", bend.plane_rad),
    ] {
        if !value.is_finite() {
            return Err(out_of_range(
                spec,
                quantity,
                value,
                "rad",
                "any finite angle",
                "give a number",
            ));
        }
    }
    let value_mm = ShapedTip::new([bend]).tightest_radius_mm();
    let allowed_mm = spec.diameter_mm / 2.0;
    if value_mm <= allowed_mm {
        return Err(DeviceError::BendTooTight {
            wire: spec.name.clone(),
            place: spec.place.clone(),
            bend: name,
            value_mm,
            allowed_mm,
        });
    }
    Ok(())
}

fn not_empty(
    spec: &WireSpec,
    list: &'static str,
    values: &[(f64, f64)],
) -> Result<(), DeviceError> {
    if values.is_empty() {
        return Err(DeviceError::NoStations {
            wire: spec.name.clone(),
            place: spec.place.clone(),
            list,
        });
    }
    Ok(())
}

/// Checks that distances are 0 or more and rise, and that values (name and unit given) are above
/// 0.
fn stations(
    spec: &WireSpec,
    list: &'static str,
    values: &[(f64, f64)],
    (quantity, unit): (&'static str, &'static str),
) -> Result<(), DeviceError> {
    let mut before_mm = None;
    for &(station, value) in values {
        if !(station >= 0.0 && station.is_finite()) {
            return Err(out_of_range(
                spec,
                "distance of a station from the tip",
                station,
                "mm",
                "0 or more",
                "count from the tip backwards",
            ));
        }
        if let Some(before_mm) = before_mm
            && station <= before_mm
        {
            return Err(DeviceError::StationsNotRising {
                wire: spec.name.clone(),
                place: spec.place.clone(),
                list,
                before_mm,
                value_mm: station,
            });
        }
        above_zero(spec, quantity, value, unit)?;
        before_mm = Some(station);
    }
    Ok(())
}

fn above_zero(
    spec: &WireSpec,
    quantity: &'static str,
    value: f64,
    unit: &'static str,
) -> Result<(), DeviceError> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(out_of_range(
        spec,
        quantity,
        value,
        unit,
        "a finite number above 0",
        "check the sign and the unit",
    ))
}

fn out_of_range(
    spec: &WireSpec,
    quantity: &'static str,
    value: f64,
    unit: &'static str,
    allowed: &'static str,
    remedy: &'static str,
) -> DeviceError {
    DeviceError::OutOfRange {
        wire: spec.name.clone(),
        place: spec.place.clone(),
        quantity,
        value,
        unit,
        allowed,
        remedy,
    }
}

/// Checks a catheter's description.
pub(super) fn catheter(spec: &CatheterSpec) -> Result<(), DeviceError> {
    let refuse = |quantity, value: f64, unit, allowed: String, remedy| {
        Err(DeviceError::Catheter {
            catheter: spec.name.clone(),
            place: spec.place.clone(),
            quantity,
            value,
            unit,
            allowed,
            remedy,
        })
    };
    let above_zero = || "a finite number above 0".to_owned();
    let sign = "check the sign and the unit";
    let positive = |value: f64| value > 0.0 && value.is_finite();
    if !positive(spec.inner_diameter_mm) {
        return refuse(
            "inner diameter",
            spec.inner_diameter_mm,
            "mm",
            above_zero(),
            sign,
        );
    }
    let outer = spec.outer_diameter_mm;
    if !(outer > spec.inner_diameter_mm && outer.is_finite()) {
        let allowed = format!(
            "more than the inner diameter of {} mm",
            spec.inner_diameter_mm
        );
        return refuse(
            "outer diameter",
            outer,
            "mm",
            allowed,
            "exchange the two diameters, or correct one",
        );
    }
    if !positive(spec.torsion_ratio) {
        return refuse(
            "torsion ratio GJ/EI",
            spec.torsion_ratio,
            "",
            above_zero(),
            sign,
        );
    }
    let frictions = [
        ("friction", spec.friction),
        ("friction inside", spec.friction_inside),
    ];
    for (quantity, friction) in frictions {
        if !FRICTION.contains(&friction) {
            let remedy = "give a Coulomb coefficient";
            return refuse(quantity, friction, "", FRICTION_ALLOWED.to_owned(), remedy);
        }
    }
    let mut before = -f64::EPSILON;
    for &(station, stiffness) in &spec.stiffness {
        if !(station > before && station.is_finite()) {
            let allowed = "rising distances from the tip, from 0 on".to_owned();
            return refuse(
                "a station of the stiffness list",
                station,
                "mm",
                allowed,
                "sort the list",
            );
        }
        if !positive(stiffness) {
            return refuse("bending stiffness", stiffness, "mN mm²", above_zero(), sign);
        }
        before = station;
    }
    if spec.stiffness.is_empty() {
        let remedy = "give a pair of distance from the tip and value";
        return refuse(
            "number of stiffness values",
            0.0,
            "",
            "one or more".to_owned(),
            remedy,
        );
    }
    let Some(tip) = spec.tip else {
        return Ok(());
    };
    if !positive(tip.length_mm) {
        return refuse(
            "length of the tip's bend",
            tip.length_mm,
            "mm",
            above_zero(),
            sign,
        );
    }
    let (low, high) = tip.range_rad.unwrap_or((tip.angle_rad, tip.angle_rad));
    if !(low <= tip.angle_rad && tip.angle_rad <= high && low.is_finite() && high.is_finite()) {
        let allowed = format!("{low} to {high} rad");
        let remedy = "give an angle within the steerable range";
        return refuse("angle of the tip", tip.angle_rad, "rad", allowed, remedy);
    }
    let widest = BendSpec {
        from_tip_mm: 0.0,
        length_mm: tip.length_mm,
        angle_rad: low.abs().max(high.abs()),
        plane_rad: 0.0,
    };
    let tightest = ShapedTip::new([&widest]).tightest_radius_mm();
    if tightest <= 0.5 * outer {
        let allowed = format!("more than the catheter's radius of {} mm", 0.5 * outer);
        let remedy = "lengthen the bend or lessen its angle";
        return refuse("radius of the tip's bend", tightest, "mm", allowed, remedy);
    }
    Ok(())
}
