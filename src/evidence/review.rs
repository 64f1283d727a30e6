//! In which ways a scenario is run to learn how far its result can be trusted: as it is, with finer
//! settings, and with other values of its uncertain inputs, on the same draws each time.

use crate::scenario::model::Scenario;
use crate::scenario::sweep::model::{DesignKind, Distribution, ParameterSpec, Values, number};
use crate::schema::Place;
use crate::study::sweep::Design;

use super::inputs::{InputSpread, Uncertain};
use super::knobs::{Knob, LEVELS};

/// One way in which a scenario is run.
#[derive(Debug, Clone, PartialEq)]
pub enum Variant {
    /// As it is.
    AsItIs,
    /// One setting finer, that many times.
    Finer(Knob, u32),
    /// All numerical settings finer, that many times.
    AllFiner(u32),
    /// One input at the low or the high end of its spread.
    AtEnd {
        /// Number of the input in [`Review::spreads`].
        input: usize,
        /// Whether at the high end.
        high: bool,
    },
    /// All inputs drawn from their spreads: a point of a pick-freeze design.
    Drawn(usize),
}

/// All ways in which a scenario is run, in the order of their numbers.
#[derive(Debug, Clone)]
pub struct Review {
    scenario: Scenario,
    knobs: Vec<Knob>,
    spreads: Vec<InputSpread>,
    design: Design,
}

impl Review {
    /// The review of a scenario with `spreads` of its inputs, of which those that change nothing are left
    /// out, and so many `rows` of drawn inputs.
    #[must_use]
    pub fn new(scenario: &Scenario, spreads: Vec<InputSpread>, rows: usize) -> Self {
        let acting = spreads.into_iter().filter(|s| s.input.acts(scenario));
        let spreads: Vec<InputSpread> = acting.collect();
        let design = Design {
            kind: DesignKind::PickFreeze { rows },
            seed: scenario.study.seed,
            parameters: spreads.iter().map(parameter).collect(),
        };
        Self {
            scenario: scenario.clone(),
            knobs: Knob::of(scenario),
            spreads,
            design,
        }
    }

    /// Settings that are made finer.
    #[must_use]
    pub fn knobs(&self) -> &[Knob] {
        &self.knobs
    }

    /// Spreads of the inputs that act.
    #[must_use]
    pub fn spreads(&self) -> &[InputSpread] {
        &self.spreads
    }

    /// How the inputs are drawn.
    #[must_use]
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// The scenario as it is.
    #[must_use]
    pub fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    /// Ways in which it is run.
    #[must_use]
    pub fn points(&self) -> usize {
        self.first_drawn() + self.design.count().unwrap_or(0)
    }

    fn first_all_finer(&self) -> usize {
        1 + self.knobs.len() * LEVELS as usize
    }

    fn first_end(&self) -> usize {
        self.first_all_finer() + LEVELS as usize
    }

    /// Number of the first point at which all inputs are drawn.
    #[must_use]
    pub fn first_drawn(&self) -> usize {
        self.first_end() + 2 * self.spreads.len()
    }

    /// Number of the point with a setting finer, `level` times from 1.
    #[must_use]
    pub fn finer(&self, knob: usize, level: u32) -> usize {
        knob * LEVELS as usize + level as usize
    }

    /// Number of the point with all numerical settings finer, `level` times from 1.
    #[must_use]
    pub fn all_finer(&self, level: u32) -> usize {
        self.first_all_finer() + level as usize - 1
    }

    /// Number of the point with an input at the low or the high end of its spread.
    #[must_use]
    pub fn at_end(&self, input: usize, high: bool) -> usize {
        self.first_end() + 2 * input + usize::from(high)
    }

    /// What the point numbered `point` is.
    #[must_use]
    pub fn variant(&self, point: usize) -> Variant {
        let levels = LEVELS as usize;
        let level = |offset: usize| 1 + u32::try_from(offset % levels).unwrap_or(0);
        if point == 0 {
            Variant::AsItIs
        } else if point < self.first_all_finer() {
            Variant::Finer(self.knobs[(point - 1) / levels], level(point - 1))
        } else if point < self.first_end() {
            Variant::AllFiner(level(point - self.first_all_finer()))
        } else if point < self.first_drawn() {
            let offset = point - self.first_end();
            Variant::AtEnd {
                input: offset / 2,
                high: offset % 2 == 1,
            }
        } else {
            Variant::Drawn(point - self.first_drawn())
        }
    }

    /// The scenario at a point.
    #[must_use]
    pub fn scenario_at(&self, point: usize) -> Scenario {
        let mut scenario = self.scenario.clone();
        match self.variant(point) {
            Variant::AsItIs => {}
            Variant::Finer(knob, level) => knob.refine(&mut scenario, level),
            Variant::AllFiner(level) => {
                for knob in self.knobs.iter().filter(|knob| knob.is_numerical()) {
                    knob.refine(&mut scenario, level);
                }
            }
            Variant::AtEnd { input, high } => {
                let spread = &self.spreads[input];
                let value = if high { spread.high } else { spread.low };
                spread.input.set(&mut scenario, value);
            }
            Variant::Drawn(drawn) => {
                for (spread, value) in self.spreads.iter().zip(self.design.point(drawn)) {
                    let value = number(&value).unwrap_or(1.0);
                    spread.input.set(&mut scenario, value);
                }
            }
        }
        scenario
    }

    /// A point in words.
    #[must_use]
    pub fn words(&self, point: usize) -> String {
        match self.variant(point) {
            Variant::AsItIs => "as it is".to_owned(),
            Variant::Finer(knob, level) => knob.at_level(level),
            Variant::AllFiner(level) => {
                let numerical = self.knobs.iter().filter(|knob| knob.is_numerical());
                let each: Vec<String> = numerical.map(|knob| knob.at_level(level)).collect();
                format!("all together ({})", each.join(", "))
            }
            Variant::AtEnd { input, high } => {
                let spread = &self.spreads[input];
                let value = if high { spread.high } else { spread.low };
                format!("{} {value} {}", spread.input.words(), spread.input.unit())
            }
            Variant::Drawn(drawn) => format!("drawn inputs, point {drawn}"),
        }
    }
}

/// The spread as the parameter of a design: a factor is as likely to be so many times above as below 1.
fn parameter(spread: &InputSpread) -> ParameterSpec {
    let (low, high) = (spread.low, spread.high);
    let distribution = if spread.input.is_factor() {
        Distribution::LogUniform { low, high }
    } else {
        Distribution::Uniform { low, high }
    };
    ParameterSpec {
        column: spread.input.name().replace('-', "_"),
        label: spread.input.words().to_owned(),
        unit: spread.input.unit().to_owned(),
        targets: Vec::new(),
        values: Values::Spread {
            distribution,
            whole: false,
        },
        place: Place::default(),
    }
}

/// The usual spreads, those that are stated in place of the usual ones.
#[must_use]
pub fn spreads(stated: &[(Uncertain, f64, f64)]) -> Vec<InputSpread> {
    let of = |input: Uncertain| match stated.iter().rev().find(|(of, ..)| *of == input) {
        Some(&(input, low, high)) => InputSpread {
            input,
            low,
            high,
            source: "stated with the command".to_owned(),
        },
        None => input.usual(),
    };
    Uncertain::ALL.into_iter().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn review() -> Review {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/beating-tree.toml");
        let scenario = crate::scenario::load(path.as_ref()).unwrap().scenario;
        Review::new(&scenario, spreads(&[(Uncertain::Hand, 1.0, 3.0)]), 2)
    }

    #[test]
    fn every_point_is_one_way_and_changes_the_scenario() {
        let review = review();
        assert_eq!(review.knobs().len(), 6);
        assert_eq!(review.scenario_at(0), *review.scenario());
        for (number, knob) in review.knobs().iter().enumerate() {
            for level in 1..=LEVELS {
                let point = review.finer(number, level);
                assert_eq!(review.variant(point), Variant::Finer(*knob, level));
                assert_ne!(review.scenario_at(point), *review.scenario());
            }
        }
        for level in 1..=LEVELS {
            assert_eq!(
                review.variant(review.all_finer(level)),
                Variant::AllFiner(level)
            );
        }
        for input in 0..review.spreads().len() {
            for high in [false, true] {
                let point = review.at_end(input, high);
                assert_eq!(review.variant(point), Variant::AtEnd { input, high });
                assert_ne!(review.scenario_at(point), *review.scenario());
            }
        }
        let last = review.points() - 1;
        assert_eq!(
            review.variant(last),
            Variant::Drawn(last - review.first_drawn())
        );
        assert_eq!(
            review.points() - review.first_drawn(),
            2 * (review.spreads().len() + 2)
        );
    }
}
