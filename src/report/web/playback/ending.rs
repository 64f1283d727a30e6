//! What a trial's end is said to come from: its own reason, and how the tip lay when it was last at the
//! target's mouth.

use nalgebra::Vector3;

use crate::report::outline::{OutlinePoint, SceneOutline};
use crate::report::reading::tip;
use crate::report::setting::Setting;
use crate::report::web::forks::missed;
use crate::trial::result::{Outcome, TrialRecord};

/// Length in mm behind the tip against which its bend is judged.
const BEND_MM: f64 = 6.0;
/// Turn in degrees between tip and shaft below which the wire counts as straight there.
const STRAIGHT_DEG: f64 = 8.0;
/// Angle in degrees up to which a bend points to the mouth, and from which it points away.
const TO_AND_AWAY_DEG: [f64; 2] = [60.0, 120.0];
/// Distance in mm from the mouth's edge within which the tip was at it.
const AT_MOUTH_MM: f64 = 6.0;
/// Distance in mm along the target beyond its ostium from which the tip is inside.
const INSIDE_MM: f64 = 0.5;

/// The sentences at the end of a trial.
#[must_use]
pub fn ending(setting: &Setting, record: &TrialRecord) -> String {
    let row = &record.row;
    let mut text = match row.outcome {
        Outcome::Reached => "Reached the target.".to_owned(),
        outcome if row.why.is_empty() => format!("Ended: {}.", outcome.label()),
        outcome => format!(
            "Ended: {}. Why: {}.",
            outcome.label(),
            row.why.trim_end_matches('.')
        ),
    };
    if let Some(lay) = at_mouth(setting, record) {
        text.push(' ');
        text.push_str(&lay);
    }
    text
}

/// How the tip lay at the recorded step at which it was last at the mouth of the branch that it should have
/// taken, outside that: at the end where it is there, else where it came nearest.
fn at_mouth(setting: &Setting, record: &TrialRecord) -> Option<String> {
    let (outline, ways) = (&setting.outline, &setting.page.branches);
    let branch = missed(ways, &outline.target, &record.row.tip_branch)?;
    let way = ways.get(branch)?;
    let (parent, station_mm) = way.parent?;
    let factor = record.row.diameter_factor;
    let steps = record.trace.len().min(record.shapes.len());
    let mouths: Option<Vec<Mouth>> = (0..steps)
        .map(|step| {
            Mouth::new(
                &lying(outline, record, branch, step)?,
                way.ostium_mm,
                factor,
            )
        })
        .collect();
    let mouths = mouths?;
    let gap = |step: usize| mouths[step].gap(&tip(&record.trace[step]));
    let is_near = |step: &usize| {
        let p = tip(&record.trace[*step]);
        (p - mouths[*step].middle).dot(&mouths[*step].out) < INSIDE_MM && gap(*step) < AT_MOUTH_MM
    };
    let last = (0..steps).rev().find(is_near)?;
    let stay = (0..=last).rev().take_while(is_near);
    let step = stay.min_by(|a, b| gap(*a).total_cmp(&gap(*b)))?;
    let at = tip(&record.trace[step]);
    let when = if step + 1 == steps {
        format!("At the end, at the mouth of {},", way.name)
    } else {
        format!(
            "When the tip was last at the mouth of {} ({:.1} s),",
            way.name, record.trace[step].time_s
        )
    };
    let axis = lying(outline, record, parent, step)?;
    let along = direction(&axis, station_mm)?;
    let out = mouths[step].out;
    let side = (out - along * along.dot(&out)).try_normalize(0.05)?;
    let points = bend(&record.shapes[step].nodes_mm).map_or_else(
        || "the tip was straight".to_owned(),
        |bend| pointing(&bend, &side, &along),
    );
    let wall = on_wall(&axis, factor, &at, &side);
    Some(format!(
        "{when} {points}; it lay {wall}, {:.1} mm from the edge of the mouth.",
        gap(step)
    ))
}

/// Direction of an axis at a station in mm; at its end beyond that.
fn direction(axis: &[OutlinePoint], station_mm: f64) -> Option<Vector3<f64>> {
    let mut along = 0.0;
    let mut found = None;
    for pair in axis.windows(2) {
        let way = pair[1].position_mm - pair[0].position_mm;
        found = way.try_normalize(0.0).or(found);
        along += way.norm();
        if along >= station_mm {
            break;
        }
    }
    found
}

/// A branch as it lies at a recorded step.
fn lying(
    outline: &SceneOutline,
    record: &TrialRecord,
    branch: usize,
    step: usize,
) -> Option<Vec<OutlinePoint>> {
    let mut points = outline.branches.get(branch)?.points.clone();
    let axes = record.axes.get(step);
    let moved = axes.and_then(|axes| axes.branches_mm.get(branch));
    for (point, now) in points.iter_mut().zip(moved.into_iter().flatten()) {
        point.position_mm = *now;
    }
    Some(points)
}

/// Where the target opens.
struct Mouth {
    /// Its middle in mm.
    middle: Vector3<f64>,
    /// Direction into the target.
    out: Vector3<f64>,
    /// Radius of the target there in mm.
    radius_mm: f64,
}

impl Mouth {
    fn new(target: &[OutlinePoint], ostium_mm: f64, factor: f64) -> Option<Self> {
        let mut along = 0.0;
        let mut found = None;
        for pair in target.windows(2) {
            let way = pair[1].position_mm - pair[0].position_mm;
            let length = way.norm();
            if length > 0.0 {
                let share = ((ostium_mm - along) / length).clamp(0.0, 1.0);
                let radius = pair[0].radius_mm + share * (pair[1].radius_mm - pair[0].radius_mm);
                found = Some(Self {
                    middle: pair[0].position_mm + way * share,
                    out: way / length,
                    radius_mm: radius * factor,
                });
                along += length;
                if along >= ostium_mm {
                    break;
                }
            }
        }
        found
    }

    /// Distance of a point from the disc of the mouth in mm.
    fn gap(&self, p: &Vector3<f64>) -> f64 {
        let away = p - self.middle;
        let along = away.dot(&self.out);
        let across = (away - self.out * along).norm();
        (across - self.radius_mm).max(0.0).hypot(along)
    }
}

/// Direction to which the tip's bend points, square to the shaft behind it; `None` for a straight tip.
/// `nodes` run from the guide to the tip.
fn bend(nodes: &[Vector3<f64>]) -> Option<Vector3<f64>> {
    let mut behind = 0.0;
    let mut pairs = nodes.windows(2).rev();
    let first = pairs.next()?;
    let forward = (first[1] - first[0]).try_normalize(0.0)?;
    for pair in pairs {
        let way = pair[1] - pair[0];
        behind += way.norm();
        if behind >= BEND_MM {
            let shaft = way.try_normalize(0.0)?;
            let turn = forward.angle(&shaft).to_degrees();
            let across = forward - shaft * forward.dot(&shaft);
            return (turn >= STRAIGHT_DEG)
                .then(|| across.try_normalize(1e-9))
                .flatten();
        }
    }
    None
}

/// Where a bend points, seen along the parent: to the mouth, aside, or away from it.
fn pointing(bend: &Vector3<f64>, side: &Vector3<f64>, along: &Vector3<f64>) -> String {
    let across = *bend - along * along.dot(bend);
    let Some(across) = across.try_normalize(0.2) else {
        return "the bend pointed along the parent".to_owned();
    };
    let off = across.angle(side).to_degrees();
    let [to, away] = TO_AND_AWAY_DEG;
    if off <= to {
        format!("the bend pointed to the mouth ({off:.0} degrees off)")
    } else if off < away {
        format!("the bend pointed aside ({off:.0} degrees off the mouth)")
    } else {
        format!("the bend pointed away from the mouth ({off:.0} degrees off)")
    }
}

/// On which wall of the parent a point lies, or that it lies in the middle.
fn on_wall(
    parent: &[OutlinePoint],
    factor: f64,
    p: &Vector3<f64>,
    side: &Vector3<f64>,
) -> &'static str {
    let nearest = parent.iter().min_by(|a, b| {
        let away = |q: &Vector3<f64>| (q - p).norm();
        away(&a.position_mm).total_cmp(&away(&b.position_mm))
    });
    let Some(nearest) = nearest else {
        return "in the parent";
    };
    let away = p - nearest.position_mm;
    let toward = away.dot(side);
    let share = away.norm() / (nearest.radius_mm * factor);
    if share < 0.5 {
        "in the middle of the parent"
    } else if toward > 0.5 * away.norm() {
        "on the wall of the mouth's side"
    } else if toward < -0.5 * away.norm() {
        "on the wall across from the mouth"
    } else {
        "on the wall beside the mouth"
    }
}
