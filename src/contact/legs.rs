//! Contact between the two legs of a folded wire.
//!
//! The part of the wire in front of a fold (the free leg, towards the tip) carries contact points;
//! each keeps its distance from the nearest point of the part behind the fold (the main leg).
//!
//! Equation: `E = k w δ²/2`, `δ = max(0, 2 r - |p - c|)`.
//! Symbols: `k` foundation stiffness in mN/mm per mm of wire, `w` weight of the contact point in
//! mm, `r` wire radius in mm, `p` the contact point, `c` the point of the main leg nearest to it.
//! Source: Winkler's elastic foundation between two round wires. The legs slide on each other
//! without friction: a hydrophilic wire on itself, and both legs move almost alike.
//!
//! The second derivatives leave out the turning of the normal, which is smaller than what is kept
//! by the factor `δ/(2 r)`.

use std::ops::Range;

use nalgebra::{Matrix3, Vector3};

use super::points;
use crate::rod::{HessianSink, Rod, node_of};

/// Length of wire in mm between two points that may touch, measured along the wire through the
/// fold: nearer ones belong to the fold itself.
const APART_ALONG_MM: f64 = 2.0;

/// Edges of the main leg that are asked about together.
const BLOCK: usize = 8;

/// A point of the free leg.
#[derive(Debug, Clone, Copy)]
struct LegPoint {
    edge: usize,
    fraction: f64,
    weight: f64,
    /// First edge of the main leg that it may touch.
    first: usize,
}

/// Two places of one wire that press on each other: a spring between weighted sums of two nodes
/// each, with force along the normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// First nodes of the two edges: on the free leg and on the main leg.
    pub edges: [usize; 2],
    /// Places on the two edges, from 0 at the first node to 1 at the second.
    pub fractions: [f64; 2],
    /// Unit normal, from the main leg to the free leg.
    pub normal: Vector3<f64>,
    /// Overlap in mm.
    pub depth: f64,
    /// Stiffness `k w` in mN/mm.
    pub stiffness: f64,
}

impl Touch {
    /// Normal force in mN.
    #[must_use]
    pub fn force(&self) -> f64 {
        self.stiffness * self.depth
    }

    /// The four nodes with their weights in the gap between the two places.
    fn weights(&self) -> [[(usize, f64); 2]; 2] {
        let [(e, f), (j, t)] = [0, 1].map(|k| (self.edges[k], self.fractions[k]));
        [[(e, 1.0 - f), (e + 1, f)], [(j, t - 1.0), (j + 1, -t)]]
    }

    /// Adds to `out` what the coupling between the two legs makes of `x`: the product with the
    /// part of the second derivatives that lies far off the diagonal.
    pub fn add_coupling<const S: usize>(&self, x: &[f64], out: &mut [f64]) {
        let legs = self.weights();
        for (own, other) in [(legs[0], legs[1]), (legs[1], legs[0])] {
            let gap: f64 = other
                .iter()
                .map(|(node, weight)| weight * node_of::<S>(x, *node).dot(&self.normal))
                .sum();
            for (node, weight) in own {
                let pull = self.normal * (self.stiffness * gap * weight);
                for c in 0..3 {
                    out[S * node + c] += pull[c];
                }
            }
        }
    }
}

/// The contact of the two legs.
#[derive(Debug, Clone)]
pub struct Legs {
    radius: f64,
    stiffness: f64,
    points: Vec<LegPoint>,
    touches: Vec<Touch>,
}

impl Legs {
    /// Legs that part at node `fold` of a rod numbered from the tip, for a wire of `radius` mm and
    /// a foundation of `stiffness` mN/mm², with contact points no further apart than `spacing` mm;
    /// `stations` gives the distance of each node from the tip in mm.
    #[must_use]
    pub fn new(radius: f64, stiffness: f64, spacing: f64, stations: &[f64], fold: usize) -> Self {
        let mut all = vec![points::tip_point(radius)];
        for edge in 0..fold {
            let length = stations[edge + 1] - stations[edge];
            all.extend(points::on_edge(edge, length, spacing));
        }
        let points = all
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
                }
            })
            .collect();
        Self {
            radius,
            stiffness,
            points,
            touches: Vec::new(),
        }
    }

    /// The touches at the unknowns `q`.
    fn find<'a, const S: usize>(&'a self, q: &'a [f64]) -> impl Iterator<Item = Touch> + 'a {
        let first = self.points.iter().map(|p| p.first).min().unwrap_or(0);
        let blocks = Block::of_edges::<S>(q, first..q.len().div_ceil(S) - 2);
        self.points.iter().filter_map(move |p| {
            let a = node_of::<S>(q, p.edge);
            let b = node_of::<S>(q, p.edge + 1);
            let at = a + (b - a) * p.fraction;
            let (j, t, offset) = nearest::<S>(q, &blocks, p.first, &at, 2.0 * self.radius)?;
            let distance = offset.norm();
            let depth = 2.0 * self.radius - distance;
            (depth > 0.0 && distance > 1e-9).then(|| Touch {
                edges: [p.edge, j],
                fractions: [p.fraction, t],
                normal: offset / distance,
                depth,
                stiffness: self.stiffness * p.weight,
            })
        })
    }

    /// Energy at the unknowns `q` in mN mm.
    #[must_use]
    pub fn energy<const S: usize>(&self, q: &[f64]) -> f64 {
        self.find::<S>(q)
            .map(|t| 0.5 * t.stiffness * t.depth * t.depth)
            .sum()
    }

    /// Adds the gradient and, to the lower triangle, those second derivatives that stay within one
    /// leg; the coupling of the two is left to [`Touch::add_coupling`].
    pub fn add_derivatives<const S: usize, const W: usize>(
        &mut self,
        rod: &Rod<S>,
        gradient: &mut [f64],
        hessian: &mut impl HessianSink<W>,
    ) {
        let touches: Vec<Touch> = self.find::<S>(&rod.q).collect();
        for touch in &touches {
            let matrix: Matrix3<f64> = touch.normal * touch.normal.transpose() * touch.stiffness;
            for [(first, wa), (second, wb)] in touch.weights() {
                for (node, weight) in [(first, wa), (second, wb)] {
                    for c in 0..3 {
                        gradient[S * node + c] -= touch.force() * weight * touch.normal[c];
                    }
                }
                let own = hessian.columns::<3>(S * first);
                for c in 0..3 {
                    for r in 0..3 {
                        own[c][S + r - c] += wa * wb * matrix[(r, c)];
                        if r >= c {
                            own[c][r - c] += wa * wa * matrix[(r, c)];
                        }
                    }
                }
                let next = hessian.columns::<3>(S * second);
                for c in 0..3 {
                    for r in c..3 {
                        next[c][r - c] += wb * wb * matrix[(r, c)];
                    }
                }
            }
        }
        self.touches = touches;
    }

    /// Touches at the state whose derivatives were added last.
    #[must_use]
    pub fn touches(&self) -> &[Touch] {
        &self.touches
    }
}

/// Edges of the main leg in a row, and a ball around them.
struct Block {
    edges: Range<usize>,
    centre: Vector3<f64>,
    radius: f64,
}

impl Block {
    /// The blocks of `edges`. The exit node of the guide is the end of the last of them.
    fn of_edges<const S: usize>(q: &[f64], edges: Range<usize>) -> Vec<Self> {
        let last = edges.end;
        let begins = edges.step_by(BLOCK);
        let blocks = begins.map(|begin| {
            let end = (begin + BLOCK).min(last);
            let nodes = || (begin..=end).map(|i| node_of::<S>(q, i));
            let centre = (node_of::<S>(q, begin) + node_of::<S>(q, end)) * 0.5;
            let radius = nodes().map(|x| (x - centre).norm()).fold(0.0, f64::max);
            Self {
                edges: begin..end,
                centre,
                radius,
            }
        });
        blocks.collect()
    }
}

/// The point of the edges of `blocks` from edge `first` on that is nearest to `p`, if it is nearer
/// than `reach` mm: edge, place on it, and `p` less that point.
fn nearest<const S: usize>(
    q: &[f64],
    blocks: &[Block],
    first: usize,
    p: &Vector3<f64>,
    reach: f64,
) -> Option<(usize, f64, Vector3<f64>)> {
    let mut best: Option<(usize, f64, Vector3<f64>)> = None;
    let mut least = reach * reach;
    for block in blocks {
        let far = block.radius + reach;
        if block.edges.end <= first || (p - block.centre).norm_squared() > far * far {
            continue;
        }
        for j in block.edges.start.max(first)..block.edges.end {
            let a = node_of::<S>(q, j);
            let along = node_of::<S>(q, j + 1) - a;
            let from_a = p - a;
            let t = (from_a.dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
            let offset = from_a - along * t;
            let square = offset.norm_squared();
            if square < least {
                least = square;
                best = Some((j, t, offset));
            }
        }
    }
    best
}
