//! The wall as an elastic foundation, and the sum of all contact forces on the wire.
//!
//! Equation: `E = k w δ²/2`, `δ = max(0, d(x) + r)`.
//! Symbols: `k` foundation stiffness in mN/mm per mm of wire, `w` weight of the contact point in
//! mm, `d` signed distance of the lumen (negative inside), `r` wire radius in mm.
//! Source: Winkler's elastic foundation; friction in [`super::friction`].

use nalgebra::{Matrix3, Vector3};

use super::anticipated::{Active, Anticipated, Forces};
use super::coupling::{Along, Coupling};
use super::friction::{Grip, LastLimits};
use super::points::{self, Clear, ContactPoint, LOOK_AHEAD_MM};
use super::samples::Samples;
use crate::rod::{HessianSink, Rod};
use crate::vessel::{Lumen, LumenPoint};

/// What the wire's surface and the wall bring to a contact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// Wire radius in mm.
    pub radius: f64,
    /// Coulomb coefficient, 0 or more.
    pub friction: f64,
    /// Stiffness of the wall's foundation in mN/mm per mm of wire; its tangential stiffness is
    /// the same.
    pub stiffness: f64,
    /// Largest spacing of contact points along the wire in mm.
    pub spacing: f64,
}

/// All contacts of one wire with one lumen.
#[derive(Clone)]
pub struct Contact<'a, const S: usize = 4> {
    /// The lumen.
    pub lumen: &'a dyn Lumen,
    /// Wire surface and wall.
    pub surface: Surface,
    /// The surface of a catheter that covers a part of the wire.
    pub cover: Surface,
    /// Contact points in the order of the edges.
    pub points: Vec<ContactPoint>,
    /// Displacement of the material against a node in this step, where that node is not a material
    /// point (the end of a guide through which wire flows); in mm.
    pub inflow: Option<(usize, Vector3<f64>)>,
    /// Displacement of the wire against a node in this step, where the wire comes out of a
    /// catheter there: for the contact points on the edge in front of it; in mm.
    pub slip: Option<(usize, Vector3<f64>)>,
    /// By which share of its change friction follows the normal force; see
    /// [`Contact::add_derivatives`].
    pub followed: f64,
    /// Share of the wall's stiffness with which it resists normal to itself, above 0: 1 but on the way
    /// to an equilibrium.
    pub softened: f64,
    pub(super) grips: Vec<Grip>,
    last_grips: Vec<Grip>,
    couplings: Vec<Coupling>,
    pub(super) anticipated: Anticipated,
    start: Vec<f64>,
    pub(super) seen: Seen,
    /// What was seen from each point when cells were looked at last; memory to work in.
    pub(super) samples: Samples,
    /// Deepest place between two points when that was looked for last, in mm.
    pub(super) between_mm: f64,
    /// Whether the wall rose unseen between two points that cannot be closer.
    pub(super) is_unseen: bool,
}

/// The wall as seen from the contact points for one set of unknowns. Looking is the greater part
/// of the cost of contact, and the state that a line search accepts is the one that is assembled
/// next.
#[derive(Debug, Clone, Default)]
pub(super) struct Seen {
    pub(super) q: Vec<f64>,
    /// Points in touch, ascending, with the wall there.
    pub(super) touching: Vec<(usize, LumenPoint)>,
}

impl<'a, const S: usize> Contact<'a, S> {
    /// Contacts for a rod with points on edges `0..edges`, and at the tip (node 0) if asked for.
    #[must_use]
    pub fn new(
        lumen: &'a dyn Lumen,
        surface: Surface,
        rod: &Rod<S>,
        edges: usize,
        tip: bool,
    ) -> Self {
        let mut points: Vec<ContactPoint> = Vec::new();
        if tip {
            points.push(points::tip_point(surface.radius));
        }
        let mut contact = Self {
            lumen,
            surface,
            cover: surface,
            points,
            inflow: None,
            slip: None,
            followed: 1.0,
            softened: 1.0,
            grips: Vec::new(),
            last_grips: Vec::new(),
            couplings: Vec::new(),
            anticipated: Anticipated::default(),
            start: Vec::new(),
            seen: Seen::default(),
            samples: Samples::default(),
            is_unseen: false,
            between_mm: f64::NEG_INFINITY,
        };
        for edge in 0..edges {
            contact.push_edge(edge, rod.edges[edge].rest_length);
        }
        contact
    }

    /// Surface of a device: 0 the wire, 1 the catheter that covers it.
    pub(super) fn surface_of(&self, layer: usize) -> &Surface {
        if layer == 0 {
            &self.surface
        } else {
            &self.cover
        }
    }

    /// Forgets what was seen of the wall, as when the points change.
    pub(super) fn look_anew(&mut self) {
        self.seen.q.clear();
    }

    /// Begins a step: displacements count from the unknowns `q`.
    pub fn begin(&mut self, q: &[f64]) {
        // The points may have changed since they were looked at.
        self.seen.q.clear();
        self.start.clear();
        self.start.extend_from_slice(q);
    }

    /// Displacement of the wire's axis at a point since the step began, and the surface
    /// displacement by spinning.
    pub(super) fn moved(&self, point: &ContactPoint, q: &[f64]) -> (Vector3<f64>, f64) {
        let i = S * point.edge;
        let difference = |k: usize| Vector3::from_fn(|c, _| q[k + c] - self.start[k + c]);
        let first = difference(i);
        let second = match self.inflow {
            Some((node, inflow)) if node == point.edge + 1 => difference(i + S) + inflow,
            _ => match self.slip {
                Some((node, slip)) if node == point.edge + 1 => difference(i + S) + slip,
                _ => difference(i + S),
            },
        };
        (
            first * (1.0 - point.fraction) + second * point.fraction,
            self.turned(point, q) * self.surface_of(point.layer).radius,
        )
    }

    /// Turn in rad of the device at a point since the step began.
    pub(super) fn turned(&self, point: &ContactPoint, q: &[f64]) -> f64 {
        let theta = S * point.edge + 3 + point.layer;
        q[theta] - self.start[theta]
    }

    pub(super) fn position(point: &ContactPoint, q: &[f64]) -> Vector3<f64> {
        let i = S * point.edge;
        let f = point.fraction;
        Vector3::from_fn(|c, _| q[i + c] * (1.0 - f) + q[i + S + c] * f)
    }

    /// Looks at the wall from the points at `q`, unless it was for the same `q` last time.
    pub(super) fn look(&mut self, q: &[f64]) {
        let Self { points, seen, .. } = self;
        let radii = [self.surface.radius, self.cover.radius];
        if seen.q == q {
            return;
        }
        seen.q.clear();
        seen.q.extend_from_slice(q);
        seen.touching.clear();
        for (index, point) in points.iter_mut().enumerate() {
            let radius = radii[point.layer];
            let at = Self::position(point, q);
            if point.wall.clear.is_some_and(|clear| clear.holds(&at, 0.0)) {
                continue;
            }
            let wall = self.lumen.near_wall(&at, radius + LOOK_AHEAD_MM);
            let gap = wall.map_or(LOOK_AHEAD_MM, |w| -(w.distance_mm + radius));
            point.wall.clear = (gap > 0.0).then(|| Clear::of_wall(at, gap));
            let touching = wall.filter(|w| w.distance_mm + radius > 0.0);
            seen.touching.extend(touching.map(|wall| (index, wall)));
        }
    }

    /// Forgets the grips, as when the points have become others.
    pub(super) fn forget_grips(&mut self) {
        self.grips.clear();
        self.last_grips.clear();
        self.couplings.clear();
        self.use_forces(Forces::Present);
    }

    /// Energy of the wall and incremental potential of friction at `q` in mN mm, with normal
    /// forces and directions of the last [`Contact::add_derivatives`].
    pub fn energy(&mut self, q: &[f64]) -> f64 {
        self.look(q);
        let mut sum = 0.0;
        for (index, wall) in &self.seen.touching {
            let point = &self.points[*index];
            let surface = self.surface_of(point.layer);
            let depth = wall.distance_mm + surface.radius;
            sum += 0.5 * self.softened * surface.stiffness * point.weight * depth * depth;
        }
        for grip in &self.grips {
            let (u, rolled) = self.moved(&self.points[grip.point], q);
            sum += grip.potential(&grip.displacement(&u, rolled));
        }
        sum
    }

    /// Adds gradient and Hessian of wall and friction at the rod's state, with normal forces and
    /// friction directions taken there. The change of the normal force with position is left
    /// out of the friction's Hessian, which would not be symmetric. The limit of friction changes
    /// from the one used last by the share [`Contact::followed`] of the way to the one here; the two
    /// come together as the search converges.
    pub fn add_derivatives<const W: usize>(
        &mut self,
        rod: &Rod<S>,
        gradient: &mut [f64],
        hessian: &mut impl HessianSink<W>,
    ) {
        self.look(&rod.q);
        std::mem::swap(&mut self.grips, &mut self.last_grips);
        self.grips.clear();
        self.couplings.clear();
        let active = self.activate(&rod.q);
        let mut last = LastLimits::new(self.last_grips.iter());
        self.anticipated.rates.clear();
        for Active {
            point: index,
            wall: lumen,
            expected,
        } in active
        {
            let point = &self.points[index];
            let Surface {
                radius,
                friction,
                stiffness,
                ..
            } = *self.surface_of(point.layer);
            let depth = lumen.distance_mm + radius;
            let slope = lumen.gradient.norm();
            if slope < 1e-9 {
                continue;
            }
            let k = self.softened * stiffness * point.weight;
            let normal_force = k * depth * slope;
            // By this force the contact turns and slides.
            let level = match self.anticipated.forces {
                Forces::Present => normal_force,
                Forces::Expected | Forces::ExpectedOfAll => expected,
            };
            let mut force = lumen.gradient * (k * depth);
            let mut matrix =
                lumen.gradient * lumen.gradient.transpose() * k + lumen.hessian * (level / slope);
            let mut spin_force = 0.0;
            let mut spin_row = Vector3::zeros();
            let mut spin_stiffness = 0.0;
            let normal = lumen.gradient / slope;
            let rate = (lumen.gradient * slope + lumen.hessian * normal * depth) * k;
            self.anticipated.rates.push((level, rate));
            let limit = last.eased(index, friction * level, self.followed);
            let tangent = rod.tangent(point.edge);
            let grip = Grip {
                point: index,
                normal,
                spin: tangent.cross(&normal),
                depth,
                normal_force,
                limit,
                stiffness: stiffness * point.weight,
                before: point.wall.friction.in_plane(&normal),
            };
            if friction > 0.0 {
                let (moved, rolled) = self.moved(point, &rod.q);
                let s = grip.displacement(&moved, rolled);
                let (mut f, h) = grip.force(&s);
                if let Some(way) = grip.sliding(&s)
                    && self.anticipated.forces != Forces::Present
                {
                    f = way * (friction * normal_force);
                }
                let along = Along {
                    friction,
                    rate,
                    normal: (lumen.hessian - normal * (lumen.hessian * normal).transpose()) / slope,
                    tangent,
                    moved,
                    rolled,
                };
                let change = along.change(&grip, &s);
                self.couplings.push(Coupling {
                    first: S * point.edge,
                    apart: S,
                    share: [1.0 - point.fraction, point.fraction],
                    force: change,
                    spin: (3 + point.layer, change.tr_mul(&grip.spin) * radius),
                });
                force += f;
                matrix += h;
                spin_row = h * grip.spin * radius;
                spin_force = f.dot(&grip.spin) * radius;
                spin_stiffness = grip.spin.dot(&spin_row) * radius;
            }
            self.grips.push(grip);
            add_point::<S, W>(
                &self.points[index],
                &force,
                &matrix,
                spin_force,
                &spin_row,
                spin_stiffness,
                gradient,
                hessian,
            );
        }
    }

    /// Ends a step at the rod's converged state: keeps the elastic part of the friction at each
    /// contact and returns the energy lost to sliding in mN mm.
    pub fn settle(&mut self, rod: &Rod<S>) -> f64 {
        let mut lost = 0.0;
        let mut next = 0;
        self.hold(&rod.q);
        for index in 0..self.points.len() {
            let gripped = self.grips.get(next).filter(|g| g.point == index).copied();
            let displacement = if let Some(grip) = gripped {
                next += 1;
                let (u, rolled) = self.moved(&self.points[index], &rod.q);
                let (kept, loss) = grip.settle(&grip.displacement(&u, rolled));
                lost += loss;
                kept
            } else {
                Vector3::zeros()
            };
            self.points[index].wall.friction.displacement = displacement;
        }
        lost
    }

    /// Largest friction force over the Coulomb limit `mu N` at the rod's state, whose derivatives were
    /// added last: 1 where a contact slides, less where all stick, 0 without friction.
    #[must_use]
    pub fn friction_ratio(&self, rod: &Rod<S>) -> f64 {
        let ratio = |grip: &Grip| {
            let point = &self.points[grip.point];
            let (u, rolled) = self.moved(point, &rod.q);
            let friction = self.surface_of(point.layer).friction;
            grip.share_of_coulomb(friction, &grip.displacement(&u, rolled))
        };
        self.grips.iter().map(ratio).fold(0.0, f64::max)
    }

    /// How the friction of the contacts changes with their places beyond its Hessian, at the state whose
    /// derivatives were added last.
    #[must_use]
    pub fn couplings(&self) -> &[Coupling] {
        &self.couplings
    }

    /// Contacts in touch at the last iterate.
    #[must_use]
    pub fn grips(&self) -> &[Grip] {
        &self.grips
    }

    /// Position of a contact point at the rod's state, in mm.
    #[must_use]
    pub fn point_position(&self, rod: &Rod<S>, point: usize) -> Vector3<f64> {
        Self::position(&self.points[point], &rod.q)
    }
}

/// Spreads force and stiffness at a point of an edge over the unknowns of the edge.
#[expect(
    clippy::too_many_arguments,
    reason = "one block of derivatives, used in one place"
)]
fn add_point<const S: usize, const W: usize>(
    point: &ContactPoint,
    force: &Vector3<f64>,
    matrix: &Matrix3<f64>,
    spin_force: f64,
    spin_row: &Vector3<f64>,
    spin_stiffness: f64,
    gradient: &mut [f64],
    hessian: &mut impl HessianSink<W>,
) {
    let (a, b) = (1.0 - point.fraction, point.fraction);
    let i = S * point.edge;
    let theta = 3 + point.layer;
    let columns = hessian.columns::<S>(i);
    for c in 0..3 {
        gradient[i + c] += a * force[c];
        gradient[i + S + c] += b * force[c];
        for r in 0..3 {
            let m = matrix[(r, c)];
            columns[c][S + r - c] += a * b * m;
            if r >= c {
                columns[c][r - c] += a * a * m;
            }
        }
        columns[c][theta - c] += a * spin_row[c];
        columns[theta][S - theta + c] += b * spin_row[c];
    }
    gradient[i + theta] += spin_force;
    columns[theta][0] += spin_stiffness;
    let columns = hessian.columns::<3>(i + S);
    for c in 0..3 {
        for r in c..3 {
            columns[c][r - c] += b * b * matrix[(r, c)];
        }
    }
}
