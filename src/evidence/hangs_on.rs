//! What the drawn runs of a review say: which inputs a result hangs on.

use serde::Serialize;

use super::findings::PointRows;
use super::forces::Force;
use super::inputs::InputSpread;
use super::review::Review;
use crate::study::statistics::quantile;
use crate::study::sweep::{Index, PickFreeze};
use crate::trial::result::{Outcome, TrialRow};

/// Fewest rows of a pick-freeze design from which shares and ranges are told.
const LEAST_ROWS: usize = 8;
/// Widest interval of a share of the variance that is told: a wider one says nothing.
const WIDEST: f64 = 0.6;
/// By how much a share may lie outside 0 to 1, or the one alone above that in all, for all its scatter.
const OFF: f64 = 0.1;

/// A number that hangs on the inputs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// Share of the draws that reach the target.
    Rate,
    /// Median of the largest forces of all draws, those that miss included, as `summary.json` of a run has it.
    Force(Force),
}

/// Whether the rows tell the shares of an input, alone and in all: their intervals are no wider than [`WIDEST`],
/// and the parts are no more than the whole.
fn are_told([alone, total]: &[Index; 2]) -> bool {
    let is_narrow = |share: &Index| share.ci95[1] - share.ci95[0] <= WIDEST;
    let is_share = |share: &Index| (-OFF..=1.0 + OFF).contains(&share.value);
    let both = [alone, total];
    both.into_iter()
        .all(|share| is_narrow(share) && is_share(share))
        && alone.value <= total.value + OFF
}

impl Answer {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::Rate,
        Self::Force(Force::Push),
        Self::Force(Force::Wall),
        Self::Force(Force::Tip),
    ];

    /// In words with the unit.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Rate => "success rate (%)".to_owned(),
            Self::Force(force) => format!("median {} (mN)", force.words()),
        }
    }

    /// The number of these trials: % or mN; `None` for no trials.
    #[must_use]
    pub fn of(self, rows: &[TrialRow]) -> Option<f64> {
        match self {
            Self::Rate => {
                let reached = rows.iter().filter(|row| row.outcome == Outcome::Reached);
                (!rows.is_empty()).then(|| 100.0 * reached.count() as f64 / rows.len() as f64)
            }
            Self::Force(force) => force.median_of(rows),
        }
    }
}

/// What one input does to an answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Effect {
    /// The input in words.
    pub input: String,
    /// The answer with the input at the low end of its spread; `None` where the scenario cannot be built there.
    pub low: Option<f64>,
    /// The same at the high end.
    pub high: Option<f64>,
    /// Share of the variance that it explains alone, and that in which it has a part; `None` where nothing varies,
    /// nothing was drawn, or the rows are too few to tell it.
    pub shares: Option<[Index; 2]>,
}

impl Effect {
    /// Distance between the answers at both ends.
    #[must_use]
    pub fn swing(&self, stated: f64) -> f64 {
        let ends = [Some(stated), self.low, self.high].into_iter().flatten();
        let low = ends.clone().fold(f64::INFINITY, f64::min);
        ends.fold(f64::NEG_INFINITY, f64::max) - low
    }
}

/// What an answer of a strategy hangs on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HangsOn {
    /// The strategy.
    pub strategy: String,
    /// Which answer.
    pub answer: Answer,
    /// The answer as it is.
    pub stated: f64,
    /// 2.5th and 97.5th percentile of the answers at the drawn inputs; `None` where nothing was drawn.
    pub range: Option<[f64; 2]>,
    /// The inputs, those with the largest swing first.
    pub effects: Vec<Effect>,
}

impl HangsOn {
    /// The inputs that move the answer most, at most so many; those that do not move it are left out.
    pub fn largest(&self, most: usize) -> impl Iterator<Item = &Effect> {
        let moving = self.effects.iter();
        let moving = moving.filter(|effect| effect.swing(self.stated) > 0.0);
        moving.take(most)
    }

    /// What the rows of strategy number `strategy` say of one answer; `None` without trials.
    #[must_use]
    pub fn of(
        review: &Review,
        points: &[PointRows],
        strategy: usize,
        name: &str,
        answer: Answer,
    ) -> Option<Self> {
        let at = |point: usize| points.get(point)?.get(strategy).and_then(|r| answer.of(r));
        let stated = at(0)?;
        let drawn = review.first_drawn();
        let count = review.spreads().len();
        let rows = review.design().count().unwrap_or(0) / (count + 2);
        let mut design = PickFreeze::new(count, review.design().seed);
        let mut seen = Vec::new();
        for row in 0..rows {
            let value = |role: usize| at(drawn + row * (count + 2) + role);
            let mixed: Option<Vec<f64>> = (2..count + 2).map(value).collect();
            seen.extend([value(0), value(1)].into_iter().flatten());
            if let (Some(first), Some(second), Some(mixed)) = (value(0), value(1), mixed) {
                let about: Vec<f64> = mixed.iter().map(|m| m - stated).collect();
                design.add(first - stated, second - stated, &about);
            }
        }
        let range = quantile(&seen, 0.025).zip(quantile(&seen, 0.975));
        // Few rows give shares far outside 0 to 1, and ends of a range that the next row moves.
        let is_enough = rows >= LEAST_ROWS;
        let range = range.filter(|_| is_enough);
        let indices = design.indices().filter(|_| is_enough);
        let effect = |(number, spread): (usize, &InputSpread)| Effect {
            input: spread.input.words().to_owned(),
            low: at(review.at_end(number, false)),
            high: at(review.at_end(number, true)),
            shares: indices
                .as_ref()
                .map(|all| [all[number].0, all[number].1])
                .filter(are_told),
        };
        let mut effects: Vec<Effect> = review.spreads().iter().enumerate().map(effect).collect();
        effects.sort_by(|a, b| b.swing(stated).total_cmp(&a.swing(stated)));
        Some(Self {
            strategy: name.to_owned(),
            answer,
            stated,
            range: range.map(|(low, high)| [low, high]),
            effects,
        })
    }
}
