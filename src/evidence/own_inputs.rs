//! The inputs of a scenario that decide whether a check speaks for it.

use super::covered::{Covered, Input};
use crate::device::{Catheter, Wire};
use crate::scenario::model::{BendSpec, EndCondition, Scenario};
use crate::trial::Prepared;
use crate::trial::result::TrialRow;
use crate::units::mn_to_gram_force;

/// The inputs as the scenario has them, of which `rows` are trials. What is drawn is taken two standard deviations to
/// either side.
pub(super) fn own_inputs(prepared: &Prepared, rows: &[Vec<TrialRow>]) -> Vec<Covered> {
    let scenario = prepared.scenario();
    let way = Way::of(prepared);
    let mut all = vec![
        Covered::over(Input::TakeOff, &[way.take_off_deg]),
        Covered::over(Input::Turn, &[way.turn_deg]),
    ];
    all.extend(bends(scenario));
    let tips = prepared.wires().iter();
    let tip_loads_gf =
        tips.map(|wire| mn_to_gram_force(wire.tip_load_mn(EndCondition::FixedPinned)));
    some(
        &mut all,
        Input::TipLoad,
        &tip_loads_gf.collect::<Vec<f64>>(),
    );
    let draws = (2.0 * scenario.variation.friction_cv).exp();
    let frictions = scenario.wires.iter().map(|wire| wire.friction);
    let frictions = frictions.chain(scenario.catheters.iter().map(|c| c.friction));
    let frictions: Vec<f64> = frictions.flat_map(|f| [f / draws, f * draws]).collect();
    some(&mut all, Input::Friction, &frictions);
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
    some(&mut all, Input::Stiffness, &stiffness);
    some(&mut all, Input::StiffnessRatio, &ratios);
    let radii = radii(prepared);
    let diameters: Vec<f64> = radii.iter().map(|radius| 2.0 * radius).collect();
    some(&mut all, Input::Device, &diameters);
    let drawn = (2.0 * scenario.variation.diameter_cv).exp();
    let lumens = way.lumens.iter().flat_map(|d| [d / drawn, d * drawn]);
    some(&mut all, Input::Lumen, &lumens.collect::<Vec<f64>>());
    some(&mut all, Input::Clearance, &way.clearances);
    all.push(Covered::over(Input::Curvature, &[way.curvature]));
    all.push(Covered::over(Input::Length, &[way.length_mm]));
    let wall = scenario.vessel.wall.stiffness_mn_per_mm2();
    all.push(Covered::over(Input::Wall, &[wall]));
    if let Some(bed) = &scenario.bed {
        all.push(Covered::over(Input::Bed, &[bed.across_mn_per_mm2]));
    }
    let strains = rows.iter().flatten().map(|row| row.peak_strain_ratio);
    let strains: Vec<f64> = strains.filter(|strain| strain.is_finite()).collect();
    some(&mut all, Input::Strain, &strains);
    all
}

/// Adds the range of an input that the scenario has at all.
fn some(all: &mut Vec<Covered>, input: Input, values: &[f64]) {
    if !values.is_empty() {
        all.push(Covered::over(input, values));
    }
}

/// Angles in degrees and radii in mm of the bends on tips, of wires and of catheters.
fn bends(scenario: &Scenario) -> Vec<Covered> {
    let cv = 2.0 * scenario.variation.bend_cv;
    let shaped = scenario.wires.iter();
    let shaped = shaped.flat_map(|wire| wire.tip.primary.iter().chain(&wire.tip.secondary));
    let bend = |bend: &BendSpec| (bend.length_mm, bend.angle_rad);
    let preformed = scenario.catheters.iter().filter_map(|c| c.tip);
    let preformed = preformed.map(|tip| (tip.length_mm, tip.angle_rad));
    let (mut angles, mut radii) = (Vec::new(), Vec::new());
    for (length_mm, angle_rad) in shaped.map(bend).chain(preformed) {
        let angle = angle_rad.abs();
        for angle in [angle * (1.0 - cv), angle * (1.0 + cv)] {
            if angle > 0.0 {
                angles.push(angle.to_degrees());
                radii.push(length_mm / angle);
            }
        }
    }
    let mut all = Vec::new();
    some(&mut all, Input::TipBend, &angles);
    some(&mut all, Input::TipBendRadius, &radii);
    all
}

/// Radii of all devices in mm.
fn radii(prepared: &Prepared) -> Vec<f64> {
    (prepared.wires().iter().map(Wire::radius_mm))
        .chain(prepared.catheters().iter().map(Catheter::radius_mm))
        .collect()
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
    /// Diameters of the lumen in mm.
    lumens: Vec<f64>,
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
        let devices = Covered::over(Input::Clearance, &radii(prepared));
        let target = prepared.target_branch();
        let mut way = Self {
            take_off_deg: tree.branches()[target].take_off_rad.to_degrees(),
            turn_deg: 0.0,
            curvature: 0.0,
            clearances: Vec::new(),
            lumens: Vec::new(),
            length_mm: 0.0,
            parts: 200,
        };
        // From the target back to the branch in which the guide ends.
        let (mut at, mut to) = (target, prepared.reaching().room_mm());
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
                let lumen = branch.centreline.radius(station);
                way.lumens.push(2.0 * lumen);
                if curvature * BEND_MM >= 1.0 {
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
