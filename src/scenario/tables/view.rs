//! `[view]`: how the scene lies in the patient, the C-arm, and what the operator believes.

use super::{allowed, vessel};
use crate::scenario::error::Checked;
use crate::scenario::model::VesselSpec;
use crate::scenario::read::{Entry, Fields, Table};
use crate::scenario::view::{BeliefSpec, PatientFrame, ReachSpec, ViewAngles, ViewSpec};

const VIEW: Fields = &[
    ("patient_frame", "[\"left\", \"head\", \"front\"]"),
    ("current", "\"RAO 30 CAU 20\""),
    ("branches", "[\"side\"]"),
    ("near_mm", "10"),
    ("source_detector_mm", "1050"),
    ("source_object_mm", "750"),
    ("patient_radius_mm", "200"),
    ("primary_deg", "[-60, 90]"),
    ("secondary_deg", "[-45, 45]"),
    ("combined_deg", "120"),
    ("reading_sd_mm", "0.3"),
    ("believed", "[{ branch = \"side\", turned_deg = 40 }]"),
];
const BELIEVED: Fields = &[
    ("branch", "\"side\""),
    ("turned_deg", "40"),
    ("further_mm", "0"),
];

/// Reads `[view]`, if it is there.
pub(super) fn view(root: &Table<'_>, vessel: &VesselSpec) -> Checked<Option<ViewSpec>> {
    let Some(table) = root.table("view", VIEW)? else {
        return Ok(None);
    };
    let current = match table.optional("current") {
        None => ViewAngles::from_degrees(0.0, 0.0),
        Some(entry) => angles(&entry, "")?,
    };
    let mut branches = Vec::new();
    if let Some(entry) = table.optional("branches") {
        for branch in entry.list()? {
            branches.push(branching(&branch, vessel)?);
        }
    }
    let mut beliefs = Vec::new();
    if let Some(entry) = table.optional("believed") {
        for (index, belief) in entry.list()?.into_iter().enumerate() {
            let table =
                belief.table(BELIEVED, format!("believed entry {} of [view]", index + 1))?;
            beliefs.push(BeliefSpec {
                branch: branching(&table.required("branch")?, vessel)?,
                turned_rad: table.angle_or("turned_deg", &allowed::PLANE, 0.0)?,
                further_mm: table.number_or("further_mm", &allowed::SHIFT, 0.0)?,
                place: belief.place(),
            });
        }
    }
    let (source_object_mm, source_detector_mm, patient_radius_mm) = source(&table)?;
    Ok(Some(ViewSpec {
        frame: frame(&table.required("patient_frame")?)?,
        current,
        branches,
        near_mm: table.number_or("near_mm", &allowed::LENGTH, 10.0)?,
        source_detector_mm,
        source_object_mm,
        patient_radius_mm,
        reach: reach(&table)?,
        reading_sd_mm: table.number_or("reading_sd_mm", &allowed::READING, 0.3)?,
        beliefs,
        place: table.place,
    }))
}

/// A viewing direction; `otherwise` says in the remedy what else may stand there.
pub(super) fn angles(entry: &Entry<'_>, otherwise: &str) -> Checked<ViewAngles> {
    ViewAngles::parse(entry.text()?).map_err(|reason| {
        entry.disagreement(
            reason,
            format!(
                "write {otherwise}a view such as \"LAO 40 CRA 30\", \"RAO 30\" or \"AP CAU 20\""
            ),
        )
    })
}

/// The name of a branch that leaves another.
fn branching(entry: &Entry<'_>, vessel: &VesselSpec) -> Checked<String> {
    let branch = vessel::named(entry, &vessel.branches, "the name of a branch")?;
    if branch.attached.is_some() {
        return Ok(branch.name.clone());
    }
    Err(entry.disagreement(
        "it is an inlet, so there is no branching to look at".into(),
        "name a branch that leaves another".into(),
    ))
}

fn frame(entry: &Entry<'_>) -> Checked<PatientFrame> {
    let list = entry.list()?;
    let words = list
        .iter()
        .map(Entry::text)
        .collect::<Checked<Vec<&str>>>()?;
    let frame = match words[..] {
        [x, y, z] => PatientFrame::from_words([x, y, z]),
        _ => None,
    };
    frame.ok_or_else(|| {
        entry.disagreement(
            "it must say for x, y and z in turn where they point in the patient, each of left or \
             right, head or feet, front or back once, as a right-handed frame"
                .into(),
            "for example [\"left\", \"head\", \"front\"], or [\"left\", \"back\", \"head\"]".into(),
        )
    })
}

/// Distances of the source from the isocentre and from the detector, and the patient's radius.
fn source(table: &Table<'_>) -> Checked<(f64, f64, f64)> {
    let object = table.number_or("source_object_mm", &allowed::DISTANCE, 750.0)?;
    let detector = table.number_or("source_detector_mm", &allowed::DISTANCE, 1050.0)?;
    let patient = table.number_or("patient_radius_mm", &allowed::DISTANCE, 200.0)?;
    if object <= patient {
        return Err(table.disagreement(
            "source_object_mm",
            format!(
                "the source would stand inside the patient, {patient} mm about the isocentre; \
                 allowed is above {patient} mm"
            ),
            "move the source away, for example source_object_mm = 750".into(),
        ));
    }
    if detector <= object {
        return Err(table.disagreement(
            "source_detector_mm",
            format!(
                "the detector would stand on the source's side of the isocentre; allowed is above \
                 source_object_mm = {object} mm"
            ),
            format!("for example source_detector_mm = {:.0}", 1.4 * object),
        ));
    }
    Ok((object, detector, patient))
}

/// The reach. Its defaults are common practice, no source: a table and a head in the way.
fn reach(table: &Table<'_>) -> Checked<ReachSpec> {
    let range = |field: &str, allowed, default: [f64; 2]| {
        let Some(entry) = table.optional(field) else {
            return Ok(default);
        };
        let [low, high] = entry.numbers(&[allowed; 2])?;
        if low > high {
            return Err(entry.disagreement(
                "the first angle is above the second".into(),
                "give the least angle first".into(),
            ));
        }
        Ok([low, high])
    };
    let primary = range("primary_deg", allowed::PRIMARY, [-60.0, 90.0])?;
    let secondary = range("secondary_deg", allowed::SECONDARY, [-45.0, 45.0])?;
    let reach = ReachSpec {
        primary_rad: primary.map(f64::to_radians),
        secondary_rad: secondary.map(f64::to_radians),
        combined_rad: table.angle_or("combined_deg", &allowed::COMBINED, 120.0)?,
    };
    let least = |range: [f64; 2]| range[0].max(0.0) + (-range[1]).max(0.0);
    let needed = least(primary) + least(secondary);
    if needed.to_radians() > reach.combined_rad {
        return Err(table.disagreement(
            "combined_deg",
            format!(
                "no view lies in primary_deg and secondary_deg with so small a sum; allowed is \
                 {needed} deg or more"
            ),
            "widen the region".into(),
        ));
    }
    Ok(reach)
}
