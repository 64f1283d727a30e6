//! `[[technique]]`: what the hands do.

use super::{aids, allowed, at_least_one, unique_name, view};
use crate::scenario::error::Checked;
use crate::scenario::model::{
    BendSpec, CarrierSpec, CatheterSpec, PlanSpec, TechniqueSpec, WireSpec,
};
use crate::scenario::read::{Fields, Table};
use crate::scenario::view::SightSpec;

const TECHNIQUE: Fields = &[
    ("kind", "\"push\""),
    ("name", "\"push\""),
    ("sight", "\"full\""),
    ("attempts", "5"),
    ("turn_deg", "60"),
    ("withdraw_to_mm", "3"),
    ("rock_deg", "30"),
    ("fold_mm", "30"),
    ("fold_length_mm", "6"),
    ("fold_set_deg", "150"),
    ("fold_plane_deg", "0"),
    ("past_mm", "3"),
    ("catheter", "\"straight\""),
    ("behind_tip_mm", "10"),
    ("stride_mm", "5"),
    ("before_ostium_mm", "2"),
    ("lead_mm", "5"),
    ("angle_deg", "90"),
    ("follow_mm", "5"),
    ("balloon", "{ diameter_mm = 3, length_mm = 10 }"),
    ("first_wire", "\"workhorse 1 gf\""),
    ("first_wire_past_mm", "25"),
    ("anchor", "\"diagonal\""),
    ("hold_mm", "15"),
    ("slack_mm", "5"),
    ("exchange", "{ after = 2, wire = \"stiff 3 gf\" }"),
    ("guide_aims", "[{ tilt_deg = 10, plane_deg = 90 }]"),
];

/// Fields of those that only some kinds have a use for.
const REDIRECT: &[&str] = &["attempts", "turn_deg", "withdraw_to_mm", "rock_deg"];
const LOOPED_BACK: &[&str] = &[
    "attempts",
    "turn_deg",
    "fold_mm",
    "fold_length_mm",
    "fold_set_deg",
    "fold_plane_deg",
    "past_mm",
    "catheter",
    "first_wire",
    "first_wire_past_mm",
];
const DUAL_LUMEN: &[&str] = &[
    "attempts",
    "turn_deg",
    "catheter",
    "first_wire",
    "first_wire_past_mm",
    "before_ostium_mm",
];
const LOOP_IN_VESSEL: &[&str] = &[
    "attempts",
    "turn_deg",
    "catheter",
    "first_wire",
    "first_wire_past_mm",
    "before_ostium_mm",
    "anchor",
    "hold_mm",
    "slack_mm",
    "past_mm",
];

const SUPPORT: &[&str] = &[
    "attempts",
    "turn_deg",
    "withdraw_to_mm",
    "catheter",
    "behind_tip_mm",
    "stride_mm",
    "before_ostium_mm",
    "follow_mm",
];
const ANGLED_SUPPORT: &[&str] = &[
    "attempts",
    "turn_deg",
    "catheter",
    "before_ostium_mm",
    "lead_mm",
    "angle_deg",
    "follow_mm",
];

#[derive(Debug, Clone, Copy)]
enum Kind {
    Push,
    Redirect,
    LoopedBack,
    Support,
    AngledSupport,
    DualLumen,
    LoopInVessel,
}

const KINDS: [(&str, Kind); 7] = [
    ("push", Kind::Push),
    ("redirect", Kind::Redirect),
    ("looped-back", Kind::LoopedBack),
    ("support", Kind::Support),
    ("angled-support", Kind::AngledSupport),
    ("dual-lumen", Kind::DualLumen),
    ("loop-in-vessel", Kind::LoopInVessel),
];

/// Reads every `[[technique]]`, at least one.
/// `framed` says whether the scene lies in a patient, which a projection needs.
pub(super) fn techniques(
    root: &Table<'_>,
    framed: bool,
    wires: &[WireSpec],
    catheters: &[CatheterSpec],
) -> Checked<Vec<TechniqueSpec>> {
    let mut techniques: Vec<TechniqueSpec> = Vec::new();
    for table in at_least_one(root, "technique", TECHNIQUE)? {
        let kind = table.required("kind")?;
        let plan = match kind.choice("a kind of technique", &KINDS)? {
            Kind::Push => {
                no_use_for(&table, kind.text()?, &[])?;
                if let Some(field) = ["exchange", "guide_aims"].iter().find(|f| table.has(f)) {
                    return Err(table.disagreement(
                        field,
                        "push makes one attempt and changes nothing after it".into(),
                        format!("remove {field}, or choose kind = \"redirect\""),
                    ));
                }
                PlanSpec::Push
            }
            Kind::Redirect => {
                no_use_for(&table, kind.text()?, REDIRECT)?;
                redirect(&table)?
            }
            Kind::LoopedBack => {
                no_use_for(&table, kind.text()?, LOOPED_BACK)?;
                keeps_guide(
                    &table,
                    "the free leg of a folded wire may lie back in the guide",
                )?;
                looped_back(&table, wires, catheters)?
            }
            Kind::Support => {
                no_use_for(&table, kind.text()?, SUPPORT)?;
                support(&table, catheters)?
            }
            Kind::AngledSupport => {
                no_use_for(&table, kind.text()?, ANGLED_SUPPORT)?;
                angled_support(&table, catheters)?
            }
            Kind::DualLumen => {
                no_use_for(&table, kind.text()?, DUAL_LUMEN)?;
                keeps_guide(&table, "the first wire lies where the guide has sent it")?;
                PlanSpec::DualLumen {
                    carrier: carrier(&table, wires, catheters)?,
                    before_ostium_mm: before_ostium(&table)?,
                    attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
                    beyond_rad: table.angle_or("turn_deg", &allowed::HAND_TURN, 30.0)?,
                }
            }
            Kind::LoopInVessel => {
                no_use_for(&table, kind.text()?, LOOP_IN_VESSEL)?;
                keeps_guide(&table, "the first wire lies where the guide has sent it")?;
                table.required("anchor")?;
                PlanSpec::LoopInVessel {
                    carrier: carrier(&table, wires, catheters)?,
                    before_ostium_mm: before_ostium(&table)?,
                    hold_mm: table.number_or("hold_mm", &allowed::LENGTH, 15.0)?,
                    slack_mm: table.number_or("slack_mm", &allowed::STATION, 5.0)?,
                    past_mm: table.number_or("past_mm", &allowed::LENGTH, 3.0)?,
                    attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
                    beyond_rad: table.angle_or("turn_deg", &allowed::HAND_TURN, 30.0)?,
                }
            }
        };
        let names: Vec<&str> = techniques.iter().map(|t| t.name.as_str()).collect();
        let name = unique_name(&table, &names, Some(kind.text()?))?;
        techniques.push(TechniqueSpec {
            name,
            plan,
            aids: aids::aids(&table, wires)?,
            sight: sight(&table, framed)?,
            place: table.place,
        });
    }
    Ok(techniques)
}

/// Refuses fields of other kinds: `kind` has a use for `own` alone.
fn no_use_for(table: &Table<'_>, kind: &str, own: &[&str]) -> Checked<()> {
    let mut others = [
        REDIRECT,
        LOOPED_BACK,
        SUPPORT,
        ANGLED_SUPPORT,
        DUAL_LUMEN,
        LOOP_IN_VESSEL,
    ]
    .into_iter()
    .flatten();
    match others.find(|field| table.has(field) && !own.contains(field)) {
        None => Ok(()),
        Some(field) => Err(table.disagreement(
            field,
            format!("kind {kind:?} has no use for it"),
            format!("remove {field}, or choose another kind"),
        )),
    }
}

/// Refuses a guide that is pointed anew.
fn keeps_guide(table: &Table<'_>, why: &str) -> Checked<()> {
    if table.has("guide_aims") {
        return Err(table.disagreement(
            "guide_aims",
            why.into(),
            "remove guide_aims, or choose kind = \"redirect\"".into(),
        ));
    }
    Ok(())
}

fn before_ostium(table: &Table<'_>) -> Checked<f64> {
    table.number_or("before_ostium_mm", &allowed::BEFORE_OSTIUM, 2.0)
}

/// The dual-lumen catheter that the technique names, and the wire on which it rides.
fn carrier(
    table: &Table<'_>,
    wires: &[WireSpec],
    catheters: &[CatheterSpec],
) -> Checked<CarrierSpec> {
    let index = catheter(table, catheters)?;
    if catheters[index].side_port.is_none() {
        let name = &catheters[index].name;
        return Err(table.disagreement(
            "catheter",
            format!("catheter \"{name}\" has no side port out of which the wire could come"),
            "give that catheter a side_port, or name another".into(),
        ));
    }
    Ok(CarrierSpec {
        catheter: index,
        first_wire: aids::wire_index(table, "first_wire", wires)?,
        first_wire_past_mm: table.number_or("first_wire_past_mm", &allowed::LENGTH, 25.0)?,
    })
}

fn redirect(table: &Table<'_>) -> Checked<PlanSpec> {
    let turn_deg = table.number_if("turn_deg", &allowed::HAND_TURN)?;
    Ok(PlanSpec::Redirect {
        attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
        withdraw_to_mm: table.number_or("withdraw_to_mm", &allowed::LENGTH, 3.0)?,
        turn_rad: turn_deg.map(f64::to_radians),
        rock_rad: table.angle_or("rock_deg", &allowed::ROCK, 0.0)?,
    })
}

fn looped_back(
    table: &Table<'_>,
    wires: &[WireSpec],
    catheters: &[CatheterSpec],
) -> Checked<PlanSpec> {
    let carried = ["catheter", "first_wire", "first_wire_past_mm"];
    let carrier = if carried.iter().any(|field| table.has(field)) {
        Some(carrier(table, wires, catheters)?)
    } else {
        None
    };
    let turn_deg = table.number_if("turn_deg", &allowed::HAND_TURN)?;
    let middle_mm = table.number_or("fold_mm", &allowed::LENGTH, 30.0)?;
    let length_mm = table.number_or("fold_length_mm", &allowed::LENGTH, 6.0)?;
    if middle_mm <= length_mm {
        return Err(table.disagreement(
            "fold_length_mm",
            format!("the fold lies {middle_mm} mm behind the tip and leaves no free leg"),
            format!("choose fold_length_mm below {middle_mm}"),
        ));
    }
    Ok(PlanSpec::LoopedBack {
        fold: BendSpec {
            from_tip_mm: middle_mm - 0.5 * length_mm,
            length_mm,
            angle_rad: table.angle_or("fold_set_deg", &allowed::FOLD, 150.0)?,
            plane_rad: table.angle_or("fold_plane_deg", &allowed::PLANE, 0.0)?,
        },
        past_mm: table.number_or("past_mm", &allowed::LENGTH, 3.0)?,
        attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
        turn_rad: turn_deg.map(f64::to_radians),
        carrier,
    })
}

/// Index of the catheter that the technique names.
fn catheter(table: &Table<'_>, catheters: &[CatheterSpec]) -> Checked<usize> {
    let entry = table.required("catheter")?;
    let name = entry.text()?;
    let found = catheters.iter().position(|catheter| catheter.name == name);
    found.ok_or_else(|| {
        if catheters.is_empty() {
            return entry.disagreement(
                "the scenario describes no catheter".into(),
                "add a [[catheter]] table of that name".into(),
            );
        }
        let names: Vec<&str> = catheters.iter().map(|c| c.name.as_str()).collect();
        entry.unknown("the name of a catheter", &names)
    })
}

fn support(table: &Table<'_>, catheters: &[CatheterSpec]) -> Checked<PlanSpec> {
    let turn_deg = table.number_if("turn_deg", &allowed::HAND_TURN)?;
    Ok(PlanSpec::Support {
        catheter: catheter(table, catheters)?,
        behind_tip_mm: table.number_or("behind_tip_mm", &allowed::LENGTH, 10.0)?,
        stride_mm: table.number_or("stride_mm", &allowed::LENGTH, 5.0)?,
        before_ostium_mm: before_ostium(table)?,
        attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
        withdraw_to_mm: table.number_or("withdraw_to_mm", &allowed::LENGTH, 3.0)?,
        turn_rad: turn_deg.map(f64::to_radians),
        follow_mm: table.number_if("follow_mm", &allowed::LENGTH)?,
    })
}

fn angled_support(table: &Table<'_>, catheters: &[CatheterSpec]) -> Checked<PlanSpec> {
    let index = catheter(table, catheters)?;
    let name = &catheters[index].name;
    let Some(tip) = catheters[index].tip else {
        return Err(table.disagreement(
            "catheter",
            format!("the tip of catheter \"{name}\" is straight and cannot be aimed"),
            "give that catheter a tip, or set kind = \"support\"".into(),
        ));
    };
    let angle_deg = table.number_if("angle_deg", &allowed::CATHETER_TIP)?;
    let steer_rad = match (tip.range_rad, angle_deg) {
        (None, None) => None,
        (None, Some(_)) => {
            return Err(table.disagreement(
                "angle_deg",
                format!("the tip of catheter \"{name}\" is preformed and cannot be steered"),
                "remove angle_deg, or give that catheter a steerable tip".into(),
            ));
        }
        (Some((low, high)), said) => {
            let angle = said.unwrap_or(high.to_degrees());
            let (low, high) = (low.to_degrees(), high.to_degrees());
            if angle < low - 1e-9 || angle > high + 1e-9 {
                return Err(table.disagreement(
                    "angle_deg",
                    format!("catheter \"{name}\" can be steered from {low:.0} to {high:.0} deg"),
                    "choose an angle in that range".into(),
                ));
            }
            Some(angle.to_radians())
        }
    };
    Ok(PlanSpec::AngledSupport {
        catheter: index,
        before_ostium_mm: before_ostium(table)?,
        lead_mm: table.number_or("lead_mm", &allowed::LENGTH, 5.0)?,
        steer_rad,
        attempts: table.count_or("attempts", &allowed::ATTEMPTS, 5)?,
        beyond_rad: table.angle_or("turn_deg", &allowed::HAND_TURN, 30.0)?,
        follow_mm: table.number_if("follow_mm", &allowed::LENGTH)?,
    })
}

fn sight(table: &Table<'_>, framed: bool) -> Checked<SightSpec> {
    let Some(entry) = table.optional("sight") else {
        return Ok(SightSpec::Full);
    };
    if entry.text()? == "full" {
        return Ok(SightSpec::Full);
    }
    let angles = view::angles(&entry, "\"full\" or ")?;
    if framed {
        return Ok(SightSpec::Projected(angles));
    }
    Err(entry.disagreement(
        "the scene has no patient frame, so LAO, RAO, CRA and CAU mean nothing in it".into(),
        "add [view] with patient_frame = [\"left\", \"head\", \"front\"], or write sight = \"full\"".into(),
    ))
}
