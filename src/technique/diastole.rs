//! Feeding while the heart rests: at the branching the hands wait for diastole.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::hands::{Movement, Plan, Turns, View};

/// How far behind a branching the hands go on to feed in diastole alone, in mm.
const PAST_MM: f64 = 5.0;

/// When the hands feed at a branching.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[schemars(extend("x-kind" = "a time to feed"))]
pub enum Feeds {
    /// At any time.
    #[default]
    AnyTime,
    /// In diastole: while the vessel rests between two beats.
    InDiastole,
}

impl Feeds {
    /// The plan that feeds so from `before_mm` before a branching on.
    pub(super) fn plan(self, plan: impl Plan + 'static, before_mm: f64) -> Box<dyn Plan> {
        match self {
            Self::AnyTime => Box::new(plan),
            Self::InDiastole => Box::new(InDiastole {
                inner: plan,
                before_mm,
                put_off: None,
            }),
        }
    }

    /// What it adds to the words of a technique.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::AnyTime => "",
            Self::InDiastole => "; at a branching feed in diastole alone",
        }
    }
}

/// A plan whose feeding at a branching is put off to the next diastole.
struct InDiastole<P> {
    inner: P,
    /// How far before a branching that begins, in mm.
    before_mm: f64,
    /// What was put off.
    put_off: Option<Movement>,
}

impl<P: Plan> Plan for InDiastole<P> {
    fn next(&mut self, view: &View, turns: &mut dyn Turns) -> Movement {
        if let Some(movement) = self.put_off.take() {
            return movement;
        }
        let movement = self.inner.next(view, turns);
        let at_branching = (-PAST_MM..=self.before_mm).contains(&view.before_branching_mm);
        match view.rest_in_s {
            Some(wait_s) if wait_s > 0.0 && at_branching && movement == Movement::Feed => {
                self.put_off = Some(movement);
                Movement::Wait(wait_s)
            }
            _ => movement,
        }
    }

    fn attempts(&self) -> u32 {
        self.inner.attempts()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::hands::tests::{Asked, seen};

    struct Feeding;
    impl Plan for Feeding {
        fn next(&mut self, _: &View, _: &mut dyn Turns) -> Movement {
            Movement::Feed
        }
        fn attempts(&self) -> u32 {
            1
        }
    }

    fn view(before_mm: f64, rest_in_s: Option<f64>) -> View {
        View {
            before_branching_mm: before_mm,
            rest_in_s,
            ..seen(0.0, 0.0, false)
        }
    }

    #[test]
    fn hands_wait_at_the_branching_until_the_heart_rests_and_feed_then() {
        let mut plan = Feeds::InDiastole.plan(Feeding, 3.0);
        let mut next = |before_mm, rest_in_s| plan.next(&view(before_mm, rest_in_s), &mut Asked);
        assert_eq!(next(20.0, Some(0.5)), Movement::Feed);
        assert_eq!(next(2.0, Some(0.5)), Movement::Wait(0.5));
        // Whatever is seen after that, it is not waited for twice.
        assert_eq!(next(2.0, Some(1e-12)), Movement::Feed);
        assert_eq!(next(1.6, Some(0.0)), Movement::Feed);
        assert_eq!(next(-4.0, Some(0.1)), Movement::Wait(0.1));
        assert_eq!(next(-4.4, None), Movement::Feed);
        assert_eq!(next(-9.0, Some(0.3)), Movement::Feed);
    }

    #[test]
    fn hands_that_feed_at_any_time_never_wait() {
        let mut plan = Feeds::AnyTime.plan(Feeding, 3.0);
        assert_eq!(plan.next(&view(2.0, Some(0.5)), &mut Asked), Movement::Feed);
    }
}
