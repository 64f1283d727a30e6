//! Branches that run into another branch on their way: the lumens join there, and a wire may take a way
//! that no vessel tree has.

use std::collections::HashSet;

use super::Prepared;
use crate::scenario::Warning;
use crate::vessel::{Tree, TubePoint};

impl Prepared {
    /// A warning for each branch on the way to the target, the target included, that has left its parent
    /// and whose axis then lies in the lumen of a branch that does not hang on it.
    #[must_use]
    pub fn crossings(&self) -> Vec<Warning> {
        let tree = self.tree();
        let mut warnings = Vec::new();
        let mut next = Some(self.target_branch());
        while let Some(number) = next {
            let branch = &tree.branches()[number];
            next = branch.parent.map(|(parent, _)| parent);
            for (other, station_mm) in met(tree, number) {
                warnings.push(Warning {
                    message: format!(
                        "branch \"{}\" runs into \"{}\" {station_mm:.1} mm from its start: the two \
                         lumens join there, and a wire may pass; bend it another way if that is not \
                         meant",
                        branch.name,
                        tree.branches()[other].name
                    ),
                    place: self.scenario().vessel.branches[number].place.clone(),
                });
            }
        }
        warnings
    }
}

/// The branches into which the axis of a branch runs once it has left its parent, and its stations in mm
/// there; none that hang on it.
fn met(tree: &Tree, number: usize) -> Vec<(usize, f64)> {
    let branch = &tree.branches()[number];
    let parent = branch.parent.map(|(parent, _)| parent);
    let (mut near, mut found) = (Vec::new(), Vec::new());
    let mut told = HashSet::new();
    let mut left = parent.is_none();
    let mut station_mm = 0.0;
    while station_mm < branch.centreline.length_mm() {
        tree.tubes_near(&branch.centreline.position(station_mm), &mut near);
        let inside = near
            .iter()
            .filter(|(_, tube): &&(usize, TubePoint)| tube.distance_mm < 0.0);
        left = left || inside.clone().all(|(other, _)| Some(*other) != parent);
        for &(other, _) in inside {
            if left && !hangs_on(tree, other, number) && told.insert(other) {
                found.push((other, station_mm));
            }
        }
        station_mm += 0.5 * branch.centreline.radius(station_mm);
    }
    found
}

/// Whether a branch is another one or hangs on it, directly or by others.
fn hangs_on(tree: &Tree, branch: usize, on: usize) -> bool {
    let mut next = Some(branch);
    while let Some(number) = next {
        if number == on {
            return true;
        }
        next = tree.branches()[number].parent.map(|(parent, _)| parent);
    }
    false
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::scenario::load_text;

    /// A straight parent, and a branch that leaves backwards at 150 degrees and turns by `turn_deg`.
    fn warnings(turn_deg: f64) -> Vec<String> {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
        let shipped = std::fs::read_to_string(&path).unwrap();
        let (head, rest) = shipped.split_once("[[vessel.branch]]").unwrap();
        let rest = &rest[rest.find("[guide]").unwrap()..];
        let vessel = format!(
            "[[vessel.branch]]\nname = \"parent\"\ndiameter_mm = 3\n\
             pieces = [{{ shape = \"straight\", length_mm = 100 }}]\n\
             [[vessel.branch]]\nname = \"side\"\nparent = \"parent\"\nat_mm = 40\n\
             take_off_deg = 150\ndiameter_mm = 1.8\n\
             pieces = [{{ shape = \"straight\", length_mm = 15 }}, \
             {{ shape = \"arc\", radius_mm = 8, angle_deg = {turn_deg} }}, \
             {{ shape = \"straight\", length_mm = 15 }}]\n"
        );
        let loaded = load_text(&path, format!("{head}{vessel}{rest}")).unwrap();
        let prepared = Prepared::new(&loaded.scenario).unwrap();
        let told = prepared.crossings().into_iter().map(|w| w.message);
        told.collect()
    }

    #[test]
    fn a_branch_that_comes_back_into_its_parent_is_told_and_one_that_does_not_is_not() {
        assert!(warnings(10.0).is_empty());
        let told = (0..4).flat_map(|k| warnings(140.0 + 10.0 * f64::from(k)));
        let told: Vec<String> = told.collect();
        assert!(
            told.iter()
                .any(|t| t.contains("\"side\" runs into \"parent\"")),
            "{told:?}"
        );
    }
}
