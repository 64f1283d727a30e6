//! Keeps what a trial leaves behind: peaks of every step, rows and shapes now and then.

use super::result::{HandRow, TraceRow, WireShape};
use crate::contact::ContactSummary;
use crate::solve::{Hands, Rig};

/// Largest values over all steps of a trial.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Peaks {
    pub wall_force: f64,
    pub tip_force: f64,
    pub push_force: f64,
    pub torque: f64,
    pub wall_deflection: f64,
    pub strain_ratio: f64,
    pub axial_strain: f64,
    /// On the catheter.
    pub catheter_wall_force: f64,
    /// On the catheter while it is turned.
    pub turning_wall_force: f64,
}

pub(super) struct Recorder {
    every_mm: Option<f64>,
    travelled: f64,
    next: f64,
    pub peaks: Peaks,
    pub travel: f64,
    /// What the hands have done so far.
    pub hands: HandRow,
    pub trace: Vec<TraceRow>,
    pub hand_rows: Vec<HandRow>,
    pub shapes: Vec<WireShape>,
}

impl Recorder {
    /// A recorder that writes a row every so many mm of travel, or only keeps peaks.
    pub(super) fn new(every_mm: Option<f64>) -> Self {
        Self {
            every_mm,
            travelled: 0.0,
            next: 0.0,
            peaks: Peaks::default(),
            travel: 0.0,
            hands: HandRow::default(),
            trace: Vec::new(),
            hand_rows: Vec::new(),
            shapes: Vec::new(),
        }
    }

    /// Adds a movement to what the hands have done.
    pub(super) fn moved(&mut self, by: &Hands) {
        let hands = &mut self.hands;
        hands.fed_mm += by.feed_wire.max(0.0);
        hands.withdrawn_mm += (-by.feed_wire).max(0.0);
        hands.turned_deg += by.turn_wire.abs().to_degrees();
        hands.catheter_fed_mm += by.feed_catheter.max(0.0);
        hands.catheter_withdrawn_mm += (-by.feed_catheter).max(0.0);
        hands.catheter_turned_deg += by.turn_catheter.abs().to_degrees();
        hands.steered_deg += by.steer.abs().to_degrees();
    }

    /// Takes note of a step that moved the hand by `moved_mm` (fed, withdrawn, or the way of a
    /// turning hand).
    pub(super) fn note(&mut self, wire: &dyn Rig<'_>, moved_mm: f64) {
        let contact = wire.contact();
        let (strain, axial) = wire.strains();
        let p = &mut self.peaks;
        p.wall_force = p.wall_force.max(contact.largest_force);
        p.tip_force = p.tip_force.max(contact.tip_force.abs());
        p.push_force = p.push_force.max(wire.push_force());
        p.torque = p.torque.max(wire.torque().abs());
        p.wall_deflection = p.wall_deflection.max(contact.deepest);
        p.strain_ratio = p.strain_ratio.max(strain);
        p.axial_strain = p.axial_strain.max(axial);
        if let Some(catheter) = wire.catheter() {
            p.push_force = p.push_force.max(catheter.push_force);
            p.torque = p.torque.max(catheter.torque.abs());
            p.catheter_wall_force = p.catheter_wall_force.max(catheter.wall_force);
        }
        self.travelled += moved_mm;
        if let Some(every) = self.every_mm
            && self.travelled >= self.next - 1e-9
        {
            self.next = self.travelled + every;
            self.row(wire, &contact);
        }
    }

    /// Takes note of the wall force while the catheter is turned.
    pub(super) fn note_turning(&mut self, wire: &dyn Rig<'_>) {
        let force = wire.catheter().map_or(0.0, |c| c.wall_force);
        self.peaks.turning_wall_force = self.peaks.turning_wall_force.max(force);
    }

    /// Writes the last row, unless the one before it was written at the same place.
    pub(super) fn end(&mut self, wire: &dyn Rig<'_>) {
        let written = self.hand_rows.last() == Some(&self.hands);
        if self.every_mm.is_some() && !written {
            self.row(wire, &wire.contact());
        }
    }

    fn row(&mut self, wire: &dyn Rig<'_>, contact: &ContactSummary) {
        let tip = wire.tip();
        self.hand_rows.push(self.hands);
        self.trace.push(TraceRow {
            fed_mm: wire.outside_mm(),
            tip_x_mm: tip.x,
            tip_y_mm: tip.y,
            tip_z_mm: tip.z,
            push_force_mN: wire.push_force(),
            torque_mN_mm: wire.torque(),
            tip_force_mN: contact.tip_force,
            wall_force_total_mN: contact.total_force,
            wall_force_max_mN: contact.largest_force,
            bending_energy_mN_mm: wire.elastic().bend,
            twist_base_deg: wire.hand_rad().to_degrees(),
            twist_tip_deg: wire.tip_rad().to_degrees(),
        });
        self.shapes.push(wire.lies());
    }
}
