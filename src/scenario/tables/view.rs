//! `[view]`: how the scene lies in the patient, the C-arm, and what the operator believes.

use schemars::JsonSchema;
use serde::Deserialize;

use crate::scenario::model::BranchSpec;
use crate::scenario::view::{BeliefSpec, PatientFrame, ReachSpec, ViewAngles, ViewSpec};
use crate::schema::{Place, Read, Refusal, defaults};
use crate::units::degrees;

/// How the scene is looked at; `bendwise view` and a projected sight need it. Distances and reach are
/// common practice, no source.
#[derive(Debug, Deserialize, JsonSchema)]
pub(super) struct ViewTable {
    /// Where x, y and z point in the patient: three of left, right, head, feet, front, back, as a
    /// right-handed frame.
    #[schemars(extend("x-example" = "[\"left\", \"head\", \"front\"]"))]
    patient_frame: Vec<String>,
    /// The view in which the operator works now, such as "LAO 40 CRA 30", "RAO 30", "AP CAU 20".
    #[schemars(extend("default" = "AP", "x-example" = "\"RAO 30 CAU 20\""))]
    current: Option<String>,
    /// Branches whose branchings are to be opened; they have a parent.
    #[schemars(extend("x-default" = "the target", "x-example" = "[\"side\"]"))]
    #[serde(default)]
    branches: Vec<String>,
    /// Length of parent, main and branch that counts, either side of a branching.
    #[serde(default = "defaults::number::<10>")]
    #[schemars(range(max = 10_000), extend("exclusiveMinimum" = 0, "x-example" = "10"))]
    near_mm: f64,
    /// X-ray source to detector, above source_object_mm.
    #[serde(default = "defaults::number::<1050>")]
    #[schemars(range(min = 10, max = 5000), extend("x-suspect" = "distance", "x-example" = "1050"))]
    source_detector_mm: f64,
    /// X-ray source to isocentre, above patient_radius_mm.
    #[serde(default = "defaults::number::<750>")]
    #[schemars(range(min = 10, max = 5000), extend("x-suspect" = "distance", "x-example" = "750"))]
    source_object_mm: f64,
    /// Radius of the patient about the isocentre.
    #[serde(default = "defaults::number::<200>")]
    #[schemars(range(min = 10, max = 5000), extend("x-suspect" = "distance", "x-example" = "200"))]
    patient_radius_mm: f64,
    // A table and a head in the way.
    /// Least and largest primary angle in reach, RAO negative.
    #[serde(default = "primary", rename = "primary_deg", with = "degrees")]
    #[schemars(with = "[f64; 2]", inner(range(min = -180, max = 180)))]
    #[schemars(extend("x-example" = "[-60, 90]"))]
    primary_rad: [f64; 2],
    /// Least and largest secondary angle in reach, caudal negative.
    #[serde(default = "secondary", rename = "secondary_deg", with = "degrees")]
    #[schemars(with = "[f64; 2]", inner(range(min = -90, max = 90)))]
    #[schemars(extend("x-example" = "[-45, 45]"))]
    secondary_rad: [f64; 2],
    /// Largest sum of the two, signs left away.
    #[serde(
        default = "defaults::degrees::<120>",
        rename = "combined_deg",
        with = "degrees"
    )]
    #[schemars(with = "f64", range(min = 0, max = 270), extend("x-example" = "120"))]
    combined_rad: f64,
    /// Standard deviation of a reading in a projection, at the isocentre.
    #[serde(default = "defaults::hundredths::<30>")]
    #[schemars(range(min = 0, max = 5), extend("x-example" = "0.3"))]
    reading_sd_mm: f64,
    /// Branches that the operator believes to leave elsewhere than they do.
    #[serde(default)]
    #[schemars(extend(
        "x-entry" = "believed entry",
        "x-example" = "[{ branch = \"side\", turned_deg = 40 }]"
    ))]
    believed: Vec<BeliefTable>,
}

fn primary() -> [f64; 2] {
    [-60.0, 90.0].map(f64::to_radians)
}

fn secondary() -> [f64; 2] {
    [-45.0, 45.0].map(f64::to_radians)
}

/// A branch that is believed to leave elsewhere, with all that hangs on it.
#[derive(Debug, Deserialize, JsonSchema)]
struct BeliefTable {
    /// The branch, which has a parent.
    #[schemars(extend("x-example" = "\"side\""))]
    branch: String,
    /// It is believed to leave turned by this angle about the parent's forward direction.
    #[serde(default, rename = "turned_deg", with = "degrees")]
    #[schemars(with = "f64", range(min = -360, max = 360), extend("x-example" = "40"))]
    turned_rad: f64,
    /// It is believed to leave this much further along the parent.
    #[serde(default)]
    #[schemars(range(min = -100, max = 100), extend("x-example" = "0"))]
    further_mm: f64,
}

impl ViewTable {
    /// The checked table; `all` are the branches of the vessel.
    pub(super) fn checked(self, all: &[BranchSpec]) -> Read<ViewSpec> {
        let at = Place::top("view");
        let current = match &self.current {
            None => ViewAngles::from_degrees(0.0, 0.0),
            Some(text) => angles(text, at.field("current"), "")?,
        };
        for (index, name) in self.branches.iter().enumerate() {
            branching(name, at.field("branches").entry(index), all)?;
        }
        let mut beliefs = Vec::new();
        for (index, belief) in self.believed.iter().enumerate() {
            let place = at.field("believed").entry(index);
            branching(&belief.branch, place.field("branch"), all)?;
            beliefs.push(BeliefSpec {
                branch: belief.branch.clone(),
                turned_rad: belief.turned_rad,
                further_mm: belief.further_mm,
                place,
            });
        }
        self.check_source(&at)?;
        Ok(ViewSpec {
            frame: frame(&self.patient_frame, at.field("patient_frame"))?,
            current,
            near_mm: self.near_mm,
            source_detector_mm: self.source_detector_mm,
            source_object_mm: self.source_object_mm,
            patient_radius_mm: self.patient_radius_mm,
            reach: self.reach(&at)?,
            reading_sd_mm: self.reading_sd_mm,
            branches: self.branches,
            beliefs,
            place: at,
        })
    }

    /// Source, patient and detector must stand in this order.
    fn check_source(&self, at: &Place) -> Read<()> {
        let object = self.source_object_mm;
        let patient = self.patient_radius_mm;
        if object <= patient {
            return Err(Refusal::at(
                at.field("source_object_mm"),
                format!(
                    "the source would stand inside the patient, {patient} mm about the isocentre; \
                     allowed is above {patient} mm"
                ),
                "move the source away, for example source_object_mm = 750",
            ));
        }
        if self.source_detector_mm <= object {
            return Err(Refusal::at(
                at.field("source_detector_mm"),
                format!(
                    "the detector would stand on the source's side of the isocentre; allowed is \
                     above source_object_mm = {object} mm"
                ),
                format!("for example source_detector_mm = {:.0}", 1.4 * object),
            ));
        }
        Ok(())
    }

    fn reach(&self, at: &Place) -> Read<ReachSpec> {
        let ranges = [
            ("primary_deg", self.primary_rad),
            ("secondary_deg", self.secondary_rad),
        ];
        if let Some((field, _)) = ranges.iter().find(|(_, [low, high])| low > high) {
            return Err(Refusal::at(
                at.field(*field),
                "the first angle is above the second",
                "give the least angle first",
            ));
        }
        let least = |range: [f64; 2]| range[0].max(0.0) + (-range[1]).max(0.0);
        let needed = least(self.primary_rad) + least(self.secondary_rad);
        if needed > self.combined_rad + ReachSpec::SLACK_RAD {
            return Err(Refusal::at(
                at.field("combined_deg"),
                format!(
                    "no view lies in primary_deg and secondary_deg with so small a sum; allowed is \
                     {} deg or more",
                    needed.to_degrees()
                ),
                "widen the region",
            ));
        }
        Ok(ReachSpec {
            primary_rad: self.primary_rad,
            secondary_rad: self.secondary_rad,
            combined_rad: self.combined_rad,
        })
    }
}

/// A viewing direction; `otherwise` says in the remedy what else may stand there.
pub(super) fn angles(text: &str, at: Place, otherwise: &str) -> Read<ViewAngles> {
    ViewAngles::parse(text).map_err(|reason| {
        Refusal::at(
            at,
            reason,
            format!(
                "write {otherwise}a view such as \"LAO 40 CRA 30\", \"RAO 30\" or \"AP CAU 20\""
            ),
        )
    })
}

/// Refuses a name that is not that of a branch which leaves another.
fn branching(name: &str, at: Place, all: &[BranchSpec]) -> Read<()> {
    match all.iter().find(|branch| branch.name == name) {
        Some(branch) if branch.attached.is_some() => Ok(()),
        Some(_) => Err(Refusal::at(
            at,
            "it is an inlet, so there is no branching to look at",
            "name a branch that leaves another",
        )),
        None => {
            let names = all.iter().map(|branch| &branch.name);
            Err(Refusal::unknown(at, "the name of a branch", names))
        }
    }
}

fn frame(words: &[String], at: Place) -> Read<PatientFrame> {
    let frame = match words {
        [x, y, z] => PatientFrame::from_words([x, y, z]),
        _ => None,
    };
    frame.ok_or_else(|| {
        Refusal::at(
            at,
            "it must say for x, y and z in turn where they point in the patient, each of left or \
             right, head or feet, front or back once, as a right-handed frame",
            "for example [\"left\", \"head\", \"front\"], or [\"left\", \"back\", \"head\"]",
        )
    })
}
