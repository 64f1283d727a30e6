//! Checks that need the whole scenario: names that point at branches, and whether the target lies
//! downstream of the guide and within the wire that may be fed. Whether the wires fit through the
//! lumen is seen on the vessel that is built, by [`crate::trial::Prepared`].

use super::error::{Checked, Problem};
use super::measure::{self, Stretch};
use super::model::{BranchSpec, Scenario};
use super::read::{Entry, Table};
use super::tables;

/// The values that whole-scenario faults point at.
struct Said<'a> {
    guide_branch: Entry<'a>,
    guide_at: Option<Entry<'a>>,
    target_branch: Entry<'a>,
    max_fed: Entry<'a>,
    beyond: Option<Entry<'a>>,
}

/// Checks a scenario that was read from `root`.
pub(super) fn whole(root: &Table<'_>, scenario: &Scenario) -> Checked<()> {
    let guide = tables::required(root, "guide", tables::GUIDE)?;
    let target = tables::required(root, "target", tables::TARGET)?;
    let said = Said {
        guide_branch: tables::said_branch(&guide)?,
        guide_at: guide.optional("at_mm"),
        target_branch: tables::said_branch(&target)?,
        max_fed: target.required("max_fed_mm")?,
        beyond: target.optional("beyond_ostium_mm"),
    };
    let way = way_to_target(scenario, &said)?;
    long_enough(scenario, &said, &way)?;
    catheters_fit(root, scenario)
}

fn branch<'s>(scenario: &'s Scenario, name: &str, entry: &Entry<'_>) -> Checked<&'s BranchSpec> {
    let branches = &scenario.vessel.branches;
    let found = branches.iter().find(|branch| branch.name == name);
    found.ok_or_else(|| {
        let names: Vec<&str> = branches.iter().map(|branch| branch.name.as_str()).collect();
        entry.unknown("the name of a branch", &names)
    })
}

fn way_to_target(scenario: &Scenario, said: &Said<'_>) -> Checked<Vec<Stretch>> {
    let guide = branch(scenario, &scenario.guide.branch, &said.guide_branch)?;
    let target = branch(scenario, &scenario.target.branch, &said.target_branch)?;
    let at_mm = scenario.guide.station_mm;
    if let Some(entry) = &said.guide_at
        && at_mm >= measure::length_mm(&guide.path)
    {
        return Err(off_the_end(entry, guide));
    }
    if guide.name == target.name {
        return Err(said.target_branch.disagreement(
            "the guide ends in the same branch, so there is nothing to reach".into(),
            "choose a branch downstream of the guide".into(),
        ));
    }
    let beyond_mm = scenario.target.beyond_ostium_mm;
    if beyond_mm >= measure::length_mm(&target.path) {
        let entry = said.beyond.as_ref().unwrap_or(&said.target_branch);
        return Err(off_the_end(entry, target));
    }
    let way = measure::way(
        &scenario.vessel,
        &guide.name,
        at_mm,
        &target.name,
        beyond_mm,
    );
    let way = way.ok_or_else(|| {
        said.target_branch.disagreement(
            format!(
                "it does not lie downstream of the guide's branch \"{}\"",
                guide.name
            ),
            "choose a target downstream of the guide, or move the guide".into(),
        )
    })?;
    match (way.first(), &said.guide_at) {
        (Some(first), Some(entry)) if first.to_mm <= at_mm => Err(entry.disagreement(
            format!(
                "the way to the target leaves \"{}\" at {:.1} mm; allowed is below that",
                guide.name, first.to_mm
            ),
            "let the guide end before the branch point".into(),
        )),
        _ => Ok(way),
    }
}

fn off_the_end(entry: &Entry<'_>, branch: &BranchSpec) -> Box<Problem> {
    let length = measure::length_mm(&branch.path);
    entry.disagreement(
        format!(
            "branch \"{}\" is {length:.1} mm long; allowed is below {length:.1} mm",
            branch.name
        ),
        "give a shorter distance or a longer branch".into(),
    )
}

fn long_enough(scenario: &Scenario, said: &Said<'_>, way: &[Stretch]) -> Checked<()> {
    let needed: f64 = way.iter().map(|part| part.to_mm - part.from_mm).sum();
    if scenario.target.max_fed_mm > needed {
        return Ok(());
    }
    Err(said.max_fed.disagreement(
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
fn catheters_fit(root: &Table<'_>, scenario: &Scenario) -> Checked<()> {
    let tables = root.tables("catheter", "[[catheter]]", tables::CATHETER)?;
    let used = scenario.techniques.iter().filter_map(|t| t.plan.catheter());
    for index in used {
        let (Some(catheter), Some(table)) = (scenario.catheters.get(index), tables.get(index))
        else {
            continue;
        };
        let said = |mm, french| {
            let field = if table.has(french) { french } else { mm };
            table.required(field)
        };
        let inner = catheter.inner_diameter_mm;
        if let Some(wire) = scenario.wires.iter().find(|w| w.diameter_mm >= inner) {
            return Err(said("inner_diameter_mm", "inner_diameter_fr")?.disagreement(
                format!(
                    "wire \"{}\" is {:.4} mm thick and does not go through; allowed is above {:.4} mm",
                    wire.name, wire.diameter_mm, wire.diameter_mm
                ),
                "take a wider catheter or a thinner wire".into(),
            ));
        }
        let guide = scenario.guide.inner_diameter_mm;
        if catheter.outer_diameter_mm >= guide {
            return Err(
                said("outer_diameter_mm", "outer_diameter_fr")?.disagreement(
                    format!("the guide is {guide} mm wide inside; allowed is below {guide} mm"),
                    "take a thinner catheter or a wider guide".into(),
                ),
            );
        }
    }
    Ok(())
}
