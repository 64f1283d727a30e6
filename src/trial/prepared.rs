//! A scenario made ready to run: devices, vessel, strategies.

use std::sync::Arc;

use super::built_vessel::BuiltVessel;
use super::mouths::Mouths;
use super::moving::Moving;
use super::reaching::Reaching;
use super::setup::SetupError;
use super::technique_check;
use crate::device::{Catheter, Wire};
use crate::projection::{self, Beam};
use crate::scenario::Warning;
use crate::scenario::model::{GuideAimSpec, Place, Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::solve::{GuideTip, StepSettings};
use crate::technique::Loading;
use crate::vessel::{Fold, Lumen, Onward, SurfaceLumen, Tree, WithGuide};

/// A technique with a wire.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Strategy {
    /// Name in tables: technique and wire.
    pub name: String,
    /// The same for file names: letters, digits and dashes.
    pub slug: String,
    /// Index of the wire.
    pub wire: usize,
    /// Index of the technique.
    pub technique: usize,
}

/// All strategies of a scenario: every technique with every wire, techniques first.
#[must_use]
pub fn strategies(scenario: &Scenario) -> Vec<Strategy> {
    let mut out: Vec<Strategy> = Vec::new();
    for (technique, t) in scenario.techniques.iter().enumerate() {
        for (wire, w) in scenario.wires.iter().enumerate() {
            let name = format!("{}{}, {}", t.name, by_hand(t), w.name);
            let mut slug = slug(&name);
            while out.iter().any(|s| s.slug == slug) {
                slug.push('x');
            }
            out.push(Strategy {
                name,
                slug,
                wire,
                technique,
            });
        }
    }
    out
}

/// What marks a technique that a person made, where its name does not say so.
fn by_hand(technique: &TechniqueSpec) -> &'static str {
    let is_said = technique.name.to_lowercase().contains("by hand");
    if technique.plan.is_by_hand() && !is_said {
        " (by hand)"
    } else {
        ""
    }
}

pub(super) fn slug(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars() {
        if c.is_ascii_alphanumeric() || c == '.' {
            out.push(c.to_ascii_lowercase());
        } else if !out.ends_with('-') {
            out.push('-');
        }
    }
    out.trim_matches(|c| c == '-' || c == '.').to_owned()
}

/// A scenario with its vessel and devices built.
#[derive(Debug, Clone)]
pub struct Prepared {
    scenario: Scenario,
    tree: Tree,
    /// The wall, where it is a surface from a file.
    surface: Option<SurfaceLumen>,
    /// Bends of a vessel from a file that are tighter than its lumen allows.
    folds: Vec<Fold>,
    wires: Vec<Wire>,
    catheters: Vec<Catheter>,
    /// The tree that the operator believes in, where that is another.
    believed: Option<Tree>,
    target: usize,
    reaching: Reaching,
    guide_tip: GuideTip,
    /// How the vessel moves by itself, if it does.
    moving: Option<Moving>,
    /// Where mouths end, once trials have looked for them.
    mouths: Arc<Mouths>,
}

impl Prepared {
    /// Builds vessel and devices.
    ///
    /// # Errors
    /// [`SetupError`], with the place in the scenario.
    pub fn new(scenario: &Scenario) -> Result<Self, SetupError> {
        Self::in_vessel(scenario, &BuiltVessel::new(&scenario.vessel)?)
    }

    /// As [`new`](Self::new), in a vessel that was built from the scenario's description of it.
    ///
    /// # Errors
    /// As [`new`](Self::new).
    pub fn in_vessel(scenario: &Scenario, vessel: &BuiltVessel) -> Result<Self, SetupError> {
        let BuiltVessel {
            tree,
            folds,
            surface,
            ..
        } = vessel.clone();
        let wires = scenario
            .wires
            .iter()
            .map(Wire::from_spec)
            .collect::<Result<Vec<_>, _>>()?;
        let catheters = scenario
            .catheters
            .iter()
            .map(Catheter::from_spec)
            .collect::<Result<Vec<_>, _>>()?;
        let index = |name: &str, place: Place| {
            tree.branch_index(name).ok_or_else(|| SetupError::NoBranch {
                name: name.to_owned(),
                known: tree.names(),
                place,
            })
        };
        let target = index(&scenario.target.branch, scenario.target.place.clone())?;
        let guide = &scenario.guide;
        let guide_index = index(&guide.branch, guide.place.clone())?;
        let guide_branch = &tree.branches()[guide_index];
        let length_mm = guide_branch.centreline.length_mm();
        if !(0.0..=length_mm).contains(&guide.station_mm) {
            return Err(SetupError::GuideOffBranch {
                station_mm: guide.station_mm,
                branch: guide.branch.clone(),
                length_mm,
                place: guide.place.clone(),
            });
        }
        let guide_tip = GuideTip {
            exit: guide_branch.centreline.position(guide.station_mm),
            axis: guide_branch.centreline.tangent(guide.station_mm),
            backup: guide.backup_stiffness_mn_per_mm,
        };
        let beliefs = scenario.view.as_ref().map_or(&[][..], |v| &v.beliefs);
        let believed = if beliefs.is_empty() {
            None
        } else {
            Some(projection::believed(&scenario.vessel, &tree, beliefs)?)
        };
        let lumen: &dyn Lumen = match &surface {
            Some(surface) => surface,
            None => &tree,
        };
        let reaching = Reaching::of(&scenario.target, &tree, lumen, target);
        let mut prepared = Self {
            scenario: scenario.clone(),
            tree,
            surface,
            folds,
            believed,
            wires,
            catheters,
            target,
            reaching,
            guide_tip,
            moving: None,
            mouths: Arc::default(),
        };
        prepared.check_bed()?;
        prepared.moving = prepared.movement()?;
        prepared.check_room()?;
        prepared.check_fit(guide_index)?;
        prepared.check_obstacles()?;
        for technique in &scenario.techniques {
            technique_check::check(&prepared, technique).map_err(|(fault, place)| {
                SetupError::Technique {
                    technique: technique.name.clone(),
                    fault,
                    place,
                }
            })?;
        }
        Ok(prepared)
    }

    /// Refuses a vessel that is to give way where that is not known how.
    fn check_bed(&self) -> Result<(), SetupError> {
        let Some(bed) = &self.scenario.bed else {
            return Ok(());
        };
        let has_port =
            |t: &&TechniqueSpec| matches!(t.plan.needs().loading, Loading::SidePort { .. });
        let has_balloon = |t: &&TechniqueSpec| t.aids.balloon.is_some();
        let reason = if self.surface.is_some() {
            "a wall that is a surface, or has a fold, cannot: its axes alone move".to_owned()
        } else if let Some(technique) = self.scenario.techniques.iter().find(has_port) {
            format!(
                "technique {:?} cannot be tried in it: two wires side by side are not solved together \
                 with the vessel",
                technique.name
            )
        } else if let Some(obstacle) = self.scenario.obstacles.first() {
            let branch = &obstacle.branch;
            format!("the obstacle in {branch:?} would stay where it is")
        } else if let Some(technique) = self.scenario.techniques.iter().find(has_balloon) {
            let name = &technique.name;
            format!("the balloon of technique {name:?} would stay where it is")
        } else {
            return Ok(());
        };
        Err(SetupError::Bed {
            reason,
            place: bed.place.clone(),
        })
    }

    /// How the vessel moves by itself, if it does.
    pub(super) fn moves(&self) -> Option<&Moving> {
        self.moving.as_ref()
    }

    /// Bytes of memory that the vessel takes, about.
    #[must_use]
    pub fn vessel_bytes(&self) -> usize {
        let surface = self.surface.as_ref().map_or(0, SurfaceLumen::grid_bytes);
        let believed = self.believed.as_ref().map_or(0, Tree::bytes);
        self.tree.bytes() + believed + surface
    }

    /// The scenario.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// The vessel.
    #[must_use]
    pub fn tree(&self) -> &Tree {
        &self.tree
    }

    /// Bends of a vessel from a file that are tighter than its lumen allows, in words.
    #[must_use]
    pub fn folds(&self) -> Vec<Warning> {
        let of = |fold: &Fold| {
            let wall = if self.scenario.vessel.surface.is_some() {
                "the wall is that of the surface"
            } else {
                "the lumen is the union of the balls along the centrelines"
            };
            Warning {
                place: self.scenario.vessel.branches[fold.branch].place.clone(),
                message: format!(
                    "{} bends with a radius of {:.2} mm at {:.1} mm, its lumen radius there is \
                     {:.2} mm: a tube would have a fold, {wall}",
                    self.tree.branches()[fold.branch].name,
                    fold.bend_mm,
                    fold.station_mm,
                    fold.lumen_mm
                ),
            }
        };
        self.folds.iter().map(of).collect()
    }

    /// The wall, where it is a surface from a file; else it is that of the tree.
    #[must_use]
    pub fn surface(&self) -> Option<&SurfaceLumen> {
        self.surface.as_ref()
    }

    /// The tree that the operator believes in, where that is another than the vessel.
    #[must_use]
    pub fn believed(&self) -> Option<&Tree> {
        self.believed.as_ref()
    }

    /// The beam of a technique's sight, in the scene; `None` where it sees all, or where the
    /// scene lies in no patient.
    #[must_use]
    pub fn beam(&self, sight: SightSpec) -> Option<Beam> {
        match (sight, &self.scenario.view) {
            (SightSpec::Projected(angles), Some(view)) => {
                Some(Beam::in_scene(&angles, &view.frame.to_patient))
            }
            _ => None,
        }
    }

    /// Path from the inlet to the guide's end in mm.
    #[must_use]
    pub fn guide_progress_mm(&self) -> f64 {
        let guide = &self.scenario.guide;
        self.tree
            .branch_index(&guide.branch)
            .map_or(0.0, |b| self.tree.progress_mm(b, guide.station_mm))
    }

    /// The wires, in the scenario's order.
    #[must_use]
    pub fn wires(&self) -> &[Wire] {
        &self.wires
    }

    /// The support catheters, in the scenario's order.
    #[must_use]
    pub fn catheters(&self) -> &[Catheter] {
        &self.catheters
    }

    /// Index of the target branch.
    #[must_use]
    pub fn target_branch(&self) -> usize {
        self.target
    }

    /// What counts as having reached the target.
    #[must_use]
    pub fn reaching(&self) -> &Reaching {
        &self.reaching
    }

    /// Where mouths end, as far as trials have looked for them.
    pub(super) fn mouths(&self) -> &Mouths {
        &self.mouths
    }

    /// The wall: that of the surface from a file, or of the tree.
    #[must_use]
    pub fn lumen(&self) -> &dyn Lumen {
        match &self.surface {
            Some(surface) => surface,
            None => &self.tree,
        }
    }

    /// The guide's end.
    #[must_use]
    pub fn guide_tip(&self) -> GuideTip {
        self.guide_tip
    }

    /// The lumen of a vessel together with that of the guide.
    #[must_use]
    pub fn with_guide<'a>(&self, lumen: &'a dyn Lumen) -> WithGuide<'a> {
        let radius_mm = 0.5 * self.scenario.guide.inner_diameter_mm;
        let length_mm = self.scenario.target.max_fed_mm;
        WithGuide::new(
            lumen,
            self.guide_tip.exit,
            self.guide_tip.axis,
            radius_mm,
            length_mm,
        )
    }

    /// Least and greatest diameter in mm of the lumen along the balloon of a technique.
    #[must_use]
    pub fn lumen_at_balloon(&self, technique: &TechniqueSpec) -> Option<(f64, f64)> {
        const STATIONS: u32 = 50;
        let balloon = technique.aids.balloon.as_ref()?;
        let (parent, station) = self.tree.branches()[self.target].parent?;
        let onward = Onward::new(&self.tree, parent, station, self.target);
        let diameter = |i: u32| {
            let share = f64::from(i) / f64::from(STATIONS);
            2.0 * onward.radius(balloon.beyond_mm + share * balloon.length_mm)
        };
        let all = (0..=STATIONS).map(diameter);
        let (least, most) = (f64::min, f64::max);
        Some((all.clone().fold(f64::INFINITY, least), all.fold(0.0, most)))
    }

    /// The target and the branches that lead to it, back to the inlet.
    #[must_use]
    pub fn on_the_way(&self) -> Vec<usize> {
        let up = |&index: &usize| self.tree.branches()[index].parent.map(|(parent, _)| parent);
        std::iter::successors(Some(self.target), up).collect()
    }

    /// The guide's end when it is pointed anew.
    #[must_use]
    pub fn aimed_guide_tip(&self, aim: &GuideAimSpec) -> GuideTip {
        let guide = &self.scenario.guide;
        let line = self
            .tree
            .branch_index(&guide.branch)
            .map(|index| &self.tree.branches()[index].centreline);
        let Some(line) = line else {
            return self.guide_tip;
        };
        let station_mm = guide.station_mm + aim.deeper_mm;
        let tangent = line.tangent(station_mm);
        let normal = line.normal(station_mm);
        let aside = normal * aim.plane_rad.cos() + tangent.cross(&normal) * aim.plane_rad.sin();
        GuideTip {
            exit: line.position(station_mm),
            axis: (tangent * aim.tilt_rad.cos() + aside * aim.tilt_rad.sin()).normalize(),
            ..self.guide_tip
        }
    }

    /// Index of the wire to which a technique changes; the first where it changes to none.
    #[must_use]
    pub fn exchange(&self, technique: &TechniqueSpec) -> usize {
        let name = technique.aids.exchange.as_ref().map(|e| e.wire.as_str());
        let found = |name| self.scenario.wires.iter().position(|w| w.name == name);
        name.and_then(found).unwrap_or(0)
    }

    /// Settings of the steps.
    #[must_use]
    pub fn step_settings(&self) -> StepSettings {
        StepSettings::from(&self.scenario.solver)
    }
}
