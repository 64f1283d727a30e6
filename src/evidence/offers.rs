//! What each finer setting costs, and what it leaves of the errors.

use serde::Serialize;

use super::findings::alike;
use super::forces::{Force, OfForce, Rows, difference};
use super::knobs::LEVELS;
use super::review::{Review, Variant};
use crate::study::statistics::median;

/// What a setting costs, and by how much forces are then off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Offer {
    /// The setting in words.
    pub setting: String,
    /// Newton iterations times edges over those as it is: about the time.
    pub cost: f64,
    /// Largest distance of a force from where the meshes lead, over that as it is, of the forces of which there is
    /// an error to halve.
    pub error_left: f64,
}

/// An error that is worth halving.
struct Error {
    force: Force,
    /// Where the meshes lead, as a share of the force as it is above it.
    share: f64,
}

/// Forces with an error above `least` %, and what each numerical setting costs and leaves of it in rising order of
/// cost; no offers where no force has such an error.
pub(super) fn offers(
    review: &Review,
    rows: &Rows<'_>,
    forces: &[&OfForce],
    least: f64,
) -> (Vec<Force>, Vec<Offer>) {
    let errors: Vec<Error> = forces
        .iter()
        .filter_map(|of| {
            let estimate = of.together.as_ref()?.estimate;
            let share = estimate.limit / estimate.value - 1.0;
            let force = of.force;
            (100.0 * share.abs() > least).then_some(Error { force, share })
        })
        .collect();
    let to_halve = errors.iter().map(|error| error.force).collect();
    if errors.is_empty() {
        return (to_halve, Vec::new());
    }
    let cost = |point: usize| {
        let iterations = rows
            .at(point)
            .iter()
            .map(|r| f64::from(r.newton_iterations));
        iterations.sum::<f64>() / review.scenario_at(point).solver.edge_mm
    };
    let is_numerical = |point: &usize| !matches!(review.variant(*point), Variant::Finer(knob, _) if !knob.is_numerical());
    let numerical = (1..=review.all_finer(LEVELS)).filter(is_numerical);
    let as_it_is = cost(0);
    let mut offers: Vec<Offer> = numerical
        .filter(|&point| cost(point) > 0.0)
        .map(|point| Offer {
            setting: review.words(point),
            cost: cost(point) / as_it_is,
            error_left: errors
                .iter()
                .map(|error| left(review, rows, error, point))
                .fold(0.0, f64::max),
        })
        .collect();
    offers.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    (to_halve, offers)
}

/// The share of an error that is left at a point, by the draws that end alike there, as it is and at the finest.
fn left(review: &Review, rows: &Rows<'_>, error: &Error, point: usize) -> f64 {
    let (base, own) = (rows.at(0), rows.at(point));
    let ends = base.iter().zip(own).zip(rows.at(review.all_finer(LEVELS)));
    let same = ends.filter(|((a, b), c)| alike(a, b) && alike(a, c));
    let moved: Vec<f64> = same
        .map(|((a, b), _)| difference(error.force.of(a), error.force.of(b)))
        .collect();
    median(&moved).map_or(f64::INFINITY, |moved| {
        ((error.share - moved) / error.share).abs()
    })
}
