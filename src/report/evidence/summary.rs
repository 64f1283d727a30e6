//! `evidence.json`: what the runs of a review came to. The bytes depend on scenario, seed and options alone.

use serde::Serialize;

use super::checks::CarriedOut;
use super::{hangs, scope};
use crate::evidence::{
    Answer, Converged, HangsOn, InputSpread, PointRows, Review, Scope, Where, scopes,
};
use crate::study::StudySetup;
use crate::trial::Prepared;

/// The summary.
#[derive(Debug, Clone, Serialize)]
pub struct EvidenceSummary {
    /// Version of the program.
    pub bendwise: String,
    /// Name of the scenario.
    pub scenario: String,
    /// Hash of the files read.
    pub content_hash: String,
    /// Seed of draws and inputs.
    pub seed: u64,
    /// Draws of each strategy.
    pub draws: u32,
    /// Ways in which the scenario was run.
    pub points: usize,
    /// Trials in all.
    pub trials: usize,
    /// Half of the interval in % within which a result counts as converged.
    pub asked_per_cent: f64,
    /// Whether each strategy is converged.
    pub converged: Vec<Converged>,
    /// Spreads of the inputs.
    pub spreads: Vec<InputSpread>,
    /// What each answer of each strategy hangs on.
    pub hangs_on: Vec<HangsOn>,
    /// Each input against the checks.
    pub scopes: Vec<Scope>,
}

impl EvidenceSummary {
    /// What the rows of all points say.
    #[must_use]
    pub fn new(
        setup: &StudySetup,
        review: &Review,
        prepared: &Prepared,
        points: &[PointRows],
        carried: &CarriedOut,
        asked_per_cent: f64,
    ) -> Self {
        let named = || setup.strategies.iter().enumerate();
        let converged = named()
            .map(|(k, label)| Converged::of(review, points, k, &label.name, asked_per_cent))
            .collect();
        let hangs_on = named()
            .flat_map(|(k, label)| {
                let of = move |answer| HangsOn::of(review, points, k, &label.name, answer);
                Answer::ALL.into_iter().filter_map(of)
            })
            .collect();
        let empty = Vec::new();
        Self {
            bendwise: setup.version.clone(),
            scenario: setup.scenario.clone(),
            content_hash: setup.content_hash.clone(),
            seed: setup.seed,
            draws: setup.trials,
            points: setup.points,
            trials: points.iter().flatten().map(Vec::len).sum(),
            asked_per_cent,
            converged,
            spreads: review.spreads().to_vec(),
            hangs_on,
            scopes: scopes(
                prepared,
                points.first().unwrap_or(&empty),
                &carried.checks,
                &carried.experiments,
            ),
        }
    }

    /// Inputs that do not lie inside the ranges of the checks.
    pub fn not_inside(&self) -> impl Iterator<Item = &Scope> {
        self.scopes
            .iter()
            .filter(|scope| scope.lies != Where::Inside)
    }

    /// What the answers of a strategy hang on most, with numbers.
    pub(super) fn hangs_of<'a>(&'a self, strategy: &'a str) -> impl Iterator<Item = String> + 'a {
        let own = self
            .hangs_on
            .iter()
            .filter(move |of| of.strategy == strategy);
        own.filter_map(hangs::in_short)
    }

    /// The verdicts, a line each.
    #[must_use]
    pub fn words(&self) -> String {
        let mut text = String::new();
        for converged in &self.converged {
            text += &format!("{}: {}\n", converged.strategy, converged.verdict);
            for hangs in self.hangs_of(&converged.strategy) {
                text += &format!("  hangs most on: {hangs}\n");
            }
        }
        text + &format!("inputs: {}\n", scope::in_short(self.not_inside()))
    }
}
