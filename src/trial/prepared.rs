//! A scenario made ready to run: devices, vessel, strategies.

use crate::device::{DeviceError, Wire};
use crate::scenario::model::{Place, Scenario};
use crate::solve::{Channel, StepSettings};
use crate::vessel::{SurfaceLumen, Tree, VesselError};

/// Why a scenario cannot be made ready.
#[derive(Debug, thiserror::Error)]
pub enum SetupError {
    /// The vessel cannot be built.
    #[error(transparent)]
    Vessel(#[from] VesselError),
    /// A wire cannot be built.
    #[error(transparent)]
    Device(#[from] DeviceError),
    /// A branch is named that does not exist.
    #[error("there is no branch {name:?} in the vessel; branches are {known}")]
    NoBranch {
        /// Name that was given.
        name: String,
        /// Branches there are.
        known: String,
        /// Where it was given.
        place: Place,
    },
    /// The guide's end lies off its branch.
    #[error(
        "the guide ends at {station_mm} mm of branch {branch:?}, which runs from 0 to {length_mm:.1} mm; choose a station on it"
    )]
    GuideOffBranch {
        /// Station that was given, in mm.
        station_mm: f64,
        /// Branch.
        branch: String,
        /// Its length in mm.
        length_mm: f64,
        /// Where it was given.
        place: Place,
    },
    /// The wire does not fit.
    #[error(
        "wire {wire:?} is {diameter_mm} mm thick, but branch {branch:?} on the way to the target narrows to {lumen_mm:.3} mm; take a thinner wire or a wider lumen"
    )]
    WireTooThick {
        /// Wire.
        wire: String,
        /// Its diameter in mm.
        diameter_mm: f64,
        /// Branch.
        branch: String,
        /// Smallest lumen diameter in mm.
        lumen_mm: f64,
        /// Where the wire was given.
        place: Place,
    },
}

impl SetupError {
    /// Where in the scenario the cause stands.
    #[must_use]
    pub fn place(&self) -> Place {
        match self {
            Self::Vessel(e) => e.place(),
            Self::Device(e) => e.place(),
            Self::NoBranch { place, .. }
            | Self::GuideOffBranch { place, .. }
            | Self::WireTooThick { place, .. } => *place,
        }
    }
}

impl SetupError {
    /// What to do about it, in a few words.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Vessel(_) => "correct this branch, or the one on which it hangs",
            Self::Device(_) | Self::WireTooThick { .. } => "correct this wire",
            Self::NoBranch { .. } => "name a branch of the vessel",
            Self::GuideOffBranch { .. } => "choose a station on the branch",
        }
    }
}

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
            let name = format!("{}, {}", t.name, w.name);
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

fn slug(name: &str) -> String {
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
    wires: Vec<Wire>,
    target: usize,
    channel: Channel,
}

impl Prepared {
    /// Builds vessel and devices.
    ///
    /// # Errors
    /// [`SetupError`], with the place in the scenario.
    pub fn new(scenario: &Scenario) -> Result<Self, SetupError> {
        let tree = Tree::build(&scenario.vessel)?;
        let surface = match &scenario.vessel.surface {
            Some(mesh) => Some(SurfaceLumen::new(mesh, &scenario.vessel)?),
            None => None,
        };
        let wires = scenario
            .wires
            .iter()
            .map(Wire::from_spec)
            .collect::<Result<Vec<_>, _>>()?;
        let index = |name: &str, place: Place| {
            tree.branch_index(name).ok_or_else(|| SetupError::NoBranch {
                name: name.to_owned(),
                known: tree
                    .branches()
                    .iter()
                    .map(|b| b.name.as_str())
                    .collect::<Vec<_>>()
                    .join(", "),
                place,
            })
        };
        let target = index(&scenario.target.branch, scenario.target.place)?;
        let guide = &scenario.guide;
        let guide_branch = &tree.branches()[index(&guide.branch, guide.place)?];
        let length_mm = guide_branch.centreline.length_mm();
        if !(0.0..=length_mm).contains(&guide.station_mm) {
            return Err(SetupError::GuideOffBranch {
                station_mm: guide.station_mm,
                branch: guide.branch.clone(),
                length_mm,
                place: guide.place,
            });
        }
        let channel = Channel {
            exit: guide_branch.centreline.position(guide.station_mm),
            axis: guide_branch.centreline.tangent(guide.station_mm),
            backup: guide.backup_stiffness_mn_per_mm,
        };
        let prepared = Self {
            scenario: scenario.clone(),
            tree,
            surface,
            wires,
            target,
            channel,
        };
        prepared.check_fit()?;
        Ok(prepared)
    }

    /// Refuses wires that do not fit through the lumen on the way to the target.
    fn check_fit(&self) -> Result<(), SetupError> {
        let mut at = Some((self.target, f64::INFINITY));
        while let Some((index, leave)) = at {
            let branch = &self.tree.branches()[index];
            let end = leave.min(branch.centreline.length_mm());
            let samples = 200;
            let lumen_mm = (0..=samples)
                .map(|k| {
                    2.0 * branch
                        .centreline
                        .radius(end * f64::from(k) / f64::from(samples))
                })
                .fold(f64::INFINITY, f64::min);
            if let Some(wire) = self
                .scenario
                .wires
                .iter()
                .find(|w| w.diameter_mm >= lumen_mm)
            {
                return Err(SetupError::WireTooThick {
                    wire: wire.name.clone(),
                    diameter_mm: wire.diameter_mm,
                    branch: branch.name.clone(),
                    lumen_mm,
                    place: wire.place,
                });
            }
            at = branch.parent;
        }
        Ok(())
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

    /// The wall, where it is a surface from a file; else it is that of the tree.
    #[must_use]
    pub fn surface(&self) -> Option<&SurfaceLumen> {
        self.surface.as_ref()
    }

    /// The wires, in the scenario's order.
    #[must_use]
    pub fn wires(&self) -> &[Wire] {
        &self.wires
    }

    /// Index of the target branch.
    #[must_use]
    pub fn target_branch(&self) -> usize {
        self.target
    }

    /// The guide's end.
    #[must_use]
    pub fn channel(&self) -> Channel {
        self.channel
    }

    /// Settings of the steps.
    #[must_use]
    pub fn step_settings(&self) -> StepSettings {
        let solver = &self.scenario.solver;
        StepSettings {
            feed_mm: solver.step_mm,
            edge_mm: solver.edge_mm,
            tolerance: solver.tolerance,
            speed_mm_per_s: solver.feed_speed_mm_per_s,
            ..StepSettings::default()
        }
    }
}
