//! The forces that are reported of trials, as `summary.json` of a run reports them, and what finer settings say of
//! them.

use serde::Serialize;

use super::convergence::Estimate;
use super::findings::{PointRows, alike};
use super::knobs::{Knob, LEVELS};
use super::paired::Paired;
use super::review::Review;
use crate::study::statistics::{median, quantile};
use crate::trial::result::{Outcome, TrialRow};

/// A force that is reported of a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Force {
    /// Largest push of the hand.
    Push,
    /// Largest force on the wall, leaving the guide not counted.
    Wall,
    /// Largest force on the tip.
    Tip,
}

impl Force {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Push, Self::Wall, Self::Tip];

    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Push => "push force",
            Self::Wall => "wall force",
            Self::Tip => "tip force",
        }
    }

    /// Name of its entry in `summary.json`.
    #[must_use]
    pub fn entry(self) -> &'static str {
        match self {
            Self::Push => "peak_push_force_mN",
            Self::Wall => "peak_wall_force_mN",
            Self::Tip => "peak_tip_force_mN",
        }
    }

    /// The force of a trial in mN.
    #[must_use]
    pub fn of(self, row: &TrialRow) -> f64 {
        match self {
            Self::Push => row.peak_push_force_mn,
            Self::Wall => row.peak_wall_force_mn,
            Self::Tip => row.peak_tip_force_mn,
        }
    }

    /// The median over trials, those that miss included: the `median` of `summary.json`; `None` without trials.
    #[must_use]
    pub fn median_of(self, rows: &[TrialRow]) -> Option<f64> {
        median(&self.all_of(rows))
    }

    fn all_of(self, rows: &[TrialRow]) -> Vec<f64> {
        rows.iter().map(|row| self.of(row)).collect()
    }
}

/// A force as it is reported.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Reported {
    /// Median over all draws in mN, those that miss included: the `median` of `summary.json`.
    pub median_mn: f64,
    /// 95th percentile over them in mN: the `p95` of `summary.json`.
    pub p95_mn: f64,
    /// Median in mN over the draws that reach the target; `None` where none does.
    pub reached_mn: Option<f64>,
    /// Draws that reach.
    pub reached: usize,
}

/// A setting, or all together, made finer: what it says of one force.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OfSetting {
    /// Which setting; `None` for all numerical ones together.
    pub knob: Option<Knob>,
    /// The setting in words, at its finest.
    pub setting: String,
    /// The reported median as it is and at every level, in mN: what a run with these settings would report. Between
    /// few draws it jumps; the error is told by `paired` and `estimate`.
    pub medians_mn: Vec<f64>,
    /// The error of the reported median, from the medians of the differences of draws.
    pub estimate: Estimate,
    /// Differences of draws between the finest setting and as it is.
    pub paired: Paired,
    /// Draws that end alike at every level.
    pub draws: usize,
    /// Number of the draw that changes most.
    pub worst_draw: u32,
    /// Largest change of the force of one draw between as it is and the finest, in %.
    pub worst_draw_per_cent: f64,
}

impl OfSetting {
    /// By how much the reported median may be off in %: half of the interval of its meshes, or, where that is more,
    /// what the interval of the differences of draws does not exclude. `None` for a median of 0.
    #[must_use]
    pub fn off_per_cent(&self) -> Option<f64> {
        let mesh = self.estimate.per_cent()?;
        Some(mesh.max(self.paired.most_per_cent()))
    }
}

/// What is known of one force of a strategy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OfForce {
    /// Which force.
    pub force: Force,
    /// The force as it is reported; `None` without trials.
    pub reported: Option<Reported>,
    /// All settings together.
    pub together: Option<OfSetting>,
    /// Each setting alone.
    pub alone: Vec<OfSetting>,
}

impl OfForce {
    /// All settings that are numbers of the method, together and one by one; the stiffness of the wall is none.
    pub(super) fn numerical(&self) -> impl Iterator<Item = &OfSetting> {
        let alone = self.alone.iter();
        let alone = alone.filter(|of| of.knob.is_none_or(Knob::is_numerical));
        self.together.iter().chain(alone)
    }

    /// The most in % by which it may be off: of all settings together or of a numerical one alone, because errors
    /// of single settings may cancel where all are finer.
    #[must_use]
    pub fn off_per_cent(&self) -> Option<f64> {
        let off = self.numerical().filter_map(OfSetting::off_per_cent);
        off.reduce(f64::max)
    }

    /// The reported median in mN; 0 without trials.
    pub(super) fn median_mn(&self) -> f64 {
        self.reported.map_or(0.0, |reported| reported.median_mn)
    }
}

/// The rows of one strategy at all points.
pub(super) struct Rows<'a> {
    pub points: &'a [PointRows],
    pub strategy: usize,
}

impl<'a> Rows<'a> {
    /// Those of a point; empty where it could not be built.
    pub fn at(&self, point: usize) -> &'a [TrialRow] {
        let rows = self.points.get(point).and_then(|r| r.get(self.strategy));
        rows.map_or(&[], Vec::as_slice)
    }
}

/// What a review says of a force.
pub(super) fn of_force(review: &Review, rows: &Rows<'_>, force: Force) -> OfForce {
    let of = |knob: Option<Knob>, points: [usize; 3]| {
        of_setting(review, rows, force, points).map(|of| OfSetting { knob, ..of })
    };
    let numbered = review.knobs().iter().enumerate();
    let alone = numbered.filter_map(|(number, knob)| {
        let points = [0, review.finer(number, 1), review.finer(number, LEVELS)];
        of(Some(*knob), points)
    });
    OfForce {
        force,
        reported: reported(rows.at(0), force),
        together: of(None, [0, review.all_finer(1), review.all_finer(LEVELS)]),
        alone: alone.collect(),
    }
}

fn reported(rows: &[TrialRow], force: Force) -> Option<Reported> {
    let reached = rows.iter().filter(|row| row.outcome == Outcome::Reached);
    let reached: Vec<f64> = reached.map(|row| force.of(row)).collect();
    Some(Reported {
        median_mn: force.median_of(rows)?,
        p95_mn: quantile(&force.all_of(rows), 0.95)?,
        reached_mn: median(&reached),
        reached: reached.len(),
    })
}

/// A force at three points that are each finer than the one before.
fn of_setting(
    review: &Review,
    rows: &Rows<'_>,
    force: Force,
    points: [usize; 3],
) -> Option<OfSetting> {
    let all = points.map(|point| rows.at(point));
    let medians: Vec<f64> = all
        .iter()
        .filter_map(|rows| force.median_of(rows))
        .collect();
    let draws = all[0].iter().zip(all[1]).zip(all[2]);
    let kept: Vec<_> = draws
        .filter(|((a, b), c)| alike(a, b) && alike(a, c))
        .collect();
    let same = kept
        .iter()
        .map(|((a, b), c)| [a, b, c].map(|row| force.of(row)));
    let same: Vec<[f64; 3]> = same.collect();
    let moved = |level: usize| {
        let of_draws = same.iter().map(|f| difference(f[0], f[level]));
        Paired::of(&of_draws.collect::<Vec<f64>>())
    };
    let (half, finest) = (moved(1)?, moved(2)?);
    let shares = [0.0, half.median_per_cent, finest.median_per_cent];
    let changes = same.iter().map(|f| 100.0 * difference(f[0], f[2]).abs());
    let numbered = kept.iter().map(|((a, _), _)| a.trial).zip(changes);
    let numbered = numbered.filter(|(_, change)| change.is_finite());
    let worst = numbered.max_by(|a, b| a.1.total_cmp(&b.1))?;
    Some(OfSetting {
        knob: None,
        setting: review.words(points[2]),
        estimate: Estimate::of(shares.map(|share| 1.0 + 0.01 * share)).times(*medians.first()?),
        medians_mn: medians,
        paired: finest,
        draws: same.len(),
        worst_draw: worst.0,
        worst_draw_per_cent: worst.1,
    })
}

/// By which share of the force as it is another setting moves it: none where both are 0.
pub(super) fn difference(as_it_is: f64, other: f64) -> f64 {
    if (other - as_it_is).abs() <= 0.0 {
        0.0
    } else {
        other / as_it_is - 1.0
    }
}
