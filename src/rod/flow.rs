//! Bending of a core that yields: what a hinge adds to its elastic energy beyond the limit.
//!
//! A core's section is a sum of parallel elements ([`super::section`]). Each has a flow of its own,
//! a vector in the plane of curvatures, and its law gives the least energy over all flows of a step:
//! an incremental potential, convex and with a continuous gradient in the curvature. The hinge's
//! elastic energy stays as it is; this part is 0 as long as no element flows.
//!
//! Wire moves through the cells of a rod, so a cell may hold pieces of wire with different flow. All
//! pieces have the curvature of the cell, and each flows for itself.
//!
//! Equation: `E = (1/S) Σ_j w_j Σ_i k_i [phi_i(d; p_ij) - d²/2]`, `d = kappa - kappa0`
//!
//! Symbols: `d` curvature beyond the natural one, integrated over the cell (1); `S` bending
//! compliance of the cell 1/(mN mm); `w_j` share of the cell that piece `j` fills; `k_i` share of
//! the stiffness; `p_ij` flow of element `i` in piece `j` at the beginning of the step, as if it
//! filled the cell, integrated over it (1); `phi_i` the law's potential.
//!
//! Only bending yields: twist stays elastic, and does not bring the core nearer to its limit.

use super::plastic;
use super::section::elements;
use super::superelastic::{self, Flag};

/// Flow of the elements of a section, by rising threshold; elements beyond the end have not flowed.
pub type Flow = Vec<[f64; 2]>;

/// How a core behaves beyond its limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CoreLaw {
    /// It flows at constant stress and keeps a set.
    Plastic,
    /// It flows along a plateau and returns along a lower one.
    Superelastic(Flag),
}

/// The part of a step's potential that comes from flow: value, gradient and Hessian
/// (`11`, `12`, `22`) in the curvature `d`, times the compliance of the cell.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FlowPotential {
    /// Potential.
    pub potential: f64,
    /// First derivatives.
    pub gradient: [f64; 2],
    /// Second derivatives.
    pub hessian: [f64; 3],
}

/// What one element answers to a curvature: least potential over its flows, with derivatives, and
/// the flow at which it is reached; all over its stiffness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LeastPotential {
    pub potential: f64,
    /// Moment: the gradient of the potential.
    pub moment: [f64; 2],
    pub hessian: [f64; 3],
    pub flow: [f64; 2],
    /// Energy lost on the way to the flow.
    pub lost: f64,
}

/// A piece of wire with the same flow all along, in a hinge's cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Share of the cell that it fills, 0 to 1.
    pub share: f64,
    /// What it has flowed, as if it filled the cell, integrated over the cell (1).
    pub flow: Flow,
}

/// The core of a hinge's cell.
#[derive(Debug, Clone, PartialEq)]
pub struct CoreCell {
    law: CoreLaw,
    /// Curvature beyond the natural one, integrated over the cell, at which its outermost fibre
    /// yields (1).
    limit: f64,
    /// Square of the curvature binormal up to which no element flows; negative where one has.
    easy: f64,
    /// `None` where the cell is one piece that has not flowed, as most are.
    pieces: Option<Vec<Piece>>,
    moved: bool,
}

/// A piece that fills its cell and has not flowed.
const UNTOUCHED: &[Piece] = &[Piece {
    share: 1.0,
    flow: Flow::new(),
}];

impl CoreCell {
    /// A cell of the given law in which the outermost fibre yields at `limit`, a curvature
    /// integrated over the cell (1, above 0); `natural` is the cell's natural curvature and `flow`
    /// what its elements have flowed so far, the same all along, both integrated over the cell.
    #[must_use]
    pub fn new(law: CoreLaw, limit: f64, natural: [f64; 2], flow: Flow) -> Self {
        Self::of_pieces(law, limit, natural, vec![Piece { share: 1.0, flow }])
    }

    /// The same of pieces that have flowed differently; their shares add up to 1.
    #[must_use]
    pub fn of_pieces(law: CoreLaw, limit: f64, natural: [f64; 2], pieces: Vec<Piece>) -> Self {
        let pieces = Some(pieces).filter(|pieces| pieces != UNTOUCHED);
        Self::with(law, limit, natural, pieces)
    }

    /// The same of one piece that has not flowed.
    #[must_use]
    pub fn untouched(law: CoreLaw, limit: f64, natural: [f64; 2]) -> Self {
        Self::with(law, limit, natural, None)
    }

    fn with(law: CoreLaw, limit: f64, natural: [f64; 2], pieces: Option<Vec<Piece>>) -> Self {
        let left = limit * elements()[0].threshold - natural[0].hypot(natural[1]);
        let mut flows = pieces.iter().flatten().map(|piece| &piece.flow);
        let untouched = flows.all(Flow::is_empty);
        let easy = if untouched && left > 0.0 {
            left * left
        } else {
            -1.0
        };
        Self {
            law,
            limit,
            easy,
            pieces,
            moved: false,
        }
    }

    /// Whether an element may flow, or has flowed, at a curvature binormal of this square.
    #[inline]
    #[must_use]
    pub fn may_flow(&self, squared_binormal: f64) -> bool {
        squared_binormal > self.easy
    }

    /// Whether an element may flow, or has flowed, at a curvature binormal of this square, or would if the
    /// binormal, the natural curvature and the limit were off by `change` together, all integrated over the
    /// cell (1).
    #[must_use]
    pub fn may_flow_within(&self, squared_binormal: f64, change: f64) -> bool {
        let most = squared_binormal.sqrt() + change;
        self.may_flow(most * most)
    }

    /// The pieces of which it consists.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        self.pieces.as_deref().unwrap_or(UNTOUCHED)
    }

    /// Whether no element has flowed.
    #[must_use]
    pub fn is_untouched(&self) -> bool {
        self.pieces().iter().all(|piece| piece.flow.is_empty())
    }

    /// Whether an element flowed in the step that was settled last.
    #[must_use]
    pub fn moved(&self) -> bool {
        self.moved
    }

    /// The flow's part of the potential at the curvature `d` beyond the natural one, integrated
    /// over the cell.
    #[must_use]
    pub fn respond(&self, d: [f64; 2]) -> FlowPotential {
        let mut sum = FlowPotential::default();
        for Piece { share, flow } in self.pieces() {
            self.each(flow, d, |stiffness, answer| {
                let weight = share * stiffness;
                sum.potential += weight * (answer.potential - 0.5 * (d[0] * d[0] + d[1] * d[1]));
                for c in 0..2 {
                    sum.gradient[c] += weight * (answer.moment[c] - d[c]);
                }
                let each = answer.hessian.into_iter().zip([1.0, 0.0, 1.0]);
                for (sum, (h, elastic)) in sum.hessian.iter_mut().zip(each) {
                    *sum += weight * (h - elastic);
                }
            });
        }
        sum
    }

    /// Moment times the cell's compliance at the curvature `d` beyond the natural one: what the
    /// elastic core would have, and the flow's part (1).
    #[must_use]
    pub fn moment(&self, d: [f64; 2]) -> [f64; 2] {
        let flowed = self.respond(d).gradient;
        [d[0] + flowed[0], d[1] + flowed[1]]
    }

    /// Takes the flow at the curvature `d` over as the beginning of the next step. Returns the
    /// energy lost, times the compliance of the cell.
    pub fn settle(&mut self, d: [f64; 2]) -> f64 {
        let mut lost = 0.0;
        let mut pieces = self.pieces().to_vec();
        for (before, now) in self.pieces().iter().zip(&mut pieces) {
            now.flow.clear();
            self.each(&before.flow, d, |stiffness, answer| {
                now.flow.push(answer.flow);
                lost += before.share * stiffness * answer.lost;
            });
            while now
                .flow
                .last()
                .is_some_and(|p| p[0].abs() + p[1].abs() <= 0.0)
            {
                now.flow.pop();
            }
        }
        if pieces != self.pieces() {
            self.moved = true;
            self.pieces = Some(pieces);
            self.easy = -1.0;
        }
        lost
    }

    /// Curvature beyond the natural one that is left when the moment is taken away, integrated over
    /// the cell (1): where the potential of the next step has its least.
    #[must_use]
    pub fn residual(&self) -> [f64; 2] {
        let mut d = [0.0; 2];
        if self.is_untouched() {
            return d;
        }
        // Newton on a convex potential with a continuous gradient; halved where it rises.
        let potential =
            |r: &FlowPotential, d: [f64; 2]| r.potential + 0.5 * (d[0] * d[0] + d[1] * d[1]);
        let mut here = self.respond(d);
        for _ in 0..60 {
            let g = [d[0] + here.gradient[0], d[1] + here.gradient[1]];
            if g[0].hypot(g[1]) <= 1e-12 * self.limit {
                break;
            }
            let [a, b, c] = [
                1.0 + here.hessian[0] + 1e-9,
                here.hessian[1],
                1.0 + here.hessian[2] + 1e-9,
            ];
            let det = a * c - b * b;
            let step = [(c * g[0] - b * g[1]) / det, (a * g[1] - b * g[0]) / det];
            let before = potential(&here, d);
            let mut share = 1.0;
            loop {
                let next = [d[0] - share * step[0], d[1] - share * step[1]];
                let there = self.respond(next);
                if potential(&there, next) <= before || share < 1e-6 {
                    (d, here) = (next, there);
                    break;
                }
                share *= 0.5;
            }
        }
        d
    }

    /// Energy stored at the curvature `d` without any further flow, beyond that of an elastic core
    /// there; times the compliance of the cell.
    #[must_use]
    pub fn stored_at(&self, d: [f64; 2]) -> f64 {
        let stored = |flow: &Flow| -> f64 {
            let each = elements().iter().zip(flow);
            each.map(|(element, p)| {
                let product = d[0] * p[0] + d[1] * p[1];
                let square = 0.5 * (p[0] * p[0] + p[1] * p[1]);
                let latent = match &self.law {
                    CoreLaw::Plastic => 0.0,
                    CoreLaw::Superelastic(flag) => {
                        flag.back(self.limit * element.threshold) * p[0].hypot(p[1])
                    }
                };
                element.stiffness * (square - product + latent)
            })
            .sum()
        };
        let pieces = self.pieces().iter();
        pieces.map(|piece| piece.share * stored(&piece.flow)).sum()
    }

    /// The answers of all elements of a piece that flow at the curvature `d` or have flowed, with
    /// their stiffness; all others are elastic there.
    #[inline]
    fn each(&self, flow: &Flow, d: [f64; 2], mut take: impl FnMut(f64, LeastPotential)) {
        let square = d[0] * d[0] + d[1] * d[1];
        for (i, element) in elements().iter().enumerate() {
            let threshold = self.limit * element.threshold;
            let flow = match flow.get(i) {
                Some(&flow) => flow,
                None if square <= threshold * threshold => break,
                None => [0.0; 2],
            };
            let answer = match &self.law {
                CoreLaw::Plastic => plastic::answer(d, flow, threshold),
                CoreLaw::Superelastic(flag) => superelastic::answer(d, flow, threshold, flag),
            };
            take(element.stiffness, answer);
        }
    }
}
