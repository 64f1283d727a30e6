//! Published measurements beside what the program finds for the same question. Nothing is tuned: wires and
//! vessels are those of the shipped scenarios or of the checks.

mod coatings;
mod foreshortening;
mod pair;
mod peak_behind_bend;
mod sharp_branches;
mod tip_load;

use std::ops::Deref;

use serde::{Deserialize, Serialize};

use super::check::Broken;
use super::covered::Covered;

pub use pair::{Pair, Says, Value};

/// A published experiment.
#[derive(Debug, Serialize)]
pub struct Experiment {
    /// Name: letters and dashes.
    pub name: &'static str,
    /// What it asks.
    pub question: &'static str,
    /// Who published it, and how it was read.
    pub source: &'static str,
    /// What is simulated in its place.
    pub scene: &'static str,
    /// From where the ranges come in which a value agrees.
    pub uncertainty: &'static str,
    /// What is not known of the experiment.
    pub unknown: &'static [&'static str],
    /// Why agreement says little; empty where it says something.
    pub says_little: &'static str,
    /// Ranges of the inputs that it varies.
    #[serde(skip)]
    pub covers: fn() -> Vec<Covered>,
    /// Simulates it.
    #[serde(skip)]
    pub compare: fn() -> Result<Vec<Pair>, Broken>,
}

/// What was simulated of an experiment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Simulated {
    /// The values; empty where it could not be simulated.
    pub pairs: Vec<Pair>,
    /// Why it could not; empty where it was.
    pub broken: String,
}

/// What came of a comparison; the description of the experiment can be read as its own.
#[derive(Debug, Serialize)]
pub struct Compared {
    /// The experiment.
    #[serde(flatten)]
    pub experiment: &'static Experiment,
    /// Ranges of the inputs that it varies.
    pub covers: Vec<Covered>,
    /// The values.
    pub pairs: Vec<Pair>,
    /// The verdict in words.
    pub verdict: String,
    /// The same in a word; that of the pairs where they all say the same.
    pub says: Says,
}

impl Deref for Compared {
    type Target = Experiment;

    fn deref(&self) -> &Experiment {
        self.experiment
    }
}

/// All experiments, in the order of the page.
pub const EXPERIMENTS: &[Experiment] = &[
    sharp_branches::EXPERIMENT,
    peak_behind_bend::EXPERIMENT,
    foreshortening::EXPERIMENT,
    tip_load::EXPERIMENT,
    coatings::EXPERIMENT,
];

impl Experiment {
    /// Simulates it.
    #[must_use]
    pub fn run(&self) -> Simulated {
        match (self.compare)() {
            Ok(pairs) => Simulated {
                pairs,
                broken: String::new(),
            },
            Err(broken) => Simulated {
                pairs: Vec::new(),
                broken: broken.0,
            },
        }
    }

    /// The experiment with what was simulated.
    #[must_use]
    pub fn compared(&'static self, simulated: Simulated) -> Compared {
        let (says, verdict) = self.verdict(&simulated);
        Compared {
            experiment: self,
            covers: (self.covers)(),
            pairs: simulated.pairs,
            verdict,
            says,
        }
    }

    fn verdict(&self, Simulated { pairs, broken }: &Simulated) -> (Says, String) {
        if pairs.is_empty() {
            let verdict = format!("cannot be told: it could not be simulated: {broken}");
            return (Says::CannotTell, verdict);
        }
        let count = |says: Says| pairs.iter().filter(|pair| pair.says == says).count();
        let of = |n: usize| format!("{n} of {}", pairs.len());
        let (agree, disagree) = (count(Says::Agrees), count(Says::Disagrees));
        if disagree > 0 {
            let (other, differ) = (of(agree), of(disagree));
            let verdict = format!(
                "disagrees: {differ} values lie outside the stated uncertainty, {other} inside"
            );
            return (Says::Disagrees, verdict);
        }
        if agree < pairs.len() {
            let open = of(pairs.len() - agree);
            let verdict = format!(
                "cannot be told: {open} values lie beside the published range by less than their own uncertainty"
            );
            return (Says::CannotTell, verdict);
        }
        let but = match self.says_little {
            "" => String::new(),
            why => format!(", which says little: {why}"),
        };
        let verdict = format!(
            "agrees: {} values lie within the stated uncertainty{but}",
            of(agree)
        );
        (Says::Agrees, verdict)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each experiment's own pairs, with values as they were found and as they must not be.
    fn pairs(name: &str, right: bool) -> Vec<Pair> {
        match name {
            "sharp-branches" => vec![
                sharp_branches::pair("made up", 6, if right { 0 } else { 6 }, false),
                sharp_branches::pair("made up", 6, if right { 6 } else { 0 }, true),
            ],
            "peak-behind-bend" => vec![peak_behind_bend::pair(
                "made up",
                if right { 1.0 } else { -4.0 },
            )],
            "foreshortening" => foreshortening::pairs(if right {
                &[2.0, 9.0, 12.0]
            } else {
                &[40.0, 60.0, 80.0]
            }),
            "tip-load" => vec![tip_load::pair(1.0, if right { 1.05 } else { 8.0 })],
            "coatings" => vec![coatings::pair("PTFE", if right { 0.5 } else { 0.9 }, 0.5)],
            other => panic!("no pairs for {other}"),
        }
    }

    #[test]
    fn every_experiment_agrees_or_disagrees_with_its_values() {
        for experiment in EXPERIMENTS {
            let of = |right: bool| {
                let pairs = pairs(experiment.name, right);
                let broken = String::new();
                experiment.verdict(&Simulated { pairs, broken })
            };
            let (says, verdict) = of(true);
            assert_eq!(says, Says::Agrees, "{verdict}");
            let (says, verdict) = of(false);
            assert_eq!(says, Says::Disagrees, "{verdict}");
            assert!(verdict.starts_with("disagrees"), "{verdict}");
        }
    }

    #[test]
    fn every_experiment_names_its_source_and_its_uncertainty() {
        for experiment in EXPERIMENTS {
            let says = [experiment.source, experiment.scene, experiment.uncertainty];
            assert!(
                says.iter().all(|text| text.len() > 20),
                "{}",
                experiment.name
            );
            assert!(experiment.question.ends_with('?') && !experiment.unknown.is_empty());
        }
    }
}
