//! Where along the wire the nodes of its rod lie.

use super::{Catheter, Wire};
use crate::faults;

/// Length in mm beside a bend, and behind the tip, that is still as fine as the tip.
const FINE_BESIDE_BENDS_MM: f64 = 2.0;

/// Largest edge over the edge at the tip.
const LARGEST_GROWTH: f64 = 2.0;

/// Largest edge in mm where the edge at the tip is smaller than that. With edges twice as long the force
/// at their corners, on the wall of a bend of 12 mm radius, is 4 % too large.
const LARGEST_EDGE_MM: f64 = 0.5;

/// Growth of the edge away from a fine part, in multiples of the edge at the tip per mm.
const GROWTH_PER_MM: f64 = 0.3;

/// Largest logarithm of the ratio of two neighbouring edges.
const LARGEST_LOG_RATIO: f64 = 0.13;

/// Edge length over the edge length at the tip as a function of the distance from the tip: 1 in the
/// fine parts, and away from them rising linearly, then constant.
struct Grading {
    /// Beginning and end of each fine part in mm, the first at the tip, and the number of edges up
    /// to both, times the edge at the tip.
    fine: Vec<[(f64, f64); 2]>,
    slope: f64,
    coarsest: f64,
}

impl Grading {
    /// Fine at the tip and at `bends` (from, to; in mm).
    fn new(bends: &[(f64, f64)], edge_mm: f64) -> Self {
        let mut grading = Self {
            fine: vec![[(0.0, 0.0); 2]],
            slope: GROWTH_PER_MM.min(LARGEST_LOG_RATIO / edge_mm),
            coarsest: LARGEST_GROWTH.min((LARGEST_EDGE_MM / edge_mm).max(1.0)),
        };
        let mut parts = vec![(0.0, FINE_BESIDE_BENDS_MM)];
        for (from, to) in bends {
            parts.push((from - FINE_BESIDE_BENDS_MM, to + FINE_BESIDE_BENDS_MM));
        }
        parts.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (from, to) in parts {
            let last = grading.fine.len() - 1;
            let end = grading.fine[last][1];
            if from <= end.0 {
                let further = to.max(end.0);
                grading.fine[last][1] = (further, end.1 + further - end.0);
            } else {
                let middle = grading.risen(end.1, 0.5 * (from - end.0));
                let begin = (from, end.1 + 2.0 * (middle - end.1));
                grading.fine.push([begin, (to, begin.1 + to - from)]);
            }
        }
        grading
    }

    /// `before`, and the count over `behind` mm away from a fine part.
    fn risen(&self, before: f64, behind: f64) -> f64 {
        let rising = behind.min((self.coarsest - 1.0) / self.slope);
        before + (self.slope * rising).ln_1p() / self.slope + (behind - rising) / self.coarsest
    }

    /// `from`, and the way in mm over which that is `behind`.
    fn gone(&self, from: f64, behind: f64) -> f64 {
        let rising = behind.min(self.coarsest.ln() / self.slope);
        from + (self.slope * rising).exp_m1() / self.slope + (behind - rising) * self.coarsest
    }

    /// Number of edges up to `s`, times the edge at the tip: the integral of one over the grading.
    fn count(&self, s: f64) -> f64 {
        self.across(s, |place| place.0, |place| place.1, Self::risen)
    }

    /// Inverse of [`Self::count`].
    fn station(&self, count: f64) -> f64 {
        self.across(count, |place| place.1, |place| place.0, Self::gone)
    }

    /// The value of the other kind that belongs to `x`, where `own` and `other` take the value of
    /// each kind from a place, and `away` leads from a fine part by a value of this kind.
    fn across(
        &self,
        x: f64,
        own: impl Fn(&(f64, f64)) -> f64,
        other: impl Fn(&(f64, f64)) -> f64,
        away: impl Fn(&Self, f64, f64) -> f64,
    ) -> f64 {
        let next = self.fine.partition_point(|[begin, _]| own(begin) <= x);
        let [begin, end] = &self.fine[next.saturating_sub(1)];
        if x <= own(end) {
            return other(begin) + (x - own(begin));
        }
        match self.fine.get(next) {
            Some([ahead, _]) if x > 0.5 * (own(end) + own(ahead)) => {
                2.0 * other(ahead) - away(self, other(ahead), own(ahead) - x)
            }
            _ => away(self, other(end), x - own(end)),
        }
    }
}

/// Stations in mm from the tip of the nodes of a rod of `length_mm`, from 0 to `length_mm`.
///
/// Edges are `edge_mm` or up to one edge in the whole mesh shorter at the tip, in bends and 2 mm
/// beside them; away from there they grow by at most 15 % from one to the next, to at most twice
/// `edge_mm` and at most 0.5 mm (or `edge_mm`, where that is more). For `edge_mm`
/// of 0.25 or less, the mesh of half the edge length holds every node of the coarser one.
///
/// # Panics
///
/// Where `edge_mm` or `length_mm` is not above 0 and finite.
#[must_use]
pub fn mesh(wire: &Wire, edge_mm: f64, length_mm: f64) -> Vec<f64> {
    graded(&wire.bends_mm(), edge_mm, length_mm)
}

/// The same for a catheter.
///
/// # Panics
///
/// As [`mesh`].
#[must_use]
pub fn catheter_mesh(catheter: &Catheter, edge_mm: f64, length_mm: f64) -> Vec<f64> {
    graded(&[(0.0, catheter.bends_end_mm())], edge_mm, length_mm)
}

fn graded(bends: &[(f64, f64)], edge_mm: f64, length_mm: f64) -> Vec<f64> {
    assert!(
        edge_mm > 0.0 && edge_mm.is_finite() && length_mm > 0.0 && length_mm.is_finite(),
        "edge length {edge_mm} mm and length {length_mm} mm must be above 0 and finite"
    );
    let edge_mm = faults::edge_factor() * edge_mm;
    let grading = Grading::new(bends, edge_mm);
    let whole = grading.count(length_mm);
    // Blocks of up to 1 mm at the tip, each cut into a power of two of edges: halving the edge
    // doubles the edges of every block.
    let per_block = (1.0 / edge_mm).log2().floor().max(0.0).exp2();
    let edges = per_block * (whole / (per_block * edge_mm)).ceil();
    let mut stations = vec![0.0];
    let mut node = 1.0;
    while node < edges {
        stations.push(grading.station(whole * (node / edges)));
        node += 1.0;
    }
    stations.push(length_mm);
    stations
}
