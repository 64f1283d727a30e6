//! Films of one trial of each strategy, to be put on a slide: strips of six moments, and films that move.
//!
//! In: records of trials. `typical` says which trial, `moments` which of its recorded steps, `words`
//! what stands below them.

mod moments;
mod stage;
mod typical;
mod words;

use nalgebra::{Vector2, Vector3};

use self::moments::{Moment, Occasion};
pub(super) use self::moments::{MovementKind, runs};
pub use self::stage::{Stage, StageAids};
pub(super) use self::typical::typical;
pub(super) use self::words::{done, place};
use super::figures::{Film, FilmFrame, FilmWindow, MovingFilm};
use super::outline::{OutlineBranch, OutlinePoint, SceneOutline};
use super::reading::{covered, tip};
use super::setting::Setting;
use crate::shown::fixed;
use crate::study::StrategyLabel;
use crate::trial::result::{Outcome, TrialRecord, TrialRow, WireShape};

/// Distance from the ostium in mm within which the whole wire is in the picture.
const NEAR_MM: f64 = 10.0;
/// Distance from the ostium in mm beyond which neither tip nor leading bow widens the picture.
const FAR_MM: f64 = 40.0;
/// Paper around what has to be in the picture, in mm.
const SURROUND_MM: f64 = 2.5;
/// Most frames of a film that moves.
const MOVING_FRAMES: usize = 20;
/// Length of wire with which a film begins, as a share of the picture's width.
const ENOUGH: f64 = 0.25;

/// The frames of one trial.
pub(super) struct Reel {
    window: FilmWindow,
    frames: Vec<FilmFrame>,
    /// Frames at equal distances of recorded steps, for the film that moves.
    moving: Vec<FilmFrame>,
}

impl Reel {
    /// The frames of a trial; `None` where it left no complete record.
    pub(super) fn new(
        setting: &Setting,
        stage: &Stage,
        strategy: &StrategyLabel,
        record: &TrialRecord,
    ) -> Option<Self> {
        let (hands, row) = (&record.hands, &record.row);
        if hands.is_empty() || record.trace.len() != hands.len() {
            return None;
        }
        let tips: Vec<Vector3<f64>> = record.trace.iter().map(tip).collect();
        let chosen = |first| moments::moments(hands, &tips, &stage.ostium_mm, first);
        let drawn = |moments: &[Moment]| -> Option<Vec<&WireShape>> {
            moments.iter().map(|m| record.shapes.get(m.step)).collect()
        };
        let from_begin = drawn(&chosen(0))?;
        let outline = seen_outline(&setting.outline, stage, row.diameter_factor);
        let later = from_begin.get(1..).unwrap_or_default();
        let window = window(stage, later, &outline);
        let first = first_shown(stage, (&record.shapes, &tips), &window);
        let chosen = chosen(first);
        let drawn = drawn(&chosen)?;
        let context = Context {
            setting,
            stage,
            strategy,
            record,
        };
        let frames = chosen.iter().enumerate().zip(drawn);
        let frames = frames.map(|((place, moment), shape)| {
            let before = place.checked_sub(1).map(|p| chosen[p].step);
            let frame = context.frame(place + 1, *moment, before, shape);
            frame.in_window(&window)
        });
        Some(Self {
            frames: frames.collect(),
            moving: context.moving(first, &window),
            window,
        })
    }
}

/// The step with which a film begins, of those with these shapes and tips (mm): enough of the wire is in the picture to be seen, or the tip is
/// at its nearest to the ostium before that; the first step where neither ever is.
fn first_shown(
    stage: &Stage,
    (shapes, tips): (&[WireShape], &[Vector3<f64>]),
    window: &FilmWindow,
) -> usize {
    let enough_mm = ENOUGH * (window.high.x - window.low.x);
    let shown_mm = |shape: &WireShape| -> f64 {
        let seen: Vec<Vector3<f64>> = shape.nodes_mm.iter().map(|p| stage.seen(p)).collect();
        let inside = seen.windows(2).filter(|pair| window.holds(&pair[1]));
        inside.map(|pair| (pair[1] - pair[0]).xy().norm()).sum()
    };
    let enough = shapes.iter().position(|s| shown_mm(s) >= enough_mm);
    let away = moments::distances(tips, &stage.ostium_mm);
    let at_ostium = moments::arrival(&away).saturating_sub(moments::APART);
    let comes = tips.iter().position(|tip| window.holds(&stage.seen(tip)));
    enough.map_or(comes.unwrap_or(0), |step| {
        step.min(at_ostium.max(comes.unwrap_or(0)))
    })
}

impl FilmFrame {
    /// The frame, or the surroundings of the tip where nothing of the wire is in the film's window.
    fn in_window(self, window: &FilmWindow) -> Self {
        let seen = self.nodes.iter().any(|node| window.holds(node));
        let tip = self.nodes.last().filter(|_| !seen);
        Self {
            window: tip.map(|tip| window.moved_to(tip)),
            ..self
        }
    }
}

/// The film strip of a strategy from the frames of its typical trial, of which `rows` are all trials and
/// `shown` is that one; and the film that moves.
pub(super) fn film(
    setting: &Setting,
    stage: &Stage,
    scenario: &str,
    strategy: &StrategyLabel,
    rows: &[TrialRow],
    shown: &TrialRow,
    reel: Reel,
) -> (Film, MovingFilm) {
    let mut aids = stage.aids.iter();
    let aids = aids.find(|a| a.technique == strategy.technique);
    let strip = Film {
        name: format!("film-{}", strategy.slug),
        title: strategy.name.clone(),
        subtitle: subtitle(scenario, rows, shown),
        target: setting.outline.target.clone(),
        outline: seen_outline(&setting.outline, stage, shown.diameter_factor),
        balloon: seen_points(aids.map_or(&[][..], |a| &a.balloon), stage, 1.0),
        window: reel.window,
        frames: reel.frames,
    };
    let moving = MovingFilm(Film {
        name: format!("moving-{}", strategy.slug),
        frames: reel.moving,
        ..strip.clone()
    });
    (strip, moving)
}

/// Which trial this is, in words.
fn subtitle(scenario: &str, rows: &[TrialRow], shown: &TrialRow) -> String {
    let count = rows.iter().filter(|r| r.outcome == shown.outcome).count();
    let kind = if shown.outcome == Outcome::Reached {
        "the middle one of the successes"
    } else {
        "no trial reaches the target, the middle one of the most frequent failures"
    };
    format!(
        "{scenario}; trial {}, {kind}: {} in {count} of {} trials; this one in {} {}",
        shown.trial,
        shown.outcome.label(),
        rows.len(),
        shown.attempts,
        if shown.attempts == 1 {
            "attempt"
        } else {
            "attempts"
        },
    )
}

/// What the frames of one film share.
struct Context<'a> {
    setting: &'a Setting,
    stage: &'a Stage,
    strategy: &'a StrategyLabel,
    record: &'a TrialRecord,
}

impl Context<'_> {
    /// Frames from step `first` to the end.
    fn moving(&self, first: usize, window: &FilmWindow) -> Vec<FilmFrame> {
        let record = self.record;
        let last = record.shapes.len().saturating_sub(1);
        let count = MOVING_FRAMES.min(last.saturating_sub(first) + 1);
        let runs = moments::runs(&record.hands);
        let frames = (0..count).map(|number| {
            let step = first + (last - first) * number / (count - 1).max(1);
            let what = if step == last {
                Occasion::End
            } else {
                Occasion::Between
            };
            let frame = self.frame(
                number + 1,
                Moment { step, what },
                Some(step),
                &record.shapes[step],
            );
            let attempt = record.hands[step].attempt;
            let during = runs.iter().find(|run| run.from < step && run.to >= step);
            let during = during.map(|run| {
                let until = std::slice::from_ref(run);
                words::done(&record.hands, until, (run.from, step), "another wire")
            });
            let why = match what {
                Occasion::End if !record.row.why.is_empty() => format!(". Why: {}", record.row.why),
                _ => String::new(),
            };
            FilmFrame {
                title: match what {
                    Occasion::End => words::title(what, record.row.outcome, &[]),
                    _ => format!("{:.1} s, attempt {attempt}", record.trace[step].time_s),
                },
                caption: during.unwrap_or_default() + &why,
                ..frame
            }
            .in_window(window)
        });
        frames.collect()
    }

    fn frame(
        &self,
        number: usize,
        moment: Moment,
        before: Option<usize>,
        shape: &WireShape,
    ) -> FilmFrame {
        let Moment { step, what } = moment;
        let all = &self.record.hands;
        let (trace, hands) = (&self.record.trace[step], &all[step]);
        let aids = &self.stage.aids;
        let aids = aids.iter().find(|a| a.technique == self.strategy.technique);
        let wires = &self.setting.wires;
        let other = aids.and_then(|a| a.other_wire);
        let own = wires
            .iter()
            .position(|(name, _)| *name == self.strategy.wire);
        let changed = other.filter(|_| hands.wire_changes > 0);
        let wire = changed.or(own).unwrap_or(0);
        let (_, diameter_mm) = wires.get(wire).cloned().unwrap_or_default();
        let other_name = other.and_then(|w| wires.get(w)).map_or("", |w| &w.0);
        let runs = moments::runs(all);
        let caption = match before {
            Some(before) => words::done(all, &runs, (before, step), other_name),
            None if what == Occasion::Start && hands.catheter_fed_mm > 0.5 => {
                "Wire and catheter fed".to_owned()
            }
            None => "Fed out of the guide".to_owned(),
        };
        let caption = match what {
            Occasion::End if !self.record.row.why.is_empty() => {
                format!("{caption}. Why: {}", self.record.row.why)
            }
            _ => caption,
        };
        let repeated = words::repeated(&runs, (before.unwrap_or(step), step));
        let title = words::title(what, self.record.row.outcome, &repeated);
        let cover = covered(shape, diameter_mm);
        let moved = self.record.axes.get(step);
        let moved = moved.map(|axes| self.setting.outline.moved(axes));
        let outline = moved.as_ref().unwrap_or(&self.setting.outline);
        let seen: Vec<Vector3<f64>> = shape.nodes_mm.iter().map(|p| self.stage.seen(p)).collect();
        let guide = match (hands.guide_aims, &seen[..]) {
            (1.., [first, second, ..]) => (*first, (second - first).normalize()),
            _ => (
                self.stage.seen(&self.setting.outline.guide_end_mm),
                self.stage.axes * self.setting.outline.guide_direction,
            ),
        };
        FilmFrame {
            title: format!("{number}  {title}"),
            caption,
            reading: format!(
                "{:.0} mm of wire out, hand at {} degrees, wall force {} mN",
                trace.outside_mm,
                fixed(trace.twist_base_deg, 0),
                super::page::three_digits(trace.wall_force_max_mN),
            ),
            place: words::place(outline, self.stage, &tip(trace)),
            wire,
            wire_name: wires.get(wire).map_or(String::new(), |w| w.0.clone()),
            balloon_mm: hands.balloon_mm,
            diameter_mm,
            covered: seen[..cover].to_vec(),
            cover_diameter_mm: shape.diameter_mm.first().copied().unwrap_or(0.0),
            nodes: seen,
            beside: self.beside(shape),
            window: None,
            guide,
            outline: moved
                .as_ref()
                .map(|outline| seen_outline(outline, self.stage, self.record.row.diameter_factor)),
        }
    }
}

impl Context<'_> {
    /// What lies beside the wire, in pieces of one diameter.
    fn beside(&self, shape: &WireShape) -> Vec<(Vec<Vector3<f64>>, f64)> {
        let Some(beside) = &shape.beside else {
            return Vec::new();
        };
        let mut pieces: Vec<(Vec<Vector3<f64>>, f64)> = Vec::new();
        for (node, diameter_mm) in beside.nodes_mm.iter().zip(&beside.diameter_mm) {
            let node = self.stage.seen(node);
            match pieces.last_mut() {
                Some((nodes, of)) if (*of - diameter_mm).abs() < 1e-6 => nodes.push(node),
                last => {
                    if let Some((before, _)) = last {
                        before.push(node);
                    }
                    pieces.push((vec![node], *diameter_mm));
                }
            }
        }
        pieces
    }
}

/// The outline in the film's picture, with the diameters that the trial drew.
pub(super) fn seen_outline(
    outline: &SceneOutline,
    stage: &Stage,
    diameter_factor: f64,
) -> SceneOutline {
    let seen = |tubes: &[OutlineBranch], factor: f64| -> Vec<OutlineBranch> {
        let seen = tubes.iter().map(|tube| OutlineBranch {
            name: tube.name.clone(),
            points: seen_points(&tube.points, stage, factor),
        });
        seen.collect()
    };
    SceneOutline {
        branches: seen(&outline.branches, diameter_factor),
        bodies: seen(&outline.bodies, 1.0),
        wall: None,
        target: outline.target.clone(),
        guide_end_mm: stage.seen(&outline.guide_end_mm),
        guide_direction: stage.axes * outline.guide_direction,
    }
}

fn seen_points(points: &[OutlinePoint], stage: &Stage, factor: f64) -> Vec<OutlinePoint> {
    let seen = points.iter().map(|p| OutlinePoint {
        position_mm: stage.seen(&p.position_mm),
        radius_mm: p.radius_mm * factor,
    });
    seen.collect()
}

/// The part of the picture plane that is shown: the ostium, the beginning of the target, and of
/// every shape the tip, the bow that leads furthest and what is near the ostium.
fn window(stage: &Stage, shapes: &[&WireShape], outline: &SceneOutline) -> FilmWindow {
    let mut points: Vec<Vector2<f64>> = vec![
        Vector2::new(-NEAR_MM, -2.0),
        Vector2::new(0.5 * NEAR_MM, 2.0),
    ];
    let target = outline.target_branch().into_iter().flat_map(|b| &b.points);
    let start = target.filter(|p| p.position_mm.norm() < NEAR_MM);
    points.extend(start.map(|p| p.position_mm.xy()));
    for shape in shapes {
        let seen: Vec<Vector3<f64>> = shape.nodes_mm.iter().map(|p| stage.seen(p)).collect();
        let leading = seen.iter().max_by(|a, b| a.x.total_cmp(&b.x));
        let far = [seen.last(), leading].into_iter().flatten();
        points.extend(far.filter(|p| p.norm() < FAR_MM).map(nalgebra::Matrix::xy));
        let near = seen.iter().filter(|p| p.norm() < NEAR_MM);
        points.extend(near.map(nalgebra::Matrix::xy));
    }
    FilmWindow::around(&points, SURROUND_MM)
}
