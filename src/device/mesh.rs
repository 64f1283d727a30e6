//! Where along the wire the nodes of its rod lie.

use super::{Catheter, Wire};

/// Length in mm behind the last bend that is still as fine as the tip.
const FINE_BEHIND_BENDS_MM: f64 = 2.0;

/// Largest edge over the edge at the tip.
const LARGEST_GROWTH: f64 = 4.0;

/// Largest edge in mm where the edge at the tip is smaller than that.
const LARGEST_EDGE_MM: f64 = 1.0;

/// Growth of the edge behind the fine part, in multiples of the edge at the tip per mm.
const GROWTH_PER_MM: f64 = 0.3;

/// Largest logarithm of the ratio of two neighbouring edges.
const LARGEST_LOG_RATIO: f64 = 0.13;

/// Edge length over the edge length at the tip as a function of the distance from the tip:
/// 1 through the shaped tip, then rising linearly, then constant.
struct Grading {
    fine_to: f64,
    slope: f64,
    coarsest: f64,
}

impl Grading {
    fn new(bends_end_mm: f64, edge_mm: f64) -> Self {
        Self {
            fine_to: bends_end_mm + FINE_BEHIND_BENDS_MM,
            slope: GROWTH_PER_MM.min(LARGEST_LOG_RATIO / edge_mm),
            coarsest: LARGEST_GROWTH.min((LARGEST_EDGE_MM / edge_mm).max(1.0)),
        }
    }

    /// Number of edges up to `s`, times the edge at the tip: the integral of one over the
    /// grading.
    fn count(&self, s: f64) -> f64 {
        let behind = (s - self.fine_to).max(0.0);
        let rising = behind.min((self.coarsest - 1.0) / self.slope);
        s.min(self.fine_to)
            + (self.slope * rising).ln_1p() / self.slope
            + (behind - rising) / self.coarsest
    }

    /// Inverse of [`Self::count`].
    fn station(&self, count: f64) -> f64 {
        let behind = (count - self.fine_to).max(0.0);
        let rising = behind.min(self.coarsest.ln() / self.slope);
        count.min(self.fine_to)
            + (self.slope * rising).exp_m1() / self.slope
            + (behind - rising) * self.coarsest
    }
}

/// Stations in mm from the tip of the nodes of a rod of `length_mm`, from 0 to `length_mm`.
///
/// Edges are `edge_mm` or up to one edge in the whole mesh shorter through the shaped tip and
/// 2 mm behind its last bend, from there they grow by at most 15 % from one to the next, to at
/// most four times `edge_mm` and at most 1 mm (or `edge_mm`, where that is more). For `edge_mm`
/// of 0.25 or less, the mesh of half the edge length holds every node of the coarser one.
///
/// # Panics
///
/// Where `edge_mm` or `length_mm` is not above 0 and finite.
#[must_use]
pub fn mesh(wire: &Wire, edge_mm: f64, length_mm: f64) -> Vec<f64> {
    graded(wire.bends_end_mm(), edge_mm, length_mm)
}

/// The same for a catheter.
///
/// # Panics
///
/// As [`mesh`].
#[must_use]
pub fn catheter_mesh(catheter: &Catheter, edge_mm: f64, length_mm: f64) -> Vec<f64> {
    graded(catheter.bends_end_mm(), edge_mm, length_mm)
}

fn graded(bends_end_mm: f64, edge_mm: f64, length_mm: f64) -> Vec<f64> {
    assert!(
        edge_mm > 0.0 && edge_mm.is_finite() && length_mm > 0.0 && length_mm.is_finite(),
        "edge length {edge_mm} mm and length {length_mm} mm must be above 0 and finite"
    );
    let grading = Grading::new(bends_end_mm, edge_mm);
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
