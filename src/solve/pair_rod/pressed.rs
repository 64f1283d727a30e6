//! With what force the catheter presses on the wire, from how both lie.

use nalgebra::{Vector2, Vector3};

use super::PairRod;
use super::layout::PairLayout;
use crate::rod::{Rod, parallel_transport};
use crate::solve::bore::pressing::{Mouth, Place, Pressing};
use crate::solve::guided::{Layout, Repeat};
use crate::solve::search::NewtonFailure;

/// Edges of the wire in the guide that are looked at: where a bend ends at the guide, the wire leans on
/// its catheter in there too.
const IN_GUIDE: u32 = 24;
/// Rounds at most in which tension and friction along the bore are brought together, and the share by which
/// the friction may still change then.
const ROUNDS: u32 = 8;
const SETTLED: f64 = 2e-4;

impl PairRod<'_> {
    /// Gives the bore's friction the limits of the present equilibrium, or where they change it too much,
    /// limits on the way to them. Returns whether the equilibrium has to be looked for once more. Friction along
    /// the bore takes no part in it.
    ///
    /// # Errors
    /// [`NewtonFailure::BeyondCoulomb`] where that was done too often.
    pub(super) fn rub(&mut self, repeat: &mut Repeat) -> Result<bool, NewtonFailure> {
        let Some(mut bore) = self.body.bore.take() else {
            return Ok(false);
        };
        let q = &self.body.rod.q;
        let axes = Axes::of(&self.body.rod, &self.layout);
        let before = bore.forces::<5>(q);
        let limits = bore.limits();
        let mut last = before.clone();
        let difference = |a: &[Vector2<f64>], b: &[Vector2<f64>], c: usize| -> f64 {
            a.iter().zip(b).map(|(a, b)| (a[c] - b[c]).abs()).sum()
        };
        for _ in 0..ROUNDS {
            let pressing = axes.pressing(bore.fit.play_mm, &last);
            let forces = pressing.forces(&mut bore.warm);
            bore.take_pressing(&by_edge(&forces, bore.edges()));
            let now = bore.forces::<5>(q);
            // What is left of a change of the tension presses by its turn.
            let presses = difference(&now, &last, 0) * pressing.turn();
            last = now;
            if bore.fit.friction * presses <= SETTLED * bore.limit() {
                break;
            }
        }
        let share = difference(&last, &before, 1) / bore.limit().max(f64::MIN_POSITIVE);
        let most = (last.iter().zip(&before))
            .map(|(a, b)| (a.y - b.y).abs())
            .fold(0.0, f64::max);
        let residual = most * bore.fit.radius_mm / (self.options.arm * self.options.tolerance);
        let at_rest = repeat.is_at_rest(share, residual);
        if !at_rest {
            bore.ease(&limits);
        }
        self.body.bore = Some(bore);
        if at_rest {
            return Ok(false);
        }
        repeat.again(share)
    }
}

/// The sizes of these forces on the nodes of the wire in a bore, on the `edges` of the catheter from its
/// tip: those at its ends, and in the guide, count on the edge there.
fn by_edge(forces: &[Vector2<f64>], edges: usize) -> Vec<f64> {
    let mut pressed = vec![0.0; edges];
    for (node, force) in forces.iter().map(Vector2::norm).enumerate() {
        for edge in [node.saturating_sub(1), node] {
            pressed[edge.min(edges - 1)] += 0.5 * force;
        }
    }
    pressed
}

/// A pair with directions across its centreline, carried along it without twist.
struct Axes<'s> {
    rod: &'s Rod<5>,
    layout: &'s PairLayout,
    /// Number of the first edge that has directions, and those of each.
    first: usize,
    across: Vec<[Vector3<f64>; 2]>,
}

impl<'s> Axes<'s> {
    fn of(rod: &'s Rod<5>, layout: &'s PairLayout) -> Self {
        let first = layout.ahead.saturating_sub(2);
        let mut along = rod.tangent(first);
        let mut director = rod.kinematics().director[first];
        let mut across = Vec::new();
        for edge in first..=layout.exit {
            let tangent = rod.tangent(edge);
            director = parallel_transport(&director, &along, &tangent).normalize();
            along = tangent;
            across.push([director, tangent.cross(&director)]);
        }
        Self {
            rod,
            layout,
            first,
            across,
        }
    }

    /// A vector across the centreline at node `i`.
    fn at(&self, i: usize, vector: &Vector3<f64>) -> Vector2<f64> {
        let [before, behind] = [i - 1, i].map(|edge| self.across[edge - self.first]);
        Vector2::from_fn(|c, _| (before[c] + behind[c]).normalize().dot(vector))
    }

    /// Turn of the centreline at node `i` in rad.
    fn turn(&self, i: usize) -> Vector2<f64> {
        let [before, behind] = [i - 1, i].map(|edge| self.rod.tangent(edge));
        let turn = (behind - before) * (2.0 / (1.0 + before.dot(&behind))).sqrt();
        self.at(i, &turn)
    }

    /// The wire's natural turn at node `i` in rad, with what its core has flowed.
    fn natural(&self, i: usize) -> Vector2<f64> {
        let mut natural = self.rod.hinges[i].natural_curvature;
        if self.rod.core.len() > i && self.rod.is_flowing(i) {
            let flow = self.rod.core[i].respond(self.rod.curvature_beyond_natural(i));
            natural = [0, 1].map(|c| natural[c] - flow.gradient[c]);
        }
        self.at(i, &self.in_space(i, natural))
    }

    /// A curvature in the wire's material frame at node `i`, as a vector.
    fn in_space(&self, i: usize, [first, second]: [f64; 2]) -> Vector3<f64> {
        let [before, behind] = [i - 1, i].map(|edge| self.rod.material_frame_of(0, edge));
        let mean = [0, 1].map(|c| (before[c] + behind[c]) * 0.5);
        mean[0] * first + mean[1] * second
    }

    /// The wire at node `i` of those outside the guide, without its tension.
    fn place(&self, i: usize) -> Place {
        let hinge = &self.rod.hinges[i];
        let turn = self.turn(i);
        Place {
            compliance: hinge.bending_compliance,
            turn,
            beyond: turn - self.natural(i),
            tension: 0.0,
        }
    }

    /// Moment of the wire at node `i` in mN mm; 0 at an end of the rod.
    fn moment(&self, i: usize) -> Vector2<f64> {
        if i == 0 {
            Vector2::zeros()
        } else {
            self.place(i).moment()
        }
    }

    /// What the bare wire does to the one inside.
    fn mouth(&self) -> Mouth {
        let k = self.layout.ahead;
        if k == 0 {
            return Mouth::default();
        }
        let moment = self.moment(k);
        let length = self.rod.kinematics().length[k - 1];
        Mouth {
            force: (moment - self.moment(k - 1)) / length,
            moment,
        }
    }

    /// Tension of the wire where it leaves the catheter in mN; 0 where it ends inside.
    fn tension_at_mouth(&self) -> f64 {
        let Some(edge) = self.layout.ahead.checked_sub(1) else {
            return 0.0;
        };
        let at = &self.rod.edges[edge];
        at.axial_stiffness * (self.rod.kinematics().length[edge] / at.rest_length - 1.0)
    }

    /// The wire in a bore with that play (mm), which resists the wire's sliding forward by the first
    /// components of `friction` (mN) on each edge from the mouth.
    ///
    /// Equation of its tension: `dT = -κ dM - f`.
    /// Symbols: `κ` curvature and `M` moment, `f` friction; from the mouth backwards.
    /// Source: balance of a bent rod along its axis.
    fn pressing(&self, play_mm: f64, friction: &[Vector2<f64>]) -> Pressing {
        let (ahead, exit) = (self.layout.ahead, self.layout.exit);
        let mouth = self.mouth();
        let front = if ahead > 0 {
            self.turn(ahead)
        } else {
            Vector2::zeros()
        };
        let mut places = vec![Place {
            compliance: f64::INFINITY,
            turn: front,
            beyond: Vector2::zeros(),
            tension: self.tension_at_mouth(),
        }];
        let curvature = |i: usize, turn: &Vector2<f64>| turn / self.rod.hinges[i].length;
        let mut before = (mouth.moment, curvature(ahead, &front));
        for i in ahead + 1..=exit {
            let mut place = self.place(i);
            let now = (place.moment(), curvature(i, &place.turn));
            let tension = places[i - ahead - 1].tension;
            place.tension = tension
                - (0.5 * (now.1 + before.1)).dot(&(now.0 - before.0))
                - friction[i - ahead - 1].x;
            places.push(place);
            before = now;
        }
        let mut lengths = self.rod.kinematics().length[ahead..exit].to_vec();
        self.go_on_in_guide(&mut places, &mut lengths);
        Pressing {
            play_mm,
            mouth,
            places,
            lengths,
        }
    }

    /// Adds the wire in the guide, where its catheter is straight.
    fn go_on_in_guide(&self, places: &mut Vec<Place>, lengths: &mut Vec<f64>) {
        let (wire, exit) = (self.layout.wire(), self.layout.exit);
        let outside = self.layout.wire_outside_mm();
        let length = 0.5 * lengths[lengths.len() - 2..].iter().sum::<f64>();
        let Some(last) = places.last_mut() else {
            return;
        };
        last.compliance += wire.compliance_between(outside, outside + 0.5 * length);
        let tension = last.tension;
        for k in 1..=IN_GUIDE {
            let s = outside + f64::from(k) * length;
            let (from, to) = (s - 0.5 * length, s + 0.5 * length);
            let natural = wire.natural_curvature_between(from, to);
            let frame = self.rod.material_frame_of(0, exit);
            let natural = frame[0] * natural[0] + frame[1] * natural[1];
            let across = self.across[exit - self.first];
            places.push(Place {
                compliance: wire.compliance_between(from, to),
                turn: Vector2::zeros(),
                beyond: -Vector2::from_fn(|c, _| across[c].dot(&natural)),
                tension,
            });
            lengths.push(length);
        }
    }
}
