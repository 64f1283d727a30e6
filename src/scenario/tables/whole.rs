//! Checks that need the whole scenario: names that point at branches, and whether the target lies
//! downstream of the guide and within the wire that may be fed. Whether the wires fit through the
//! lumen is seen on the vessel that is built, by [`crate::trial::Prepared`].

use super::catheter::CatheterTable;
use crate::scenario::measure::{self, Stretch};
use crate::scenario::model::{BranchSpec, Scenario};
use crate::schema::{Place, Read, Refusal};

/// Where the scenario says what is looked at here.
pub(super) struct Said {
    pub(super) guide_branch: Place,
    /// Whether the station of the guide's end is said.
    pub(super) guide_station: bool,
    pub(super) target_branch: Place,
}

/// Checks the way from the guide to the target.
pub(super) fn check(scenario: &Scenario, said: &Said) -> Read<()> {
    let way = way_to_target(scenario, said)?;
    long_enough(scenario, &way)
}

fn branch<'s>(scenario: &'s Scenario, name: &str, at: &Place) -> Read<&'s BranchSpec> {
    let branches = &scenario.vessel.branches;
    let found = branches.iter().find(|branch| branch.name == name);
    found.ok_or_else(|| {
        let names = branches.iter().map(|branch| &branch.name);
        Refusal::unknown(at.clone(), "the name of a branch", names)
    })
}

fn way_to_target(scenario: &Scenario, said: &Said) -> Read<Vec<Stretch>> {
    let guide = branch(scenario, &scenario.guide.branch, &said.guide_branch)?;
    let target = branch(scenario, &scenario.target.branch, &said.target_branch)?;
    let at_mm = scenario.guide.station_mm;
    let guide_at = Place::top("guide").field("at_mm");
    if said.guide_station && at_mm >= measure::length_mm(&guide.path) {
        return Err(off_the_end(guide_at, guide));
    }
    if guide.name == target.name {
        return Err(Refusal::at(
            said.target_branch.clone(),
            "the guide ends in the same branch, so there is nothing to reach",
            "choose a branch downstream of the guide",
        ));
    }
    let beyond_mm = scenario.target.beyond_ostium_mm;
    if beyond_mm >= measure::length_mm(&target.path) {
        let at = Place::top("target").field("beyond_ostium_mm");
        return Err(off_the_end(at, target));
    }
    let way = measure::way(
        &scenario.vessel,
        &guide.name,
        at_mm,
        &target.name,
        beyond_mm,
    );
    let way = way.ok_or_else(|| {
        Refusal::at(
            said.target_branch.clone(),
            format!(
                "it does not lie downstream of the guide's branch \"{}\"",
                guide.name
            ),
            "choose a target downstream of the guide, or move the guide",
        )
    })?;
    match way.first() {
        Some(first) if said.guide_station && first.to_mm <= at_mm => Err(Refusal::at(
            guide_at,
            format!(
                "the way to the target leaves \"{}\" at {:.1} mm; allowed is below that",
                guide.name, first.to_mm
            ),
            "let the guide end before the branch point",
        )),
        _ => Ok(way),
    }
}

fn off_the_end(at: Place, branch: &BranchSpec) -> Box<Refusal> {
    let length = measure::length_mm(&branch.path);
    Refusal::at(
        at,
        format!(
            "branch \"{}\" is {length:.1} mm long; allowed is below {length:.1} mm",
            branch.name
        ),
        "give a shorter distance or a longer branch",
    )
}

fn long_enough(scenario: &Scenario, way: &[Stretch]) -> Read<()> {
    let needed: f64 = way.iter().map(|part| part.to_mm - part.from_mm).sum();
    if scenario.target.max_fed_mm > needed {
        return Ok(());
    }
    Err(Refusal::at(
        Place::top("target").field("max_fed_mm"),
        format!(
            "the target lies {needed:.1} mm along the centreline from the guide; allowed is above \
             {needed:.1} mm"
        ),
        format!(
            "give some reserve, for example max_fed_mm = {:.0}",
            1.5 * needed
        ),
    ))
}

/// Every catheter that a technique uses must take every wire and go through the guide.
pub(super) fn catheters_fit(scenario: &Scenario, tables: &[CatheterTable]) -> Read<()> {
    let used = scenario.techniques.iter().filter_map(|t| t.plan.catheter());
    for index in used {
        let (Some(catheter), Some(table)) = (scenario.catheters.get(index), tables.get(index))
        else {
            continue;
        };
        let inner = catheter.inner_diameter_mm;
        if let Some(wire) = scenario.wires.iter().find(|w| w.diameter_mm >= inner) {
            return Err(Refusal::at(
                catheter.place.field(table.inner_field()),
                format!(
                    "wire \"{}\" is {:.4} mm thick and does not go through; allowed is above {:.4} mm",
                    wire.name, wire.diameter_mm, wire.diameter_mm
                ),
                "take a wider catheter or a thinner wire",
            ));
        }
        let guide = scenario.guide.inner_diameter_mm;
        if catheter.outer_diameter_mm >= guide {
            return Err(Refusal::at(
                catheter.place.field(table.outer_field()),
                format!("the guide is {guide} mm wide inside; allowed is below {guide} mm"),
                "take a thinner catheter or a wider guide",
            ));
        }
    }
    Ok(())
}
