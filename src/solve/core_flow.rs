//! What the core of a wire has flowed, along its length: a property of its material, which goes
//! where the wire goes and has no mesh.
//!
//! A step begins with the pieces of different flow that lie in the cell of each hinge and ends by
//! putting back what has changed, piece by piece. Were a cell's flow its mean, wire that comes into
//! the cell and has not flowed would make the wire in front of it flow once more: a wire that is drawn
//! round a bend of 60 % more curvature than its limit would leave with up to twice its set. Wire in a guide is held straight by the model alone, not
//! by a real guide, whose lumen is wider than the wire: it keeps its flow as it is until it comes out
//! again.

use std::sync::Arc;

use crate::device::Wire;
use crate::rod::{CoreCell, CoreLaw, Flag, Flow, Hinge, Piece};
use crate::scenario::model::CoreLawSpec;

/// Length in mm below which a piece of wire with a flow of its own is joined to its neighbour.
const LEAST_MM: f64 = 1.0 / 64.0;
/// Distance in mm up to which two pieces touch.
const TOUCH_MM: f64 = 1e-9;

/// The set that a wire keeps: the curvature left without load beyond the shape it was given.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CoreSet {
    /// Angle in rad: the sum of all turns, whatever their direction.
    pub angle_rad: f64,
    /// Where it is most curved, in mm from the tip; 0 where there is no set.
    pub from_tip_mm: f64,
}

/// The core in a cell: its limit, integrated over the cell, the wire in it by distances from the tip in
/// mm, and what flow of that counts in the cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct CoreSpan {
    pub limit: f64,
    pub from: f64,
    pub to: f64,
    pub weight: f64,
}

impl CoreSpan {
    /// A plain cell of the wire from `a` to `b` mm from its tip, `hinge` in the rod.
    pub(super) fn plain(wire: &Wire, a: f64, b: f64, hinge: &Hinge) -> Self {
        let stiffness = hinge.length / hinge.bending_compliance;
        Self {
            limit: wire.yield_curvature(stiffness) * hinge.length,
            from: a,
            to: b,
            weight: 1.0,
        }
    }

    /// What a flow per mm all along counts in the cell.
    fn counts(&self) -> f64 {
        self.weight * (self.to - self.from)
    }
}

/// A piece of wire with the same flow all along.
#[derive(Debug, Clone)]
struct Run {
    from: f64,
    to: f64,
    /// Per mm.
    flow: Arc<Flow>,
}

impl Run {
    fn length(&self) -> f64 {
        self.to - self.from
    }
}

/// What the core of a wire has flowed, along its length.
#[derive(Debug, Clone)]
pub(super) struct CoreFlow {
    law: Option<CoreLaw>,
    /// In rising order; wire between them has not flowed.
    runs: Vec<Run>,
}

impl CoreFlow {
    /// A wire as it comes: its shape is without stress.
    pub(super) fn of(wire: &Wire) -> Self {
        Self {
            law: law(wire),
            runs: Vec::new(),
        }
    }

    /// The core of a hinge with its flow so far; `None` for a wire that stays elastic.
    pub(super) fn cell(&self, hinge: &Hinge, span: Option<CoreSpan>) -> Option<CoreCell> {
        let law = self.law?;
        let natural = hinge.natural_curvature;
        Some(match span {
            Some(span) if span.from < span.to && !self.has_flowed(span.from, span.to) => {
                CoreCell::untouched(law, span.limit, natural)
            }
            Some(span) => CoreCell::of_pieces(law, span.limit, natural, self.in_cell(&span)),
            None => CoreCell::untouched(law, f64::INFINITY, [0.0; 2]),
        })
    }

    /// Whether no part of the wire has flowed.
    pub(super) fn is_untouched(&self) -> bool {
        self.runs.is_empty()
    }

    /// Whether wire yields at all.
    pub(super) fn may_flow(&self) -> bool {
        self.law.is_some()
    }

    /// Puts back what a hinge has flowed in a step; [`join_slivers`](Self::join_slivers) once all have.
    pub(super) fn take(&mut self, cell: &CoreCell, span: &CoreSpan) {
        let before = self.in_cell(span);
        let parts = self.parts(span.from, span.to);
        let ends: Vec<_> = parts.map(|(a, b, _)| (a, b)).collect();
        for ((before, now), (a, b)) in before.iter().zip(cell.pieces()).zip(ends) {
            if before.flow == now.flow {
                continue;
            }
            let mut change = now.flow.clone();
            add_to(&mut change, &before.flow, -1.0);
            for change in &mut change {
                *change = change.map(|p| p / span.counts());
            }
            self.add(a, b, &change);
        }
    }

    /// Whether any wire from `a` to `b` mm from the tip has flowed.
    pub(super) fn has_flowed(&self, a: f64, b: f64) -> bool {
        let mut runs = self.runs.iter();
        runs.any(|run| run.to > a && run.from < b)
    }

    /// The pieces of wire in a cell.
    fn in_cell(&self, span: &CoreSpan) -> Vec<Piece> {
        let parts = self.parts(span.from, span.to);
        let pieces = parts.map(|(a, b, per_mm)| {
            let mut flow = Flow::new();
            if let Some(per_mm) = per_mm {
                add_to(&mut flow, per_mm, span.counts());
            }
            Piece {
                share: (b - a) / (span.to - span.from),
                flow,
            }
        });
        pieces.collect()
    }

    /// The wire from `a` to `b` mm from its tip, in parts: ends of each, and its flow per mm if it has
    /// flowed.
    fn parts(&self, a: f64, b: f64) -> impl Iterator<Item = (f64, f64, Option<&Flow>)> {
        let mut done = a;
        let within = self
            .runs
            .iter()
            .filter(move |run| run.to > a && run.from < b);
        let flowed = within.map(move |run| (run.from.max(a), run.to.min(b), Some(&*run.flow)));
        flowed
            .chain(std::iter::once((b, b, None)))
            .flat_map(move |(from, to, flow)| {
                let between = (done, from, None);
                done = to;
                [between, (from, to, flow)]
            })
            .filter(|(from, to, _)| to > from)
    }

    /// Adds a change of the flow, per mm, from `a` to `b` mm from the tip.
    fn add(&mut self, a: f64, b: f64, change: &Flow) {
        let mut runs: Vec<Run> = Vec::with_capacity(self.runs.len() + 3);
        let fresh = |from: f64, to: f64| Run {
            from,
            to,
            flow: Arc::new(change.clone()),
        };
        let mut put = |run: Run| {
            if run.length() > 0.0 {
                runs.push(run);
            }
        };
        let mut done = a;
        for run in self.runs.drain(..) {
            if run.from >= b && done < b {
                put(fresh(done, b));
                done = b;
            }
            let (from, to) = (run.from.max(a), run.to.min(b));
            if from >= to {
                put(run);
                continue;
            }
            put(Run {
                to: from,
                ..run.clone()
            });
            put(fresh(done, from));
            let mut flow = run.flow.to_vec();
            add_to(&mut flow, change, 1.0);
            put(Run {
                from,
                to,
                flow: Arc::new(flow),
            });
            done = to;
            put(Run { from: to, ..run });
        }
        put(fresh(done, b));
        self.runs = runs;
    }

    /// Joins pieces that are too short to a neighbour that they touch, so that flow times length is
    /// kept.
    pub(super) fn join_slivers(&mut self) {
        let mut i = 1;
        while i < self.runs.len() {
            let [before, this] = &self.runs[i - 1..=i] else {
                return;
            };
            let short = before.length().min(this.length()) < LEAST_MM;
            if !short || this.from - before.to > TOUCH_MM {
                i += 1;
                continue;
            }
            let length = this.to - before.from;
            let mut flow = Flow::new();
            add_to(&mut flow, &before.flow, before.length() / length);
            add_to(&mut flow, &this.flow, this.length() / length);
            let joined = Run {
                from: before.from,
                to: this.to,
                flow: Arc::new(flow),
            };
            self.runs[i - 1] = joined;
            self.runs.remove(i);
        }
    }

    /// Energy in mN mm that flow adds to that of the wire held straight from `s` mm from its tip on.
    pub(super) fn held_beyond(&self, wire: &Wire, s: f64) -> f64 {
        let beyond = self.runs.iter().filter(|run| run.to > s);
        beyond
            .filter_map(|run| {
                let from = run.from.max(s);
                let middle = 0.5 * (from + run.to);
                let straight = wire.natural_curvature(middle).map(|k| -k);
                let cell = self.unit_cell(wire, middle, &run.flow)?;
                let density = wire.bending_stiffness(middle) * cell.stored_at(straight);
                Some(density * (run.to - from))
            })
            .sum()
    }

    /// The set that the wire keeps without load.
    pub(super) fn set(&self, wire: &Wire) -> CoreSet {
        let mut set = CoreSet::default();
        let mut sharpest = 0.0;
        for run in &self.runs {
            let middle = 0.5 * (run.from + run.to);
            let Some(cell) = self.unit_cell(wire, middle, &run.flow) else {
                continue;
            };
            let [k1, k2] = cell.residual();
            let curvature = k1.hypot(k2);
            set.angle_rad += curvature * run.length();
            if curvature > sharpest {
                (sharpest, set.from_tip_mm) = (curvature, middle);
            }
        }
        set
    }

    /// A millimetre of wire with this flow.
    fn unit_cell(&self, wire: &Wire, s: f64, flow: &Flow) -> Option<CoreCell> {
        let limit = wire.yield_curvature(wire.bending_stiffness(s));
        Some(CoreCell::new(self.law?, limit, [0.0; 2], flow.clone()))
    }
}

/// Adds `times` a flow to a sum.
fn add_to(sum: &mut Flow, flow: &Flow, times: f64) {
    if sum.len() < flow.len() {
        sum.resize(flow.len(), [0.0; 2]);
    }
    for (sum, p) in sum.iter_mut().zip(flow) {
        for c in 0..2 {
            sum[c] += times * p[c];
        }
    }
}

/// How a wire's core flows; `None` where it stays elastic.
pub(super) fn law(wire: &Wire) -> Option<CoreLaw> {
    match wire.core_law() {
        CoreLawSpec::Elastic => None,
        CoreLawSpec::Plastic => Some(CoreLaw::Plastic),
        CoreLawSpec::Superelastic {
            lower_over_upper,
            plateau_strain,
        } => Some(CoreLaw::Superelastic(Flag {
            lower_over_upper,
            length: plateau_strain / wire.strain_limit(),
        })),
    }
}

/// The cores of a rod's hinges that consist of wire as `cell` says, from its tip in mm, none of
/// which has flowed; empty for a wire that stays elastic.
#[must_use]
pub fn wire_cores(
    wire: &Wire,
    hinges: &[Hinge],
    cell: impl Fn(usize) -> (f64, f64),
) -> Vec<CoreCell> {
    let fresh = CoreFlow::of(wire);
    let cores = hinges.iter().enumerate().filter_map(|(i, hinge)| {
        let (a, b) = cell(i);
        fresh.cell(hinge, Some(CoreSpan::plain(wire, a, b, hinge)))
    });
    cores.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flow() -> CoreFlow {
        CoreFlow {
            law: Some(CoreLaw::Plastic),
            runs: Vec::new(),
        }
    }

    fn total(flow: &CoreFlow, a: f64, b: f64) -> f64 {
        let span = CoreSpan {
            limit: 1.0,
            from: a,
            to: b,
            weight: 1.0,
        };
        let pieces = flow.in_cell(&span);
        let flowed = |piece: &Piece| piece.flow.first().map_or(0.0, |p| p[0]);
        pieces.iter().map(|piece| piece.share * flowed(piece)).sum()
    }

    #[test]
    fn flow_put_in_at_changing_cells_is_kept_in_sum_and_place() {
        // A slow twin: a fine grid of bins.
        const BINS: usize = 10_000;
        let mut found = flow();
        let mut twin = vec![0.0; BINS];
        let mut at = 0.0;
        for step in 0..200_i32 {
            let (a, b) = (at, at + 0.3 + 0.01 * f64::from(step % 7));
            let change = 0.1 + f64::from(step % 5);
            found.add(a, b, &vec![[change, 0.0]]);
            found.join_slivers();
            for (k, bin) in twin.iter_mut().enumerate() {
                let (from, to) = (k as f64 * 1e-3, (k + 1) as f64 * 1e-3);
                *bin += change * (to.min(b) - from.max(a)).max(0.0);
            }
            at = (at + 1.37) % 9.0;
        }
        for (from, to) in [(0, BINS), (0, 3000), (2500, 2900), (8000, 9500)] {
            let (a, b) = (from as f64 * 1e-3, to as f64 * 1e-3);
            let exact: f64 = twin[from..to].iter().sum();
            // Pieces of up to 1/64 mm may be joined across an end of the stretch.
            let joined = 2.0 * LEAST_MM * 50.0;
            assert!((total(&found, a, b) - exact).abs() < joined, "{a} to {b}");
        }
        let whole: f64 = twin.iter().sum();
        assert!((total(&found, 0.0, 10.0) / whole - 1.0).abs() < 1e-9);
        assert!(found.runs.windows(2).all(|r| r[0].to <= r[1].from));
        assert!(found.runs.len() < 640);
    }

    #[test]
    fn wire_that_passes_a_bend_keeps_the_set_of_wire_that_was_bent_once() {
        // A cell of 0.25 mm with 1.8 times the curvature at first yield, and wire fed through it.
        const CELL_MM: f64 = 0.25;
        let (limit, bent) = (0.1, [0.18, 0.0]);
        let hinge = Hinge::uniform(CELL_MM, 50.0, 40.0);
        let mut once = CoreCell::new(CoreLaw::Plastic, limit, [0.0; 2], Flow::new());
        once.settle(bent);
        for step_mm in [0.2, 0.07, 0.25, 0.031] {
            let mut found = flow();
            let mut from = 0.0;
            while from < 3.0 {
                let span = CoreSpan {
                    limit,
                    from,
                    to: from + CELL_MM,
                    weight: 1.0,
                };
                let mut cell = found.cell(&hinge, Some(span)).expect("it yields");
                cell.settle(bent);
                found.take(&cell, &span);
                found.join_slivers();
                from += step_mm;
            }
            for run in &found.runs {
                let whole = run.flow.iter().map(|p| p.map(|p| p * CELL_MM)).collect();
                let passed = CoreCell::new(CoreLaw::Plastic, limit, [0.0; 2], whole);
                let (found, exact) = (passed.residual()[0], once.residual()[0]);
                // Rounding of sums of lengths.
                let off = (found / exact - 1.0).abs();
                assert!(off < 1e-9, "steps of {step_mm}: {found} for {exact}");
            }
        }
    }
}
