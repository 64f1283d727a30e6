//! Contact of a wire with a catheter and its first wire that lie beside it in the same lumen.
//!
//! Equation: `E = w e(δ)`, `δ = max(0, r + R - |p - c|)`.
//! Symbols: `e` energy per mm of wire by the law of the wall ([`super::WallLaw`]), which the round
//! bodies have between them too, `w` weight of the contact point in mm, `r` and `R` radii in mm of the wire and of the device there, `p` a contact point of the wire,
//! `c` the place of the devices' line that is nearest to it.
//! Friction in [`super::friction`].
//!
//! What presses the wire aside presses the devices to the other side: the place `c` is a weighted
//! sum of the devices' nodes, which take its force by the same shares. The second derivatives leave
//! out the turning of the normal, which is smaller than what is kept by the factor `δ/(r + R)`.

use nalgebra::Vector3;

use super::contact_pair::{ContactPair, Side};
use super::friction::FrictionState;
use super::points::Penetration;
use super::pressed_pairs::PressedPairs;
use super::wall::{Contact, Surface};
use crate::rod::{HessianSink, Rod, node_of};
use crate::vessel::{ControlPoint, Line, between};

/// The devices that lie beside, a catheter on its first wire: how they stand in their rod, which is
/// numbered from the front.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct AdjacentDevices {
    /// Node of the catheter's tip; the first wire lies in front of it.
    pub tip: usize,
    /// Last node outside the guide.
    pub exit: usize,
    /// Outer diameters in mm of the first wire and of the catheter.
    pub diameters_mm: [f64; 2],
    /// From the guide's end to a place inside it up to which the catheter may be touched, in mm.
    pub back: Vector3<f64>,
    /// Displacement of the catheter at the guide's end in this step, in mm.
    pub inflow: Vector3<f64>,
}

/// The contact of a wire with the devices beside it.
#[derive(Debug, Clone)]
pub struct AdjacentContact {
    /// Coulomb coefficient, law and spacing; the radius is that of the wire.
    pub surface: Surface,
    devices: AdjacentDevices,
    line: Line,
    /// The devices' unknowns for which it was laid.
    laid: Vec<f64>,
    /// How far the line has gone in sum, in mm.
    gone_mm: f64,
    /// The wire's unknowns for which it was looked for what presses, and what does.
    looked: Vec<f64>,
    touches: PressedPairs,
    settled_ratio: f64,
    /// The devices' unknowns at the beginning of the step.
    start: Vec<f64>,
    /// By which share of its change friction follows the normal force; 1 is at once.
    pub friction_relaxation: f64,
}

impl AdjacentContact {
    /// A contact of a wire with that surface.
    #[must_use]
    pub fn new(surface: Surface) -> Self {
        Self {
            surface,
            devices: AdjacentDevices::default(),
            line: Line::default(),
            laid: Vec::new(),
            gone_mm: 0.0,
            looked: Vec::new(),
            touches: PressedPairs::default(),
            settled_ratio: 0.0,
            start: Vec::new(),
            friction_relaxation: 1.0,
        }
    }

    /// Begins a step: the devices' displacements count from the unknowns `q`.
    pub fn begin(&mut self, devices: AdjacentDevices, q: &[f64]) {
        self.devices = devices;
        self.laid.clear();
        self.looked.clear();
        self.start.clear();
        self.start.extend_from_slice(q);
        self.touches.pairs.clear();
    }

    /// Goes on with the same step from the devices' unknowns `q`: no more catheter flows in.
    pub fn go_on(&mut self, q: &[f64]) {
        let devices = AdjacentDevices {
            inflow: Vector3::zeros(),
            ..self.devices
        };
        self.begin(devices, q);
    }

    /// Forgets what was seen from contact points that are others now.
    pub fn look_anew(&mut self) {
        self.looked.clear();
        self.touches.pairs.clear();
    }

    /// Lays the line where the devices' unknowns are `q`, unless it lies there.
    fn lay(&mut self, q: &[f64]) {
        if self.laid == q {
            return;
        }
        self.laid.clear();
        self.laid.extend_from_slice(q);
        self.looked.clear();
        let AdjacentDevices {
            tip,
            exit,
            diameters_mm,
            back,
            ..
        } = self.devices;
        let end = node_of::<5>(q, exit);
        let control_point = |name: usize, at: Vector3<f64>| ControlPoint {
            at,
            // The length from a node to the next towards the front.
            diameter_mm: diameters_mm[usize::from(name > tip)],
            name,
        };
        let outside = (0..=exit)
            .rev()
            .map(|i| control_point(i, node_of::<5>(q, i)));
        let control_points = std::iter::once(control_point(exit, end + back)).chain(outside);
        self.gone_mm += self.line.lay(control_points);
    }

    /// Finds the contact points of the wire that are pressed at its unknowns `q` and the devices'
    /// `of_devices`, unless that was done for the same last time.
    fn find<const S: usize>(&mut self, wall: &mut Contact<'_, S>, q: &[f64], of_devices: &[f64]) {
        self.lay(of_devices);
        if self.looked == q {
            return;
        }
        self.looked.clear();
        self.looked.extend_from_slice(q);
        let radius = wall.surface.radius;
        let (line, gone_mm) = (&self.line, self.gone_mm);
        let points = wall.points.iter_mut().enumerate();
        let pressed = points.filter_map(|(index, point)| {
            let at = Contact::<S>::position(point, q);
            let look = |reach: f64| line.deepest(&at, reach);
            point.adjacent.pressed((index, at), gone_mm, radius, look)
        });
        self.touches.pressed.clear();
        self.touches.pressed.extend(pressed);
    }

    /// Energy and incremental potential of friction in mN mm at the wire's unknowns `q` and the
    /// devices' `of_devices`, with normal forces and directions of the last
    /// [`AdjacentContact::add_derivatives`].
    pub fn energy<const S: usize>(
        &mut self,
        wall: &mut Contact<'_, S>,
        q: &[f64],
        of_devices: &[f64],
    ) -> f64 {
        self.find(wall, q, of_devices);
        let law = |p: &Penetration| self.surface.wall.respond(p.depth).mean();
        let k = |p: &Penetration| law(p) * wall.points[p.point].weight;
        let pressed = self.touches.pressed.iter();
        let sum: f64 = pressed.map(|p| 0.5 * k(p) * p.depth.powi(2)).sum();
        let slid = self.touches.pairs.iter().map(|pair| {
            let u = self.moved(pair, wall, q, of_devices);
            pair.potential(&u)
        });
        sum + slid.sum::<f64>()
    }

    /// Movement of the gap of a touch in this step, in mm.
    fn moved<const S: usize>(
        &self,
        pair: &ContactPair,
        wall: &Contact<'_, S>,
        q: &[f64],
        of_devices: &[f64],
    ) -> Vector3<f64> {
        self.gap_moved(&pair.sides, pair.active.point, wall, q, of_devices)
    }

    fn gap_moved<const S: usize>(
        &self,
        sides: &[Side; 2],
        point: usize,
        wall: &Contact<'_, S>,
        q: &[f64],
        of_devices: &[f64],
    ) -> Vector3<f64> {
        let point = &wall.points[point];
        let (axis, _) = wall.moved(point, q);
        let spun = sides[0].spin.1 * wall.turned(point, q);
        let [_, device] = sides;
        let mut u = axis + spun;
        let change = |k: usize| of_devices[k] - self.start[k];
        for (first, share) in device.nodes {
            let mut moved = Vector3::from_fn(|c, _| change(first + c));
            if first == 5 * self.devices.exit {
                moved += self.devices.inflow;
            }
            u += moved * share;
        }
        u + device.spin.1 * change(device.spin.0)
    }

    /// Adds gradients and second derivatives of wire and devices, each its own; the coupling of the
    /// two is left to [`ContactPair::add_coupling`].
    pub fn add_derivatives<const S: usize, const V: usize, const W: usize>(
        &mut self,
        wall: &mut Contact<'_, S>,
        (wire, of_wire): (&Rod<S>, (&mut [f64], &mut impl HessianSink<V>)),
        (devices, of_devices): (&Rod<5>, (&mut [f64], &mut impl HessianSink<W>)),
    ) {
        self.find(wall, &wire.q, &devices.q);
        let mut touches = std::mem::take(&mut self.touches);
        touches.grip(
            &self.surface,
            self.friction_relaxation,
            |pressed| {
                let point = &wall.points[pressed.point];
                let sides = self.sides(pressed, wall, wire, devices);
                (sides, point.weight, &point.adjacent)
            },
            |sides, point| self.gap_moved(sides, point, wall, &wire.q, &devices.q),
        );
        for pair in &touches.pairs {
            pair.add_side(0, of_wire.0, of_wire.1);
            pair.add_side(1, of_devices.0, of_devices.1);
        }
        self.touches = touches;
    }

    /// Unknowns on which a point of the wire in contact and the place of the devices that it touches depend.
    fn sides<const S: usize>(
        &self,
        pressed: &Penetration,
        wall: &Contact<'_, S>,
        wire: &Rod<S>,
        devices: &Rod<5>,
    ) -> [Side; 2] {
        let point = &wall.points[pressed.point];
        let (edge, normal) = (point.edge, pressed.seen.offset.normalize());
        let weights = self.line.weights(pressed.seen.place());
        let adjacent = between(&weights).min(self.devices.exit);
        let layer = usize::from(adjacent >= self.devices.tip);
        let spin = |tangent: Vector3<f64>, radius: f64| normal.cross(&tangent) * radius;
        [
            Side {
                nodes: [
                    (S * edge, 1.0 - point.fraction),
                    (S * (edge + 1), point.fraction),
                    (0, 0.0),
                ],
                spin: (S * edge + 3, spin(wire.tangent(edge), wall.surface.radius)),
            },
            Side {
                nodes: weights.map(|(node, share)| (5 * node, -share)),
                spin: (
                    5 * adjacent + 3 + layer,
                    spin(devices.tangent(adjacent), pressed.seen.radius_mm),
                ),
            },
        ]
    }

    /// Ends a step at the converged state of both: keeps the elastic part of the friction at each
    /// contact point of the wire and returns the energy lost to sliding in mN mm.
    pub fn settle<const S: usize>(
        &mut self,
        wall: &mut Contact<'_, S>,
        q: &[f64],
        of_devices: &[f64],
    ) -> f64 {
        for point in &mut wall.points {
            point.adjacent.friction = FrictionState::default();
        }
        self.settled_ratio = self.friction_ratio(wall, q, of_devices);
        let moved = |pair: &ContactPair| self.moved(pair, wall, q, of_devices);
        let (kept, lost) = self.touches.settled(moved);
        for (point, displacement) in kept {
            wall.points[point].adjacent.friction.displacement = displacement;
        }
        lost
    }

    /// Largest friction force over the Coulomb limit at the unknowns `q` of the wire and those of the
    /// devices, whose derivatives were added last.
    #[must_use]
    pub fn friction_ratio<const S: usize>(
        &self,
        wall: &Contact<'_, S>,
        q: &[f64],
        of_devices: &[f64],
    ) -> f64 {
        let moved = |pair: &ContactPair| self.moved(pair, wall, q, of_devices);
        self.touches.friction_ratio(self.surface.friction, moved)
    }

    /// The same at the state that was settled last.
    #[must_use]
    pub fn settled_ratio(&self) -> f64 {
        self.settled_ratio
    }

    /// Touches at the state whose derivatives were added last: of the wire's unknowns with the
    /// devices'.
    #[must_use]
    pub fn pairs(&self) -> &[ContactPair] {
        &self.touches.pairs
    }
}
