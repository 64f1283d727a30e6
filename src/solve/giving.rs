//! A vessel that gives way, solved together with the device that lies in it.

use std::sync::Arc;

use nalgebra::{Matrix3, Vector3};

use super::banded::Banded;
use super::body::Body;
use super::skyline::Skyline;
use crate::contact::Contact;
use crate::rod::node_of;
use crate::vessel::{GivingVessel, MovedTree, SUPPORT};

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
    /// Second derivatives of the vessel's energy: for each control vector those by itself and the three
    /// after it.
    stiffness: Arc<Vec<[Matrix3<f64>; SUPPORT]>>,
    /// Those by control vectors further apart, of branches and their parents.
    ties: Arc<Vec<(usize, usize, Matrix3<f64>)>>,
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
            stiffness: Arc::default(),
            ties: Arc::default(),
            computed_at: Vec::new(),
            kept: vec![false; n],
            decided_at: None,
        }
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
        let mut stiffness = vec![[Matrix3::zeros(); SUPPORT]; n];
        let kept = &self.kept;
        let counts = |j: usize| !kept[j];
        let mut ties = Vec::new();
        self.vessel.add_derivatives(
            &self.moved,
            &self.carried,
            &mut self.gradient,
            counts,
            |i, j, block| {
                if j >= i && j < i + SUPPORT {
                    stiffness[i][j - i] += block;
                } else if j >= i {
                    ties.push((i, j, *block));
                }
            },
        );
        self.stiffness = Arc::new(stiffness);
        self.ties = Arc::new(ties);
        self.computed_at.clone_from(&self.moved);
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

/// Memory of the solver for a device and a vessel.
#[derive(Debug, Clone, Default)]
pub(super) struct Together {
    matrix: Skyline,
    /// Place of each unknown of the device in the common order.
    of_rod: Vec<usize>,
    /// Place of the first unknown of each control vector, if it is free.
    of_control: Vec<Option<usize>>,
    first: Vec<usize>,
}

impl Together {
    /// Brings the unknowns into an order along the device: each control vector behind the last node
    /// that may touch what it moves.
    pub(super) fn order<const S: usize>(&mut self, body: &Body<'_, S>) {
        let Some(giving) = &body.giving else { return };
        let n = body.rod.q.len();
        let nodes = body.rod.nodes();
        let mut places: Vec<(usize, usize)> = Vec::new();
        for (branch, knots) in giving.vessel.knots().iter().enumerate() {
            let reach = 2.0 * knots.spacing_mm;
            for control in knots.range().filter(|&j| !giving.is_kept(j)) {
                let at = giving.lumen.position(branch, knots.middle_mm(control));
                let near = (0..nodes)
                    .map(|i| (i, (node_of::<S>(&body.rod.q, i) - at).norm_squared()))
                    .min_by(|a, b| a.1.total_cmp(&b.1));
                let mut node = near.map_or(0, |near| near.0);
                let mut behind = 0.0;
                while node + 1 < nodes && behind < reach {
                    behind += body.rod.edges[node].rest_length;
                    node += 1;
                }
                places.push((node, control));
            }
        }
        places.sort_unstable();
        let mut places = places.into_iter().peekable();
        self.of_rod.clear();
        self.of_rod.resize(n, 0);
        self.of_control.clear();
        self.of_control.resize(giving.moved.len(), None);
        let mut next = 0;
        for node in 0..nodes {
            for unknown in S * node..(S * node + S).min(n) {
                self.of_rod[unknown] = next;
                next += 1;
            }
            while let Some((_, control)) = places.next_if(|p| p.0 == node) {
                self.of_control[control] = Some(next);
                next += 3;
            }
        }
        self.first.clear();
        self.first.extend(0..next);
    }

    /// Reserves room for the entries of two places.
    fn reach(&mut self, a: usize, b: usize) {
        let (low, high) = (a.min(b), a.max(b));
        self.first[high] = self.first[high].min(low);
    }

    fn lay_out<const S: usize, const W: usize>(&mut self, body: &Body<'_, S>) {
        let Some(giving) = &body.giving else { return };
        for (j, first) in self.first.iter_mut().enumerate() {
            *first = j;
        }
        let n = self.of_rod.len();
        for i in 0..n {
            self.reach(self.of_rod[i], self.of_rod[i.saturating_sub(W - 1)]);
        }
        let of_control = std::mem::take(&mut self.of_control);
        let block = |this: &mut Self, i: usize, j: usize| {
            if let (Some(a), Some(b)) = (of_control[i], of_control[j]) {
                for c in 0..3 {
                    this.reach(a.max(b) + c, a.min(b));
                }
            }
        };
        for i in 0..giving.stiffness.len() {
            for j in i..(i + SUPPORT).min(giving.stiffness.len()) {
                block(self, i, j);
            }
        }
        for (i, j, _) in giving.ties.iter() {
            block(self, *i, *j);
        }
        for hanging in body.contacts().flat_map(Contact::hanging) {
            let rows = [hanging.first, (hanging.first + 2 * S).min(n) - 1];
            for &i in &hanging.controls {
                for &j in &hanging.controls {
                    block(self, i, j);
                }
                if let Some(at) = of_control[i] {
                    for row in rows[0]..=rows[1] {
                        for c in 0..3 {
                            self.reach(at + c, self.of_rod[row]);
                        }
                    }
                }
            }
        }
        self.of_control = of_control;
        self.matrix.reset(&self.first);
    }

    /// Fills the matrix at the state assembled last and factorises it with `shift` on its diagonal: the
    /// friction's couplings count where they were built. Returns false where a pivot is not positive.
    pub(super) fn factorise<const S: usize, const W: usize>(
        &mut self,
        body: &Body<'_, S>,
        banded: &Banded<W>,
        (shift, scale): (f64, f64),
    ) -> bool {
        let Some(giving) = &body.giving else {
            return false;
        };
        self.lay_out::<S, W>(body);
        let (matrix, of_rod, of_control) = (&mut self.matrix, &self.of_rod, &self.of_control);
        let n = of_rod.len();
        let mut is_fixed = vec![false; n];
        for &i in &body.fixed {
            is_fixed[i] = true;
        }
        for (j, column) in banded.columns_of_lower().iter().enumerate() {
            if is_fixed[j] {
                matrix.add(of_rod[j], of_rod[j], scale);
                continue;
            }
            matrix.add(of_rod[j], of_rod[j], column[0]);
            for (k, value) in column.iter().enumerate().skip(1) {
                if j + k < n && !is_fixed[j + k] {
                    matrix.add(of_rod[j + k], of_rod[j], *value);
                    matrix.add(of_rod[j], of_rod[j + k], *value);
                }
            }
        }
        for coupling in body.contacts().flat_map(Contact::couplings) {
            coupling.for_each_entry(|row, column, value| {
                if !is_fixed[row] && !is_fixed[column] {
                    matrix.add(of_rod[row], of_rod[column], value);
                }
            });
        }
        let mut block = |i: usize, j: usize, m: &Matrix3<f64>| {
            if let (Some(a), Some(b)) = (of_control[i], of_control[j]) {
                for r in 0..3 {
                    for c in 0..3 {
                        matrix.add(a + r, b + c, m[(r, c)]);
                    }
                }
            }
        };
        for (i, row) in giving.stiffness.iter().enumerate() {
            for (k, m) in row.iter().enumerate() {
                if i + k < giving.stiffness.len() {
                    block(i, i + k, m);
                    if k > 0 {
                        block(i + k, i, &m.transpose());
                    }
                }
            }
        }
        for (i, j, m) in giving.ties.iter() {
            block(*i, *j, m);
            block(*j, *i, &m.transpose());
        }
        for hanging in body.contacts().flat_map(Contact::hanging) {
            let m = hanging.controls.len();
            for (a, &i) in hanging.controls.iter().enumerate() {
                for (b, &j) in hanging.controls.iter().enumerate() {
                    block(i, j, &hanging.among[a * m + b]);
                }
            }
        }
        for hanging in body.contacts().flat_map(Contact::hanging) {
            let nodes = [hanging.first, hanging.first + S];
            for (k, &j) in hanging.controls.iter().enumerate() {
                let Some(at) = of_control[j] else { continue };
                for (node, share) in nodes.into_iter().zip(hanging.share) {
                    for r in 0..3 {
                        if is_fixed[node + r] {
                            continue;
                        }
                        for c in 0..3 {
                            let row = of_rod[node + r];
                            matrix.add(row, at + c, share * hanging.of_point[k][(r, c)]);
                            matrix.add(at + c, row, share * hanging.by_point[k][(c, r)]);
                        }
                    }
                }
                let theta = hanging.first + hanging.spin;
                if !is_fixed[theta] {
                    for c in 0..3 {
                        matrix.add(of_rod[theta], at + c, hanging.of_spin[k][c]);
                        matrix.add(at + c, of_rod[theta], hanging.by_spin[k][c]);
                    }
                }
            }
        }
        matrix.factorise(shift)
    }

    /// Replaces the right-hand side by the solution: the unknowns of the device, and behind them the control
    /// vectors, component by component.
    pub(super) fn solve(&self, x: &mut [f64]) {
        let n = self.of_rod.len();
        let mut work = vec![0.0; self.matrix.size()];
        for (x, &at) in x.iter().zip(&self.of_rod) {
            work[at] = *x;
        }
        for (j, at) in self.of_control.iter().enumerate() {
            if let Some(at) = at {
                work[*at..*at + 3].copy_from_slice(&x[n + 3 * j..n + 3 * j + 3]);
            }
        }
        self.matrix.solve(&mut work);
        for (x, &at) in x.iter_mut().zip(&self.of_rod) {
            *x = work[at];
        }
        for (j, at) in self.of_control.iter().enumerate() {
            let to = &mut x[n + 3 * j..n + 3 * j + 3];
            match at {
                Some(at) => to.copy_from_slice(&work[*at..*at + 3]),
                None => to.fill(0.0),
            }
        }
    }
}
