//! A vessel that gives way, solved together with the device that lies in it.

use std::sync::Arc;

use nalgebra::Vector3;

use super::axes_factor::AxesFactor;
use super::body::{Body, Update};
use super::chain;
use crate::contact::Contact;
use crate::vessel::{AtRest, GivingVessel, MovedTree, Part, VesselReading};

/// How far control vectors may go in mm before the vessel's own stiffness is computed anew: on the way
/// to an equilibrium its forces are exact at every state, and only their change is that of a state nearby.
const STALE_MM: f64 = 0.05;
/// The same as a change of the way from one control vector to the next over their distance: by which an axis
/// that is stiff along itself has turned.
const STALE_TURN: f64 = 0.02;
/// The same of the vessel's own movement.
const STALE_CARRIED: f64 = 0.002;
/// How far the tip of the device moves in mm before it is decided anew what is far from it.
const AGAIN_MM: f64 = 1.0;

/// The displacements of a vessel's axes, beside the unknowns of a device.
#[derive(Clone)]
pub struct Giving<'a> {
    /// Energy of the axes.
    pub vessel: Arc<GivingVessel>,
    /// The lumen that moves with them.
    pub lumen: &'a MovedTree,
    /// Control vectors in mm.
    pub moved: Vec<Vector3<f64>>,
    /// Those of the vessel's own movement; empty where it has none.
    pub carried: Vec<Vector3<f64>>,
    /// Gradient of the potential by the control vectors at the state assembled last, in mN.
    pub gradient: Vec<Vector3<f64>>,
    /// Second derivatives of the vessel's energy, factorised.
    axes: Arc<AxesFactor>,
    /// The state at which they were computed: control vectors, and those of the vessel's own movement.
    computed_at: (Vec<Vector3<f64>>, Vec<Vector3<f64>>),
    /// The axes at rest as the vessel's own movement has carried them.
    at_rest: Arc<Vec<AtRest>>,
    /// The part of the vessel whose energy may change with control vectors that do not keep their values.
    near: Arc<Part>,
    /// The part that holds energy: that, and what keeps values that are not 0.
    counted: Arc<Part>,
    /// Control vectors far from the device.
    far: Vec<bool>,
    /// Control vectors that keep their values, because they are held or far from the device.
    kept: Vec<bool>,
    /// The state at which the step began, of a vessel that moves by itself.
    set_out: Option<Arc<SetOut>>,
    /// Where the device's tip was when that was decided, and how many nodes it had.
    decided_at: Option<(Vector3<f64>, usize)>,
}

/// What the work of a step is reckoned from.
struct SetOut {
    carried: Vec<Vector3<f64>>,
    at_rest: Arc<Vec<AtRest>>,
    /// Elastic energy in mN mm.
    energy: f64,
    moved: Vec<Vector3<f64>>,
    /// Forces of contact on the control vectors in mN.
    pressed: Vec<Vector3<f64>>,
}

impl<'a> Giving<'a> {
    /// The vessel at rest.
    #[must_use]
    pub fn new(lumen: &'a MovedTree) -> Self {
        let vessel = Arc::clone(lumen.vessel());
        let n = vessel.controls();
        let moved = vec![Vector3::zeros(); n];
        let carried = vessel.motion().map_or_else(Vec::new, |motion| {
            let mut carried = moved.clone();
            motion.at(0.0, &mut carried);
            carried
        });
        let at_rest = Arc::new(vessel.at_rest(&carried));
        Self {
            lumen,
            gradient: moved.clone(),
            set_out: vessel.motion().map(|_| {
                Arc::new(SetOut {
                    at_rest: Arc::clone(&at_rest),
                    energy: 0.0,
                    carried: carried.clone(),
                    moved: moved.clone(),
                    pressed: moved.clone(),
                })
            }),
            at_rest,
            near: Arc::new(vessel.part(|_| true)),
            counted: Arc::new(vessel.part(|_| true)),
            carried,
            moved,
            vessel,
            axes: Arc::default(),
            computed_at: Default::default(),
            far: vec![false; n],
            kept: vec![false; n],
            decided_at: None,
        }
    }

    /// The factors of the axes' own stiffness.
    pub(super) fn axes(&self) -> &Arc<AxesFactor> {
        &self.axes
    }

    /// Whether a control vector keeps its value.
    pub(super) fn is_kept(&self, control: usize) -> bool {
        self.kept[control]
    }

    /// Decides anew which control vectors are far from the device, whose nodes are given from the tip on.
    fn keep_far(&mut self, nodes: &[Vector3<f64>]) {
        let Some(tip) = nodes.first() else { return };
        let decided = |(at, count): &(Vector3<f64>, usize)| {
            (at - tip).norm() < AGAIN_MM && *count == nodes.len()
        };
        if self.decided_at.as_ref().is_some_and(decided) {
            return;
        }
        self.decided_at = Some((*tip, nodes.len()));
        let reach = AGAIN_MM + self.vessel.reach_mm();
        for (branch, knots) in self.vessel.knots().iter().enumerate() {
            for control in knots.range() {
                let at = self.lumen.position(branch, knots.middle_mm(control));
                let is_near = |x: &Vector3<f64>| (x - at).norm_squared() < reach * reach;
                self.far[control] = !nodes.iter().step_by(2).any(is_near);
            }
        }
        let far = self.far.iter().enumerate();
        let kept: Vec<_> = far
            .map(|(j, far)| *far || self.vessel.is_fixed(j))
            .collect();
        self.kept = kept;
        self.divide();
        self.computed_at.0.clear();
    }

    /// Tells the part near the device and the part that holds energy.
    fn divide(&mut self) {
        let is_moved = |j: usize| self.moved[j] != Vector3::zeros();
        self.near = Arc::new(self.vessel.part(|j| !self.kept[j]));
        let counted = self.vessel.part(|j| !self.kept[j] || is_moved(j));
        self.counted = Arc::new(counted);
    }

    /// The largest changes of the vessel.
    #[must_use]
    pub fn reading(&self) -> VesselReading {
        self.vessel.reading_from(&self.moved, &self.at_rest)
    }

    /// Elastic energy in mN mm.
    #[must_use]
    pub fn energy(&self) -> f64 {
        let rest = (&*self.carried, &**self.at_rest);
        self.vessel.energy_of(&self.counted, &self.moved, rest)
    }

    /// Time in s from `time_s` on, `most_s` at most, within which nothing near the device goes farther than
    /// `way_mm` by the vessel's own movement.
    pub(super) fn time_within(&self, time_s: f64, most_s: f64, way_mm: f64) -> f64 {
        self.vessel.motion().map_or(most_s, |motion| {
            motion.time_within(time_s, (most_s, way_mm), |j| !self.far[j])
        })
    }

    /// Lets the vessel's own movement go on to a time in s; returns how far its control vectors go, in mm,
    /// if it has one.
    fn carry(&mut self, time_s: f64) -> Option<Vec<Vector3<f64>>> {
        let motion = self.vessel.motion()?;
        let before = self.carried.clone();
        motion.at(time_s, &mut self.carried);
        if self.carried != before {
            self.at_rest = Arc::new(self.vessel.at_rest(&self.carried));
        }
        let both = self.carried.iter().zip(before);
        Some(both.map(|(now, before)| now - before).collect())
    }

    /// Where the axes are, moved and carried.
    fn place(&self) -> Vec<Vector3<f64>> {
        if self.carried.is_empty() {
            return self.moved.clone();
        }
        let both = self.moved.iter().zip(&self.carried);
        both.map(|(a, b)| a + b).collect()
    }

    /// Whether the stiffness at hand is that of a state too far away.
    fn is_stale(&self) -> bool {
        let (moved, carried) = &self.computed_at;
        if moved.is_empty() {
            return true;
        }
        let apart = moved.iter().zip(&self.moved).map(|(a, b)| (a - b).amax());
        if apart.fold(0.0, f64::max) > STALE_MM {
            return true;
        }
        let turned = |from: &[Vector3<f64>], to: &[Vector3<f64>], most: f64| {
            self.vessel.knots().iter().any(|knots| {
                // A vessel that does not move by itself has no ways of its own.
                let (Some(from), Some(to)) = (from.get(knots.range()), to.get(knots.range()))
                else {
                    return false;
                };
                let both = from.windows(2).zip(to.windows(2));
                let turn = |(a, b): (&[Vector3<f64>], &[Vector3<f64>])| {
                    (b[1] - b[0] - (a[1] - a[0])).amax()
                };
                both.map(turn)
                    .any(|turn: f64| turn > most * knots.spacing_mm)
            })
        };
        turned(moved, &self.moved, STALE_TURN) || turned(carried, &self.carried, STALE_CARRIED)
    }

    /// Begins the gradient with that of the vessel itself, and has its stiffness ready.
    fn assemble(&mut self) {
        let rest = (&*self.carried, &**self.at_rest);
        self.gradient.clear();
        self.gradient.resize(self.moved.len(), Vector3::zeros());
        if !self.is_stale() {
            self.vessel
                .add_gradient(&self.near, &self.moved, rest, &mut self.gradient);
            return;
        }
        let mut blocks = Vec::new();
        let kept = &self.kept;
        self.vessel.add_derivatives_of(
            &self.near,
            &self.moved,
            rest,
            &mut self.gradient,
            |i, j, block| {
                if !(kept[i] || kept[j]) {
                    blocks.push((i, j, *block));
                }
            },
        );
        self.axes = Arc::new(AxesFactor::new(&blocks, kept));
        let (moved, carried) = &mut self.computed_at;
        moved.clone_from(&self.moved);
        carried.clone_from(&self.carried);
    }
}

impl<'a, const S: usize> Body<'a, S> {
    /// Tells lumen and contacts how the vessel's axes have moved.
    pub(super) fn show_vessel(&mut self) {
        let Some(giving) = &self.giving else { return };
        let place = giving.place();
        giving.lumen.set(&place);
        for contact in self.contact.iter_mut().chain(&mut self.others) {
            contact.see_moved(&place);
        }
    }

    /// Lets the vessel's own movement go on to a time in s. The rod goes with it, but for the nodes that are
    /// fixed: what is far from the wall comes back to rest on its own, what lies on it stays there. A rod that is
    /// held at its last node keeps the lengths of its edges: the vessel becomes longer and shorter around it.
    pub(super) fn carry_vessel(&mut self, time_s: f64) {
        let Some(giving) = &mut self.giving else {
            return;
        };
        let Some(by) = giving.carry(time_s) else {
            return;
        };
        let rod = &mut self.rod;
        let nodes: Vec<_> = (0..rod.nodes()).map(|i| rod.node(i)).collect();
        let ways = giving.lumen.ways(nodes.iter().copied(), &by);
        let is_held = |i: usize| self.fixed.binary_search(&(S * i)).is_ok();
        let free = (0..nodes.len()).filter(|&i| !is_held(i));
        let free: Vec<_> = free.collect();
        for &i in &free {
            rod.set_node(i, &(nodes[i] + ways[i]));
        }
        if self.update == Update::FromLastNode {
            let lengths = &rod.kinematics().length;
            let mut q = rod.q.clone();
            chain::rebuild::<S>(&mut q, lengths.len(), |i, e| e.normalize() * lengths[i]);
            rod.q = q;
        }
        rod.refresh();
        for i in free {
            self.carry_start(i);
        }
        self.show_vessel();
    }

    /// Work in mN mm of the vessel's own movement in the step that ends at the state assembled last: the forces
    /// of contact on the axes, and the change of the shape at which wall and bed are at rest, in the mean of
    /// beginning and end.
    pub(super) fn vessel_work(&mut self) -> f64 {
        let Some(giving) = &mut self.giving else {
            return 0.0;
        };
        let Some(before) = &giving.set_out else {
            return 0.0;
        };
        let mut pressed = vec![Vector3::zeros(); giving.moved.len()];
        let contacts = self.contact.iter().chain(&self.others);
        for hanging in contacts.flat_map(Contact::hanging) {
            for (&j, force) in hanging.controls.iter().zip(&hanging.force) {
                pressed[j] += force;
            }
        }
        let ways = giving.carried.iter().zip(&before.carried);
        let forces = pressed.iter().zip(&before.pressed);
        let by_contact: f64 = ways
            .zip(forces)
            .map(|((now, then), (a, b))| (now - then).dot(&(a + b)))
            .sum();
        let then = |moved: &[Vector3<f64>]| {
            let rest = (&*before.carried, &**before.at_rest);
            giving.vessel.energy_of(&giving.counted, moved, rest)
        };
        let energy = giving.energy();
        let of_rest = if giving.carried == before.carried {
            0.0
        } else {
            let rest = (&*giving.carried, &**giving.at_rest);
            let of_before = (giving.vessel).energy_of(&giving.counted, &before.moved, rest);
            of_before - before.energy + (energy - then(&giving.moved))
        };
        let work = 0.5 * (by_contact + of_rest);
        giving.set_out = Some(Arc::new(SetOut {
            at_rest: Arc::clone(&giving.at_rest),
            energy,
            carried: giving.carried.clone(),
            moved: giving.moved.clone(),
            pressed,
        }));
        work
    }

    /// Leaves the parts of the vessel where they are that are far from the rod.
    pub(super) fn keep_far_vessel(&mut self) {
        if let Some(giving) = &mut self.giving {
            let rod = &self.rod;
            let nodes: Vec<_> = (0..rod.nodes()).map(|i| rod.node(i)).collect();
            giving.keep_far(&nodes);
        }
    }

    /// Moves the vessel's axes to these control vectors in mm.
    pub fn move_vessel_to(&mut self, moved: &[Vector3<f64>]) {
        self.move_vessel(moved, 0.0, moved);
        if let Some(giving) = &mut self.giving {
            giving.decided_at = None;
            giving.divide();
        }
    }

    /// Moves the vessel's axes to the share `alpha` of a step from `base`, in mm.
    pub(super) fn move_vessel(&mut self, base: &[Vector3<f64>], alpha: f64, step: &[Vector3<f64>]) {
        let Some(giving) = &mut self.giving else {
            return;
        };
        for ((moved, base), step) in giving.moved.iter_mut().zip(base).zip(step) {
            *moved = base + step * alpha;
        }
        self.show_vessel();
    }

    /// Gradient by the vessel's control vectors at the state whose contacts were assembled last.
    pub(super) fn assemble_vessel(&mut self) {
        let Some(giving) = &mut self.giving else {
            return;
        };
        giving.assemble();
        let contacts = self.contact.iter().chain(&self.others);
        for hanging in contacts.flat_map(Contact::hanging) {
            for (&j, force) in hanging.controls.iter().zip(&hanging.force) {
                giving.gradient[j] += force;
            }
        }
        for j in 0..giving.gradient.len() {
            if giving.kept[j] {
                giving.gradient[j] = Vector3::zeros();
            }
        }
    }
}
