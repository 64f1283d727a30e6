//! A piece of a wire on the bench: its rod, and a piece held at its back end.

use nalgebra::Vector3;

use crate::contact::{Contact, Surface};
use crate::device::{HELD_BEHIND_TIP_MM, Wire, buckling_load};
use crate::rod::{CoreCell, Edge, Rod};
use crate::scenario::model::EndCondition;
use crate::solve::{Body, Newton, NewtonFailure, NewtonOptions, Update, wire_cores, wire_hinge};
use crate::vessel::Lumen;

/// Length of the edge inside the chuck in mm; it only gives a direction.
const CHUCK_EDGE_MM: f64 = 1.0;

/// How often a step of the chuck may be halved.
const HALVINGS: u32 = 8;

/// Residual of an equilibrium over the force scale of the test.
const TOLERANCE: f64 = 1e-9;

/// Equal divisions of `[from, to]` mm behind the tip, no longer than `edge_mm`, at least two.
#[must_use]
pub fn stations(from: f64, to: f64, edge_mm: f64) -> Vec<f64> {
    let parts = ((to - from) / edge_mm - 1e-9).ceil().max(2.0);
    let mut out = Vec::new();
    let mut k = 0.0;
    while k <= parts {
        out.push(from + (to - from) * (k / parts));
        k += 1.0;
    }
    out
}

/// The rod of a piece of wire whose nodes lie at `stations` (mm from the tip, rising) and at
/// `nodes` in space; the bend of the tip lies in the plane of the first edge and `bend_side`.
#[must_use]
pub fn rod(
    wire: &Wire,
    stations: &[f64],
    nodes: &[Vector3<f64>],
    axial_stiffness: f64,
    bend_side: Vector3<f64>,
) -> Rod {
    let edges = stations
        .windows(2)
        .map(|s| Edge {
            rest_length: s[1] - s[0],
            axial_stiffness,
        })
        .collect();
    let last = stations.len() - 1;
    let middle = |i: usize| 0.5 * (stations[i] + stations[i + 1]);
    let cell = |i: usize| {
        let from = if i == 0 { stations[0] } else { middle(i - 1) };
        let to = if i == last { stations[last] } else { middle(i) };
        (from, to)
    };
    let hinges: Vec<_> = (0..=last)
        .map(|i| {
            let (from, to) = cell(i);
            wire_hinge(wire, from, to)
        })
        .collect();
    let core = wire_cores(wire, &hinges, cell);
    let mut rod = Rod::new(nodes, edges, hinges, bend_side);
    rod.core = core;
    rolled(rod, wire)
}

/// Turns the wire about itself until its primary bend lies along the first director.
fn rolled(mut rod: Rod, wire: &Wire) -> Rod {
    let [a, b] = wire.natural_curvature_between(0.0, wire.bends_end_mm());
    let roll = if a.hypot(b) > 0.0 { b.atan2(a) } else { 0.0 };
    for i in 0..rod.edges.len() {
        rod.q[4 * i + 3] = -roll;
    }
    rod.refresh();
    rod
}

/// Force in mN at which a wire as stiff as `stiffness` buckles over `length_mm`: the force scale
/// of a test.
#[must_use]
pub fn force_scale(stiffness: f64, length_mm: f64) -> f64 {
    buckling_load(stiffness, length_mm, EndCondition::FixedPinned)
}

/// The distal end of a wire, held in a chuck at some distance behind its tip.
///
/// The chuck's mouth is at the origin, the wire points along +x, and the primary bend of its tip
/// lies in the x-y plane. Node 0 is the tip; the last two nodes are the chuck's. The hinge at the
/// mouth has half a cell, so that the free length is exactly the held length.
pub struct Held<'a> {
    /// Rod, contact and supports.
    pub body: Body<'a>,
    /// Distance of each node from the tip in mm.
    pub stations: Vec<f64>,
    newton: Newton,
    options: NewtonOptions,
}

impl<'a> Held<'a> {
    /// A wire held `held_mm` behind its tip, at rest in its natural shape.
    ///
    /// # Errors
    /// [`NewtonFailure`] if no rest is found.
    pub fn new(wire: &Wire, held_mm: f64, edge_mm: f64) -> Result<Self, NewtonFailure> {
        let mut stations = stations(0.0, held_mm, edge_mm);
        stations.push(held_mm + CHUCK_EDGE_MM);
        let nodes: Vec<_> = stations
            .iter()
            .map(|s| Vector3::x() * (held_mm - s))
            .collect();
        let exit = stations.len() - 2;
        let axial = wire.axial_stiffness_cap() * (HELD_BEHIND_TIP_MM / held_mm).powi(2).max(1.0);
        let mut rod = rod(wire, &stations, &nodes, axial, Vector3::y());
        rod.hinges[exit] = wire_hinge(
            wire,
            0.5 * (stations[exit - 1] + stations[exit]),
            stations[exit],
        );
        let last = (0.5 * (stations[exit - 1] + stations[exit]), stations[exit]);
        if let Some(core) = wire_cores(wire, &rod.hinges[exit..=exit], |_| last).pop() {
            rod.core[exit] = core;
        }
        let mut body = Body::new(rod);
        body.update = Update::FromLastNode;
        body.fix_node(exit);
        body.fix_node(exit + 1);
        body.fix_rotation(exit);
        let scale = force_scale(wire.bending_stiffness(0.0), held_mm);
        let mut options = NewtonOptions::with_tolerance(TOLERANCE * scale);
        options.max_iterations = 200;
        let mut held = Self {
            body,
            stations,
            newton: Newton::default(),
            options,
        };
        held.settle()?;
        held.body.begin();
        Ok(held)
    }

    /// The same wire before a plate or in a lumen.
    #[must_use]
    pub fn before(mut self, lumen: &'a dyn Lumen, surface: Surface) -> Self {
        let edges = self.exit();
        let contact = Contact::new(lumen, surface, &self.body.rod, edges, true);
        self.body = self.body.with_contact(contact);
        self
    }

    /// Index of the node at the chuck's mouth.
    #[must_use]
    pub fn exit(&self) -> usize {
        self.stations.len() - 2
    }

    /// Lets the wire go to its equilibrium.
    ///
    /// # Errors
    /// [`NewtonFailure`]; the rod is left at the last iterate.
    pub fn settle(&mut self) -> Result<(), NewtonFailure> {
        self.newton.equilibrate(&mut self.body, &self.options)?;
        Ok(())
    }

    /// Moves the chuck by `by` and lets the wire follow; a step that finds no equilibrium is
    /// halved. `bow_mm` bows the guess.
    ///
    /// # Errors
    /// [`NewtonFailure`] where the smallest part of the step finds none.
    pub fn advance(&mut self, by: &Vector3<f64>, bow_mm: f64) -> Result<(), NewtonFailure> {
        self.advance_part(by, bow_mm, HALVINGS)
    }

    fn advance_part(
        &mut self,
        by: &Vector3<f64>,
        bow_mm: f64,
        halvings: u32,
    ) -> Result<(), NewtonFailure> {
        let before = self.body.clone();
        self.body.begin();
        self.shift(by);
        self.nudge(bow_mm);
        match self.settle() {
            Ok(()) => {
                self.body.settle();
                Ok(())
            }
            Err(failure) if halvings == 0 => Err(failure),
            Err(_) => {
                self.body = before;
                self.advance_part(&(by * 0.5), bow_mm, halvings - 1)?;
                self.advance_part(&(by * 0.5), bow_mm, halvings - 1)
            }
        }
    }

    /// Moves chuck and wire as a whole.
    fn shift(&mut self, by: &Vector3<f64>) {
        let mut q = self.body.rod.q.clone();
        for i in 0..self.body.rod.nodes() {
            for c in 0..3 {
                q[4 * i + c] += by[c];
            }
        }
        self.body.move_to(&q);
    }

    /// Bows the wire between chuck and tip by `bow_mm` towards +y, as a guess.
    fn nudge(&mut self, bow_mm: f64) {
        let mut q = self.body.rod.q.clone();
        let held = self.stations[self.exit()];
        for (i, s) in self.stations[..self.exit()].iter().enumerate() {
            q[4 * i + 1] += bow_mm * (std::f64::consts::PI * s / held).sin();
        }
        self.body.move_to(&q);
    }

    /// Force of the chuck on the wire in the last equilibrium, in mN.
    #[must_use]
    pub fn chuck_force(&self) -> Vector3<f64> {
        let at = |i: usize| Vector3::from_fn(|c, _| self.newton.gradient[4 * i + c]);
        at(self.exit()) + at(self.exit() + 1)
    }

    /// Position of the tip in mm.
    #[must_use]
    pub fn tip(&self) -> Vector3<f64> {
        self.body.rod.node(0)
    }

    /// Direction in which the tip points: at the very end of the wire, extrapolated from the
    /// middles of the last two edges.
    #[must_use]
    pub fn tip_direction(&self) -> Vector3<f64> {
        let rod = &self.body.rod;
        let (first, second) = (-rod.tangent(0), -rod.tangent(1));
        let lengths = [0, 1].map(|i| rod.edges[i].rest_length);
        let share = lengths[0] / (lengths[0] + lengths[1]);
        (first + (first - second) * share).normalize()
    }
}

/// Angle in rad that all turns of the core which would be left without load add up to.
#[must_use]
pub fn set_rad(rod: &Rod) -> f64 {
    let left = rod.core.iter().map(CoreCell::residual);
    left.map(|[k1, k2]| k1.hypot(k2)).sum()
}

/// Strain of the core beyond the natural shape at hinge `i`, whose node lies at `station` mm from
/// the tip, over the strain limit.
#[must_use]
pub fn strain_ratio(wire: &Wire, rod: &Rod, i: usize, station: f64) -> f64 {
    let [k1, k2] = rod.curvature_beyond_natural(i);
    k1.hypot(k2) / rod.hinges[i].length * wire.core_radius(station) / wire.strain_limit()
}
