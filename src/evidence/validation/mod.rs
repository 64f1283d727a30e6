//! Published measurements beside what the program finds for the same question. Nothing is tuned: wires and
//! vessels are those of the shipped scenarios or of the checks.

mod coatings;
mod foreshortening;
mod push;
mod sharp_branches;
mod tip_load;

use serde::Serialize;

use super::check::Broken;

/// What a pair of numbers says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Says {
    /// They agree within both uncertainties.
    Agrees,
    /// They do not.
    Differs,
    /// One of them has no uncertainty, or belongs to another experiment.
    CannotTell,
}

impl Says {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Agrees => "agrees",
            Self::Differs => "differs",
            Self::CannotTell => "cannot be told",
        }
    }
}

/// A published and a simulated value side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// What was measured, with the unit.
    pub what: String,
    /// The published value with its uncertainty, in words.
    pub published: String,
    /// The simulated value with its uncertainty, in words.
    pub simulated: String,
    /// What they say of each other.
    pub says: Says,
}

impl Pair {
    /// Two ranges, which agree where they overlap.
    fn of_ranges(
        what: impl Into<String>,
        (published, source_range): (String, [f64; 2]),
        (simulated, found): (String, [f64; 2]),
    ) -> Self {
        let overlap = source_range[0] <= found[1] && found[0] <= source_range[1];
        Self {
            what: what.into(),
            published,
            simulated,
            says: if overlap { Says::Agrees } else { Says::Differs },
        }
    }
}

/// A published experiment.
#[derive(Debug)]
pub struct Experiment {
    /// Name: letters and dashes.
    pub name: &'static str,
    /// What it asks.
    pub question: &'static str,
    /// Who published it, and how it was read.
    pub source: &'static str,
    /// What is simulated in its place.
    pub scene: &'static str,
    /// What is not known of the experiment.
    pub unknown: &'static [&'static str],
    /// Whether what is not known could turn the comparison either way.
    pub unknown_decides: bool,
    /// Simulates it.
    pub compare: fn() -> Result<Vec<Pair>, Broken>,
}

/// What came of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Compared {
    /// Name of the experiment.
    pub name: &'static str,
    /// What it asks.
    pub question: &'static str,
    /// Who published it.
    pub source: &'static str,
    /// What is simulated in its place.
    pub scene: &'static str,
    /// What is not known of it.
    pub unknown: &'static [&'static str],
    /// The values; empty where it could not be simulated.
    pub pairs: Vec<Pair>,
    /// The verdict in words.
    pub verdict: String,
}

/// All experiments, in the order of the page.
pub const EXPERIMENTS: &[Experiment] = &[
    sharp_branches::EXPERIMENT,
    push::EXPERIMENT,
    foreshortening::EXPERIMENT,
    tip_load::EXPERIMENT,
    coatings::EXPERIMENT,
];

impl Experiment {
    /// Simulates it and compares.
    #[must_use]
    pub fn run(&self) -> Compared {
        let (pairs, verdict) = match (self.compare)() {
            Ok(pairs) => {
                let verdict = self.verdict(&pairs);
                (pairs, verdict)
            }
            Err(broken) => (
                Vec::new(),
                format!("cannot be told: it could not be simulated: {}", broken.0),
            ),
        };
        Compared {
            name: self.name,
            question: self.question,
            source: self.source,
            scene: self.scene,
            unknown: self.unknown,
            pairs,
            verdict,
        }
    }

    fn verdict(&self, pairs: &[Pair]) -> String {
        let count = |says: Says| pairs.iter().filter(|pair| pair.says == says).count();
        let (agree, differ) = (count(Says::Agrees), count(Says::Differs));
        let told = agree + differ;
        let of = |n: usize| format!("{n} of {}", pairs.len());
        let unknown = self.unknown.join("; ");
        match (told, differ, self.unknown_decides) {
            (0, ..) => format!("cannot be told: {unknown}"),
            (_, 0, true) => format!(
                "{} values agree, which says little: not known is {unknown}",
                of(agree)
            ),
            (_, _, true) => format!(
                "cannot be told: {} values differ, and not known is {unknown}",
                of(differ)
            ),
            (_, 0, false) => format!(
                "agrees: {} values do, within both uncertainties, and of {} nothing can be told",
                of(agree),
                pairs.len() - told
            ),
            (..) => format!("differs: {} values do, {} agree", of(differ), of(agree)),
        }
    }
}
