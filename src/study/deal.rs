//! Which share of a study has which point: every so-many-th, or dealt by cost.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::fmt::Write as _;
use std::iter::StepBy;
use std::ops::Range;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Points dealt to shares so that each has about the same cost. In files it is named by a fingerprint;
/// the list itself stands in the folder of the array, once.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub struct Deal {
    fingerprint: String,
    /// Number of the share of every point, from 1; empty where only the name is known.
    of_points: Arc<[u32]>,
}

impl PartialEq for Deal {
    fn eq(&self, other: &Self) -> bool {
        self.fingerprint == other.fingerprint
    }
}

impl From<Deal> for String {
    fn from(deal: Deal) -> Self {
        deal.fingerprint
    }
}

impl From<String> for Deal {
    fn from(fingerprint: String) -> Self {
        Self {
            fingerprint,
            of_points: Arc::default(),
        }
    }
}

impl Deal {
    /// Deals points of these costs (any unit, 0 or more) to so many shares: each in turn of falling cost
    /// to the share that has least so far.
    ///
    /// Source: R. L. Graham, Bounds on multiprocessing timing anomalies, SIAM J Appl Math 17:416, 1969
    /// (from memory): the largest share is at most 4/3 of the least possible.
    #[must_use]
    pub fn by_cost(costs: &[f64], shares: u32) -> Self {
        let largest = costs.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        // Whole numbers, so that no sum depends on the order in which it is taken.
        let whole = |cost: f64| (cost / largest * 1e9).round().max(1.0);
        let mut order: Vec<usize> = (0..costs.len()).collect();
        order.sort_by(|&a, &b| costs[b].total_cmp(&costs[a]).then(a.cmp(&b)));
        let mut loads: BinaryHeap<Reverse<(u128, u32)>> =
            (1..=shares).map(|number| Reverse((0, number))).collect();
        let mut of_points = vec![1; costs.len()];
        for point in order {
            if let Some(mut least) = loads.peek_mut() {
                of_points[point] = least.0.1;
                least.0.0 += to_whole(whole(costs[point]));
            }
        }
        Self::listed(of_points)
    }

    /// The deal in which point number `i` belongs to share `of_points[i]`, counted from 1.
    #[must_use]
    pub fn listed(of_points: Vec<u32>) -> Self {
        let mut hasher = Sha256::new();
        for share in &of_points {
            hasher.update(share.to_le_bytes());
        }
        let mut fingerprint = String::new();
        for byte in hasher.finalize().iter().take(8) {
            let _ = write!(fingerprint, "{byte:02x}");
        }
        Self {
            fingerprint,
            of_points: of_points.into(),
        }
    }

    /// Number of the share that has a point, from 1; `None` where the list is not known.
    #[must_use]
    pub fn share_of(&self, point: usize) -> Option<usize> {
        self.of_points.get(point).map(|&share| share as usize)
    }

    /// Numbers of the shares of all points; empty where the list is not known.
    #[must_use]
    pub fn of_points(&self) -> &[u32] {
        &self.of_points
    }

    /// The points of share `number` in rising order.
    fn points_of(&self, number: usize) -> Vec<usize> {
        let points = self.of_points.iter().enumerate();
        points
            .filter(|(_, share)| **share as usize == number)
            .map(|(point, _)| point)
            .collect()
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "costs are scaled to 1 to 1e9"
)]
fn to_whole(cost: f64) -> u128 {
    cost as u128
}

/// The points of a share in rising order.
#[derive(Debug, Clone)]
pub enum SharePoints {
    /// Every so-many-th.
    InTurn(StepBy<Range<usize>>),
    /// Those dealt to it.
    Dealt(std::vec::IntoIter<usize>),
}

impl SharePoints {
    /// Points of share `number` of `of` among `points`.
    pub(super) fn new(points: usize, (number, of): (usize, usize), deal: Option<&Deal>) -> Self {
        match deal {
            None => Self::InTurn((number - 1..points).step_by(of)),
            Some(deal) => Self::Dealt(deal.points_of(number).into_iter()),
        }
    }
}

impl Iterator for SharePoints {
    type Item = usize;

    fn next(&mut self) -> Option<usize> {
        match self {
            Self::InTurn(points) => points.next(),
            Self::Dealt(points) => points.next(),
        }
    }

    fn size_hint(&self) -> (usize, Option<usize>) {
        match self {
            Self::InTurn(points) => points.size_hint(),
            Self::Dealt(points) => points.size_hint(),
        }
    }
}

impl ExactSizeIterator for SharePoints {}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points whose costs differ twentyfold, in an order that agrees with every eighth.
    #[test]
    fn shares_of_points_that_differ_twentyfold_cost_the_same_within_a_twentieth() {
        let cost = |point: usize| {
            if point.is_multiple_of(8) {
                20.0
            } else {
                1.0 + point as f64 % 3.0
            }
        };
        let costs: Vec<f64> = (0..400).map(cost).collect();
        let deal = Deal::by_cost(&costs, 8);
        let load = |number: usize| deal.points_of(number).into_iter().map(cost).sum::<f64>();
        let loads: Vec<f64> = (1..=8).map(load).collect();
        let (least, most) = loads.iter().fold((f64::MAX, 0.0_f64), |(least, most), &l| {
            (least.min(l), most.max(l))
        });
        assert!(most < 1.05 * least, "{loads:?}");
        let in_turn = |number: usize| (number..400).step_by(8).map(cost).sum::<f64>();
        assert!(in_turn(0) > 4.0 * in_turn(1));
    }

    #[test]
    fn every_point_is_dealt_to_one_share() {
        let deal = Deal::by_cost(&[0.0, 3.0, 1.0, f64::MIN_POSITIVE, 2.0], 3);
        let mut all: Vec<usize> = (1..=3).flat_map(|n| deal.points_of(n)).collect();
        all.sort_unstable();
        assert_eq!(all, [0, 1, 2, 3, 4]);
        assert_eq!(deal.share_of(1), Some(1));
        let named: Deal = serde_json::from_str(&serde_json::to_string(&deal).unwrap()).unwrap();
        assert_eq!((named.share_of(1), named == deal), (None, true));
    }
}
