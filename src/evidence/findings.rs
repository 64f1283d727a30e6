//! What the finer runs of a review say: by how much each reported force is off, and which outcomes change.

use serde::Serialize;

use super::forces::{Force, OfForce, OfSetting, Rows, of_force};
use super::knobs::LEVELS;
use super::offers::{Offer, offers};
use super::paired::Paired;
use super::review::{Review, Variant};
use crate::trial::result::{Outcome, TrialRow};

/// The rows of a point: of each strategy those of its trials in their order; empty where the point could not be
/// built.
pub type PointRows = Vec<Vec<TrialRow>>;

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
    /// Forces of which there is an error to halve: those that count and are off by more than [`HALVED_FROM`] of
    /// what was asked for.
    pub to_halve: Vec<Force>,
    /// Settings in rising order of cost; none where there is no error to halve.
    pub offers: Vec<Offer>,
    /// Largest share in % by which a force that counts may be off; `None` where no force counts.
    pub within_per_cent: Option<f64>,
    /// Whether it counts as converged; too few draws for an interval never do.
    pub is_converged: bool,
    /// The verdict in words.
    pub verdict: String,
}

/// Share of the largest force of a strategy below which a force does not count in the verdict: it is friction on
/// the way and no peak.
const NO_PEAK: f64 = 0.05;
/// Outcomes of a hundred that may change in a converged result.
const MAY_CHANGE: f64 = 0.05;
/// Share of the interval within which a force counts as converged up to which an error counts as none: halving it
/// would change nothing that is reported.
pub const HALVED_FROM: f64 = 0.1;

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
        let rows = Rows { points, strategy };
        let base = rows.at(0);
        let forces: Vec<OfForce> = Force::ALL
            .into_iter()
            .map(|force| of_force(review, &rows, force))
            .collect();
        let (mut flips, mut wall_flips) = (Vec::new(), Vec::new());
        for point in 1..=review.all_finer(LEVELS) {
            let is_wall =
                matches!(review.variant(point), Variant::Finer(knob, _) if !knob.is_numerical());
            let into = if is_wall { &mut wall_flips } else { &mut flips };
            let changed = base
                .iter()
                .zip(rows.at(point))
                .filter(|(a, b)| !alike(a, b));
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
            to_halve: Vec::new(),
            offers: Vec::new(),
            forces,
            flips,
            wall_flips,
            within_per_cent: None,
            is_converged: false,
            verdict: String::new(),
        };
        let counting: Vec<&OfForce> = found.counting().map(|(force, _)| force).collect();
        let (to_halve, offers) = offers(review, &rows, &counting, HALVED_FROM * asked);
        (found.to_halve, found.offers) = (to_halve, offers);
        found.judge(review, asked);
        found
    }

    /// Forces that count, each with the most in % by which it may be off.
    fn counting(&self) -> impl Iterator<Item = (&OfForce, f64)> {
        let medians = self.forces.iter().map(OfForce::median_mn);
        let largest = medians.fold(0.0, f64::max);
        let counts = move |f: &&OfForce| largest > 0.0 && f.median_mn() >= NO_PEAK * largest;
        let counting = self.forces.iter().filter(counts);
        counting.filter_map(|f| Some((f, f.off_per_cent()?)))
    }

    /// Fills in the verdict.
    fn judge(&mut self, review: &Review, asked: f64) {
        let finest = review.all_finer(LEVELS);
        let changed = self.flips.iter().filter(|f| f.point == finest).count();
        let worst = self.counting().max_by(|a, b| a.1.total_cmp(&b.1));
        let mut reasons = Vec::new();
        if self.draws == 0 {
            reasons.push("no trial was run".to_owned());
        }
        match worst {
            Some((force, off)) if off > asked => reasons.push(cause(force, off, asked)),
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
        let alike = worst.and_then(|(force, _)| Some(force.together.as_ref()?.draws));
        let too_few = match alike {
            Some(draws) if draws < Paired::LEAST => {
                format!(
                    "; {draws} draws end alike, too few for an interval ({} tell one)",
                    Paired::LEAST
                )
            }
            _ => String::new(),
        };
        let verdict = if reasons.is_empty() {
            let few = if (self.draws as f64) < 1.0 / MAY_CHANGE {
                ", too few draws to tell one in twenty"
            } else {
                ""
            };
            format!(
                "median forces converged within {:.2} %; {changed} of {} outcomes change{few}{too_few}",
                within.unwrap_or(0.0),
                self.draws
            )
        } else {
            format!("not converged, because {}{too_few}", reasons.join(", and "))
        };
        self.is_converged = reasons.is_empty() && too_few.is_empty();
        self.within_per_cent = within;
        self.verdict = verdict;
    }

    /// The cheapest setting with which every force that counts is off by half as much at most.
    #[must_use]
    pub fn halving(&self) -> Option<&Offer> {
        self.offers.iter().find(|offer| offer.error_left <= 0.5)
    }
}

/// Why a force that may be off by `off` % does not count as converged.
fn cause(force: &OfForce, off: f64, asked: f64) -> String {
    let name = force.force.words();
    let most = |setting: &&OfSetting| setting.off_per_cent().unwrap_or(0.0);
    let cause = force.numerical().max_by(|a, b| most(a).total_cmp(&most(b)));
    let Some(cause) = cause else {
        return format!("the {name} may be off by {off:.2} %");
    };
    let setting = &cause.setting;
    // The meshes agree, and single draws go far to either side.
    if cause.estimate.per_cent().is_some_and(|mesh| mesh <= asked) {
        return format!(
            "{} draws leave {off:.2} % of the {name} open, most with {setting}, where draw {} changes most; more draws \
             (--trials) tell more",
            cause.draws, cause.worst_draw
        );
    }
    format!("the {name} may be off by {off:.2} %, most by {setting}")
}

/// Whether two trials end alike.
pub(super) fn alike(a: &TrialRow, b: &TrialRow) -> bool {
    a.outcome == b.outcome && a.tip_branch == b.tip_branch
}
