//! A dual-lumen catheter as it stands at the beginning of a trial: on its first wire, which lies in
//! the vessel that goes on, with the second wire in it or folded out of its side port.

use super::begin::{FOLD_EDGE_MM, Ground, LEAD_MM};
use super::route::Route;
use crate::device::Wire;
use crate::scenario::model::{BendSpec, CarrierSpec, SidePortSpec};
use crate::solve::{DualLumen, Hands, Second, SidePort, Telescope, Unresolved};

/// Length of catheter outside the guide in front of which its side port lies at the beginning, in
/// mm.
const PORT_OUTSIDE_MM: f64 = 3.0;
/// How far inside the port the second wire's tip lies at the beginning, in mm.
const INSIDE_MM: f64 = 1.0;
/// How often the first wire is drawn back and turned when it has gone into the target.
const TRIES: u32 = 8;
/// Turn of the first wire between tries in rad: the golden angle, which repeats no direction.
const TURN_RAD: f64 = 2.399_963;

impl Ground<'_> {
    /// The second wire, folded if the technique folds it, in its catheter.
    pub(super) fn carried(
        &self,
        wire: &Wire,
        fold: Option<&BendSpec>,
    ) -> Result<DualLumen<'_>, Unresolved> {
        let (Some(carrier), Some(port)) = (self.technique.plan.carrier(), self.port()) else {
            unreachable!("a technique with a carrier names a catheter with a side port");
        };
        let mut catheter = self.on_first_wire(carrier)?;
        let to_port = port.behind_tip_mm + PORT_OUTSIDE_MM;
        catheter.move_hands(Hands {
            feed_catheter: to_port - catheter.catheter_outside_mm(),
            ..Hands::default()
        })?;
        let mut settings = self.prepared.step_settings();
        if fold.is_some() {
            settings.edge_mm = settings.edge_mm.min(FOLD_EDGE_MM);
        }
        let second = Second {
            wire: wire.clone(),
            roll_rad: self.variation.roll_rad,
            port,
            wall: (
                if fold.is_some() {
                    &self.with_guide
                } else {
                    self.lumen
                },
                self.wall_stiffness(),
            ),
            beside: &self.beside,
            longest_mm: self.longest_mm(),
            settings,
        };
        let mut both = DualLumen::new(catheter, second, INSIDE_MM);
        if let Some(fold) = fold {
            both.fold_out(fold.from_tip_mm + 0.5 * fold.length_mm)?;
        }
        Ok(both)
    }

    /// The side port of the technique's catheter.
    fn port(&self) -> Option<SidePort> {
        let catheter = self.technique.plan.catheter()?;
        let spec: SidePortSpec = self.prepared.scenario().catheters[catheter].side_port?;
        Some(SidePort {
            behind_tip_mm: spec.behind_tip_mm,
            angle_rad: spec.angle_rad,
            plane_rad: spec.plane_rad,
        })
    }

    /// The catheter at the guide's end over its first wire, which has been brought into the vessel
    /// that goes on past the branching; drawn back, turned and fed again where it goes into the
    /// target.
    fn on_first_wire(&self, carrier: &CarrierSpec) -> Result<Telescope<'_>, Unresolved> {
        let tree = self.prepared.tree();
        let target = self.prepared.target_branch();
        let branching_mm = tree.branches()[target]
            .parent
            .map_or(0.0, |(parent, station)| tree.progress_mm(parent, station));
        let way_mm = branching_mm - self.prepared.guide_progress_mm();
        let far_mm = way_mm + carrier.first_wire_past_mm;
        let longest_mm = far_mm.max(self.longest_mm()) + PORT_OUTSIDE_MM;
        let first = self.first_wire(carrier.first_wire);
        let mut pair = self.pair(&first, carrier.catheter, LEAD_MM, longest_mm)?;
        let route = Route::to(tree, target);
        for _ in 0..TRIES {
            pair.move_hands(feed(far_mm - pair.wire_outside_mm()))?;
            let place = route.place(tree, &pair.tip(), &mut Vec::new());
            if place.target_station_mm.is_none() {
                break;
            }
            pair.move_hands(feed(way_mm - LEAD_MM - pair.wire_outside_mm()))?;
            pair.move_hands(Hands {
                turn_wire: TURN_RAD,
                ..Hands::default()
            })?;
        }
        Ok(pair)
    }

    /// The first wire: as the scenario describes it, never folded.
    fn first_wire(&self, index: usize) -> Wire {
        let wire = &self.prepared.wires()[index];
        wire.with_bend_factor(self.variation.bend_factor)
            .with_friction(wire.friction() * self.variation.friction_factor)
    }
}

fn feed(feed_wire: f64) -> Hands {
    Hands {
        feed_wire,
        ..Hands::default()
    }
}
