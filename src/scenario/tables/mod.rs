//! What a scenario file may say: the structs into which it is read, one file a subject, each with
//! the checks between its fields.
mod aids;
mod anatomy;
mod assay;
mod bed;
mod branch;
mod catheter;
mod motion;
mod odd_branch;
mod path;
mod pointer;
mod study;
mod surface;
mod technique;
mod vessel;
mod view;
mod whole;
mod wire;

use std::collections::HashMap;
use std::path::Path;
use std::sync::LazyLock;

use schemars::JsonSchema;
use serde::Deserialize;

pub(super) use self::anatomy::{file_place, names_place, phases_place};
use self::assay::AssayTable;
use self::catheter::CatheterTable;
use self::study::{GuideTable, TargetTable};
use self::technique::TechniqueTable;
pub(super) use self::vessel::{TreeTable, VesselTable};
use self::view::ViewTable;
use self::wire::WireTable;
use super::Warning;
use super::bench::Bench;
use super::measure;
use super::model::{BranchSpec, Scenario, SolverSpec, StudySpec, VariationSpec};
use crate::anatomy::Imported;
use crate::hands::Recording;
use crate::schema::{Node, Place, Read, Refusal};
use crate::technique::DeviceSpecs;

/// A scenario: one vessel, one target, and the wires and techniques that are compared on it.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct ScenarioTable {
    /// Short name: letters, digits and dashes.
    #[schemars(extend("x-example" = "\"side-branch\""))]
    name: String,
    /// "invented", or the published source of the anatomy.
    #[schemars(extend("x-default" = "that of the tree file", "x-example" = "\"invented\""))]
    origin: Option<String>,
    /// What the scenario teaches.
    #[schemars(extend("x-example" = "\"What this scenario teaches.\""))]
    description: String,
    /// Size and bookkeeping of the study.
    #[serde(default)]
    #[schemars(extend("x-example" = "[study]\ntrials = 32"))]
    study: StudySpec,
    /// The vessel.
    #[schemars(extend(
        "x-example" = "[vessel]\n[[vessel.branch]]\nname = \"parent\"\ndiameter_mm = 3.0\npieces = [{ shape = \"straight\", length_mm = 50 }]"
    ))]
    pub(super) vessel: VesselTable,
    /// Where the guiding catheter ends and how firmly it sits.
    #[schemars(extend("x-example" = "[guide]\nbranch = \"parent\""))]
    guide: GuideTable,
    /// The branch that has to be reached, and what counts as reached.
    #[schemars(extend("x-example" = "[target]\nbranch = \"side\"\nmax_fed_mm = 80"))]
    target: TargetTable,
    /// The wires to compare.
    #[schemars(length(min = 1, max = 500), extend("x-example" = WIRE))]
    wire: Vec<WireTable>,
    /// Support catheters that techniques name.
    #[serde(default)]
    #[schemars(length(max = 2500), extend(
        "x-example" = "[[catheter]]\nname = \"straight\"\nouter_diameter_fr = 2\ninner_diameter_mm = 0.45\nstiffness_N_mm2 = [[0, 0.3], [100, 3]]\nsurface = \"hydrophilic\""
    ))]
    catheter: Vec<CatheterTable>,
    /// The techniques to compare.
    #[schemars(length(min = 1, max = 2500), extend("x-example" = "[[technique]]\nkind = \"push\""))]
    technique: Vec<TechniqueTable>,
    /// How the scene is looked at.
    #[schemars(extend("x-example" = "[view]\npatient_frame = [\"left\", \"head\", \"front\"]"))]
    view: Option<ViewTable>,
    /// What varies from trial to trial.
    #[serde(default)]
    #[schemars(extend("x-example" = "[variation]\nroll_half_width_deg = 180"))]
    variation: VariationSpec,
    /// Settings of the solver.
    #[serde(default)]
    #[schemars(extend("x-example" = "[solver]\nstep_mm = 0.4"))]
    solver: SolverSpec,
    /// Bench tests of the wires.
    #[serde(default)]
    #[schemars(extend("x-example" = ASSAY))]
    assay: AssayTable,
}

/// Wires for the bench, without a vessel.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct BenchTable {
    /// Short name of the file's subject.
    #[schemars(extend("x-default" = "that of the file", "x-example" = "\"wires\""))]
    name: Option<String>,
    /// What these wires are.
    #[schemars(extend("x-example" = "\"What these wires are.\""))]
    #[expect(dead_code, reason = "it is for readers of the file")]
    description: Option<String>,
    /// The wires.
    #[schemars(length(min = 1, max = 500), extend("x-example" = WIRE))]
    wire: Vec<WireTable>,
    /// Bench tests of the wires.
    #[serde(default)]
    #[schemars(extend("x-example" = ASSAY))]
    assay: AssayTable,
}

const WIRE: &str = "[[wire]]\nname = \"soft\"\ndiameter_mm = 0.3556\ntip_load_gf = 0.3\n\
                    core_mm = [[20, 0.06], [200, 0.18]]\nsurface = \"hydrophilic\"";
const ASSAY: &str = "[assay]\nthree_point = { span_mm = 20 }";

/// What a scenario may hold.
pub(super) static SCENARIO: LazyLock<Node> = LazyLock::new(Node::of::<ScenarioTable>);
/// What a file of wires for the bench may hold.
pub(super) static BENCH: LazyLock<Node> = LazyLock::new(Node::of::<BenchTable>);
/// What a tree file may hold.
pub(super) static TREE: LazyLock<Node> = LazyLock::new(Node::of::<TreeTable>);

impl ScenarioTable {
    /// Whether the scene lies in a patient.
    pub(super) fn is_framed(&self) -> bool {
        self.view.is_some()
    }

    /// Whether the vessel, without [view], says where the axes of the scene point in a patient: x to the
    /// left, y to the head, z to the front.
    pub(super) fn is_in_patient(&self, tree: Option<&TreeTable>) -> bool {
        self.vessel.is_in_patient(tree)
    }

    /// The file of movements that each technique names, if it names one.
    pub(super) fn recordings(&self) -> impl Iterator<Item = Option<&str>> {
        self.technique.iter().map(TechniqueTable::recording)
    }

    /// The part of a scenario that is for the bench; `stem` is the name of its file.
    pub(super) fn bench(self) -> BenchTable {
        BenchTable {
            name: Some(self.name),
            description: None,
            wire: self.wire,
            assay: self.assay,
        }
    }

    /// What the points by which the scenario points at branches of its file of anatomy have found, in
    /// words.
    pub(super) fn pointed(&self, imported: &Imported) -> Vec<String> {
        let devices = [
            ("[guide]", &self.guide.said),
            ("[target]", &self.target.said),
        ];
        let all = devices.into_iter().chain(self.vessel.pointers());
        all.filter_map(|(title, said)| said.say_near(title, imported))
            .collect()
    }

    /// The checked scenario, with its tree file, the tree that its file of anatomy became, those of
    /// further phases of a beat, and the movements of the file that each technique names.
    pub(super) fn checked(
        mut self,
        tree: Option<TreeTable>,
        (imported, phases): (Option<&Imported>, &[Imported]),
        recordings: &[Option<Recording>],
    ) -> Read<(Scenario, Vec<Warning>)> {
        let mut warnings = Vec::new();
        plain_name(&self.name, "side-branch")?;
        let of_tree = tree.as_ref().and_then(|tree| tree.origin.clone());
        let Some(origin) = self.origin.or(of_tree) else {
            return Err(Refusal::missing(Place::top("origin")));
        };
        let bed = self.vessel.bed()?;
        let motion = self.vessel.motion.take();
        let (vessel, obstacles) = self.vessel.checked(tree, imported, &mut warnings)?;
        let view = match self.view {
            Some(view) => Some(view.checked(&vessel.branches)?),
            None => None,
        };
        let around = motion::Around {
            branches: &vessel.branches,
            frame: view.as_ref().map(|view| &view.frame),
            imported,
            phases,
        };
        let motion = motion.map(|motion| {
            let at = Place::top("vessel").field("motion");
            motion.checked(at, &around)
        });
        let motion = motion.transpose()?;
        let catheters = catheter::catheters(&self.catheter)?;
        let wires = wire::wires(&self.wire, &mut warnings)?;
        let (guide, guide_said) = self.guide.checked(imported)?;
        let (target, target_said) = self.target.checked(imported)?;
        let devices = DeviceSpecs {
            wires: &wires,
            catheters: &catheters,
        };
        let techniques =
            technique::techniques(self.technique, view.is_some(), devices, recordings)?;
        let scenario = Scenario {
            name: self.name,
            origin,
            description: self.description,
            study: self.study,
            bed,
            motion,
            obstacles,
            vessel,
            guide,
            target,
            techniques,
            wires,
            catheters,
            view,
            variation: self.variation,
            solver: self.solver,
        };
        let said = whole::Said {
            guide_branch: guide_said.place,
            guide_station: self.guide.says_station(),
            target_branch: target_said.place,
        };
        whole::check(&scenario, &said)?;
        whole::catheters_fit(&scenario, &self.catheter)?;
        warnings.extend(technique::made_elsewhere(&scenario, recordings));
        Ok((scenario, warnings))
    }
}

impl BenchTable {
    /// The checked file, called `stem` where it has no name of its own; `folder` is where paths in it
    /// count from.
    pub(super) fn checked(self, stem: &str, folder: &Path) -> Read<(Bench, Vec<Warning>)> {
        let mut warnings = Vec::new();
        let wires = wire::wires(&self.wire, &mut warnings)?;
        let bench = Bench {
            name: self.name.unwrap_or_else(|| stem.to_owned()),
            assay: self.assay.checked(&wires, folder)?,
            wires,
        };
        Ok((bench, warnings))
    }
}

/// Refuses a name of a document that is no short name; `example` is one.
pub(super) fn plain_name(name: &str, example: &str) -> Read<()> {
    plain_word(Place::top("name"), name, example)
}

/// Refuses a name, at its place, that is not made of letters, digits and dashes.
pub(super) fn plain_word(at: Place, name: &str, example: &str) -> Read<()> {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
    if name.is_empty() || !name.chars().all(plain) {
        return Err(Refusal::at(
            at,
            "allowed are letters, digits and dashes, at least one",
            format!("choose a short name such as \"{example}\""),
        ));
    }
    Ok(())
}

/// The names of the tables of one kind so far, as written, by what is left of them in names of files.
/// Names that differ only in case or punctuation count as the same, because results are filed under them.
#[derive(Default)]
struct Names(HashMap<String, String>);

impl Names {
    /// Names that were looked at elsewhere.
    fn of<'a>(names: impl Iterator<Item = &'a str>) -> Self {
        let mut out = Self::default();
        for name in names {
            out.0.entry(filed(name)).or_insert_with(|| name.to_owned());
        }
        out
    }

    /// Adds the name of the table at `at`.
    ///
    /// # Errors
    /// A name that an earlier table has, one without a letter or digit, or a long one.
    fn add(&mut self, name: &str, at: &Place) -> Read<()> {
        let key = filed(name);
        if key.is_empty() || name.len() > 60 || name.chars().any(char::is_control) {
            return Err(Refusal::at(
                at.field("name"),
                "allowed are 1 to 60 characters with at least one letter or digit",
                "choose a short name",
            ));
        }
        if let Some(other) = self.0.get(&key) {
            return Err(Refusal::at(
                at.field("name"),
                format!(
                    "the name \"{other}\" stands before it; names must differ in their letters or digits"
                ),
                "give it a name of its own",
            ));
        }
        self.0.insert(key, name.to_owned());
        Ok(())
    }
}

fn filed(name: &str) -> String {
    let kept = name.chars().filter(|c| c.is_alphanumeric() || *c == '.');
    kept.flat_map(char::to_lowercase).collect()
}

/// A station, said at `at`, that must lie on a branch.
fn station(station_mm: f64, at: Place, branch: &BranchSpec) -> Read<f64> {
    let length = measure::length_mm(&branch.path);
    if station_mm <= length {
        return Ok(station_mm);
    }
    Err(Refusal::at(
        at,
        format!(
            "branch \"{}\" is {length:.1} mm long; allowed is 0 to {length:.1} mm",
            branch.name
        ),
        "give a station on the branch, counted in mm from its start",
    ))
}

/// Refuses pairs (distance in mm, value) whose distances do not rise.
fn rising_profile(profile: Vec<(f64, f64)>, at: &Place) -> Read<Vec<(f64, f64)>> {
    for (index, pair) in profile.windows(2).enumerate() {
        let (before, station) = (pair[0].0, pair[1].0);
        if before >= station {
            return Err(Refusal::at(
                at.entry(index + 1),
                format!("the distance {station} mm does not lie beyond {before} mm before it"),
                "list the pairs in rising order of distance, each distance once",
            ));
        }
    }
    Ok(profile)
}
