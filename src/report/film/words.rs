//! What a film says below its frames: what the hands did, and where the tip lies.

use nalgebra::Vector3;

use super::moments::{MovementKind, MovementRun, Occasion};
use super::stage::Stage;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};
use crate::trial::result::{HandRow, Outcome};

/// Distance in mm on either side within which a tip is said to be at the ostium.
const AT_OSTIUM_MM: f64 = 1.5;

/// Title of a frame; `repeated` are the kinds of movement that were made more than once since the
/// frame before, as [`repeated`] has them.
#[must_use]
pub fn title(what: Occasion, outcome: Outcome, repeated: &[MovementKind]) -> String {
    if let (Occasion::Done(done), [first, second]) = (what, repeated)
        && repeated.contains(&done)
        && let Some(both) = by_turns(*first, *second)
    {
        return both.to_owned();
    }
    let text = match what {
        Occasion::Start => "On the way in",
        Occasion::AtOstium => "At the ostium",
        Occasion::Nearest => "Nearest to the ostium",
        Occasion::BeforeWithdrawal => "Before the wire is drawn back",
        Occasion::Done(MovementKind::Feed) => "Wire fed",
        Occasion::Done(MovementKind::Withdraw) => "Drawn back",
        Occasion::Done(MovementKind::Turn) => "Wire turned",
        Occasion::Done(MovementKind::FeedCatheter) => "Catheter forward",
        Occasion::Done(MovementKind::TurnCatheter) => "Catheter turned",
        Occasion::Done(MovementKind::Steer) => "Catheter's tip steered",
        Occasion::Done(MovementKind::AimGuide) => "Guide pointed anew",
        Occasion::Done(MovementKind::ChangeWire) => "Another wire",
        Occasion::Done(MovementKind::Inflate) => "Balloon inflated",
        Occasion::Done(MovementKind::Deflate) => "Balloon deflated",
        Occasion::Done(MovementKind::Wait) => "Waited",
        Occasion::Deepest => "Deepest",
        Occasion::Between => "On the way",
        Occasion::End => return format!("End: {}", outcome.label()),
    };
    text.to_owned()
}

/// What two kinds of movement are called that take turns, in whatever order.
fn by_turns(first: MovementKind, second: MovementKind) -> Option<&'static str> {
    use MovementKind::{Feed, FeedCatheter, Turn, TurnCatheter, Withdraw};
    match (first, second) {
        (Feed, FeedCatheter) | (FeedCatheter, Feed) => Some("Wire and catheter by turns"),
        (Feed, Turn) | (Turn, Feed) => Some("Fed and turned by turns"),
        (Feed, Withdraw) | (Withdraw, Feed) => Some("Fed and drawn back by turns"),
        (Withdraw, Turn) | (Turn, Withdraw) => Some("Drawn back and turned by turns"),
        (FeedCatheter, TurnCatheter) | (TurnCatheter, FeedCatheter) => {
            Some("Catheter fed and turned by turns")
        }
        (Feed, TurnCatheter) | (TurnCatheter, Feed) => Some("Wire fed, catheter turned by turns"),
        _ => None,
    }
}

/// The kinds of movement that the hands made more than once between two recorded steps, in the order in
/// which they come again; `runs` are those of the whole trial.
#[must_use]
pub fn repeated(runs: &[MovementRun], (from, to): (usize, usize)) -> Vec<MovementKind> {
    let (mut once, mut repeated) = (Vec::new(), Vec::new());
    for run in runs.iter().filter(|run| run.from < to && run.to > from) {
        if !once.contains(&run.kind) {
            once.push(run.kind);
        } else if !repeated.contains(&run.kind) {
            repeated.push(run.kind);
        }
    }
    repeated
}

/// What the hands did between two recorded steps, each kind of movement once with its sum, in the
/// order in which the kinds first occur; `runs` are those of the whole trial, `other_wire` the name
/// of the wire that a change brings.
#[must_use]
pub fn done(
    hands: &[HandRow],
    runs: &[MovementRun],
    (from, to): (usize, usize),
    other_wire: &str,
) -> String {
    let (a, b) = (&hands[from], &hands[to]);
    let mut kinds: Vec<MovementKind> = Vec::new();
    for run in runs.iter().filter(|run| run.from < to && run.to > from) {
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
        let by_catheter = kinds.contains(&MovementKind::FeedCatheter);
        Some(match kind {
            // Said with the catheter.
            MovementKind::Feed if by_catheter => return None,
            MovementKind::Feed if fed < 0.5 => return None,
            MovementKind::Feed => format!("fed {fed:.0} mm"),
            MovementKind::FeedCatheter => both(sum(|h| h.catheter_fed_mm), fed, "fed"),
            MovementKind::Withdraw => both(
                sum(|h| h.catheter_withdrawn_mm),
                sum(|h| h.withdrawn_mm),
                "withdrawn",
            ),
            MovementKind::Turn => format!("turned {:.0} degrees", sum(|h| h.turned_deg)),
            MovementKind::TurnCatheter => {
                format!(
                    "catheter turned {:.0} degrees",
                    sum(|h| h.catheter_turned_deg)
                )
            }
            MovementKind::Steer => format!("its tip bent by {:.0} degrees", sum(|h| h.steered_deg)),
            MovementKind::AimGuide => "guide pointed anew".to_owned(),
            MovementKind::ChangeWire => format!("changed to {other_wire}"),
            MovementKind::Inflate => format!("balloon inflated to {:.1} mm", b.balloon_mm),
            MovementKind::Deflate if b.balloon_mm > 0.0 => {
                format!("balloon deflated to {:.1} mm", b.balloon_mm)
            }
            MovementKind::Deflate => "balloon deflated".to_owned(),
            MovementKind::Wait => format!("waited {:.1} s", sum(|h| h.waited_s)),
        })
    });
    let parts: Vec<String> = parts.collect();
    let text = parts.join(", ");
    let attempts = b.attempt.saturating_sub(a.attempt);
    if repeated(runs, (from, to)).is_empty() {
        return capital(&text);
    }
    let goes_back =
        kinds.contains(&MovementKind::Withdraw) || kinds.contains(&MovementKind::Deflate);
    let how = if goes_back { "to and fro" } else { "by turns" };
    match attempts {
        0 => format!("Since the frame before, {how}, together {text}"),
        more => format!(
            "Since the frame before, {more} more {}, {how}, together {text}",
            plural(more)
        ),
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

    #[test]
    fn movements_that_take_turns_are_said_together_and_not_as_to_and_fro() {
        let feeds = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 5.0),
            (14.0, 5.0),
            (14.0, 10.0),
        ];
        let hands = feeds.map(|(fed, catheter)| HandRow {
            catheter_fed_mm: catheter,
            ..row(fed, 0.0, 0.0, 1)
        });
        let runs = runs(&hands);
        assert_eq!(
            done(&hands, &runs, (0, 4), ""),
            "Since the frame before, by turns, together wire fed 14 mm, catheter 10 mm"
        );
        let titled = |from| {
            let what = Occasion::Done(MovementKind::FeedCatheter);
            title(what, Outcome::Reached, &repeated(&runs, (from, 4)))
        };
        assert_eq!(titled(0), "Wire and catheter by turns");
        assert_eq!(titled(2), "Catheter forward");
    }
}
