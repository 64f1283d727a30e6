//! Feed at the roll with which the wire was loaded until feeding on makes no sense.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fields::{Around, Fields, makes_one_attempt};
use super::{Loading, Needs, PlanSpec, Technique};
use crate::hands::{Movement, Plan, Turns, View};
use crate::scenario::model::{Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::Read;

/// Feed at the drawn roll until something is decided.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct PushFields {}

impl Fields for PushFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        makes_one_attempt(around, "push")?;
        Ok(Push.into())
    }
}

/// Feed at the drawn roll until something is decided; without settings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Push;

impl Technique for Push {
    fn needs(&self) -> Needs {
        Needs::loaded_in(Loading::Guide)
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(PushPlan)
    }

    fn words(&self, technique: &TechniqueSpec, _: &Scenario) -> String {
        match technique.sight {
            SightSpec::Full => "feed at the drawn roll".to_owned(),
            SightSpec::Projected(view) => {
                format!("feed at the drawn roll; seen in {view} alone")
            }
        }
    }

    fn turns(&self) -> bool {
        false
    }

    fn seconds_per_100_mm(&self) -> f64 {
        // 0.04 to 0.11 s were measured.
        0.07
    }
}

struct PushPlan;

impl Plan for PushPlan {
    fn next(&mut self, view: &View, _turns: &mut dyn Turns) -> Movement {
        if view.failing() {
            Movement::Stop
        } else {
            Movement::Feed
        }
    }

    fn attempts(&self) -> u32 {
        1
    }
}
