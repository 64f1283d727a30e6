//! What the core of a wire has flowed, along its length: a property of its material, which goes
//! where the wire goes and has no mesh.
//!
//! A step begins with the flow that lies in the cell of each hinge and ends by putting back what each
//! has changed, spread evenly over its cell. Wire in a guide is held straight by the model alone, not
//! by a real guide, whose lumen is wider than the wire: it keeps its flow as it is until it comes out
//! again.

use std::sync::Arc;

use crate::device::Wire;
use crate::rod::{CoreCell, CoreLaw, Flag, Flow, Hinge};
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

/// A stretch of wire in a cell: distances from the tip in mm, and what its flow counts there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stretch {
    pub from: f64,
    pub to: f64,
    pub weight: f64,
}

/// The core in a cell: its limit, integrated over the cell, and the stretches of wire of which it
/// consists; the first one flows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lies {
    pub limit: f64,
    pub flows: Stretch,
    pub adjacent: Option<Stretch>,
}

impl Lies {
    /// A plain cell of the wire from `a` to `b` mm from its tip, `hinge` in the rod.
    pub(super) fn plain(wire: &Wire, a: f64, b: f64, hinge: &Hinge) -> Self {
        let stiffness = hinge.length / hinge.bending_compliance;
        Self {
            limit: wire.yield_curvature(stiffness) * hinge.length,
            flows: Stretch {
                from: a,
                to: b,
                weight: 1.0,
            },
            adjacent: None,
        }
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
    pub(super) fn cell(&self, hinge: &Hinge, lies: Option<Lies>) -> Option<CoreCell> {
        let law = self.law?;
        let natural = hinge.natural_curvature;
        Some(match lies {
            Some(lies) => CoreCell::new(law, lies.limit, natural, self.in_cell(&lies)),
            None => CoreCell::new(law, f64::INFINITY, [0.0; 2], Flow::new()),
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

    /// Puts back what a hinge has flowed in a step.
    pub(super) fn take(&mut self, cell: &CoreCell, lies: &Lies) {
        let Stretch { from, to, weight } = lies.flows;
        let mut change = self.in_cell(lies);
        let now = cell.flow();
        change.resize(change.len().max(now.len()), [0.0; 2]);
        for (i, change) in change.iter_mut().enumerate() {
            let now = now.get(i).copied().unwrap_or_default();
            *change = [0, 1].map(|c| (now[c] - change[c]) / (weight * (to - from)));
        }
        self.add(from, to, &change);
    }

    /// Flow in a cell, integrated over it.
    fn in_cell(&self, lies: &Lies) -> Flow {
        let mut sum = Flow::new();
        for stretch in [Some(lies.flows), lies.adjacent].into_iter().flatten() {
            for run in &self.runs {
                let length = run.to.min(stretch.to) - run.from.max(stretch.from);
                if length > 0.0 {
                    add_to(&mut sum, &run.flow, stretch.weight * length);
                }
            }
        }
        sum
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
        self.join_slivers();
    }

    /// Joins pieces that are too short to a neighbour that they touch, so that flow times length is
    /// kept.
    fn join_slivers(&mut self) {
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
        fresh.cell(hinge, Some(Lies::plain(wire, a, b, hinge)))
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
        let lies = Lies {
            limit: 1.0,
            flows: Stretch {
                from: a,
                to: b,
                weight: 1.0,
            },
            adjacent: None,
        };
        flow.in_cell(&lies).first().map_or(0.0, |p| p[0])
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
}
