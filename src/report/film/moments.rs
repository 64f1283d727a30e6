//! Which six moments of a trial a film shows: chosen by what the hands do and where the tip is,
//! by one rule for every technique.
//!
//! The trial is cut into runs of one kind of movement. Of each kind the last run counts, which in
//! a success is that of the attempt that succeeds. Start and end are always shown; then, as long as
//! there is room: what the hands do least often (another wire, the guide pointed anew, the tip
//! steered, the catheter turned) and the moment before the wire is drawn back; the first moment at
//! the ostium, and the wire turned; the wire drawn back, and the catheter brought forward; the tip
//! at its deepest. Moments next to each other count as one. Room that is left goes to the middle of
//! the longest ways of the tip between two moments, of which the way to the ostium counts less.

use nalgebra::Vector3;

use crate::trial::result::HandRow;

/// Frames of a film.
pub const FRAMES: usize = 6;
/// Recorded steps by which two moments differ at least.
pub const APART: usize = 2;
/// Distance in mm from the ostium within which the tip counts as there.
const AT_OSTIUM_MM: f64 = 6.0;
/// Weight of the tip's way to the ostium against that behind it.
const WAY_IN: f64 = 0.3;

/// A kind of movement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MovementKind {
    /// The wire is fed.
    Feed,
    /// The wire is withdrawn, alone or with the catheter.
    Withdraw,
    /// The wire is turned.
    Turn,
    /// The catheter is fed, alone or with the wire.
    FeedCatheter,
    /// The catheter is turned.
    TurnCatheter,
    /// The catheter's tip is steered.
    Steer,
    /// The guide is pointed anew.
    AimGuide,
    /// Another wire is taken.
    ChangeWire,
    /// The balloon is inflated.
    Inflate,
    /// The balloon is deflated.
    Deflate,
    /// The hands wait, and do nothing else.
    Wait,
}

/// What makes a moment worth showing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Occasion {
    /// The first moment in the picture.
    Start,
    /// The tip is nearest to the ostium for the first time.
    AtOstium,
    /// The same where the tip never comes near the ostium.
    Nearest,
    /// The wire is about to be withdrawn.
    BeforeWithdrawal,
    /// A movement of this kind is done.
    Done(MovementKind),
    /// The tip is farthest beyond the ostium.
    Deepest,
    /// Between two others.
    Between,
    /// The end.
    End,
}

/// A recorded step that a film shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// The recorded step.
    pub step: usize,
    /// Why it is shown.
    pub what: Occasion,
}

/// A stretch of recorded steps with one kind of movement: from the step before it to its last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MovementRun {
    /// Kind of movement.
    pub kind: MovementKind,
    /// Step at which it begins.
    pub from: usize,
    /// Step at which it ends, above `from`.
    pub to: usize,
}

/// Kind of the movement between two recorded steps: of several the one that the hands make least
/// often; `None` where they rest.
fn kind(before: &HandRow, after: &HandRow) -> Option<MovementKind> {
    let more = |value: fn(&HandRow) -> f64| value(after) > value(before) + 1e-9;
    let kinds = [
        (
            after.wire_changes > before.wire_changes,
            MovementKind::ChangeWire,
        ),
        (after.guide_aims > before.guide_aims, MovementKind::AimGuide),
        (more(|h| h.balloon_mm), MovementKind::Inflate),
        (more(|h| -h.balloon_mm), MovementKind::Deflate),
        (more(|h| h.steered_deg), MovementKind::Steer),
        (more(|h| h.catheter_turned_deg), MovementKind::TurnCatheter),
        (more(|h| h.turned_deg), MovementKind::Turn),
        (more(|h| h.withdrawn_mm), MovementKind::Withdraw),
        (more(|h| h.catheter_withdrawn_mm), MovementKind::Withdraw),
        (more(|h| h.catheter_fed_mm), MovementKind::FeedCatheter),
        (more(|h| h.fed_sum_mm), MovementKind::Feed),
        (more(|h| h.waited_s), MovementKind::Wait),
    ];
    kinds.into_iter().find(|(is, _)| *is).map(|(_, kind)| kind)
}

/// The runs of a trial in order of time.
#[must_use]
pub fn runs(hands: &[HandRow]) -> Vec<MovementRun> {
    let mut runs: Vec<MovementRun> = Vec::new();
    for (from, pair) in hands.windows(2).enumerate() {
        let Some(kind) = kind(&pair[0], &pair[1]) else {
            continue;
        };
        match runs.last_mut() {
            Some(last) if last.kind == kind && last.to == from => last.to = from + 1,
            _ => runs.push(MovementRun {
                kind,
                from,
                to: from + 1,
            }),
        }
    }
    runs
}

/// The moments to show, in order of time: at most [`FRAMES`], fewer where less happens. `tips` are
/// the places of the tip in mm, as many as `hands`; `ostium` is that of the target; the film starts at
/// step `first`. Empty for a record that ends before.
#[must_use]
pub fn moments(
    hands: &[HandRow],
    tips: &[Vector3<f64>],
    ostium: &Vector3<f64>,
    first: usize,
) -> Vec<Moment> {
    let count = hands.len().min(tips.len());
    if count <= first {
        return Vec::new();
    }
    let away = distances(&tips[..count], ostium);
    let at_ostium = arrival(&away);
    let moment = |step, what| Moment { step, what };
    let nearest = if away[at_ostium] <= AT_OSTIUM_MM {
        Occasion::AtOstium
    } else {
        Occasion::Nearest
    };
    let mut wanted = vec![
        (0, moment(first, Occasion::Start)),
        (0, moment(count - 1, Occasion::End)),
        (2, moment(at_ostium, nearest)),
    ];
    let runs = runs(&hands[..count]);
    for (place, run) in runs.iter().enumerate() {
        if runs[place + 1..].iter().any(|later| later.kind == run.kind) {
            continue;
        }
        let rank = match run.kind {
            MovementKind::Feed | MovementKind::Wait => continue,
            MovementKind::Steer
            | MovementKind::TurnCatheter
            | MovementKind::AimGuide
            | MovementKind::ChangeWire
            | MovementKind::Inflate
            | MovementKind::Deflate => 1,
            MovementKind::Turn => 2,
            MovementKind::Withdraw => {
                wanted.push((1, moment(run.from, Occasion::BeforeWithdrawal)));
                3
            }
            MovementKind::FeedCatheter => 3,
        };
        wanted.push((rank, moment(run.to, Occasion::Done(run.kind))));
    }
    let beyond = (at_ostium..count).max_by(|&a, &b| away[a].total_cmp(&away[b]));
    wanted.extend(beyond.map(|step| (4, moment(step, Occasion::Deepest))));
    wanted.retain(|(_, moment)| moment.step >= first);
    wanted.sort_by_key(|(rank, moment)| (*rank, moment.step));
    let mut chosen: Vec<Moment> = Vec::new();
    for (_, moment) in wanted {
        let apart = |other: &Moment| other.step.abs_diff(moment.step) >= APART;
        if chosen.len() < FRAMES && chosen.iter().all(apart) {
            chosen.push(moment);
        }
    }
    chosen.sort_by_key(|moment| moment.step);
    while chosen.len() < FRAMES {
        let Some((place, step)) = longest_way(&chosen, tips, at_ostium) else {
            break;
        };
        chosen.insert(place + 1, moment(step, Occasion::Between));
    }
    chosen
}

/// Distances of the tip from the ostium in mm, step by step.
pub fn distances(tips: &[Vector3<f64>], ostium: &Vector3<f64>) -> Vec<f64> {
    tips.iter().map(|tip| (tip - ostium).norm()).collect()
}

/// The first step at which the tip is near the ostium and comes no nearer; the nearest of all where
/// it never is.
pub fn arrival(away: &[f64]) -> usize {
    let near = |i: &usize| {
        away[*i] <= AT_OSTIUM_MM && away.get(i + 1).is_none_or(|&next| next >= away[*i])
    };
    let nearest = || (0..away.len()).min_by(|&a, &b| away[a].total_cmp(&away[b]));
    (0..away.len()).find(near).or_else(nearest).unwrap_or(0)
}

/// Of the pairs of neighbours with steps between them, the place of the one over which the tip
/// makes the longest way, and the step in the middle of that way. The way to the ostium counts
/// for a part only: there the wire does little.
fn longest_way(
    chosen: &[Moment],
    tips: &[Vector3<f64>],
    at_ostium: usize,
) -> Option<(usize, usize)> {
    let way = |from: usize, to: usize| -> f64 {
        let pieces = tips[from..=to].windows(2).zip(from..);
        let weighed = pieces.map(|(pair, step)| {
            let weight = if step < at_ostium { WAY_IN } else { 1.0 };
            weight * (pair[1] - pair[0]).norm()
        });
        weighed.sum()
    };
    let pairs = chosen.windows(2).enumerate();
    let roomy = pairs.filter(|(_, pair)| pair[1].step - pair[0].step >= 2 * APART);
    let (place, pair) = roomy
        .max_by(|(_, a), (_, b)| way(a[0].step, a[1].step).total_cmp(&way(b[0].step, b[1].step)))?;
    let (from, to) = (pair[0].step, pair[1].step);
    let half = 0.5 * way(from, to);
    let middle = (from + APART..=to - APART).find(|&step| way(from, step) >= half);
    Some((place, middle.unwrap_or(to - APART)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A trial in steps of 1 mm: each part is a kind of movement and how many steps it takes.
    fn trial(parts: &[(MovementKind, usize)]) -> (Vec<HandRow>, Vec<Vector3<f64>>) {
        let mut hand = HandRow::default();
        let mut rows = vec![hand];
        let mut tips = vec![Vector3::zeros()];
        for &(kind, steps) in parts {
            for _ in 0..steps {
                let tip = &tips[tips.len() - 1];
                let way = match kind {
                    MovementKind::Feed => {
                        hand.fed_sum_mm += 1.0;
                        1.0
                    }
                    MovementKind::Withdraw => {
                        hand.withdrawn_mm += 1.0;
                        -1.0
                    }
                    MovementKind::Turn => {
                        hand.turned_deg += 30.0;
                        0.0
                    }
                    MovementKind::ChangeWire => {
                        hand.wire_changes += 1;
                        0.0
                    }
                    _ => 0.0,
                };
                tips.push(tip + Vector3::new(way, 0.0, 0.0));
                rows.push(hand);
            }
        }
        (rows, tips)
    }

    fn shown(parts: &[(MovementKind, usize)]) -> Vec<(usize, Occasion)> {
        let (hands, tips) = trial(parts);
        let all = moments(&hands, &tips, &Vector3::new(20.0, 1.0, 0.0), 0);
        all.into_iter().map(|m| (m.step, m.what)).collect()
    }

    #[test]
    fn redirecting_is_shown_by_its_last_attempt() {
        let parts = [
            (MovementKind::Feed, 28),
            (MovementKind::Withdraw, 11),
            (MovementKind::Turn, 3),
            (MovementKind::Feed, 11),
            (MovementKind::Withdraw, 12),
            (MovementKind::Turn, 3),
            (MovementKind::Feed, 14),
        ];
        assert_eq!(
            shown(&parts),
            [
                (0, Occasion::Start),
                (20, Occasion::AtOstium),
                (53, Occasion::BeforeWithdrawal),
                (65, Occasion::Done(MovementKind::Withdraw)),
                (68, Occasion::Done(MovementKind::Turn)),
                (82, Occasion::End),
            ]
        );
    }

    #[test]
    fn a_change_of_wire_is_shown_before_what_happens_often() {
        let parts = [
            (MovementKind::Feed, 28),
            (MovementKind::Withdraw, 11),
            (MovementKind::ChangeWire, 1),
            (MovementKind::Turn, 3),
            (MovementKind::Feed, 12),
        ];
        let all = shown(&parts);
        assert_eq!(all.len(), FRAMES);
        assert!(
            all.contains(&(40, Occasion::Done(MovementKind::ChangeWire))),
            "{all:?}"
        );
        assert!(
            all.contains(&(43, Occasion::Done(MovementKind::Turn))),
            "{all:?}"
        );
    }

    #[test]
    fn pushing_is_shown_along_the_way_of_the_tip() {
        let all = shown(&[(MovementKind::Feed, 60)]);
        assert_eq!(all.len(), FRAMES);
        assert_eq!(all[0], (0, Occasion::Start));
        assert!(all.contains(&(20, Occasion::AtOstium)));
        assert_eq!(all[FRAMES - 1], (60, Occasion::End));
        assert!(all.windows(2).all(|p| p[1].0 - p[0].0 >= APART), "{all:?}");
    }

    #[test]
    fn a_film_that_starts_later_shows_nothing_before() {
        let (hands, tips) = trial(&[(MovementKind::Feed, 60)]);
        let all = moments(&hands, &tips, &Vector3::new(20.0, 1.0, 0.0), 12);
        assert_eq!(all.len(), FRAMES);
        assert_eq!(all[0].step, 12);
    }

    #[test]
    fn a_short_record_gives_fewer_moments() {
        assert!(moments(&[], &[], &Vector3::zeros(), 0).is_empty());
        assert_eq!(shown(&[]).len(), 1);
        assert_eq!(shown(&[(MovementKind::Feed, 3)]).len(), 2);
    }
}
