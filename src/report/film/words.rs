//! What a film says below its frames: what the hands did, and where the tip lies.

use nalgebra::Vector3;

use super::moments::{Kind, Run, What};
use super::stage::Stage;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};
use crate::trial::result::{HandRow, Outcome};

/// Distance in mm on either side within which a tip is said to be at the ostium.
const AT_OSTIUM_MM: f64 = 1.5;

/// Title of a frame.
#[must_use]
pub fn title(what: What, outcome: Outcome) -> String {
    let text = match what {
        What::Start => "On the way in",
        What::AtOstium => "At the ostium",
        What::Nearest => "Nearest to the ostium",
        What::BeforeWithdrawal => "Before the wire is drawn back",
        What::Done(Kind::Feed) => "Wire fed",
        What::Done(Kind::Withdraw) => "Drawn back",
        What::Done(Kind::Turn) => "Wire turned",
        What::Done(Kind::FeedCatheter) => "Catheter forward",
        What::Done(Kind::TurnCatheter) => "Catheter turned",
        What::Done(Kind::Steer) => "Catheter's tip steered",
        What::Done(Kind::AimGuide) => "Guide pointed anew",
        What::Done(Kind::ChangeWire) => "Another wire",
        What::Done(Kind::Inflate) => "Balloon inflated",
        What::Done(Kind::Deflate) => "Balloon deflated",
        What::Done(Kind::Wait) => "Waited",
        What::Deepest => "Deepest",
        What::Between => "On the way",
        What::End => return format!("End: {}", outcome.label()),
    };
    text.to_owned()
}

/// What the hands did between two recorded steps, each kind of movement once with its sum, in the
/// order in which the kinds first occur; `runs` are those of the whole trial, `other_wire` the name
/// of the wire that a change brings.
#[must_use]
pub fn done(
    hands: &[HandRow],
    runs: &[Run],
    (from, to): (usize, usize),
    other_wire: &str,
) -> String {
    let (a, b) = (&hands[from], &hands[to]);
    let mut kinds: Vec<Kind> = Vec::new();
    let mut again = false;
    for run in runs.iter().filter(|run| run.from < to && run.to > from) {
        again |= kinds.contains(&run.kind);
        if !kinds.contains(&run.kind) {
            kinds.push(run.kind);
        }
    }
    let sum = |value: fn(&HandRow) -> f64| value(b) - value(a);
    let fed = sum(|h| h.fed_sum_mm);
    let parts = kinds.iter().filter_map(|kind| {
        let both = |catheter: f64, wire: f64, verb: &str| {
            if catheter > 0.4 && (catheter - wire).abs() < 0.6 {
                format!("wire and catheter {verb} {catheter:.0} mm")
            } else if catheter > 0.4 && wire > 0.4 {
                format!("wire {verb} {wire:.0} mm, catheter {catheter:.0} mm")
            } else if catheter > 0.4 {
                format!("catheter {verb} {catheter:.0} mm")
            } else {
                format!("{verb} {wire:.0} mm")
            }
        };
        let by_catheter = kinds.contains(&Kind::FeedCatheter);
        Some(match kind {
            // Said with the catheter.
            Kind::Feed if by_catheter => return None,
            Kind::Feed if fed < 0.5 => return None,
            Kind::Feed => format!("fed {fed:.0} mm"),
            Kind::FeedCatheter => both(sum(|h| h.catheter_fed_mm), fed, "fed"),
            Kind::Withdraw => both(
                sum(|h| h.catheter_withdrawn_mm),
                sum(|h| h.withdrawn_mm),
                "withdrawn",
            ),
            Kind::Turn => format!("turned {:.0} degrees", sum(|h| h.turned_deg)),
            Kind::TurnCatheter => {
                format!(
                    "catheter turned {:.0} degrees",
                    sum(|h| h.catheter_turned_deg)
                )
            }
            Kind::Steer => format!("its tip bent by {:.0} degrees", sum(|h| h.steered_deg)),
            Kind::AimGuide => "guide pointed anew".to_owned(),
            Kind::ChangeWire => format!("changed to {other_wire}"),
            Kind::Inflate => format!("balloon inflated to {:.1} mm", b.balloon_mm),
            Kind::Deflate if b.balloon_mm > 0.0 => {
                format!("balloon deflated to {:.1} mm", b.balloon_mm)
            }
            Kind::Deflate => "balloon deflated".to_owned(),
            Kind::Wait => format!("waited {:.1} s", sum(|h| h.waited_s)),
        })
    });
    let parts: Vec<String> = parts.collect();
    let text = parts.join(", ");
    let attempts = b.attempt.saturating_sub(a.attempt);
    match (again, attempts) {
        (true, 1..) => format!(
            "Since the frame before, {attempts} more {}, to and fro, together {text}",
            plural(attempts)
        ),
        (true, 0) => format!("Since the frame before, to and fro, together {text}"),
        (false, _) => capital(&text),
    }
}

fn plural(attempts: u32) -> &'static str {
    if attempts == 1 { "attempt" } else { "attempts" }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// Where the tip lies, in words.
#[must_use]
pub fn place(outline: &SceneOutline, stage: &Stage, tip: &Vector3<f64>) -> String {
    let depth = |branch: &OutlineBranch| {
        let gaps = branch
            .points
            .iter()
            .map(|p| (p.position_mm - tip).norm() - p.radius_mm);
        gaps.fold(f64::INFINITY, f64::min)
    };
    let best = outline
        .branches
        .iter()
        .min_by(|a, b| depth(a).total_cmp(&depth(b)));
    let Some(branch) = best else {
        return String::new();
    };
    let station = station(&branch.points, tip);
    let beyond = if branch.name == outline.target {
        station - stage.ostium_station_mm
    } else if stage
        .parent
        .as_ref()
        .is_some_and(|(name, _)| *name == branch.name)
    {
        let at = stage.parent.as_ref().map_or(0.0, |(_, at)| *at);
        let past = station - at;
        return if past > AT_OSTIUM_MM {
            format!("tip {past:.0} mm past the ostium")
        } else if past < -AT_OSTIUM_MM {
            format!("tip {:.0} mm before the ostium", -past)
        } else {
            "tip at the ostium".to_owned()
        };
    } else {
        return format!("tip in {}", branch.name);
    };
    if beyond > 0.5 {
        format!("tip {beyond:.0} mm inside {}", branch.name)
    } else {
        "tip at the ostium".to_owned()
    }
}

/// Distance in mm along a polyline to its point nearest to `p`.
fn station(points: &[OutlinePoint], p: &Vector3<f64>) -> f64 {
    let mut best = (f64::INFINITY, 0.0);
    let mut along = 0.0;
    for (i, point) in points.iter().enumerate() {
        if i > 0 {
            along += (point.position_mm - points[i - 1].position_mm).norm();
        }
        let away = (point.position_mm - p).norm();
        if away < best.0 {
            best = (away, along);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::super::moments::runs;
    use super::*;

    fn row(fed: f64, withdrawn: f64, turned: f64, attempt: u32) -> HandRow {
        HandRow {
            fed_sum_mm: fed,
            withdrawn_mm: withdrawn,
            turned_deg: turned,
            attempt,
            ..HandRow::default()
        }
    }

    #[test]
    fn movements_are_said_in_their_order_with_their_sums() {
        let hands = [
            row(0.0, 0.0, 0.0, 1),
            row(12.0, 0.0, 0.0, 1),
            row(12.0, 8.0, 0.0, 1),
            row(12.0, 8.0, 60.0, 2),
            row(20.0, 8.0, 60.0, 2),
        ];
        let runs = runs(&hands);
        let said = |from, to| done(&hands, &runs, (from, to), "");
        assert_eq!(said(0, 1), "Fed 12 mm");
        assert_eq!(said(1, 3), "Withdrawn 8 mm, turned 60 degrees");
        assert_eq!(
            said(0, 4),
            "Since the frame before, 1 more attempt, to and fro, together fed 20 mm, withdrawn 8 mm, \
             turned 60 degrees"
        );
    }

    #[test]
    fn a_catheter_is_said_with_the_wire() {
        let with = |fed: f64, catheter: f64| HandRow {
            catheter_fed_mm: catheter,
            ..row(fed, 0.0, 0.0, 1)
        };
        let together = [with(0.0, 0.0), with(6.0, 6.0)];
        let said = |hands: &[HandRow]| done(hands, &runs(hands), (0, hands.len() - 1), "");
        assert_eq!(said(&together), "Wire and catheter fed 6 mm");
        let in_turn = [with(0.0, 0.0), with(9.0, 0.0), with(9.0, 5.0)];
        assert_eq!(said(&in_turn), "Wire fed 9 mm, catheter 5 mm");
    }
}
