//! Drawn anatomies: diameters by a branching law, bends to a stated mean curvature, and a tree of
//! points spread about its published mean.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use toml::{Table, Value};

use crate::scenario::model::PieceSpec;
use crate::scenario::sweep::model::{
    AnatomySpec, BranchingLaw, BranchingSpec, CurvatureSpec, number,
};
use crate::vessel::mean_curvature;

pub use super::spread::Drawer;

/// Random numbers of one drawn anatomy; `stream` keeps what is drawn for different purposes apart.
pub(super) fn generator(seed: u64, draw: u64, stream: u64) -> ChaCha8Rng {
    /// Keeps the draws of anatomies apart from those of trials under the same seed.
    const ANATOMIES: u64 = 0x616e_6174_6f6d_7973;
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ ANATOMIES);
    rng.set_stream((draw << 8) | stream);
    rng
}

/// Sets a parameter whose path begins with `anatomy`.
///
/// # Errors
///
/// In words, where there is no such path or the value is not allowed.
pub fn set(
    anatomy: &mut AnatomySpec,
    draw: &mut u64,
    keys: &[&str],
    value: &Value,
) -> Result<(), String> {
    let value = number(value).ok_or("allowed is a number")?;
    match keys {
        ["anatomy", "draw"] => {
            if !(0.0..=1e9).contains(&value) || value.fract() != 0.0 {
                return Err(format!(
                    "anatomy.draw is {value}, allowed is a whole number from 0"
                ));
            }
            *draw = whole(value);
            Ok(())
        }
        [
            "anatomy",
            "curvature",
            branch,
            field @ ("mean_per_mm" | "bend_mm"),
        ] => {
            let mut curvatures = anatomy.curvatures.iter_mut();
            let Some(curvature) = curvatures.find(|c| c.branch == *branch) else {
                return Err(format!(
                    "there is no [[anatomy.curvature]] for branch {branch}"
                ));
            };
            let most = if *field == "bend_mm" { 1e4 } else { 0.5 };
            if !(value > 0.0 && value <= most) {
                return Err(format!(
                    "{field} is {value}, allowed is above 0, up to {most}"
                ));
            }
            match *field {
                "bend_mm" => curvature.bend_mm = value,
                _ => curvature.mean_per_mm = value,
            }
            Ok(())
        }
        ["anatomy", "spread", "factor"] => match &mut anatomy.spread {
            Some(spread) if (0.0..=10.0).contains(&value) => {
                spread.factor = value;
                Ok(())
            }
            Some(_) => Err(format!("factor is {value}, allowed is 0 to 10")),
            None => Err("there is no [anatomy.spread]".into()),
        },
        _ => Err(
            "paths below anatomy are anatomy.draw, anatomy.curvature.<branch>.mean_per_mm, \
             anatomy.curvature.<branch>.bend_mm and anatomy.spread.factor"
                .into(),
        ),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a whole number from 0 to a thousand million"
)]
fn whole(value: f64) -> u64 {
    value as u64
}

/// Applies branching laws and curvatures to a scenario.
///
/// # Errors
///
/// In words, where a branch is missing or a law cannot hold.
pub fn shape(
    document: &mut Value,
    anatomy: &AnatomySpec,
    seed: u64,
    draw: u64,
) -> Result<(), String> {
    for (stream, curvature) in (1..).zip(&anatomy.curvatures) {
        let mut rng = generator(seed, draw, stream);
        bend(branch(document, &curvature.branch)?, curvature, &mut rng)?;
    }
    for branching in &anatomy.branchings {
        narrow(document, branching)?;
    }
    Ok(())
}

fn branch<'d>(document: &'d mut Value, name: &str) -> Result<&'d mut Table, String> {
    let branches = document
        .get_mut("vessel")
        .and_then(|vessel| vessel.get_mut("branch"))
        .and_then(Value::as_array_mut);
    let called = |branch: &&mut Value| branch.get("name").and_then(Value::as_str) == Some(name);
    branches
        .and_then(|branches| branches.iter_mut().find(called))
        .and_then(Value::as_table_mut)
        .ok_or_else(|| format!("there is no branch {name} in the vessel"))
}

fn field(table: &Table, field: &str, branch: &str) -> Result<f64, String> {
    let value = table.get(field).and_then(number);
    value.ok_or_else(|| format!("branch {branch} needs {field} to be drawn from"))
}

/// Diameter behind a branching, from the one before it and that of the side branch.
///
/// Finet: D0 = 0.678 (D1 + D2), G. Finet et al., `EuroIntervention` 3:490-498, 2008. Huo and
/// Kassab: D0^(7/3) = D1^(7/3) + D2^(7/3), Y. Huo and G. S. Kassab, `EuroIntervention`
/// 7:1310-1316, 2012. Murray: exponent 3, Proc Natl Acad Sci 12:207-214, 1926. Area: exponent 2.
///
/// Returns `None` where the side branch takes all, so that nothing is left.
#[must_use]
pub fn behind(law: BranchingLaw, before_mm: f64, side_mm: f64) -> Option<f64> {
    let by_exponent = |exponent: f64| {
        (before_mm.powf(exponent) - side_mm.powf(exponent))
            .max(0.0)
            .powf(1.0 / exponent)
    };
    let behind = match law {
        BranchingLaw::Finet => before_mm / 0.678 - side_mm,
        BranchingLaw::HuoKassab => by_exponent(7.0 / 3.0),
        BranchingLaw::Murray => by_exponent(3.0),
        BranchingLaw::Area => by_exponent(2.0),
    };
    (behind > 0.0).then_some(behind)
}

/// Gives the trunk its diameter behind the branching.
fn narrow(document: &mut Value, spec: &BranchingSpec) -> Result<(), String> {
    let side = branch(document, &spec.side)?;
    let side_mm = field(side, "diameter_mm", &spec.side)?;
    let at_mm = field(side, "at_mm", &spec.side)?;
    let trunk = branch(document, &spec.trunk)?;
    let before_mm = field(trunk, "diameter_mm", &spec.trunk)?;
    let behind_mm = behind(spec.law, before_mm, side_mm).ok_or_else(|| {
        format!(
            "by the branching law a side branch of {side_mm:.3} mm leaves nothing of a trunk of \
             {before_mm:.3} mm"
        )
    })?;
    let half = 0.5 * spec.over_mm.min(2.0 * at_mm);
    let pair = |station: f64, diameter: f64| {
        Value::Array(vec![Value::Float(station), Value::Float(diameter)])
    };
    let profile = vec![
        pair((at_mm - half).max(0.0), before_mm),
        pair(at_mm + half, behind_mm),
    ];
    trunk.remove("diameter_mm");
    trunk.insert("diameters_mm".into(), Value::Array(profile));
    Ok(())
}

/// Longest branch in mm that is drawn.
const LONGEST_MM: f64 = 10_000.0;
/// Most bends of a branch that is drawn.
const MOST_BENDS: f64 = 1000.0;

/// Replaces the pieces of a branch by a chain of bends to and fro whose mean curvature is the
/// stated one. Their share of the turn varies by half up and down, their planes by 60 degrees;
/// both are ours. Between two bends the path's curvature runs smoothly from one to the other; all
/// bends are made sharper by what the mean loses there.
fn bend(branch: &mut Table, spec: &CurvatureSpec, rng: &mut ChaCha8Rng) -> Result<(), String> {
    let length_mm: f64 = pieces_length(branch)
        .ok_or_else(|| format!("branch {} must be built from pieces", spec.branch))?;
    let count = (length_mm / spec.bend_mm).round().max(1.0);
    if !(length_mm <= LONGEST_MM && count <= MOST_BENDS) {
        return Err(format!(
            "branch {} of {length_mm:.3e} mm would have {count:.3e} bends of {} mm; allowed are \
             {LONGEST_MM} mm and {MOST_BENDS} bends: give a larger bend_mm",
            spec.branch, spec.bend_mm
        ));
    }
    let bend_mm = length_mm / count;
    let mut shares = Vec::new();
    while (shares.len() as f64) < count {
        shares.push(rng.random_range(0.5..1.5_f64));
    }
    let mean = shares.iter().sum::<f64>() / count;
    let first_deg = rng.random_range(-180.0..180.0_f64);
    let mut bends = Vec::new();
    for (index, share) in shares.iter().enumerate() {
        let curvature = spec.mean_per_mm * share / mean;
        let back = if index % 2 == 0 { 0.0 } else { 180.0 };
        let plane = first_deg + back + rng.random_range(-60.0..60.0_f64);
        let plane = (plane + 180.0).rem_euclid(360.0) - 180.0;
        bends.push((curvature, plane));
    }
    let arcs: Vec<PieceSpec> = bends
        .iter()
        .map(|&(curvature, plane)| PieceSpec::Arc {
            radius_mm: 1.0 / curvature,
            angle_rad: bend_mm * curvature,
            plane_rad: plane.to_radians(),
        })
        .collect();
    let sharper = spec.mean_per_mm / mean_curvature(&arcs);
    let mut pieces = Vec::new();
    for (curvature, plane) in bends {
        let curvature = sharper * curvature;
        let mut piece = Table::new();
        piece.insert("shape".into(), Value::String("arc".into()));
        piece.insert("radius_mm".into(), Value::Float(1.0 / curvature));
        let angle = (bend_mm * curvature).to_degrees();
        piece.insert("angle_deg".into(), Value::Float(angle));
        piece.insert("plane_deg".into(), Value::Float(plane));
        pieces.push(Value::Table(piece));
    }
    branch.insert("pieces".into(), Value::Array(pieces));
    Ok(())
}

/// Length of straight pieces, arcs and S-bends together in mm.
fn pieces_length(branch: &Table) -> Option<f64> {
    let pieces = branch.get("pieces")?.as_array()?;
    let length = |piece: &Value| {
        let get = |field: &str| piece.get(field).and_then(number);
        let arc = || Some(get("radius_mm")? * get("angle_deg")?.to_radians());
        match piece.get("shape")?.as_str()? {
            "straight" => get("length_mm"),
            "arc" => arc(),
            "s-bend" => Some(2.0 * arc()?),
            "helix" => {
                let round = std::f64::consts::TAU * get("radius_mm")?;
                Some(get("turns")? * round.hypot(get("pitch_mm")?))
            }
            _ => None,
        }
    };
    pieces.iter().map(length).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Daughters of 3.7 and 3.4 mm: parents of 4.81 (Finet), 4.78 (Huo and Kassab), 4.48
    /// (Murray) and 5.02 mm (area), computed by hand from the published laws.
    #[test]
    fn branching_laws_give_the_worked_diameters() {
        for (law, parent) in [
            (BranchingLaw::Finet, 4.81),
            (BranchingLaw::HuoKassab, 4.78),
            (BranchingLaw::Murray, 4.48),
            (BranchingLaw::Area, 5.02),
        ] {
            let behind = behind(law, parent, 3.4).unwrap();
            // A parent rounded to 0.005 mm moves the daughter by up to 0.01 mm.
            assert_abs_diff_eq!(behind, 3.7, epsilon = 0.01);
        }
    }

    /// Equal daughters d: parent over d is 1.356, 1.346, 1.260, 1.414.
    #[test]
    fn equal_daughters_have_the_known_ratio() {
        for (law, ratio) in [
            (BranchingLaw::Finet, 1.356),
            (BranchingLaw::HuoKassab, 2_f64.powf(3.0 / 7.0)),
            (BranchingLaw::Murray, 2_f64.powf(1.0 / 3.0)),
            (BranchingLaw::Area, 2_f64.sqrt()),
        ] {
            assert_abs_diff_eq!(behind(law, ratio, 1.0).unwrap(), 1.0, epsilon = 1e-3);
        }
    }

    #[test]
    fn a_side_branch_as_wide_as_the_trunk_leaves_nothing() {
        assert!(behind(BranchingLaw::Murray, 3.0, 3.0).is_none());
        assert!(behind(BranchingLaw::Finet, 3.0, 4.5).is_none());
    }
}
