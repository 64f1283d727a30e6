//! `[[technique]]`: what the hands do.

use super::{allowed, at_least_one, unique_name, view};
use crate::scenario::error::Checked;
use crate::scenario::model::{PlanSpec, TechniqueSpec};
use crate::scenario::read::{Fields, Table};
use crate::scenario::view::SightSpec;

const TECHNIQUE: Fields = &[
    ("kind", "\"push\""),
    ("name", "\"push\""),
    ("attempts", "5"),
    ("withdraw_to_mm", "3"),
    ("turn_deg", "60"),
    ("sight", "\"full\""),
];

#[derive(Debug, Clone, Copy)]
enum Kind {
    Push,
    Redirect,
}

const KINDS: [(&str, Kind); 2] = [("push", Kind::Push), ("redirect", Kind::Redirect)];

/// Reads every `[[technique]]`, at least one.
/// `framed` says whether the scene lies in a patient, which a projection needs.
pub(super) fn techniques(root: &Table<'_>, framed: bool) -> Checked<Vec<TechniqueSpec>> {
    let mut techniques: Vec<TechniqueSpec> = Vec::new();
    for table in at_least_one(root, "technique", TECHNIQUE)? {
        let kind = table.required("kind")?;
        let plan = match kind.choice("a kind of technique", &KINDS)? {
            Kind::Push => push(&table)?,
            Kind::Redirect => redirect(&table)?,
        };
        let names: Vec<&str> = techniques.iter().map(|t| t.name.as_str()).collect();
        let name = unique_name(&table, &names, Some(kind.text()?))?;
        techniques.push(TechniqueSpec {
            name,
            plan,
            sight: sight(&table, framed)?,
            place: table.place,
        });
    }
    Ok(techniques)
}

fn push(table: &Table<'_>) -> Checked<PlanSpec> {
    let others = ["attempts", "withdraw_to_mm", "turn_deg"];
    match others.into_iter().find(|field| table.has(field)) {
        None => Ok(PlanSpec::Push),
        Some(field) => Err(table.disagreement(
            field,
            "push feeds once and has no use for it".into(),
            format!("remove {field}, or set kind = \"redirect\""),
        )),
    }
}

fn redirect(table: &Table<'_>) -> Checked<PlanSpec> {
    let turn_deg = table.number_if("turn_deg", &allowed::HAND_TURN)?;
    Ok(PlanSpec::Redirect {
        attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
        withdraw_to_mm: table.number_or("withdraw_to_mm", &allowed::LENGTH, 3.0)?,
        turn_rad: turn_deg.map(f64::to_radians),
    })
}

fn sight(table: &Table<'_>, framed: bool) -> Checked<SightSpec> {
    let Some(entry) = table.optional("sight") else {
        return Ok(SightSpec::Full);
    };
    if entry.text()? == "full" {
        return Ok(SightSpec::Full);
    }
    let angles = view::angles(&entry)?;
    if framed {
        return Ok(SightSpec::Projected(angles));
    }
    Err(entry.disagreement(
        "the scene has no patient frame, so LAO, RAO, CRA and CAU mean nothing in it".into(),
        "add [view] with patient_frame = [\"left\", \"head\", \"front\"], or write sight = \"full\"".into(),
    ))
}
