//! Which inputs of a scenario lie in the ranges in which the checks compare with values from outside.

use serde::Serialize;

use super::check::Checked;
use super::covered::{Covered, Input};
use crate::device::{Catheter, Wire};
use crate::trial::Prepared;
use crate::trial::result::TrialRow;

/// Where a range of a scenario lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Where {
    /// Between the smallest and the largest value of the checks.
    Inside,
    /// Reaches beyond them.
    Outside,
    /// No check says at which value it compares.
    Unchecked,
}

impl Where {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Outside => "outside",
            Self::Unchecked => "not checked",
        }
    }
}

/// One input of a scenario against the checks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scope {
    /// The input.
    pub input: Input,
    /// Its smallest value in the scenario.
    pub low: f64,
    /// Its largest value.
    pub high: f64,
    /// Smallest and largest value at which a check compares.
    pub checked: Option<[f64; 2]>,
    /// Names of the checks.
    pub checks: Vec<&'static str>,
    /// Where it lies.
    pub lies: Where,
}

/// Rounding, as a share of a value.
const ROUNDING: f64 = 1e-9;

/// The inputs of a scenario, of which `rows` are trials, against those of the checks that hold.
#[must_use]
pub fn scopes(prepared: &Prepared, rows: &[Vec<TrialRow>], checks: &[Checked]) -> Vec<Scope> {
    let own = values(prepared, rows);
    let scope = |covered: &Covered| {
        let with: Vec<(&'static str, Covered)> = checks
            .iter()
            .filter(|check| check.holds())
            .flat_map(|check| check.covers.iter().map(|range| (check.name, *range)))
            .filter(|(_, range)| range.input == covered.input)
            .collect();
        let ends: Vec<f64> = with.iter().flat_map(|(_, r)| [r.low, r.high]).collect();
        let all = (!ends.is_empty()).then(|| Covered::over(covered.input, &ends));
        let lies = match all {
            None => Where::Unchecked,
            Some(all)
                if covered.low >= all.low * (1.0 - ROUNDING)
                    && covered.high <= all.high * (1.0 + ROUNDING) =>
            {
                Where::Inside
            }
            Some(_) => Where::Outside,
        };
        let mut checks: Vec<&'static str> = with.iter().map(|(name, _)| *name).collect();
        checks.dedup();
        Scope {
            input: covered.input,
            low: covered.low,
            high: covered.high,
            checked: all.map(|all| [all.low, all.high]),
            checks,
            lies,
        }
    };
    own.iter().map(scope).collect()
}

/// The inputs as the scenario has them.
fn values(prepared: &Prepared, rows: &[Vec<TrialRow>]) -> Vec<Covered> {
    let scenario = prepared.scenario();
    let way = Way::of(prepared);
    let mut all = vec![
        Covered::over(Input::TakeOff, &[way.take_off_deg]),
        Covered::over(Input::Turn, &[way.turn_deg]),
    ];
    // Draws of a log-normal factor: two standard deviations to either side.
    let draws = (2.0 * scenario.variation.friction_cv).exp();
    let frictions = scenario.wires.iter().map(|wire| wire.friction);
    let frictions = frictions.chain(scenario.catheters.iter().map(|c| c.friction));
    let frictions: Vec<f64> = frictions.flat_map(|f| [f / draws, f * draws]).collect();
    all.push(Covered::over(Input::Friction, &frictions));
    let (mut stiffness, mut ratios) = (Vec::new(), Vec::new());
    let catheters = prepared.catheters().iter();
    let along = |at: &dyn Fn(f64) -> f64| -> Vec<f64> {
        (0..=way.parts)
            .map(|k| at(way.length_mm * f64::from(k) / f64::from(way.parts)))
            .collect()
    };
    let wires = prepared
        .wires()
        .iter()
        .map(|w| along(&|s| w.bending_stiffness(s)));
    for values in wires.chain(catheters.map(|c| along(&|s| c.bending_stiffness(s)))) {
        let range = Covered::over(Input::Stiffness, &values);
        stiffness.extend([range.low, range.high]);
        ratios.push(range.high / range.low);
    }
    all.push(Covered::over(Input::Stiffness, &stiffness));
    all.push(Covered::over(Input::StiffnessRatio, &ratios));
    if !way.clearances.is_empty() {
        all.push(Covered::over(Input::Clearance, &way.clearances));
    }
    all.push(Covered::over(Input::Curvature, &[way.curvature]));
    all.push(Covered::over(Input::Length, &[way.length_mm]));
    let wall = scenario.vessel.wall.stiffness_mn_per_mm2();
    all.push(Covered::over(Input::Wall, &[wall]));
    if let Some(bed) = &scenario.bed {
        all.push(Covered::over(Input::Bed, &[bed.across_mn_per_mm2]));
    }
    let strains = rows.iter().flatten().map(|row| row.peak_strain_ratio);
    let strains: Vec<f64> = strains.filter(|strain| strain.is_finite()).collect();
    if !strains.is_empty() {
        all.push(Covered::over(Input::Strain, &strains));
    }
    all
}

/// The way from the guide to the target.
struct Way {
    /// Take-off of the target in degrees; 0 for an inlet.
    take_off_deg: f64,
    /// Turns of the axes before that, added up, in degrees.
    turn_deg: f64,
    /// Largest curvature in 1/mm.
    curvature: f64,
    /// Play of the thinnest and of the thickest device over the radius of the bend, where there is one.
    clearances: Vec<f64>,
    /// Length in mm to where the tip counts as having reached the target.
    length_mm: f64,
    /// Parts into which it is cut to look at it.
    parts: u32,
}

/// Largest radius in mm that counts as a bend.
const BEND_MM: f64 = 50.0;
/// Distance in mm of the places on an axis that are looked at.
const LOOKED_MM: f64 = 0.5;

impl Way {
    fn of(prepared: &Prepared) -> Self {
        let (scenario, tree) = (prepared.scenario(), prepared.tree());
        let radii: Vec<f64> = (prepared.wires().iter().map(Wire::radius_mm))
            .chain(prepared.catheters().iter().map(Catheter::radius_mm))
            .collect();
        let devices = Covered::over(Input::Clearance, &radii);
        let target = prepared.target_branch();
        let reaching = prepared.reaching();
        let mut way = Self {
            take_off_deg: tree.branches()[target].take_off_rad.to_degrees(),
            turn_deg: 0.0,
            curvature: 0.0,
            clearances: Vec::new(),
            length_mm: 0.0,
            parts: 200,
        };
        // From the target back to the branch in which the guide ends.
        let (mut at, mut to) = (
            target,
            reaching.mouth_mm + reaching.beyond_mm + reaching.hold_mm,
        );
        loop {
            let branch = &tree.branches()[at];
            let holds_guide = branch.name == scenario.guide.branch;
            let from = if holds_guide {
                scenario.guide.station_mm
            } else {
                0.0
            };
            let mut station = from;
            while station < to {
                let curvature = branch.centreline.curvature(station).norm();
                way.curvature = way.curvature.max(curvature);
                if at != target {
                    way.turn_deg += (curvature * LOOKED_MM.min(to - station)).to_degrees();
                }
                if curvature * BEND_MM >= 1.0 {
                    let lumen = branch.centreline.radius(station);
                    let plays = [lumen - devices.low, lumen - devices.high];
                    way.clearances.extend(plays.map(|play| play * curvature));
                }
                station += LOOKED_MM;
            }
            way.length_mm += (to - from).max(0.0);
            if at != target && !holds_guide {
                way.turn_deg += branch.take_off_rad.to_degrees();
            }
            match branch.parent {
                Some((parent, station)) if !holds_guide => (at, to) = (parent, station),
                _ => return way,
            }
        }
    }
}
