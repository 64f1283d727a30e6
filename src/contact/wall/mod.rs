//! The wall as an elastic foundation, and the sum of all contact forces on the wire.
//!
//! Equation: `E = w e(δ)`, `δ = max(0, d(x) + r)`.
//! Symbols: `e` energy per mm of wire that the wall's law gives at a depth (see [`WallLaw`]), `w`
//! weight of the contact point in mm, `d` signed distance of the lumen (negative inside), `r` wire
//! radius in mm.
//! Friction in [`super::friction`]; it sees the displacement of the wire against the wall, which may
//! move.
//!
//! [`WallLaw`]: super::WallLaw

mod derivatives;

use nalgebra::Vector3;

use super::anticipated::{Anticipated, Forces};
use super::coupling::Coupling;
use super::friction::ActiveContact;
use super::hanging::HangingContact;
use super::law::Wall;
use super::points::{self, ClearanceBound, ContactPoint, LOOK_AHEAD_MM};
use super::samples::Samples;
use crate::rod::Rod;
use crate::vessel::{Lumen, WallPoint};

/// What the wire's surface and the wall bring to a contact.
#[derive(Debug, Clone)]
pub struct Surface {
    /// Wire radius in mm.
    pub radius: f64,
    /// Coulomb coefficient, 0 or more.
    pub friction: f64,
    /// The wall's law.
    pub wall: Wall,
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
    pub friction_relaxation: f64,
    /// Share of the wall's stiffness with which it resists normal to itself, above 0: 1 but on the way
    /// to an equilibrium.
    pub softened: f64,
    pub(in crate::contact) active_contacts: Vec<ActiveContact>,
    last_active: Vec<ActiveContact>,
    couplings: Vec<Coupling>,
    pub(in crate::contact) hanging: Vec<HangingContact>,
    /// Control vectors of a vessel that gives way, now and at the beginning of the step, in mm.
    pub(in crate::contact) vessel: Vec<Vector3<f64>>,
    pub(in crate::contact) vessel_start: Vec<Vector3<f64>>,
    /// Whether couplings are built.
    is_coupled: bool,
    pub(in crate::contact) anticipated: Anticipated,
    start: Vec<f64>,
    /// Time at the end of the step in s, and the part of the step that has not been counted yet.
    pub(in crate::contact) time_s: f64,
    pub(in crate::contact) step_s: f64,
    /// How far the wall can have gone in sum, in mm.
    pub(in crate::contact) wall_gone_mm: f64,
    pub(in crate::contact) seen: WallView,
    /// What was seen from each point when cells were looked at last; memory to work in.
    pub(in crate::contact) samples: Samples,
    /// Deepest place between two points when that was looked for last, in mm.
    pub(in crate::contact) between_mm: f64,
    /// Whether the wall rose unseen between two points that cannot be closer.
    pub(in crate::contact) is_unseen: bool,
}

/// The wall as seen from the contact points for one set of unknowns. Looking is the greater part
/// of the cost of contact, and the state that a line search accepts is the one that is assembled
/// next.
#[derive(Debug, Clone, Default)]
pub(in crate::contact) struct WallView {
    pub(in crate::contact) q: Vec<f64>,
    /// Points in touch, ascending, with the wall there.
    pub(in crate::contact) touching: Vec<(usize, WallPoint)>,
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
            cover: surface.clone(),
            surface,
            points,
            inflow: None,
            slip: None,
            friction_relaxation: 1.0,
            softened: 1.0,
            active_contacts: Vec::new(),
            last_active: Vec::new(),
            couplings: Vec::new(),
            hanging: Vec::new(),
            vessel: Vec::new(),
            vessel_start: Vec::new(),
            is_coupled: false,
            anticipated: Anticipated::default(),
            start: Vec::new(),
            time_s: 0.0,
            step_s: 0.0,
            wall_gone_mm: 0.0,
            seen: WallView::default(),
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
    pub(in crate::contact) fn surface_of(&self, layer: usize) -> &Surface {
        if layer == 0 {
            &self.surface
        } else {
            &self.cover
        }
    }

    /// Forgets what was seen of the wall, as when the points change.
    pub(in crate::contact) fn look_anew(&mut self) {
        self.seen.q.clear();
    }

    /// Begins a step: displacements count from the unknowns `q`.
    pub fn begin(&mut self, q: &[f64]) {
        // The points may have changed since they were looked at.
        self.seen.q.clear();
        self.start.clear();
        self.start.extend_from_slice(q);
        self.vessel_start.clone_from(&self.vessel);
    }

    /// Lets the wall move on to `time_s` in a step that takes `step_s`.
    pub(crate) fn pass(&mut self, time_s: f64, step_s: f64) {
        self.time_s = time_s;
        self.step_s = step_s;
        self.wall_gone_mm += self.lumen.top_speed_mm_per_s() * step_s;
        self.seen.q.clear();
    }

    /// Counts neither more material that flows in nor more movement of the wall: what follows is the
    /// same step going on.
    pub(crate) fn go_on(&mut self) {
        for (_, way) in self.inflow.iter_mut().chain(&mut self.slip) {
            *way = Vector3::zeros();
        }
        self.step_s = 0.0;
    }

    /// Displacement gathered at an active contact against the wall at the unknowns `q`, in mm.
    pub(in crate::contact) fn gathered(&self, active: &ActiveContact, q: &[f64]) -> Vector3<f64> {
        let (u, rolled) = self.moved(&self.points[active.point], q);
        active.displacement(&u, rolled)
    }

    /// Displacement of the wire's axis at a point since the step began, and the surface
    /// displacement by spinning.
    pub(in crate::contact) fn moved(&self, point: &ContactPoint, q: &[f64]) -> (Vector3<f64>, f64) {
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
    pub(in crate::contact) fn turned(&self, point: &ContactPoint, q: &[f64]) -> f64 {
        let theta = S * point.edge + 3 + point.layer;
        q[theta] - self.start[theta]
    }

    pub(in crate::contact) fn position(point: &ContactPoint, q: &[f64]) -> Vector3<f64> {
        let i = S * point.edge;
        let f = point.fraction;
        Vector3::from_fn(|c, _| q[i + c] * (1.0 - f) + q[i + S + c] * f)
    }

    /// Looks at the wall from the points at `q`, unless it was for the same `q` last time.
    pub(in crate::contact) fn look(&mut self, q: &[f64]) {
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
            let gone_mm = self.wall_gone_mm;
            let clear = point.wall.clear;
            if clear.is_some_and(|clear| clear.holds(&at, gone_mm)) {
                continue;
            }
            let wall = self
                .lumen
                .near_wall(&at, self.time_s, radius + LOOK_AHEAD_MM);
            let gap = wall.map_or(LOOK_AHEAD_MM, |w| -(w.distance_mm + radius));
            point.wall.clear = (gap > 0.0).then(|| ClearanceBound::of_wall(at, gap, gone_mm));
            if let Some(wall) = wall.filter(|w| w.distance_mm + radius > 0.0) {
                seen.touching.push((index, wall));
            }
        }
    }

    /// Forgets the active contacts, as when the points have become others.
    pub(in crate::contact) fn forget_active(&mut self) {
        self.active_contacts.clear();
        self.last_active.clear();
        self.couplings.clear();
        self.hanging.clear();
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
            let mean = surface.wall.respond(depth).mean();
            sum += 0.5 * self.softened * mean * point.weight * depth * depth;
        }
        for active in &self.active_contacts {
            sum += active.potential(&self.gathered(active, q));
        }
        sum
    }

    /// Ends a step at the rod's converged state: keeps the elastic part of the friction at each
    /// contact and returns the energy lost to sliding in mN mm.
    pub fn settle(&mut self, rod: &Rod<S>) -> f64 {
        let mut lost = 0.0;
        let mut next = 0;
        self.hold(&rod.q);
        for index in 0..self.points.len() {
            let active = self
                .active_contacts
                .get(next)
                .filter(|g| g.point == index)
                .copied();
            let displacement = if let Some(active) = active {
                next += 1;
                let (kept, loss) = active.settle(&self.gathered(&active, &rod.q));
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
        let ratio = |active: &ActiveContact| {
            let point = &self.points[active.point];
            let friction = self.surface_of(point.layer).friction;
            active.share_of_coulomb(friction, &self.gathered(active, &rod.q))
        };
        self.active_contacts.iter().map(ratio).fold(0.0, f64::max)
    }

    /// Builds the couplings of [`Contact::couplings`] with the derivatives to come, or leaves them out.
    pub fn couple_friction(&mut self, coupled: bool) {
        self.is_coupled = coupled;
    }

    /// How the friction of the contacts changes with their places beyond its Hessian, at the state whose
    /// derivatives were added last; empty where they are left out.
    #[must_use]
    pub fn couplings(&self) -> &[Coupling] {
        &self.couplings
    }

    /// Contacts in touch at the last iterate.
    #[must_use]
    pub fn active_contacts(&self) -> &[ActiveContact] {
        &self.active_contacts
    }

    /// Position of a contact point at the rod's state, in mm.
    #[must_use]
    pub fn point_position(&self, rod: &Rod<S>, point: usize) -> Vector3<f64> {
        Self::position(&self.points[point], &rod.q)
    }
}
