//! Feed so many times, then stop: a technique for tests, which shows that this file and its line
//! in the registry are all that the program needs to know of a technique.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fields::{Around, Fields, makes_one_attempt};
use super::{Loading, Needs, PlanSpec, Technique};
use crate::hands::{Movement, Plan, Turns, View};
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::{Read, Refusal, defaults};

/// Feed so many times, then stop.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct ToyFields {
    /// How often the wire is fed; even.
    #[serde(default = "defaults::count::<10>")]
    #[schemars(range(min = 1, max = 100), extend("x-unit" = "movements", "x-example" = "10"))]
    feeds: u32,
}

impl Fields for ToyFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        makes_one_attempt(around, "the toy")?;
        if !self.feeds.is_multiple_of(2) {
            return Err(Refusal::at(
                around.at.field("feeds"),
                "the toy feeds twice or not at all",
                "choose an even number",
            ));
        }
        Ok(Toy { feeds: self.feeds }.into())
    }
}

/// Feed so many times, then stop.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Toy {
    /// How often the wire is fed; even.
    pub feeds: u32,
}

impl Technique for Toy {
    fn needs(&self) -> Needs {
        Needs::loaded_in(Loading::Guide)
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(ToyPlan { left: self.feeds })
    }

    fn words(&self, _: &TechniqueSpec, _: &Scenario) -> String {
        format!("feed {} times, then stop", self.feeds)
    }

    fn turns(&self) -> bool {
        false
    }

    fn seconds_per_100_mm(&self) -> f64 {
        0.07
    }
}

struct ToyPlan {
    left: u32,
}

impl Plan for ToyPlan {
    fn next(&mut self, _: &View, _: &mut dyn Turns) -> Movement {
        if self.left == 0 {
            return Movement::Stop;
        }
        self.left -= 1;
        Movement::Feed
    }

    fn attempts(&self) -> u32 {
        1
    }
}

mod tests {
    use std::fs;
    use std::path::Path;

    use super::*;
    use crate::report::scene::{Scene, describe};
    use crate::scenario::{Document, Loaded, ScenarioError, load_text};
    use crate::trial::{Prepared, run_trial, strategies};

    /// The shipped side branch with `table` in place of its techniques.
    fn side_branch(table: &str) -> Result<Loaded, ScenarioError> {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/side-branch.toml");
        let text = fs::read_to_string(&path).unwrap();
        let (before, techniques) = text.split_once("[[technique]]").unwrap();
        let (_, after) = techniques.split_once("[variation]").unwrap();
        load_text(&path, format!("{before}{table}\n[variation]{after}"))
    }

    fn toy() -> Scenario {
        let loaded = side_branch("[[technique]]\nkind = \"toy\"\nfeeds = 6\n");
        loaded.unwrap().scenario
    }

    #[test]
    fn a_scenario_may_name_it_and_its_fields_are_checked() {
        let scenario = toy();
        assert_eq!(scenario.techniques[0].name, "toy");
        assert_eq!(scenario.techniques[0].plan, Toy { feeds: 6 }.into());
        let refused = |feeds: &str| {
            let table = format!("[[technique]]\nkind = \"toy\"\nfeeds = {feeds}\n");
            side_branch(&table).unwrap_err().to_string()
        };
        assert!(refused("101").contains("1 to 100"), "{}", refused("101"));
        assert!(refused("7").contains("twice"), "{}", refused("7"));
        let aided =
            "[[technique]]\nkind = \"toy\"\nguide_aims = [{ tilt_deg = 5, plane_deg = 0 }]\n";
        let aided = side_branch(aided).unwrap_err().to_string();
        assert!(aided.contains("makes one attempt"), "{aided}");
    }

    #[test]
    fn the_published_schema_has_it() {
        let schema = Document::Scenario.schema().to_string();
        assert!(schema.contains("How often the wire is fed; even."));
    }

    #[test]
    fn a_trial_makes_its_movements_and_a_scene_says_them() {
        let scenario = toy();
        let prepared = Prepared::new(&scenario).unwrap();
        let record = run_trial(&prepared, &strategies(&scenario)[0], 0, true);
        let fed_mm = record.hands.last().unwrap().fed_sum_mm;
        assert!((fed_mm - 6.0 * 0.4).abs() < 1e-9, "{fed_mm} mm fed");
        let said = describe(&Scene {
            scenario: &scenario,
            content_hash: "",
            warnings: &[],
            branches: &[],
            reaching: prepared.reaching(),
            wires: prepared.wires(),
            remarks: &[],
            imported: None,
        });
        assert!(said.contains("toy  feed 6 times, then stop"), "{said}");
    }
}
