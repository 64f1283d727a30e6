//! What the finer runs of a review say: by how much each reported force is off, and which outcomes change.

use serde::Serialize;

use super::convergence::Estimate;
use super::knobs::{Knob, LEVELS};
use super::review::{Review, Variant};
use crate::study::statistics::quantile;
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

    /// The force of a trial in mN.
    #[must_use]
    pub fn of(self, row: &TrialRow) -> f64 {
        match self {
            Self::Push => row.peak_push_force_mn,
            Self::Wall => row.peak_wall_force_mn,
            Self::Tip => row.peak_tip_force_mn,
        }
    }
}

/// The rows of a point: of each strategy those of its trials in their order; empty where the point could not be
/// built.
pub type PointRows = Vec<Vec<TrialRow>>;

/// A setting, or all together, made finer: what it says of one force.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OfSetting {
    /// Which setting; `None` for all numerical ones together.
    pub knob: Option<Knob>,
    /// The setting in words, at its finest.
    pub setting: String,
    /// The median force as it is and at every level, in mN, over the draws that end alike at all of them.
    pub medians_mn: Vec<f64>,
    /// Its error.
    pub estimate: Estimate,
    /// Draws that end alike.
    pub draws: usize,
    /// Largest change of the force of one draw between as it is and the finest, in %.
    pub worst_draw_per_cent: f64,
}

/// What is known of one force of a strategy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OfForce {
    /// Which force.
    pub force: Force,
    /// All settings together.
    pub together: Option<OfSetting>,
    /// Each setting alone.
    pub alone: Vec<OfSetting>,
}

impl OfForce {
    /// All settings that are numbers of the method, together and one by one; the stiffness of the wall is none.
    fn numerical(&self) -> impl Iterator<Item = &OfSetting> {
        let alone = self.alone.iter();
        let alone = alone.filter(|of| of.knob.is_none_or(Knob::is_numerical));
        self.together.iter().chain(alone)
    }
}

/// An outcome that another setting changes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Flip {
    /// Number of the point at which it changes.
    pub point: usize,
    /// That setting in words.
    pub setting: String,
    /// Number of the draw.
    pub trial: u32,
    /// How the trial ends as it is.
    pub as_it_is: Outcome,
    /// How it ends there.
    pub finer: Outcome,
}

/// What a setting costs, and by how much forces are then off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Offer {
    /// The setting in words.
    pub setting: String,
    /// Newton iterations times edges over those as it is: about the time.
    pub cost: f64,
    /// Largest distance of a median force from where the meshes lead, over that as it is.
    pub error_left: f64,
}

/// How far the numbers of a strategy are from those of the equations.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Converged {
    /// The strategy.
    pub strategy: String,
    /// Draws.
    pub draws: usize,
    /// The forces.
    pub forces: Vec<OfForce>,
    /// Outcomes that change with a numerical setting.
    pub flips: Vec<Flip>,
    /// Outcomes that change with the stiffness of the wall.
    pub wall_flips: Vec<Flip>,
    /// Settings in rising order of cost.
    pub offers: Vec<Offer>,
    /// Largest half of an interval of a force that counts, in %; `None` where no force counts.
    pub within_per_cent: Option<f64>,
    /// Whether it counts as converged.
    pub is_converged: bool,
    /// The verdict in words.
    pub verdict: String,
}

/// Share of the largest force of a strategy below which a force does not count in the verdict: it is friction on
/// the way and no peak.
const NO_PEAK: f64 = 0.05;
/// Outcomes of a hundred that may change in a converged result.
const MAY_CHANGE: f64 = 0.05;

impl Converged {
    /// What the rows of strategy number `strategy` at all points say; a result within `asked` % counts as
    /// converged.
    #[must_use]
    pub fn of(
        review: &Review,
        points: &[PointRows],
        strategy: usize,
        name: &str,
        asked: f64,
    ) -> Self {
        let rows = |point: usize| points.get(point).and_then(|rows| rows.get(strategy));
        let base = rows(0).map_or(&[][..], Vec::as_slice);
        let forces: Vec<OfForce> = Force::ALL
            .into_iter()
            .map(|force| of_force(review, &rows, force))
            .collect();
        let (mut flips, mut wall_flips) = (Vec::new(), Vec::new());
        for point in 1..=review.all_finer(LEVELS) {
            let is_wall =
                matches!(review.variant(point), Variant::Finer(knob, _) if !knob.is_numerical());
            let into = if is_wall { &mut wall_flips } else { &mut flips };
            let other = rows(point).map_or(&[][..], Vec::as_slice);
            let changed = base.iter().zip(other).filter(|(a, b)| !alike(a, b));
            into.extend(changed.map(|(a, b)| Flip {
                point,
                setting: review.words(point),
                trial: a.trial,
                as_it_is: a.outcome,
                finer: b.outcome,
            }));
        }
        let mut found = Self {
            strategy: name.to_owned(),
            draws: base.len(),
            offers: offers(review, &rows, &forces),
            forces,
            flips,
            wall_flips,
            within_per_cent: None,
            is_converged: false,
            verdict: String::new(),
        };
        found.judge(review, asked);
        found
    }

    /// Forces that count, each with its widest half interval in %: of all settings together or of a numerical
    /// one alone, because errors of single settings may cancel where all are finer.
    fn counting(&self) -> Vec<(&OfForce, f64)> {
        let together = |f: &OfForce| f.together.as_ref().map_or(0.0, |t| t.estimate.value);
        let largest = self.forces.iter().map(together).fold(0.0, f64::max);
        let counts = |f: &&OfForce| largest > 0.0 && together(f) >= NO_PEAK * largest;
        let own = self.forces.iter().filter(counts);
        own.filter_map(|f| {
            let halves = f.numerical().filter_map(|of| of.estimate.per_cent());
            Some((f, halves.reduce(f64::max)?))
        })
        .collect()
    }

    /// Fills in the verdict.
    fn judge(&mut self, review: &Review, asked: f64) {
        let finest = review.all_finer(LEVELS);
        let changed = self.flips.iter().filter(|f| f.point == finest).count();
        let counting = self.counting();
        let worst = counting.iter().max_by(|a, b| a.1.total_cmp(&b.1));
        let mut reasons = Vec::new();
        if self.draws == 0 {
            reasons.push("no trial was run".to_owned());
        }
        match worst {
            Some((force, half)) if *half > asked => {
                let most = |setting: &&OfSetting| setting.estimate.half_width;
                let cause = force.numerical().max_by(|a, b| most(a).total_cmp(&most(b)));
                let cause = cause.map_or(String::new(), |s| format!(", most by {}", s.setting));
                reasons.push(format!(
                    "the {} may be off by {half:.1} %{cause}",
                    force.force.words()
                ));
            }
            None if self.draws > 0 => reasons.push("no force could be compared".to_owned()),
            _ => {}
        }
        if changed as f64 > MAY_CHANGE * self.draws as f64 {
            reasons.push(format!(
                "{changed} of {} outcomes change with all settings finer",
                self.draws
            ));
        }
        let within = worst.map(|worst| worst.1);
        let verdict = if reasons.is_empty() {
            let few = if (self.draws as f64) < 1.0 / MAY_CHANGE {
                ", too few draws to tell one in twenty"
            } else {
                ""
            };
            format!(
                "median forces converged within {:.1} %; {changed} of {} outcomes change{few}",
                within.unwrap_or(0.0),
                self.draws
            )
        } else {
            format!("not converged, because {}", reasons.join(", and "))
        };
        self.is_converged = reasons.is_empty();
        self.within_per_cent = within;
        self.verdict = verdict;
    }

    /// The cheapest setting with which every force that counts is off by half as much at most.
    #[must_use]
    pub fn halving(&self) -> Option<&Offer> {
        self.offers.iter().find(|offer| offer.error_left <= 0.5)
    }
}

/// Whether two trials end alike.
fn alike(a: &TrialRow, b: &TrialRow) -> bool {
    a.outcome == b.outcome && a.tip_branch == b.tip_branch
}

/// Median of values of which there is one at least.
fn median(values: &[f64]) -> f64 {
    quantile(values, 0.5).unwrap_or(f64::NAN)
}

/// A force of a strategy with settings made finer, together and one by one.
fn of_force<'a>(
    review: &Review,
    rows: &impl Fn(usize) -> Option<&'a Vec<TrialRow>>,
    force: Force,
) -> OfForce {
    let of = |knob: Option<Knob>, points: [usize; 3]| {
        of_setting(review, rows, force, points).map(|of| OfSetting { knob, ..of })
    };
    let alone = review
        .knobs()
        .iter()
        .enumerate()
        .filter_map(|(number, knob)| {
            let points = [0, review.finer(number, 1), review.finer(number, LEVELS)];
            of(Some(*knob), points)
        });
    OfForce {
        force,
        together: of(None, [0, review.all_finer(1), review.all_finer(LEVELS)]),
        alone: alone.collect(),
    }
}

/// A force at three points that are each finer than the one before.
fn of_setting<'a>(
    review: &Review,
    rows: &impl Fn(usize) -> Option<&'a Vec<TrialRow>>,
    force: Force,
    points: [usize; 3],
) -> Option<OfSetting> {
    let [coarse, half, finest] = points.map(rows);
    let (coarse, half, finest) = (coarse?, half?, finest?);
    let all = coarse.iter().zip(half).zip(finest);
    let same: Vec<[f64; 3]> = all
        .filter(|((a, b), c)| alike(a, b) && alike(a, c))
        .map(|((a, b), c)| [force.of(a), force.of(b), force.of(c)])
        .filter(|forces| forces.iter().all(|f| f.is_finite()))
        .collect();
    if same.is_empty() {
        return None;
    }
    let medians = [0, 1, 2].map(|k| median(&same.iter().map(|f| f[k]).collect::<Vec<_>>()));
    let change = |f: &[f64; 3]| 100.0 * (f[0] / f[2] - 1.0).abs();
    let changes = same.iter().map(change).filter(|c| c.is_finite());
    Some(OfSetting {
        knob: None,
        setting: review.words(points[2]),
        medians_mn: medians.to_vec(),
        estimate: Estimate::of(medians),
        draws: same.len(),
        worst_draw_per_cent: changes.fold(0.0, f64::max),
    })
}

/// What each numerical setting costs, and what is left with it of the errors.
fn offers<'a>(
    review: &Review,
    rows: &impl Fn(usize) -> Option<&'a Vec<TrialRow>>,
    forces: &[OfForce],
) -> Vec<Offer> {
    let iterations = |point: usize| -> f64 {
        let rows = rows(point).map_or(&[][..], Vec::as_slice);
        rows.iter().map(|r| f64::from(r.newton_iterations)).sum()
    };
    let edge = |point: usize| review.scenario_at(point).solver.edge_mm;
    let numerical = (1..=review.all_finer(LEVELS)).filter(
        |&point| !matches!(review.variant(point), Variant::Finer(knob, _) if !knob.is_numerical()),
    );
    let counting: Vec<(Force, f64, f64)> = forces
        .iter()
        .filter_map(|of| {
            let estimate = of.together.as_ref()?.estimate;
            let error = (estimate.value - estimate.limit).abs();
            (error > 0.0).then_some((of.force, estimate.limit, error))
        })
        .collect();
    let base = rows(0).map_or(&[][..], Vec::as_slice);
    let finest = rows(review.all_finer(LEVELS)).map_or(&[][..], Vec::as_slice);
    let mut offers: Vec<Offer> = numerical
        .filter(|&point| iterations(point) > 0.0)
        .map(|point| {
            let own = rows(point).map_or(&[][..], Vec::as_slice);
            let left = counting.iter().map(|(force, limit, error)| {
                let ends = base.iter().zip(own).zip(finest);
                let same = ends.filter(|((a, b), c)| alike(a, b) && alike(a, c));
                let values: Vec<f64> = same.map(|((_, b), _)| force.of(b)).collect();
                if values.is_empty() {
                    return f64::INFINITY;
                }
                (median(&values) - limit).abs() / error
            });
            Offer {
                setting: review.words(point),
                cost: iterations(point) / iterations(0) * (edge(0) / edge(point)),
                error_left: left.fold(0.0, f64::max),
            }
        })
        .collect();
    offers.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    offers
}
