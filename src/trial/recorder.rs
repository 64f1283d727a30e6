//! Keeps what a trial leaves behind: peaks of every step, rows and shapes now and then and at the
//! peaks, and where the wall was pressed.

use std::collections::BTreeMap;

use super::peaks;
use super::places::{Places, WallPlace};
use super::result::{HandRow, MovedAxes, Pressed, TraceRow, TrialRecord, TrialRow, WireShape};
use crate::solve::{Assembly, Hands};
use crate::vessel::{MovedTree, TubePoint};

/// A recorded step.
struct RecordedStep {
    hands: HandRow,
    trace: TraceRow,
    shape: WireShape,
    axes: Option<MovedAxes>,
    /// It stays, whatever comes later.
    stays: bool,
}

/// Forces of the steps of a movement: those of the largest size, with their sign.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Largest {
    /// Force on a millimetre of wall, in mN.
    pub wall_mn: f64,
    /// Push on the wire, in mN; negative where the hand holds it back.
    pub push_mn: f64,
    /// Torque on the wire, in mN mm.
    pub torque_mn_mm: f64,
    /// Push on the catheter, in mN.
    pub catheter_push_mn: f64,
}

impl Largest {
    /// With one more step.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        let larger = |a: f64, b: f64| if b.abs() > a.abs() { b } else { a };
        Self {
            wall_mn: self.wall_mn.max(other.wall_mn),
            push_mn: larger(self.push_mn, other.push_mn),
            torque_mn_mm: larger(self.torque_mn_mm, other.torque_mn_mm),
            catheter_push_mn: larger(self.catheter_push_mn, other.catheter_push_mn),
        }
    }
}

pub(super) struct Recorder<'a> {
    places: Places<'a>,
    /// The vessel, where it gives way or moves.
    vessel: Option<&'a MovedTree>,
    every_mm: Option<f64>,
    travelled: f64,
    next: f64,
    /// Steps so far.
    step: u32,
    peaks: [f64; peaks::COUNT],
    /// Step of each peak; none for one that is still 0.
    peak_steps: [Option<u32>; peaks::COUNT],
    /// Recorded steps by number.
    kept: BTreeMap<u32, RecordedStep>,
    /// Largest wall force by branch and stretch.
    pressed: BTreeMap<(usize, u32), f64>,
    near: Vec<(usize, TubePoint)>,
    largest: Largest,
    pub travel: f64,
    /// Time in s that passed with wires that were taken out.
    pub earlier_s: f64,
    /// What the hands have done so far.
    pub hands: HandRow,
}

impl<'a> Recorder<'a> {
    /// A recorder that keeps a step every so many mm of travel and at each peak, or only the peaks.
    pub(super) fn new(
        places: Places<'a>,
        vessel: Option<&'a MovedTree>,
        every_mm: Option<f64>,
    ) -> Self {
        Self {
            places,
            vessel,
            every_mm,
            travelled: 0.0,
            next: 0.0,
            step: 0,
            peaks: [0.0; peaks::COUNT],
            peak_steps: [None; peaks::COUNT],
            kept: BTreeMap::new(),
            pressed: BTreeMap::new(),
            near: Vec::new(),
            largest: Largest::default(),
            travel: 0.0,
            earlier_s: 0.0,
            hands: HandRow::default(),
        }
    }

    /// Adds a movement to what the hands have done.
    pub(super) fn moved(&mut self, by: &Hands) {
        let hands = &mut self.hands;
        hands.fed_sum_mm += by.feed_wire.max(0.0);
        hands.withdrawn_mm += (-by.feed_wire).max(0.0);
        hands.turned_deg += by.turn_wire.abs().to_degrees();
        hands.catheter_fed_mm += by.feed_catheter.max(0.0);
        hands.catheter_withdrawn_mm += (-by.feed_catheter).max(0.0);
        hands.catheter_turned_deg += by.turn_catheter.abs().to_degrees();
        hands.steered_deg += by.steer.abs().to_degrees();
        hands.waited_s += by.wait_s;
    }

    /// Takes note of a step that moved the hand by `moved_mm` (fed, withdrawn, or the way of a
    /// turning hand); `turning`: the catheter was turned.
    pub(super) fn note(&mut self, wire: &Assembly<'_>, moved_mm: f64, turning: bool) {
        self.travelled += moved_mm;
        let due = self.every_mm.is_some() && self.travelled >= self.next - 1e-9;
        if let Some(every) = self.every_mm.filter(|_| due) {
            self.next = self.travelled + every;
        }
        self.take(wire, turning, due);
    }

    /// Takes note of the end, and keeps it unless the step before it was kept at the same place.
    pub(super) fn end(&mut self, wire: &Assembly<'_>) {
        let last = self.kept.last_entry();
        let written = last.is_some_and(|mut last| {
            let same = last.get().hands == self.hands;
            last.get_mut().stays |= same;
            same
        });
        self.take(wire, false, self.every_mm.is_some() && !written);
    }

    /// The record of the trial whose other numbers stand in `row`.
    pub(super) fn record(self, mut row: TrialRow) -> TrialRecord {
        row.travel_mm = self.travel;
        // Devices that never stood in the vessel have pressed on nothing: their peaks are missing, not 0.
        let missing = [f64::NAN; peaks::COUNT];
        let peaks = if self.step == 0 {
            &missing
        } else {
            &self.peaks
        };
        peaks::into_row(peaks, &mut row);
        let mut record = TrialRecord {
            row,
            ..TrialRecord::default()
        };
        for kept in self.kept.into_values() {
            record.hands.push(kept.hands);
            record.trace.push(kept.trace);
            record.shapes.push(kept.shape);
            record.axes.extend(kept.axes);
        }
        let pressed = self.pressed.into_iter();
        record.pressed = pressed
            .map(|((branch, stretch), force_mn)| Pressed {
                branch,
                stretch,
                force_mn,
            })
            .collect();
        record
    }

    /// Takes the state of `wire` into peaks and map; keeps it if `wanted`, or as long as a peak
    /// lies there.
    fn take(&mut self, wire: &Assembly<'_>, turning: bool, wanted: bool) {
        let trace = self.read(wire);
        self.largest = self.largest.with(Largest {
            wall_mn: trace
                .wall_force_leaving_guide_mN
                .max(trace.wall_force_on_the_way_mN)
                .max(trace.wall_force_at_mouth_mN)
                .max(trace.wall_force_beyond_mN),
            push_mn: trace.push_force_mN,
            torque_mn_mm: trace.torque_mN_mm,
            catheter_push_mn: trace.catheter_push_force_mN,
        });
        let mut is_peak = false;
        for (k, value) in peaks::of_step(&trace, turning).into_iter().enumerate() {
            if value > self.peaks[k] {
                self.peaks[k] = value;
                is_peak = true;
                if let Some(before) = self.peak_steps[k].replace(self.step) {
                    self.drop_unless_needed(before);
                }
            }
        }
        if self.every_mm.is_some() && (wanted || is_peak) {
            let kept = RecordedStep {
                hands: self.hands,
                trace,
                shape: wire.wire_shape(),
                axes: self.vessel.map(|vessel| MovedAxes {
                    branches_mm: vessel.drawn_axes(),
                }),
                stays: wanted,
            };
            self.kept.insert(self.step, kept);
        }
        self.step += 1;
    }

    /// Forces of the steps since they were taken last.
    pub(super) fn take_largest(&mut self) -> Largest {
        std::mem::take(&mut self.largest)
    }

    /// Forgets a step that was kept for a peak which has moved on, unless another lies there.
    fn drop_unless_needed(&mut self, step: u32) {
        let needed = self.peak_steps.contains(&Some(step));
        if !needed && self.kept.get(&step).is_some_and(|kept| !kept.stays) {
            self.kept.remove(&step);
        }
    }

    /// The numbers of the present state; what presses on the wall goes into the map.
    fn read(&mut self, wire: &Assembly<'_>) -> TraceRow {
        let contact = wire.contact();
        let (strain_ratio, axial_strain) = wire.strains();
        let tip = wire.tip();
        let mut trace = TraceRow {
            outside_mm: wire.outside_mm(),
            time_s: self.earlier_s + wire.time_s(),
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
            wall_deflection_max_mm: contact.deepest,
            strain_ratio,
            axial_strain,
            friction_ratio: wire.friction_ratio(),
            ..TraceRow::default()
        };
        if let Some(catheter) = wire.catheter() {
            trace.catheter_wall_force_max_mN = catheter.wall_force;
            trace.catheter_push_force_mN = catheter.push_force;
            trace.catheter_torque_mN_mm = catheter.torque;
        }
        if let Some(vessel) = wire.vessel() {
            trace.vessel_moved_mm = vessel.moved_mm.0;
            trace.vessel_straightened_deg = vessel.straightened_rad.0.to_degrees();
            trace.vessel_compression = vessel.compression.0;
        }
        self.press(wire, &mut trace);
        trace
    }

    /// Reads the wall forces by place into `trace` and by stretch into the map. What presses on the
    /// guide's own wall is not on the map of the vessel.
    fn press(&mut self, wire: &Assembly<'_>, trace: &mut TraceRow) {
        let guide = wire.guide();
        let guide_end = self.places.locate(&guide.exit, &mut self.near);
        for patch in wire.patches() {
            let place = if self.places.in_guide(&patch.centre, &guide) {
                WallPlace::LeavingGuide
            } else {
                let at = self.places.locate(&patch.centre, &mut self.near);
                let largest = self.pressed.entry((at.0, stretch(at.1))).or_default();
                *largest = largest.max(patch.force);
                self.places.of(at, guide_end)
            };
            let largest = match place {
                WallPlace::LeavingGuide => &mut trace.wall_force_leaving_guide_mN,
                WallPlace::OnTheWay => &mut trace.wall_force_on_the_way_mN,
                WallPlace::AtMouth => &mut trace.wall_force_at_mouth_mN,
                WallPlace::Beyond => &mut trace.wall_force_beyond_mN,
            };
            *largest = largest.max(patch.force);
        }
    }
}

/// Number of the stretch at a station in mm.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a station of a vessel in whole mm"
)]
fn stretch(station_mm: f64) -> u32 {
    (station_mm / Pressed::STRETCH_MM).max(0.0) as u32
}
