//! What the page is told of one moment: where the devices lie, what the hands feel, what is seen.

use nalgebra::Vector3;
use serde::Serialize;

use crate::hands::View;
use crate::solve::Assembly;
use crate::trial::result::{Outcome, WireShape};
use crate::trial::{DrawnTrial, Largest, SteppedTrial};

/// Where something lies, in mm to a thousandth: more than any screen shows.
type Point = [f64; 3];

/// A moment of a session.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Moment {
    /// Movements that led to it.
    pub at: usize,
    /// What the hands feel.
    pub felt: Felt,
    devices: Vec<Lying>,
    /// Axes of the branches, where the vessel moves.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    axes: Vec<Vec<Point>>,
    seen: Option<Seen>,
    catheter: Option<CatheterState>,
    /// Diameter of the balloon in mm, where there is one.
    balloon_mm: Option<f64>,
    /// How the trial would end if the hands stopped here, or has ended.
    outcome: Option<Outcome>,
    why: String,
    over: bool,
    reached: bool,
    /// How much deeper the tip has to come in the target, and what is to be fed from there on, in mm.
    to_go_mm: Option<[f64; 2]>,
    /// Time in ms that the last movement took to compute.
    pub took_ms: f64,
}

/// What the hands feel, and how much is out: one entry of the curves.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub(super) struct Felt {
    /// Wire outside the guide in mm.
    fed_mm: f64,
    /// Time in s at the hands' speeds.
    time_s: f64,
    push_mn: f64,
    torque_mn_mm: f64,
    /// Largest force on a millimetre of wall.
    wall_mn: f64,
    tip_mn: f64,
    catheter_push_mn: f64,
    catheter_torque_mn_mm: f64,
    /// Turn of the wire's hand since this wire was put in, positive to the right.
    hand_deg: f64,
    /// The largest of all steps of the movement.
    largest: LargestShown,
}

/// Forces of the largest size within a movement, with their sign, in mN and mN mm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
struct LargestShown {
    push_mn: f64,
    torque_mn_mm: f64,
    wall_mn: f64,
    catheter_push_mn: f64,
}

/// A wire, or the part of one that a catheter covers.
#[derive(Debug, Clone, Serialize)]
struct Lying {
    nodes: Vec<Point>,
    /// The same on the image, as breath and beat move it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    on_image: Vec<Point>,
    diameters: Vec<f64>,
    wall_mn: Vec<f64>,
}

/// What an operator sees of the tip.
#[derive(Debug, Clone, Serialize)]
struct Seen {
    before_branching_mm: f64,
    next_branch: String,
    towards: Option<f64>,
    astray: bool,
    stopped: bool,
    looped: bool,
    all_fed: bool,
    rest_in_s: Option<f64>,
}

#[derive(Debug, Clone, Serialize)]
struct CatheterState {
    outside_mm: f64,
    angle_deg: f64,
    hand_deg: f64,
    tip: Point,
}

pub(super) fn point(p: &Vector3<f64>) -> Point {
    [p.x, p.y, p.z].map(|c| rounded(c, 1000.0))
}

fn rounded(value: f64, per_unit: f64) -> f64 {
    (value * per_unit).round() / per_unit
}

impl Felt {
    /// What the hands feel now, with the largest of all steps since this was taken last.
    pub(super) fn take(trial: &mut SteppedTrial<'_>) -> Self {
        let steps = trial.take_largest();
        let Some(devices) = trial.devices() else {
            return Self::default();
        };
        let contact = devices.contact();
        let catheter = devices.catheter();
        let (push, torque) = catheter.map_or((0.0, 0.0), |c| (c.push_force, c.torque));
        let largest = steps.with(Largest {
            wall_mn: contact.largest_force,
            push_mn: devices.push_force(),
            torque_mn_mm: devices.torque(),
            catheter_push_mn: push,
        });
        Self {
            fed_mm: rounded(devices.outside_mm(), 1e6),
            time_s: rounded(trial.time_s(), 1e3),
            push_mn: rounded(devices.push_force(), 1e4),
            torque_mn_mm: rounded(devices.torque(), 1e4),
            wall_mn: rounded(contact.largest_force, 1e4),
            tip_mn: rounded(contact.tip_force, 1e4),
            catheter_push_mn: rounded(push, 1e4),
            catheter_torque_mn_mm: rounded(torque, 1e4),
            hand_deg: rounded(devices.hand_rad().to_degrees(), 10.0),
            largest: LargestShown {
                push_mn: rounded(largest.push_mn, 1e4),
                torque_mn_mm: rounded(largest.torque_mn_mm, 1e4),
                wall_mn: rounded(largest.wall_mn, 1e4),
                catheter_push_mn: rounded(largest.catheter_push_mn, 1e4),
            },
        }
    }
}

impl Moment {
    /// The moment after `at` movements, the last of which took `took_ms` to compute; `felt` is what the hands
    /// felt, `view` what was seen then.
    pub(super) fn of(
        (drawn, trial): (&DrawnTrial<'_>, &SteppedTrial<'_>),
        (at, felt): (usize, Felt),
        view: Option<&View>,
        took_ms: f64,
    ) -> Self {
        let (outcome, why) = trial
            .outcome(1)
            .map_or((None, String::new()), |(outcome, why)| (Some(outcome), why));
        let devices = trial.devices();
        let time_s = devices.map_or(0.0, Assembly::time_s);
        let lying = |shape: &WireShape| {
            let on_image = shape.nodes_mm.iter().map(|p| drawn.seen_at(p, time_s));
            let on_image: Vec<Point> = on_image.map(|p| point(&p)).collect();
            let nodes: Vec<Point> = shape.nodes_mm.iter().map(point).collect();
            Lying {
                on_image: if on_image == nodes {
                    Vec::new()
                } else {
                    on_image
                },
                nodes,
                diameters: shape.diameter_mm.iter().map(|d| rounded(*d, 1e3)).collect(),
                wall_mn: shape
                    .wall_force_mn
                    .iter()
                    .map(|f| rounded(*f, 1e3))
                    .collect(),
            }
        };
        let shape = devices.map(Assembly::wire_shape);
        let beside = shape.as_ref().and_then(|shape| shape.beside.as_deref());
        let names = drawn.tree().branches();
        Self {
            at,
            felt,
            devices: shape.iter().chain(beside).map(lying).collect(),
            axes: drawn.moved().map_or_else(Vec::new, |moved| {
                let axes = moved.drawn_axes();
                axes.iter()
                    .map(|axis| axis.iter().map(point).collect())
                    .collect()
            }),
            seen: view.map(|view| Seen {
                before_branching_mm: rounded(view.before_branching_mm, 10.0),
                next_branch: names[view.next_branch].name.clone(),
                towards: view.towards.map(|towards| rounded(towards, 100.0)),
                astray: view.astray,
                stopped: view.stopped,
                looped: view.looped,
                all_fed: view.all_fed,
                rest_in_s: view.rest_in_s,
            }),
            catheter: devices.and_then(Assembly::catheter).map(|c| CatheterState {
                outside_mm: rounded(c.outside_mm, 10.0),
                angle_deg: rounded(c.angle_rad.to_degrees(), 10.0),
                hand_deg: rounded(c.hand_rad.to_degrees(), 10.0),
                tip: point(&c.tip),
            }),
            balloon_mm: trial.balloon_mm().map(|mm| rounded(mm, 1e3)),
            outcome,
            why,
            over: trial.is_over(),
            reached: trial.has_reached(),
            to_go_mm: trial
                .to_go()
                .map(|to_go| [to_go.deeper_mm, to_go.hold_mm].map(|mm| rounded(mm, 10.0))),
            took_ms: rounded(took_ms, 1e3),
        }
    }
}
