//! Movements that a person made, made again as they were, whatever is seen.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fields::{Around, Fields};
use super::{Needs, PlanSpec, Technique};
use crate::hands::{Controls, Made, Movement, Plan, Turns, View};
use crate::scenario::model::{CatheterSpec, Scenario, TechniqueSpec};
use crate::scenario::view::SightSpec;
use crate::schema::Read;
use crate::shown::counted;

/// Movements that a person made in a session by hand, made again as they were, with the devices, the
/// aids and the sight of the technique that the recording names, which stands before it.
#[derive(Debug, Deserialize, JsonSchema)]
pub(crate) struct RecordedFields {
    /// File of the movements, counted from the scenario file.
    #[schemars(extend("x-example" = "\"session.csv\""))]
    recording: String,
}

impl Fields for RecordedFields {
    fn checked(&self, around: Around<'_>) -> Read<PlanSpec> {
        let Some(worked) = around.recording else {
            unreachable!("a file that is named has been read before it is checked");
        };
        let plan = &worked.with.plan;
        Ok(Recorded {
            made: worked.recording.made.clone(),
            movements: worked.recording.movements.clone().into(),
            went_back: worked.recording.went_back,
            needs: plan.needs(),
            controls: controls(worked.with, around.devices.catheters),
            seconds_per_100_mm: plan.technique().seconds_per_100_mm(),
        }
        .into())
    }

    fn recording(&self) -> Option<&str> {
        Some(&self.recording)
    }
}

/// What hands have to move that work with the devices of a technique.
#[must_use]
pub fn controls(technique: &TechniqueSpec, catheters: &[CatheterSpec]) -> Controls {
    let catheter = technique.plan.catheter().map(|index| &catheters[index]);
    Controls {
        changes_wire: technique.aids.exchange.is_some(),
        guide_aims: technique.aids.guide_aims.len(),
        has_catheter: catheter.is_some(),
        has_balloon: technique.aids.balloon.is_some(),
        steered_rad: catheter.and_then(|c| c.tip?.range_rad),
    }
}

/// Movements that a person made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Recorded {
    /// In which scene.
    pub made: Made,
    /// The movements, in their order.
    pub movements: Arc<[Movement]>,
    /// How often the person went back to an earlier moment before these movements stood.
    pub went_back: usize,
    /// Devices and room that the technique needs whose devices were used.
    pub needs: Needs,
    /// What these can do.
    pub controls: Controls,
    /// What a trial of that technique costs, see [`Technique::seconds_per_100_mm`].
    pub seconds_per_100_mm: f64,
}

impl Technique for Recorded {
    fn needs(&self) -> Needs {
        self.needs
    }

    fn plan(&self, _: SightSpec) -> Box<dyn Plan> {
        Box::new(RecordedPlan {
            movements: Arc::clone(&self.movements),
            controls: self.controls,
            next: 0,
        })
    }

    fn words(&self, _: &TechniqueSpec, _: &Scenario) -> String {
        let made = &self.made;
        format!(
            "make {} of a person again, with the devices of {:?}; they were made with wire {:?} on the draw \
             of trial {}, seed {}{}",
            counted(self.movements.len(), "movement", "movements"),
            made.technique,
            made.wire,
            made.trial,
            made.seed,
            went_back(self.went_back)
        )
    }

    fn turns(&self) -> bool {
        false
    }

    fn seconds_per_100_mm(&self) -> f64 {
        self.seconds_per_100_mm
    }
}

/// How often a person went back to an earlier moment, as it stands behind other words; nothing where never.
#[must_use]
pub fn went_back(times: usize) -> String {
    match times {
        0 => String::new(),
        times => format!(
            "; the person went back to an earlier moment {}",
            counted(times, "time", "times")
        ),
    }
}

struct RecordedPlan {
    movements: Arc<[Movement]>,
    controls: Controls,
    next: usize,
}

impl RecordedPlan {
    /// The next movement, where hands can make it.
    fn take(&mut self, view: &View, has_reached: bool) -> Option<Movement> {
        let movement = *self.movements.get(self.next)?;
        self.next += 1;
        let refused = self.controls.refusal(movement, view, has_reached);
        refused.is_none().then_some(movement)
    }
}

impl Plan for RecordedPlan {
    fn next(&mut self, view: &View, _: &mut dyn Turns) -> Movement {
        self.take(view, false).unwrap_or(Movement::Stop)
    }

    fn attempts(&self) -> u32 {
        1
    }

    fn after_reaching(&mut self, view: &View) -> Option<Movement> {
        self.take(view, true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::CatheterMove;
    use crate::hands::tests::{Asked, seen};

    #[test]
    fn movements_come_in_their_order_and_end_where_hands_cannot_make_one() {
        let feed = Movement::Catheter(CatheterMove::Feed);
        let movements = [Movement::Feed, Movement::Turn(0.1), Movement::Feed, feed];
        let plan = |has_catheter| RecordedPlan {
            movements: movements.into(),
            controls: Controls {
                has_catheter,
                ..Controls::default()
            },
            next: 0,
        };
        let view = seen(5.0, 10.0, false);
        let mut with = plan(true);
        for movement in movements {
            assert_eq!(with.next(&view, &mut Asked), movement);
        }
        assert_eq!(with.next(&view, &mut Asked), Movement::Stop);
        let mut alone = plan(false);
        for movement in &movements[..3] {
            assert_eq!(alone.next(&view, &mut Asked), *movement);
        }
        assert_eq!(alone.next(&view, &mut Asked), Movement::Stop);
        // The target is reached before the last movement: the catheter follows.
        let mut reaching = plan(true);
        reaching.next = 3;
        assert_eq!(reaching.after_reaching(&view), Some(feed));
        assert_eq!(reaching.after_reaching(&view), None);
    }
}
