//! Contact between the two legs of a folded wire.
//!
//! The part of the wire in front of a fold (the free leg, towards the tip) carries contact points;
//! each keeps its distance from the nearest point of the part behind the fold (the main leg), which is
//! laid through its nodes without corners: they would be creases on the inner side of a bend.
//!
//! Equation: `E = w e(δ)`, `δ = max(0, 2 r - |p - c|)`.
//! Symbols: `e` energy per mm of wire by the law of the wall ([`super::WallLaw`]), which the two round
//! wires have between them too, `w` weight of the contact point in mm, `r` wire radius in mm, `p` the
//! contact point, `c` the point of the main leg nearest to it.
//! Friction in [`super::friction`], of one leg on the other. Its coefficient is that of the wire on a vessel's wall: no published value
//! of a wire on itself was found.
//!
//! The second derivatives leave out the turning of the normal, which is smaller than what is kept
//! by the factor `δ/(2 r)`.

use nalgebra::Vector3;

use super::contact_pair::{ContactPair, Side};
use super::friction::FrictionState;
use super::points::{self, Memory, Penetration};
use super::pressed_pairs::PressedPairs;
use super::wall::Surface;
use crate::rod::{HessianSink, Rod, node_of};
use crate::vessel::{ControlPoint, Line, between};

/// Length of wire in mm between two points that may touch, measured along the wire through the
/// fold: nearer ones belong to the fold itself.
const APART_ALONG_MM: f64 = 2.0;

/// A point of the free leg.
#[derive(Debug, Clone, Copy)]
struct LegPoint {
    edge: usize,
    fraction: f64,
    weight: f64,
    /// First edge of the main leg that it may touch.
    first: usize,
    memory: Memory,
}

/// The contact of the two legs.
#[derive(Debug, Clone)]
pub struct SelfContact {
    surface: Surface,
    points: Vec<LegPoint>,
    /// First edge of the main leg that is touched by any of them.
    first: usize,
    /// The points that are pressed where the main leg was laid, and their touches.
    touches: PressedPairs,
    start: Vec<f64>,
    /// The main leg, the unknowns for which it was laid, and how far it has gone in sum, in mm.
    line: Line,
    laid: Vec<f64>,
    gone_mm: f64,
    /// Displacement in this step of the wire against a node through which it flows, in mm.
    pub inflow: Option<(usize, Vector3<f64>)>,
    /// By which share of its change friction follows the normal force; 1 is at once.
    pub friction_relaxation: f64,
}

impl SelfContact {
    /// The contact of legs that part at node `fold` of a rod numbered from the tip, for a wire of that surface, with
    /// contact points no further apart than its spacing; `stations` gives the distance of each node
    /// from the tip in mm.
    #[must_use]
    pub fn new(surface: &Surface, stations: &[f64], fold: usize) -> Self {
        let mut all = vec![points::tip_point(surface.radius)];
        for edge in 0..fold {
            let length = stations[edge + 1] - stations[edge];
            all.extend(points::on_edge(edge, length, surface.spacing));
        }
        let points: Vec<_> = all
            .iter()
            .map(|p| {
                let length = stations[p.edge + 1] - stations[p.edge];
                let station = stations[p.edge] + p.fraction * length;
                let apart = stations.partition_point(|&s| s < station + APART_ALONG_MM);
                LegPoint {
                    edge: p.edge,
                    fraction: p.fraction,
                    weight: p.weight,
                    first: apart.max(fold),
                    memory: Memory::default(),
                }
            })
            .collect();
        Self {
            surface: surface.clone(),
            first: points.iter().map(|p: &LegPoint| p.first).min().unwrap_or(0),
            points,
            touches: PressedPairs::default(),
            start: Vec::new(),
            line: Line::default(),
            laid: Vec::new(),
            gone_mm: 0.0,
            inflow: None,
            friction_relaxation: 1.0,
        }
    }

    /// Begins a step: displacements count from the unknowns `q`.
    pub fn begin(&mut self, q: &[f64]) {
        self.start.clear();
        self.start.extend_from_slice(q);
        self.touches.pairs.clear();
        self.laid.clear();
    }

    /// Finds the points that are pressed at the unknowns `q`, unless that was done for the same last
    /// time: the state that a line search accepts is the one that is assembled next.
    fn find<const S: usize>(&mut self, q: &[f64]) {
        if self.laid == q {
            return;
        }
        self.lay::<S>(q);
        let (line, radius, gone_mm) = (&self.line, self.surface.radius, self.gone_mm);
        // What has been drawn into the guide touches nothing.
        let outside = |p: &LegPoint| p.edge + 1 < q.len().div_ceil(S);
        let points = self.points.iter_mut().enumerate();
        let pressed = points.filter(|(_, p)| outside(p)).filter_map(|(index, p)| {
            let a = node_of::<S>(q, p.edge);
            let at = a + (node_of::<S>(q, p.edge + 1) - a) * p.fraction;
            let look = |reach: f64| line.deepest_from(p.first, &at, reach);
            p.memory.pressed((index, at), gone_mm, radius, look)
        });
        self.touches.pressed.clear();
        self.touches.pressed.extend(pressed);
    }

    /// Lays the main leg, up to the guide's end, where the unknowns are `q`.
    fn lay<const S: usize>(&mut self, q: &[f64]) {
        self.laid.clear();
        self.laid.extend_from_slice(q);
        let nodes = self.first..q.len().div_ceil(S) - 1;
        self.gone_mm += self.line.lay(nodes.map(|name| ControlPoint {
            at: node_of::<S>(q, name),
            diameter_mm: 2.0 * self.surface.radius,
            name,
        }));
    }

    /// Unknowns on which a point in contact and the place that it touches depend.
    fn sides<const S: usize>(&self, pressed: &Penetration, rod: &Rod<S>) -> [Side; 2] {
        let p = &self.points[pressed.point];
        let normal = pressed.seen.offset.normalize();
        // Both surfaces move against each other when both legs spin the same way.
        let spin = |edge: usize| {
            let surface = normal.cross(&rod.tangent(edge)) * self.surface.radius;
            (S * edge + 3, surface)
        };
        let weights = self.line.weights(pressed.seen.place());
        [
            Side {
                nodes: [
                    (S * p.edge, 1.0 - p.fraction),
                    (S * (p.edge + 1), p.fraction),
                    (0, 0.0),
                ],
                spin: spin(p.edge),
            },
            Side {
                nodes: weights.map(|(node, share)| (S * node, -share)),
                spin: spin(between(&weights)),
            },
        ]
    }

    /// Displacements since the step began, of the material where wire flows through a node.
    fn change<const S: usize>(&self, q: &[f64]) -> Vec<f64> {
        let moved = q.iter().zip(&self.start).map(|(now, then)| now - then);
        let mut change: Vec<f64> = moved.collect();
        if let Some((node, inflow)) = self.inflow {
            for c in 0..3 {
                change[S * node + c] += inflow[c];
            }
        }
        change
    }

    /// Energy and incremental potential of friction at the unknowns `q` in mN mm, with normal
    /// forces and directions of the last [`SelfContact::add_derivatives`].
    #[must_use]
    pub fn energy<const S: usize>(&mut self, q: &[f64]) -> f64 {
        self.find::<S>(q);
        let law = |p: &Penetration| self.surface.wall.respond(p.depth).mean();
        let k = |p: &Penetration| law(p) * self.points[p.point].weight;
        let pressed = self.touches.pressed.iter();
        let mut sum: f64 = pressed.map(|p| 0.5 * k(p) * p.depth * p.depth).sum();
        if self.surface.friction > 0.0 && !self.touches.pairs.is_empty() {
            let change = self.change::<S>(q);
            for pair in &self.touches.pairs {
                let u = ContactPair::moved(&pair.sides, [&change; 2]);
                sum += pair.potential(&u);
            }
        }
        sum
    }

    /// Adds the gradient and, to the lower triangle, those second derivatives that stay within one
    /// leg; the coupling of the two is left to [`ContactPair::add_coupling`].
    pub fn add_derivatives<const S: usize, const W: usize>(
        &mut self,
        rod: &Rod<S>,
        gradient: &mut [f64],
        hessian: &mut impl HessianSink<W>,
    ) {
        let change = self.change::<S>(&rod.q);
        self.find::<S>(&rod.q);
        let mut touches = std::mem::take(&mut self.touches);
        touches.grip(
            &self.surface,
            self.friction_relaxation,
            |pressed| {
                let point = &self.points[pressed.point];
                (self.sides(pressed, rod), point.weight, &point.memory)
            },
            |sides, _| ContactPair::moved(sides, [&change; 2]),
        );
        for pair in &touches.pairs {
            for side in 0..2 {
                pair.add_side(side, gradient, hessian);
            }
        }
        self.touches = touches;
    }

    /// Ends a step at the rod's converged state: keeps the elastic part of the friction at each
    /// point and returns the energy lost to sliding in mN mm.
    pub fn settle<const S: usize>(&mut self, rod: &Rod<S>) -> f64 {
        for point in &mut self.points {
            point.memory.friction = FrictionState::default();
        }
        let change = self.change::<S>(&rod.q);
        let moved = |pair: &ContactPair| ContactPair::moved(&pair.sides, [&change; 2]);
        let (kept, lost) = self.touches.settled(moved);
        for (point, displacement) in kept {
            self.points[point].memory.friction.displacement = displacement;
        }
        lost
    }

    /// Largest friction force over the Coulomb limit at the unknowns `q`, whose derivatives were added
    /// last.
    #[must_use]
    pub fn friction_ratio<const S: usize>(&self, q: &[f64]) -> f64 {
        if self.touches.pairs.is_empty() {
            return 0.0;
        }
        let change = self.change::<S>(q);
        let moved = |pair: &ContactPair| ContactPair::moved(&pair.sides, [&change; 2]);
        self.touches.friction_ratio(self.surface.friction, moved)
    }

    /// Touches at the state whose derivatives were added last.
    #[must_use]
    pub fn pairs(&self) -> &[ContactPair] {
        &self.touches.pairs
    }
}
