//! A dual-lumen catheter as it stands at the beginning of a trial: on its first wire, which lies in
//! the vessel that goes on, with the second wire in it or folded out of its side port.

use super::begin::{FOLD_EDGE_MM, TrialSetup};
use super::first_wire::GivenUp;
use crate::device::Wire;
use crate::scenario::model::{BendSpec, CarrierSpec, SidePortSpec};
use crate::solve::{Assembly, Hands, Second, SidePort};

/// Length of catheter outside the guide in front of which its side port lies at the beginning, in
/// mm.
const PORT_OUTSIDE_MM: f64 = 3.0;
/// Length of the first wire in front of the catheter's tip at the beginning, in mm.
const LEAD_MM: f64 = 5.0;
/// How far inside the port the second wire's tip lies at the beginning, in mm.
const INSIDE_MM: f64 = 1.0;

impl TrialSetup<'_> {
    /// The second wire, folded if the technique folds it, in its catheter.
    pub(super) fn carried(
        &self,
        wire: &Wire,
        carrier: &CarrierSpec,
        fold: Option<&BendSpec>,
    ) -> Result<Assembly<'_>, GivenUp> {
        let Some(port) = self.port(carrier) else {
            unreachable!("a technique with a carrier names a catheter with a side port");
        };
        let mut catheter = self.on_first_wire(carrier)?;
        let to_port = port.behind_tip_mm + PORT_OUTSIDE_MM;
        let outside_mm = catheter.catheter().map_or(0.0, |c| c.outside_mm);
        catheter.move_hands(Hands {
            feed_catheter: to_port - outside_mm,
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
            lumen: self.walled(if fold.is_some() {
                &self.with_guide
            } else {
                self.lumen
            }),
            longest_mm: self.longest_mm(),
            settings,
        };
        let Some(mut both) = catheter.with_second_wire(second, INSIDE_MM) else {
            unreachable!("a first wire is brought in a catheter");
        };
        if let Some(fold) = fold {
            both.fold_out(fold.from_tip_mm + 0.5 * fold.length_mm)?;
        }
        Ok(both)
    }

    /// The side port of the carrier's catheter.
    fn port(&self, carrier: &CarrierSpec) -> Option<SidePort> {
        let catheters = &self.prepared.scenario().catheters;
        let spec: SidePortSpec = catheters[carrier.catheter].side_port?;
        Some(SidePort {
            behind_tip_mm: spec.behind_tip_mm,
            angle_rad: spec.angle_rad,
            plane_rad: spec.plane_rad,
        })
    }

    /// The catheter at the guide's end over its first wire, which has been brought into the vessel
    /// that goes on past the branching.
    fn on_first_wire(&self, carrier: &CarrierSpec) -> Result<Assembly<'_>, GivenUp> {
        let far_mm = self.way_mm() + carrier.first_wire_past_mm;
        let longest_mm = far_mm.max(self.longest_mm()) + PORT_OUTSIDE_MM;
        let first = self.drawn.wire(carrier.first_wire);
        let mut pair = self.pair(first, carrier.catheter, LEAD_MM, longest_mm)?;
        self.bring_past(&mut pair, far_mm)?;
        Ok(pair)
    }
}
