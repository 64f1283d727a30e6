//! Which branches are candidates in a cell: entered along each curve, and thinned out to those that
//! can matter.

use super::super::centreline::Curve;
use super::super::path::number;
use super::layout::{STRIDE, far};
use super::{Candidate, CandidateRange, HALF_DIAGONAL, MARGIN_MM, address, index_of, middle};
use nalgebra::Vector3;

/// One entry on the way to a grid: cell and candidate.
pub(super) type Entry = (u64, usize, Candidate);

/// Enters one curve into every cell of a slab within reach from whose middle it has a foot.
pub(super) fn enter(
    (branch, curve): (usize, &Curve),
    widest: f64,
    reach: &CandidateRange,
    (cell_mm, slab): (f64, [i32; 2]),
    entries: &mut Vec<Entry>,
) {
    let index = |p: Vector3<f64>| index_of(&p, 1.0 / cell_mm);
    let last = curve.knots.len() - 1;
    let mut samples: Vec<usize> = (0..last).step_by(STRIDE).collect();
    samples.push(last);
    for (at, &i) in samples.iter().enumerate() {
        let here = curve.knots[i];
        let station = number(i) * curve.spacing_mm;
        let before = at.checked_sub(1).map(|j| curve.knots[samples[j]] - here);
        let after = samples.get(at + 1).map(|&j| curve.knots[j] - here);
        let far = far(curve.jet(station).radius, widest, reach, cell_mm);
        let (low, high) = (index(here.map(|x| x - far)), index(here.map(|x| x + far)));
        for x in low[0].max(slab[0])..=high[0].min(slab[1]) {
            for y in low[1]..=high[1] {
                for z in low[2]..=high[2] {
                    let centre = middle([x, y, z], cell_mm);
                    let offset = centre - here;
                    let is_foot = offset.norm_squared() <= far * far
                        && before.is_none_or(|d| offset.dot(&d) < 0.5 * d.norm_squared())
                        && after.is_none_or(|d| offset.dot(&d) <= 0.5 * d.norm_squared());
                    if is_foot {
                        let foot = curve.foot_near(&centre, station);
                        let (key, local) = address([x, y, z]);
                        let candidate = Candidate {
                            station: foot.station,
                            rho: foot.rho,
                            radius: foot.radius,
                            station_gradient: foot.station_gradient(),
                            branch,
                        };
                        entries.push((key, local, candidate));
                    }
                }
            }
        }
    }
}

/// The candidates of a cell that can matter at any of its points for any factor; empty if the
/// cell lies beyond the margin.
///
/// Which of two tubes is nearer is linear in the factor, so the two ends of its range decide.
pub(super) fn matter(group: &[Entry], reach: &CandidateRange, cell_mm: f64) -> Vec<Candidate> {
    let (narrow, wide) = reach.factors;
    let half_diagonal = HALF_DIAGONAL * cell_mm;
    let across = reach.slope * half_diagonal;
    let distance = |c: &Candidate, factor: f64| c.rho - factor * c.radius;
    let Some(least) = group
        .iter()
        .map(|e| e.2)
        .min_by(|a, b| distance(a, wide).total_cmp(&distance(b, wide)))
    else {
        return Vec::new();
    };
    // The middle of a large cell may lie farther off than the margin, and points of it in the lumen.
    if distance(&least, wide) > MARGIN_MM.max(across) {
        return Vec::new();
    }
    let limit = reach.above_least_mm + 2.0 * across;
    let mut kept: Vec<Candidate> = Vec::new();
    for branch in group.chunk_by(|a, b| a.2.branch == b.2.branch) {
        let nearest = branch.iter().fold(f64::INFINITY, |m, e| m.min(e.2.rho));
        for (_, _, c) in branch {
            let may_be_foot = c.rho <= nearest + 2.0 * half_diagonal;
            let repeated = kept.last().is_some_and(|k| {
                k.branch == c.branch && (k.station - c.station).abs() < 0.5 * cell_mm
            });
            let counts = distance(c, wide) <= reach.near_mm + across
                || [narrow, wide]
                    .iter()
                    .any(|&f| distance(c, f) <= distance(&least, f) + limit);
            if may_be_foot && counts && !repeated {
                kept.push(*c);
            }
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_large_cell_with_a_corner_in_the_lumen_is_kept() {
        let cell_mm = 4.0;
        let reach = CandidateRange {
            factors: (0.7, 1.4),
            above_least_mm: 0.5,
            near_mm: 0.5,
            slope: 1.0,
        };
        let seen = |rho: f64| {
            let candidate = Candidate {
                station: 1.0,
                rho,
                radius: 2.0,
                station_gradient: Vector3::x(),
                branch: 0,
            };
            matter(&[(0, 0, candidate)], &reach, cell_mm).len()
        };
        // Half a diagonal is 3.46 mm.
        assert_eq!(seen(2.0 + 3.4), 1);
        assert_eq!(seen(2.8 + 3.5), 0);
    }
}
