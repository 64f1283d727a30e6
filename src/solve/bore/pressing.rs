//! With what force a bore presses on the wire that it carries.
//!
//! The bore's axis is given. The wire is a beam that may lie beside it by the play, and leans on the bore
//! where that is used up. What a bend without play would press into one point, as where its curvature
//! begins, is spread by the play over the length that the wire needs to cross the bore: so the forces are
//! finite, and stand on no mesh.
//!
//! Equation: least of
//! `Σ |b + D y|² / (2 S) + Σ T |Δy|² / (2 l) - Σ (T t + f)·y - m·Δy/l` with `|y| <= c`,
//! the second term where `T > 0`.
//! Symbols: `y` place of a node of the wire across the bore's axis in mm, `D y` by what the wire turns more
//! than the axis at a node (rad), `b` turn there beyond the natural one if the wire lay on the axis, `S`
//! bending compliance of the node's cell in 1/(mN mm), `T` tension in mN, `t` turn of the axis (rad), `l`
//! length of an edge in mm, `f` and `m` force (mN) and moment (mN mm) at the mouth, `c` play in mm.
//! Source: Euler's beam with an axial force, a small way from a curved line. The least is found along the
//! central path of a barrier, `-u Σ log(c² - |y|²)` with `u` towards 0: Boyd and Vandenberghe, *Convex
//! Optimization*, 2004, section 11.3 (from memory).
//! Left out: that a wire under thrust buckles within the play.

use nalgebra::Vector2;

use crate::solve::banded::{Banded, Factor};

/// Play in mm with which a bore counts that has less.
const LEAST_PLAY_MM: f64 = 1e-3;
/// Share of all forces that the barrier may add where the wire does not touch.
const GAP: f64 = 1e-4;
/// Least share of a node's way to the bore that is left after an iteration.
const NEARER: f64 = 0.05;
/// Factor on the barrier from stage to stage, and iterations of a stage at most.
const LOWER: f64 = 0.2;
const MOST: u32 = 30;
/// Factor on the last barrier of a search with which the next one begins, and on the way aside: from close
/// to the bore the search gets away slowly.
const AGAIN: f64 = 25.0;
const OFF: f64 = 0.999;
/// How near a stage comes to its least, and the last one: squares of Newton's decrement over the barrier.
const NEAR: f64 = 0.05;
const EXACT: f64 = 1e-8;

/// Share of the largest stiffness that is added to all, which keeps rounding from spoiling the factors.
const SHIFT: f64 = 1e-12;

/// A node of the wire in the bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::solve) struct Place {
    /// Bending compliance of its cell in 1/(mN mm); infinite where there is no wire, and at the mouth.
    pub compliance: f64,
    /// Turn of the axis there in rad, across it.
    pub turn: Vector2<f64>,
    /// That turn beyond the wire's natural one.
    pub beyond: Vector2<f64>,
    /// Tension of the wire in mN.
    pub tension: f64,
}

impl Place {
    /// Moment of a wire on the axis in mN mm, in the direction of the turn.
    pub(in crate::solve) fn moment(&self) -> Vector2<f64> {
        self.beyond / self.compliance
    }
}

/// What the wire in front of the mouth does to the one inside.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(in crate::solve) struct Mouth {
    /// Force on the node at the mouth in mN, but for that of the tension.
    pub force: Vector2<f64>,
    /// Moment there in mN mm, in the direction of the turn.
    pub moment: Vector2<f64>,
}

/// Where a wire lay in its bore when its forces were found last.
#[derive(Debug, Clone, Default)]
pub(in crate::solve) struct WarmStart {
    aside: Vec<Vector2<f64>>,
    barrier: f64,
}

/// A wire in a bore, from the mouth backwards.
#[derive(Debug, Clone)]
pub(in crate::solve) struct Pressing {
    /// Half of what the bore is wider than the wire, in mm; 0 or more.
    pub play_mm: f64,
    pub mouth: Mouth,
    pub places: Vec<Place>,
    /// Lengths of the edges between them in mm.
    pub lengths: Vec<f64>,
}

impl Pressing {
    /// Forces of the bore on the wire in mN, node by node. The search begins where the wire lay last.
    pub(in crate::solve) fn forces(&self, warm: &mut WarmStart) -> Vec<Vector2<f64>> {
        let loads = self.loads();
        let most = loads.iter().map(Vector2::norm).fold(0.0, f64::max);
        let count = self.places.len();
        if most <= 0.0 {
            *warm = WarmStart::default();
            return vec![Vector2::zeros(); count];
        }
        let highest = most * self.play();
        if warm.barrier > 0.0 {
            warm.aside.resize(count, Vector2::zeros());
            warm.aside.iter_mut().for_each(|y| *y *= OFF);
            warm.barrier = (AGAIN * warm.barrier).min(highest);
            let inside = warm.aside.iter().all(|y| y.norm() < self.play());
            if inside && self.lower(warm, &loads, most) {
                return self.pressed(warm);
            }
        }
        warm.aside = vec![Vector2::zeros(); count];
        warm.barrier = highest;
        self.lower(warm, &loads, most);
        self.pressed(warm)
    }

    fn pressed(&self, warm: &WarmStart) -> Vec<Vector2<f64>> {
        let aside = warm.aside.iter();
        aside.map(|y| -y * self.wall(y, warm.barrier)).collect()
    }

    /// Lowers the barrier until it adds little to the forces; `most` is the greatest load in mN. Returns
    /// false where a stage was not found.
    fn lower(&self, warm: &mut WarmStart, loads: &[Vector2<f64>], most: f64) -> bool {
        let count: f64 = warm.aside.iter().map(|_| 1.0).sum();
        let mut solver = Solver::default();
        let mut found = true;
        loop {
            let barrier = warm.barrier;
            found &= self.descend(&mut warm.aside, loads, barrier, (NEAR, &mut solver));
            let all: f64 = self.pressed(warm).iter().map(Vector2::norm).sum();
            // Where nothing touches, the barrier's force is below `2 u / c`.
            let added = 2.0 * count * barrier / self.play();
            if added <= GAP * all.max(GAP * most) {
                // No stage for the last one: like states get like forces.
                warm.barrier *= GAP * all.max(GAP * most) / added;
                let barrier = warm.barrier;
                self.descend(&mut warm.aside, loads, barrier, (EXACT, &mut solver));
                return found;
            }
            warm.barrier *= LOWER;
        }
    }

    /// Newton's method for the least with a barrier, until its square of the decrement is `close` times
    /// the barrier. Returns whether it was found.
    fn descend(
        &self,
        aside: &mut Vec<Vector2<f64>>,
        loads: &[Vector2<f64>],
        barrier: f64,
        (close, solver): (f64, &mut Solver),
    ) -> bool {
        let mut energy = self.energy(aside, loads, barrier);
        for _ in 0..MOST {
            let Some(slope) = solver.solve(self, aside, loads, barrier) else {
                return false;
            };
            let step = &solver.step;
            let Some((next, least)) = self.search(aside, loads, (step, barrier), (energy, slope))
            else {
                return false;
            };
            (*aside, energy) = (next, least);
            if -slope <= close * barrier {
                return true;
            }
        }
        false
    }

    /// The first of the step, its half and so on with which the energy falls and no node comes nearer to
    /// the bore than by the share [`NEARER`]; none where rounding is all that is left.
    fn search(
        &self,
        from: &[Vector2<f64>],
        loads: &[Vector2<f64>],
        (step, barrier): (&[f64], f64),
        (before, slope): (f64, f64),
    ) -> Option<(Vec<Vector2<f64>>, f64)> {
        const ARMIJO: f64 = 1e-2;
        let mut share = 1.0;
        while share > 1e-9 {
            let steps = step.chunks_exact(2).map(|s| Vector2::new(s[0], s[1]));
            let to: Vec<_> = from.iter().zip(steps).map(|(y, s)| y + s * share).collect();
            let square = self.play().powi(2);
            let left = |y: &Vector2<f64>| square - y.norm_squared();
            let stays = |(to, from)| left(to) > NEARER * left(from);
            let inside = to.iter().zip(from).all(stays);
            let energy = if inside {
                self.energy(&to, loads, barrier)
            } else {
                f64::INFINITY
            };
            if energy <= before + ARMIJO * share * slope {
                return Some((to, energy));
            }
            share *= 0.5;
        }
        None
    }

    /// By what the axis turns in all, in rad.
    pub(in crate::solve) fn turn(&self) -> f64 {
        self.places.iter().map(|place| place.turn.norm()).sum()
    }

    fn play(&self) -> f64 {
        self.play_mm.max(LEAST_PLAY_MM)
    }

    /// Force of the barrier over the way `y` from the axis, in mN/mm.
    fn wall(&self, y: &Vector2<f64>, barrier: f64) -> f64 {
        2.0 * barrier / (self.play().powi(2) - y.norm_squared())
    }

    /// Shares of the nodes `i - 1`, `i` and `i + 1` in the turn at node `i`, in 1/mm.
    fn shares(&self, i: usize) -> [f64; 3] {
        let [a, b] = [1.0 / self.lengths[i - 1], 1.0 / self.lengths[i]];
        [a, -a - b, b]
    }

    /// The nodes at which the wire bends between edges of the bore.
    fn inner(&self) -> std::ops::Range<usize> {
        1..self.lengths.len()
    }

    /// Forces on the nodes of a wire on the axis, in mN.
    fn loads(&self) -> Vec<Vector2<f64>> {
        let mut loads: Vec<_> = self.places.iter().map(|p| p.turn * p.tension).collect();
        let pair = self.mouth.moment / self.lengths[0];
        loads[0] += self.mouth.force + pair;
        loads[1] -= pair;
        for i in self.inner() {
            for (k, share) in self.shares(i).into_iter().enumerate() {
                loads[i + k - 1] -= self.places[i].moment() * share;
            }
        }
        loads
    }

    /// By what the wire turns more than the axis at node `i`.
    fn turned(&self, i: usize, y: &[Vector2<f64>]) -> Vector2<f64> {
        let [a, b, c] = self.shares(i);
        y[i - 1] * a + y[i] * b + y[i + 1] * c
    }

    /// Tension over the length of edge `e` where it pulls, in mN/mm.
    fn taut(&self, e: usize) -> f64 {
        let tension = 0.5 * (self.places[e].tension + self.places[e + 1].tension);
        tension.max(0.0) / self.lengths[e]
    }

    /// Energy in mN mm inside the bore.
    fn energy(&self, y: &[Vector2<f64>], loads: &[Vector2<f64>], barrier: f64) -> f64 {
        let mut sum = 0.0;
        for i in self.inner() {
            sum += 0.5 * self.turned(i, y).norm_squared() / self.places[i].compliance;
        }
        for e in 0..self.lengths.len() {
            sum += 0.5 * self.taut(e) * (y[e + 1] - y[e]).norm_squared();
        }
        let square = self.play().powi(2);
        for (y, load) in y.iter().zip(loads) {
            let left = 1.0 - y.norm_squared() / square;
            sum -= barrier * left.ln() + load.dot(y);
        }
        sum
    }
}

/// Memory of the search.
struct Solver {
    gradient: Vec<f64>,
    hessian: Banded<6>,
    factor: Factor<6>,
    step: Vec<f64>,
}

impl Default for Solver {
    fn default() -> Self {
        Self {
            gradient: Vec::new(),
            hessian: Banded::empty(),
            factor: Factor::empty(),
            step: Vec::new(),
        }
    }
}

impl Solver {
    /// Solves for Newton's step; returns the slope of the energy along it, none where it does not fall.
    fn solve(
        &mut self,
        wire: &Pressing,
        y: &[Vector2<f64>],
        loads: &[Vector2<f64>],
        barrier: f64,
    ) -> Option<f64> {
        self.assemble(wire, y, loads, barrier);
        let shift = SHIFT * self.hessian.largest_diagonal();
        if !self.hessian.factorise(shift, &mut self.factor) {
            return None;
        }
        self.step.clear();
        self.step.extend(self.gradient.iter().map(|g| -g));
        self.factor.solve(&mut self.step);
        let slope: f64 = self
            .gradient
            .iter()
            .zip(&self.step)
            .map(|(g, s)| g * s)
            .sum();
        (slope < 0.0).then_some(slope)
    }

    fn push(&mut self, i: usize, force: Vector2<f64>) {
        self.gradient[2 * i] += force.x;
        self.gradient[2 * i + 1] += force.y;
    }

    /// Adds a stiffness between nodes `i` and `j`, `j <= i`, the same in both directions.
    fn add(&mut self, i: usize, j: usize, stiffness: f64) {
        for c in 0..2 {
            self.hessian.add(2 * i + c, 2 * j + c, stiffness);
        }
    }

    fn assemble(
        &mut self,
        wire: &Pressing,
        y: &[Vector2<f64>],
        loads: &[Vector2<f64>],
        barrier: f64,
    ) {
        self.gradient.clear();
        self.gradient.resize(2 * y.len(), 0.0);
        self.hessian.reset(2 * y.len());
        for i in wire.inner() {
            let (shares, stiffness) = (wire.shares(i), 1.0 / wire.places[i].compliance);
            let moment = wire.turned(i, y) * stiffness;
            for (k, a) in shares.into_iter().enumerate() {
                self.push(i + k - 1, moment * a);
                for (l, b) in shares[..=k].iter().enumerate() {
                    self.add(i + k - 1, i + l - 1, a * b * stiffness);
                }
            }
        }
        for e in 0..wire.lengths.len() {
            let taut = wire.taut(e);
            let pull = (y[e + 1] - y[e]) * taut;
            self.push(e, -pull);
            self.push(e + 1, pull);
            self.add(e, e, taut);
            self.add(e + 1, e + 1, taut);
            self.add(e + 1, e, -taut);
        }
        for (i, (y, load)) in y.iter().zip(loads).enumerate() {
            let wall = wire.wall(y, barrier);
            self.push(i, y * wall - load);
            self.add(i, i, wall);
            let steeper = wall * wall / barrier;
            for (r, c) in [(0, 0), (1, 0), (1, 1)] {
                self.hessian
                    .add(2 * i + r, 2 * i + c, steeper * y[r] * y[c]);
            }
        }
    }
}

#[cfg(test)]
mod tests;
