//! The wall as an elastic foundation, and the sum of all contact forces on the wire.
//!
//! Equation: `E = k w δ²/2`, `δ = max(0, d(x) + r)`.
//! Symbols: `k` foundation stiffness in mN/mm per mm of wire, `w` weight of the contact point in
//! mm, `d` signed distance of the lumen (negative inside), `r` wire radius in mm.
//! Source: Winkler's elastic foundation; friction in [`super::friction`].

use nalgebra::{Matrix3, Vector3};

use super::friction::Grip;
use super::points::{self, ContactPoint};
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
    /// Displacement of the material at the rod's last free node in this step, where that node is
    /// not a material point (the end of a guide through which wire flows); in mm.
    pub inflow: Option<(usize, Vector3<f64>)>,
    /// Displacement of the wire against a node in this step, where the wire comes out of a
    /// catheter there: for the contact points on the edge in front of it; in mm.
    pub slip: Option<(usize, Vector3<f64>)>,
    grips: Vec<Grip>,
    start: Vec<f64>,
    seen: Seen,
}

/// The wall as seen from the contact points for one set of unknowns. Looking is the greater part
/// of the cost of contact, and the state that a line search accepts is the one that is assembled
/// next.
#[derive(Debug, Clone, Default)]
struct Seen {
    q: Vec<f64>,
    /// Points in touch, ascending, with the wall there.
    touching: Vec<(usize, LumenPoint)>,
}

/// Contact forces in one state.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct ContactSummary {
    /// Sum of all normal forces in mN.
    pub total_force: f64,
    /// Largest normal force gathered within [`Contact::PATCH_MM`] of wire, in mN.
    pub largest_force: f64,
    /// Deepest deflection of the wall in mm.
    pub deepest: f64,
    /// Wall force in mN on the last millimetre of the tip, along the tip's direction (positive:
    /// pushing the tip back).
    pub tip_force: f64,
    /// Elastic energy in the wall, normal and tangential, in mN mm.
    pub stored: f64,
}

impl<'a, const S: usize> Contact<'a, S> {
    /// Length of wire in mm over which forces count as one contact when the largest force on the
    /// wall is reported; about the length of a wire tip's flank.
    pub const PATCH_MM: f64 = 1.0;

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
            grips: Vec::new(),
            start: Vec::new(),
            seen: Seen::default(),
        };
        for edge in 0..edges {
            contact.push_edge(edge, rod.edges[edge].rest_length);
        }
        contact
    }

    /// Adds the points of an edge behind the last.
    pub fn push_edge(&mut self, edge: usize, length: f64) {
        self.points
            .extend(points::on_edge(edge, length, self.surface.spacing));
    }

    /// Lays the points anew: the tip's point and those of edges `0..lengths.len()`, of which those
    /// from `covered` on belong to the catheter. An edge that was edge `old[i]` before and has as
    /// many points now keeps the memory of its friction.
    pub fn lay(&mut self, lengths: &[f64], covered: usize, old: &[Option<usize>]) {
        let before = std::mem::take(&mut self.points);
        self.seen.q.clear();
        let layer = |edge: usize| usize::from(edge >= covered);
        let mut tip = points::tip_point(self.surface_of(layer(0)).radius);
        tip.layer = layer(0);
        self.points.push(tip);
        for (edge, length) in lengths.iter().enumerate() {
            let first = self.points.len();
            let spacing = self.surface_of(layer(edge)).spacing;
            self.points.extend(points::on_edge(edge, *length, spacing));
            let new = &mut self.points[first..];
            let kept = old[edge].map_or(&before[..0], |o| {
                let from = before.partition_point(|p| p.edge < o);
                let to = before.partition_point(|p| p.edge <= o);
                // Edge 0 holds the tip's point beside its own.
                &before[from + usize::from(o == 0)..to]
            });
            for p in &mut *new {
                p.layer = layer(edge);
            }
            if kept.len() == new.len() {
                for (p, same) in new.iter_mut().zip(kept) {
                    p.friction = same.friction;
                }
            }
        }
    }

    /// Surface of a device: 0 the wire, 1 the catheter that covers it.
    fn surface_of(&self, layer: usize) -> &Surface {
        if layer == 0 {
            &self.surface
        } else {
            &self.cover
        }
    }

    /// Takes the points of edge `edge` and all behind it away.
    pub fn truncate_edges(&mut self, edge: usize) {
        let keep = self.points.partition_point(|p| p.edge < edge);
        self.points.truncate(keep);
    }

    /// Sets the length of wire that the points of the last edge stand for.
    pub fn set_last_edge_length(&mut self, length: f64) {
        if let Some(edge) = self.points.last().map(|p| p.edge) {
            self.set_edge_length(edge, length);
        }
    }

    /// Sets the length of wire that the points of edge `edge` (not the first) stand for.
    pub fn set_edge_length(&mut self, edge: usize, length: f64) {
        let first = self.points.partition_point(|p| p.edge < edge);
        let end = self.points.partition_point(|p| p.edge <= edge);
        for p in &mut self.points[first..end] {
            #[expect(clippy::cast_precision_loss, reason = "a handful of points")]
            let weight = length / (end - first) as f64;
            p.weight = weight;
        }
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
    fn moved(&self, point: &ContactPoint, q: &[f64]) -> (Vector3<f64>, f64) {
        let i = S * point.edge;
        let difference = |k: usize| Vector3::from_fn(|c, _| q[k + c] - self.start[k + c]);
        let first = difference(i);
        let second = match self.inflow {
            Some((node, inflow)) if node == point.edge + 1 => inflow,
            _ => match self.slip {
                Some((node, slip)) if node == point.edge + 1 => difference(i + S) + slip,
                _ => difference(i + S),
            },
        };
        let theta = i + 3 + point.layer;
        let turned = q[theta] - self.start[theta];
        (
            first * (1.0 - point.fraction) + second * point.fraction,
            turned * self.surface_of(point.layer).radius,
        )
    }

    fn position(point: &ContactPoint, q: &[f64]) -> Vector3<f64> {
        let i = S * point.edge;
        let f = point.fraction;
        Vector3::from_fn(|c, _| q[i + c] * (1.0 - f) + q[i + S + c] * f)
    }

    /// Looks at the wall from the points at `q`, unless it was for the same `q` last time.
    fn look(&mut self, q: &[f64]) {
        let Self { points, seen, .. } = self;
        let radii = [self.surface.radius, self.cover.radius];
        if seen.q == q {
            return;
        }
        seen.q.clear();
        seen.q.extend_from_slice(q);
        seen.touching.clear();
        for (index, point) in points.iter().enumerate() {
            let radius = radii[point.layer];
            let wall = self.lumen.near_wall(&Self::position(point, q), radius);
            let touching = wall.filter(|w| w.distance_mm + radius > 0.0);
            seen.touching.extend(touching.map(|wall| (index, wall)));
        }
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
            sum += 0.5 * surface.stiffness * point.weight * depth * depth;
        }
        for grip in &self.grips {
            let (u, rolled) = self.moved(&self.points[grip.point], q);
            sum += grip.potential(&grip.displacement(&u, rolled));
        }
        sum
    }

    /// Adds gradient and Hessian of wall and friction at the rod's state, with normal forces and
    /// friction directions taken there. The change of the normal force with position is left
    /// out of the friction's Hessian, which would not be symmetric.
    pub fn add_derivatives<const W: usize>(
        &mut self,
        rod: &Rod<S>,
        gradient: &mut [f64],
        hessian: &mut impl HessianSink<W>,
    ) {
        self.look(&rod.q);
        self.grips.clear();
        for &(index, lumen) in &self.seen.touching {
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
            let k = stiffness * point.weight;
            let mut force = lumen.gradient * (k * depth);
            let mut matrix =
                lumen.gradient * lumen.gradient.transpose() * k + lumen.hessian * (k * depth);
            let mut spin_force = 0.0;
            let mut spin_row = Vector3::zeros();
            let mut spin_stiffness = 0.0;
            let normal_force = k * depth * slope;
            let normal = lumen.gradient / slope;
            let spin = rod.tangent(point.edge).cross(&normal);
            let spin_size = spin.norm();
            let before = point.friction.displacement;
            let flat = before - normal * before.dot(&normal);
            let flat_size = flat.norm();
            let grip = Grip {
                point: index,
                normal,
                spin: if spin_size > 1e-6 {
                    spin / spin_size
                } else {
                    Vector3::zeros()
                },
                depth,
                normal_force,
                limit: friction * normal_force,
                stiffness: k,
                before: if flat_size > 0.0 {
                    flat * (before.norm() / flat_size)
                } else {
                    Vector3::zeros()
                },
            };
            if friction > 0.0 {
                let (u, rolled) = self.moved(point, &rod.q);
                let s = grip.displacement(&u, rolled);
                let (f, h) = grip.force(&s);
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
            self.points[index].friction.displacement = displacement;
        }
        lost
    }

    /// Part of the push force that friction takes up on the edge where wire flows in: the force
    /// on the inflowing material along `axis`, in mN.
    #[must_use]
    pub fn inflow_force(&self, rod: &Rod<S>, axis: &Vector3<f64>) -> f64 {
        self.inflow
            .map_or(0.0, |(node, _)| self.flow_force(rod, node, axis))
    }

    /// The same on the edge in front of the node at which wire comes out of a catheter.
    #[must_use]
    pub fn slip_force(&self, rod: &Rod<S>, axis: &Vector3<f64>) -> f64 {
        self.slip
            .map_or(0.0, |(node, _)| self.flow_force(rod, node, axis))
    }

    fn flow_force(&self, rod: &Rod<S>, node: usize, axis: &Vector3<f64>) -> f64 {
        let mut sum = 0.0;
        for grip in self.grips.iter().rev() {
            let point = &self.points[grip.point];
            if point.edge + 1 > node {
                continue;
            }
            if point.edge + 1 < node {
                break;
            }
            let (u, rolled) = self.moved(point, &rod.q);
            sum += grip.force(&grip.displacement(&u, rolled)).0.dot(axis) * point.fraction;
        }
        sum
    }

    /// Largest normal force gathered within [`Contact::PATCH_MM`] on the surface of one device
    /// (0 the wire, 1 the catheter), in mN.
    #[must_use]
    pub fn largest_force_on(&self, layer: usize, rod: &Rod<S>, stations: &[f64]) -> f64 {
        let own: Vec<(f64, f64)> = self
            .grips
            .iter()
            .filter(|g| self.points[g.point].layer == layer)
            .map(|g| (self.station(rod, stations, g.point), g.normal_force))
            .collect();
        let patch = |&(end, _): &(f64, f64)| -> f64 {
            let within = |s: f64| s <= end && s >= end - Self::PATCH_MM;
            own.iter().filter(|(s, _)| within(*s)).map(|(_, f)| f).sum()
        };
        own.iter().map(patch).fold(0.0, f64::max)
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

    /// Distance of a contact point from the tip along the wire, in mm.
    fn station(&self, rod: &Rod<S>, stations: &[f64], point: usize) -> f64 {
        let p = &self.points[point];
        stations[p.edge] + p.fraction * rod.edges[p.edge].rest_length
    }

    /// Sums the contact forces at the rod's state; `stations` gives the distance of each node
    /// from the tip along the wire in mm.
    #[must_use]
    pub fn summary(&self, rod: &Rod<S>, stations: &[f64]) -> ContactSummary {
        let mut out = ContactSummary::default();
        let forward = -rod.tangent(0);
        let mut patch = 0.0;
        let mut first = 0;
        for (index, grip) in self.grips.iter().enumerate() {
            let at = self.station(rod, stations, grip.point);
            out.total_force += grip.normal_force;
            patch += grip.normal_force;
            while self.station(rod, stations, self.grips[first].point) < at - Self::PATCH_MM {
                patch -= self.grips[first].normal_force;
                first += 1;
            }
            debug_assert!(first <= index);
            out.largest_force = out.largest_force.max(patch);
            let point = &self.points[grip.point];
            out.deepest = out.deepest.max(grip.depth);
            let (u, rolled) = self.moved(point, &rod.q);
            let s = grip.displacement(&u, rolled);
            let (friction, _) = grip.force(&s);
            let (kept, _) = grip.settle(&s);
            out.stored += 0.5 * grip.stiffness * (grip.depth * grip.depth + kept.norm_squared());
            if at <= Self::PATCH_MM {
                out.tip_force += (grip.normal * grip.normal_force + friction).dot(&forward);
            }
        }
        out
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
