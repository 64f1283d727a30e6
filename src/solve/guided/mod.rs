//! A rod that comes out of a guide: of a wire alone, or of a wire and a catheter over it.
//!
//! The rod is numbered from its front. Behind its material nodes stand two more: the *exit*, which
//! lies at the guide's end, and a node behind it inside the guide; the edge between the two has
//! the direction of the guide and carries the rotations of the hands. A device flows through the
//! exit: the edge in front of it grows as the device is fed until it is long enough to be split, and
//! shrinks on withdrawal. The hinge at the exit has half a cell, from the exit to the middle of that
//! edge (the other half would lie in the guide, where the device is straight).
//!
//! What the kinds of rod have in common stands here, what is a kind's own in its [`Layout`].

mod readings;

pub(super) use self::readings::Readings;
use super::balance::{EnergyBalance, Unresolved};
use super::body::{Body, Spring, Update};
use super::core_flow::{CoreFlow, CoreSet, CoreSpan};
use super::hands::{Hands, Reactions};
use super::newton::{Newton, OneRod};
use super::release::Relaxation;
use super::search::{NewtonFailure, NewtonOptions};
use super::settings::{GuideTip, StepSettings};
use crate::device::Wire;
use crate::rod::{Hinge, Rod};

/// Least time in s that a step counts for drag, where no hand moves.
pub(super) const LEAST_STEP_S: f64 = 1e-3;

/// Length of the edge inside the guide in mm; it only gives a direction.
pub(super) const GUIDE_EDGE_MM: f64 = 1.0;

/// How devices lie along a rod with `S` unknowns a node: which node is what, what each cell is made
/// of, and how the boundary moves in a step.
pub(super) trait Layout<const S: usize, const W: usize>: Clone {
    /// What the end of a step has to know about how it set out.
    type Way;
    /// The last accepted step, from which the next one is guessed.
    type LastStep: Clone + Default;

    /// Number of the exit node.
    fn exit(&self) -> usize;
    /// Distance of every node from the front along the rod, in mm, front first.
    fn stations(&self) -> &[f64];
    /// The wire.
    fn wire(&self) -> &Wire;
    /// Length of wire outside the guide in mm.
    fn wire_outside_mm(&self) -> f64;
    /// Distance behind the wire's tip of a place along the rod, in mm.
    fn along_wire(&self, x_mm: f64) -> f64;
    /// Outer diameter in mm at the nodes outside the guide, from the exit to the front.
    fn diameters(&self) -> Vec<f64>;
    /// Energy in mN mm of what the guide holds straight.
    fn held_straight(&self) -> f64;
    /// What the wire's core has flowed.
    fn flow(&self) -> &CoreFlow;
    /// The same, to be changed.
    fn flow_mut(&mut self) -> &mut CoreFlow;
    /// What of the wire flows in the cell of node `i`, of which `hinge` is the wire's part.
    fn core_span(&self, i: usize, hinge: &Hinge) -> Option<CoreSpan>;
    /// Rotations of edges at which their device is not there.
    fn absent(&self, rod: &Rod<S>) -> Vec<usize>;

    /// Beginning of a step: the boundary moves and the rod follows.
    fn set_out(rod: &mut GuidedRod<'_, Self, S, W>, hands: Hands) -> Self::Way;
    /// What the hands did in a step that set out so.
    fn hands(way: &Self::Way) -> Hands;
    /// What the hands feel in the present equilibrium.
    fn measured(rod: &GuidedRod<'_, Self, S, W>, way: &Self::Way) -> Reactions;
    /// Takes note of a step for the next guess.
    fn note(rod: &mut GuidedRod<'_, Self, S, W>, way: &Self::Way);

    /// After a search: gives what rubs inside the devices the forces of the equilibrium that was found, or
    /// where that changes the friction too much, forces on the way to them. Returns whether one more search is
    /// needed.
    ///
    /// # Errors
    /// [`NewtonFailure::BeyondCoulomb`] where there were too many.
    fn rub(
        _rod: &mut GuidedRod<'_, Self, S, W>,
        _repeat: &mut Repeat,
    ) -> Result<bool, NewtonFailure> {
        Ok(false)
    }

    /// Gives every hinge the flow that lies in its cell.
    fn lay_flow(&self, rod: &mut Rod<S>) {
        rod.core.clear();
        if self.flow().may_flow() {
            let cells = rod.hinges.iter().enumerate();
            let cores =
                cells.filter_map(|(i, hinge)| self.flow().cell(hinge, self.core_span(i, hinge)));
            rod.core.extend(cores);
        }
    }

    /// After a step: keeps what the hinges have flowed.
    fn keep_flow(&mut self, rod: &Rod<S>) {
        let moved = rod.core.iter().enumerate().filter(|(_, core)| core.moved());
        for (i, core) in moved {
            if let Some(span) = self.core_span(i, &rod.hinges[i]) {
                self.flow_mut().take(core, &span);
            }
        }
        self.flow_mut().join_slivers();
    }

    /// The set that the wire keeps without load, the part in the guide included.
    fn set(&self) -> CoreSet {
        self.flow().set(self.wire())
    }
}

/// Searches for one equilibrium, repeated because what is found changes the friction inside the devices.
#[derive(Debug, Default)]
pub(super) struct Repeat {
    searches: u32,
}

impl Repeat {
    /// Searches at most.
    const MOST: u32 = 16;
    /// Searches after which a change counts as small within the looser tolerance.
    const MANY: u32 = 8;

    /// Whether the state that a search has found is at rest where it changes the friction by `share` of all
    /// its limits, and the largest residual by `residual` tolerances.
    pub(super) fn is_at_rest(&self, share: f64, residual: f64) -> bool {
        let granted = if self.searches < Self::MANY {
            1.0
        } else {
            NewtonOptions::LOOSE
        };
        1.0 + share <= NewtonOptions::MOST_FRICTION || residual <= granted
    }

    /// Counts a search that left the friction off by `share`.
    ///
    /// # Errors
    /// [`NewtonFailure::BeyondCoulomb`] where there were too many.
    pub(super) fn again(&mut self, share: f64) -> Result<bool, NewtonFailure> {
        self.searches += 1;
        if self.searches < Self::MOST {
            return Ok(true);
        }
        Err(NewtonFailure::BeyondCoulomb {
            iterations: 0,
            ratio: 1.0 + share,
        })
    }
}

/// A rod in a guide and a lumen, with its solver.
#[derive(Clone)]
pub(super) struct GuidedRod<'a, L: Layout<S, W>, const S: usize, const W: usize> {
    /// Rod, wall and supports.
    pub body: Body<'a, S>,
    /// What lies where.
    pub layout: L,
    /// The guide out of which it comes.
    pub guide_tip: GuideTip,
    pub settings: StepSettings,
    pub newton: Newton<W>,
    /// When the rod counts as in equilibrium.
    pub options: NewtonOptions,
    /// Angles of the hands on wire and catheter since the start, in rad.
    pub turned: [f64; 2],
    /// What the hands feel in the last equilibrium.
    pub reactions: Reactions,
    /// The last accepted step.
    pub last: L::LastStep,
    /// Whether that was a snap: ended far from where it was expected, however short it was.
    pub snapped: bool,
    /// Least time that a step takes, in s.
    pub pace_s: f64,
}

/// What a step changes of a rod.
pub(super) struct RodState<'a, L: Layout<S, W>, const S: usize, const W: usize> {
    body: Body<'a, S>,
    layout: L,
    guide_tip: GuideTip,
    turned: [f64; 2],
    reactions: Reactions,
    last: L::LastStep,
    snapped: bool,
}

impl<'a, L: Layout<S, W>, const S: usize, const W: usize> GuidedRod<'a, L, S, W> {
    /// A rod that lies anywhere; not yet in equilibrium.
    pub(super) fn new(
        mut body: Body<'a, S>,
        layout: L,
        guide_tip: GuideTip,
        settings: StepSettings,
    ) -> Self {
        body.update = Update::FromLastNode;
        let options = settings.newton(layout.wire());
        let mut rod = Self {
            body,
            layout,
            guide_tip,
            settings,
            newton: Newton::empty(),
            options,
            turned: [0.0; 2],
            reactions: Reactions::default(),
            last: L::LastStep::default(),
            snapped: false,
            pace_s: LEAST_STEP_S,
        };
        rod.support();
        rod
    }

    /// Ties exit and guide node down, and the rotations of a device where it is not there.
    pub(super) fn support(&mut self) {
        let exit = self.layout.exit();
        self.body.fixed = self.layout.absent(&self.body.rod);
        self.body.springs.clear();
        self.body.rigid_end = self.guide_tip.backup.is_some();
        if let Some(backup) = self.guide_tip.backup {
            self.body.springs.push(Spring {
                node: exit,
                anchor: self.guide_tip.exit,
                stiffness: self.guide_tip.backup_matrix(backup),
            });
        } else {
            self.body.fix_node(exit);
        }
        self.body.fix_rotation(exit);
        self.body.fix_node(exit + 1);
    }

    /// One step as it is, which may be halved so many times more: the boundary moves, the rod follows,
    /// an equilibrium is looked for.
    ///
    /// # Errors
    /// [`Unresolved`]; the rod is left anywhere.
    pub(super) fn advance(
        &mut self,
        hands: Hands,
        halvings: u32,
        balance: &mut EnergyBalance,
    ) -> Result<(), Unresolved> {
        let way = L::set_out(self, hands);
        let released = balance.released;
        let options = self.options.last_resort(halvings == 0);
        let demands = self.settings.demands(halvings);
        let mut off_mm = None;
        let mut repeat = Repeat::default();
        loop {
            let found = OneRod {
                newton: &mut self.newton,
                body: &mut self.body,
                options: &options,
            }
            .come_to_rest(&options, demands, balance);
            let off = found.map_err(|failure| self.unresolved(failure, balance))?;
            off_mm.get_or_insert(off);
            let goes_on = L::rub(self, &mut repeat);
            if !goes_on.map_err(|failure| self.unresolved(failure, balance))? {
                break;
            }
        }
        let off_mm = off_mm.unwrap_or(0.0);
        self.arrive(&way, off_mm, balance);
        if balance.released > released {
            self.forget_last_step();
        }
        Ok(())
    }

    /// Lets the time of a step pass in which hands move so.
    pub(super) fn pass(&mut self, hands: Hands) {
        let seconds = hands.seconds(self.settings.speed_mm_per_s);
        let seconds = seconds.max(self.pace_s);
        self.body.pass(seconds, self.settings.drag);
    }

    /// Takes note of a search that failed.
    pub(super) fn unresolved(
        &self,
        failure: NewtonFailure,
        balance: &mut EnergyBalance,
    ) -> Unresolved {
        balance.iterations += failure.iterations();
        Unresolved {
            outside_mm: self.layout.wire_outside_mm(),
            failure,
        }
    }

    /// End of a step in equilibrium, `off_mm` from where it was expected: reads what the hands feel,
    /// settles friction and flow.
    pub(super) fn arrive(&mut self, way: &L::Way, off_mm: f64, balance: &mut EnergyBalance) {
        let now = L::measured(self, way);
        // What the hands feel at the end of a snap is the drag of a fast wire; when the next step begins,
        // the wire is at rest.
        let before = if self.snapped { now } else { self.reactions };
        self.snapped = off_mm > StepSettings::SURPRISE_MM;
        balance.hand += now.work(&before, L::hands(way));
        self.reactions = now;
        L::note(self, way);
        balance.vessel += self.body.vessel_work();
        let losses = self.body.settle();
        balance.lose(&losses);
        self.layout.keep_flow(&self.body.rod);
        balance.steps += 1;
        balance.contacts += self.body.active_contacts();
    }

    /// Does not guess the next step from the last one, which was a release.
    pub(super) fn forget_last_step(&mut self) {
        self.last = L::LastStep::default();
    }

    /// Moves the guide's end with what lies in it; the rest follows with the next step.
    pub(super) fn move_guide(&mut self, guide_tip: GuideTip) {
        self.body
            .move_guide(self.layout.exit(), &self.guide_tip, &guide_tip);
        self.guide_tip = guide_tip;
        self.support();
    }

    /// The present state, without the solver's memory.
    pub(super) fn state(&self) -> RodState<'a, L, S, W> {
        RodState {
            body: self.body.clone(),
            layout: self.layout.clone(),
            guide_tip: self.guide_tip,
            turned: self.turned,
            reactions: self.reactions,
            last: self.last.clone(),
            snapped: self.snapped,
        }
    }

    /// Takes a state back.
    pub(super) fn restore(&mut self, state: RodState<'a, L, S, W>) {
        self.body = state.body;
        self.layout = state.layout;
        self.guide_tip = state.guide_tip;
        self.turned = state.turned;
        self.reactions = state.reactions;
        self.last = state.last;
        self.snapped = state.snapped;
    }
}
