//! A vessel that gives way, solved together with the device that lies in it.

use std::sync::Arc;

use nalgebra::{Matrix3, Vector3};

use super::body::Body;
use super::skyline::Skyline;
use crate::contact::Contact;
use crate::vessel::{GivingVessel, MovedTree};

/// How far control vectors may go in mm before the vessel's own stiffness is computed anew: on the way
/// to an equilibrium its forces are exact at every state, and only their change is that of a state nearby.
const STALE_MM: f64 = 0.05;
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
    /// The state at which they were computed.
    computed_at: Vec<Vector3<f64>>,
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
        Self {
            lumen,
            gradient: moved.clone(),
            set_out: vessel.motion().map(|_| {
                Arc::new(SetOut {
                    carried: carried.clone(),
                    moved: moved.clone(),
                    pressed: moved.clone(),
                })
            }),
            carried,
            moved,
            vessel,
            axes: Arc::default(),
            computed_at: Vec::new(),
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
                self.kept[control] =
                    self.vessel.is_fixed(control) || !nodes.iter().step_by(2).any(is_near);
            }
        }
        self.computed_at.clear();
    }

    /// Elastic energy in mN mm.
    #[must_use]
    pub fn energy(&self) -> f64 {
        self.vessel.energy(&self.moved, &self.carried)
    }

    /// Lets the vessel's own movement go on to a time in s; returns how far its control vectors go, in mm,
    /// if it has one.
    fn carry(&mut self, time_s: f64) -> Option<Vec<Vector3<f64>>> {
        let motion = self.vessel.motion()?;
        let before = self.carried.clone();
        motion.at(time_s, &mut self.carried);
        // The rest has changed, and the stiffness with it.
        self.computed_at.clear();
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

    /// Begins the gradient with that of the vessel itself, and has its stiffness ready.
    fn assemble(&mut self) {
        let n = self.moved.len();
        let apart = self.computed_at.iter().zip(&self.moved);
        let is_stale = self.computed_at.is_empty()
            || apart.map(|(a, b)| (a - b).amax()).fold(0.0, f64::max) > STALE_MM;
        self.gradient.clear();
        self.gradient.resize(n, Vector3::zeros());
        if !is_stale {
            self.vessel
                .add_gradient(&self.moved, &self.carried, &mut self.gradient);
            return;
        }
        let mut blocks = Vec::new();
        let kept = &self.kept;
        let counts = |j: usize| !kept[j];
        self.vessel.add_derivatives(
            &self.moved,
            &self.carried,
            &mut self.gradient,
            counts,
            |i, j, block| {
                if j >= i && counts(i) && counts(j) {
                    blocks.push((i, j, *block));
                }
            },
        );
        self.axes = Arc::new(AxesFactor::new(blocks, kept));
        self.computed_at.clone_from(&self.moved);
    }
}

/// The factorised stiffness of a vessel's axes, without the control vectors that keep their values.
#[derive(Debug, Clone, Default)]
pub(super) struct AxesFactor {
    matrix: Skyline,
    /// The matrix itself: places of two control vectors, the second not before the first.
    blocks: Vec<(usize, usize, Matrix3<f64>)>,
    /// Place of the first unknown of each control vector, if it is free.
    places: Vec<Option<usize>>,
}

impl AxesFactor {
    /// The sum of `blocks`: second derivatives by a control vector and one that is not before it. It need not
    /// be positive definite: axes that are strongly compressed may be held by the device alone. Where it
    /// has no factors, as much is added on its diagonal as gives it some; only the tangent changes by that.
    fn new(blocks: Vec<(usize, usize, Matrix3<f64>)>, kept: &[bool]) -> Self {
        let mut size = 0;
        let place = |kept: &bool| {
            (!kept).then(|| {
                size += 3;
                size - 3
            })
        };
        let places: Vec<_> = kept.iter().map(place).collect();
        let placed = |(i, j, block)| Some((places[i]?, places[j]?, block));
        let mut blocks: Vec<_> = blocks.into_iter().filter_map(placed).collect();
        let mut first: Vec<usize> = (0..size).map(|k| k - k % 3).collect();
        for (a, b, _) in &blocks {
            for first in &mut first[*b..b + 3] {
                *first = (*first).min(*a);
            }
        }
        let mut matrix = Skyline::default();
        let mut shift = 0.0;
        loop {
            matrix.reset(&first);
            for &(a, b, block) in &blocks {
                for r in 0..3 {
                    for c in 0..3 {
                        matrix.add(a + r, b + c, block[(r, c)]);
                        if a != b {
                            matrix.add(b + c, a + r, block[(r, c)]);
                        }
                    }
                }
            }
            let scale = matrix.largest_diagonal();
            if matrix.factorise(shift) {
                if shift > 0.0 {
                    let diagonal = Matrix3::identity() * shift;
                    blocks.extend(places.iter().flatten().map(|at| (*at, *at, diagonal)));
                }
                return Self {
                    matrix,
                    blocks,
                    places,
                };
            }
            shift = (100.0 * shift).max(1e-9 * scale);
        }
    }

    /// Replaces forces on all control vectors, component by component, by their displacements; 0 for those
    /// that keep their values.
    pub(super) fn solve(&self, x: &mut [f64]) {
        let mut work = vec![0.0; self.matrix.size()];
        for (x, place) in x.chunks_exact(3).zip(&self.places) {
            if let Some(at) = *place {
                work[at..at + 3].copy_from_slice(x);
            }
        }
        self.matrix.solve(&mut work);
        for (x, place) in x.chunks_exact_mut(3).zip(&self.places) {
            match *place {
                Some(at) => x.copy_from_slice(&work[at..at + 3]),
                None => x.fill(0.0),
            }
        }
    }

    /// Subtracts from `b` what the matrix makes of `x`, both on all control vectors, component by component;
    /// nothing from those that keep their values.
    pub(super) fn subtract_image(&self, x: &[f64], b: &mut [f64]) {
        let mut work = vec![Vector3::zeros(); self.matrix.size() / 3];
        let mut image = work.clone();
        for (x, at) in x.chunks_exact(3).zip(&self.places) {
            if let Some(at) = at {
                work[at / 3] = Vector3::from_column_slice(x);
            }
        }
        for (i, j, block) in &self.blocks {
            image[i / 3] += block * work[j / 3];
            if i != j {
                image[j / 3] += block.tr_mul(&work[i / 3]);
            }
        }
        for (b, at) in b.chunks_exact_mut(3).zip(&self.places) {
            if let Some(at) = at {
                for c in 0..3 {
                    b[c] -= image[at / 3][c];
                }
            }
        }
    }

    /// Displacements of all control vectors by a unit force on each component of one.
    pub(super) fn answers(&self, control: usize) -> [Vec<f64>; 3] {
        std::array::from_fn(|c| {
            let mut x = vec![0.0; 3 * self.places.len()];
            x[3 * control + c] = 1.0;
            self.solve(&mut x);
            x
        })
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
    /// fixed: what is far from the wall comes back to rest on its own, what lies on it stays there.
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
        let of_rest = |moved: &[Vector3<f64>]| {
            let energy = |carried| giving.vessel.energy(moved, carried);
            energy(&giving.carried) - energy(&before.carried)
        };
        let work = 0.5 * (by_contact + of_rest(&before.moved) + of_rest(&giving.moved));
        giving.set_out = Some(Arc::new(SetOut {
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
