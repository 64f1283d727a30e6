//! What counts as reached, drawn: the mouth of the target, the depth beyond it, the hold.

use nalgebra::{Vector2, Vector3};
use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::discs::draw_clipped;
use super::font::wrap;
use super::labels::draw_scale_bar;
use super::palette::{INK, LEAVING_FORCE, LUMEN, MARK, SCALE, SOFT_INK, TARGET, pale};
use super::pen::{Align, Pen, Type};
use super::projection::{AxisView, draw_guide, draw_lumen, draw_tube};
use super::strategies::{HEADING_BOTTOM, MARGIN, heading};
use crate::report::film::{Stage, seen_outline};
use crate::report::outline::SceneOutline;
use crate::trial::Prepared;

const WIDTH: f64 = 960.0;
const KEY_LINE: f64 = 22.0;
const KEY_SIZE: f64 = 14.0;
const SWATCH: f64 = 22.0;
/// Tallest drawing in points.
const TALLEST: f64 = 470.0;
/// Paper around what is shown, in mm.
const SURROUND_MM: f64 = 1.5;
/// Points of the mouth's curve.
const CURVE: usize = 144;
/// Distance in mm between points of an edge.
const SPACING_MM: f64 = 0.25;
/// A step of the mouth's curve this many times as long as the middle one is a jump.
const JUMP: f64 = 8.0;
/// Looking at the plane of parent and target.
const VIEW: AxisView = AxisView { right: 0, up: 1 };

/// A stretch of the target between two stations.
#[derive(Debug, Clone, PartialEq)]
struct Zone {
    colour: RGBColor,
    words: String,
    /// Its outline in the picture, in mm.
    corners: Vec<Vector3<f64>>,
}

/// The drawing. Places are in mm in the picture: from where the target's axis begins, along the
/// parent, to the side of the target, towards the reader.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachedPicture {
    subtitle: String,
    /// Name of the vessel that the target leaves.
    parent: String,
    outline: SceneOutline,
    zones: Vec<Zone>,
    /// The curve in which the two lumens meet, closed.
    curve: Vec<Vector3<f64>>,
    /// The target's axis as far as it is shown.
    axis: Vec<Vector3<f64>>,
    /// Where the axis leaves the parent's tube, and the station in mm.
    ostium: (Vector3<f64>, f64),
    low: Vector2<f64>,
    high: Vector2<f64>,
}

impl ReachedPicture {
    /// The drawing for a scenario; `None` for a target that leaves no vessel.
    #[must_use]
    pub fn new(prepared: &Prepared) -> Option<Self> {
        let (tree, target) = (prepared.tree(), prepared.target_branch());
        let branch = &tree.branches()[target];
        let line = &branch.centreline;
        let stage = Stage::new(prepared);
        let mouth = tree.mouth(prepared.lumen(), target, CURVE)?;
        let reaching = prepared.reaching();
        let deep_mm = reaching.mouth_mm + reaching.beyond_mm;
        let last_mm = reaching.room_mm().min(line.length_mm());
        let zone = |from_mm: f64, to_mm: f64, colour, words| Zone {
            colour,
            words,
            corners: edges(from_mm, to_mm, |s| {
                let (p, along) = (stage.seen(&line.position(s)), stage.axes * line.tangent(s));
                let across = Vector3::new(-along.y, along.x, 0.0);
                (p, across.normalize() * line.radius(s))
            }),
        };
        let name = &branch.name;
        let zones = vec![
            zone(
                0.0,
                reaching.mouth_mm,
                LEAVING_FORCE,
                format!(
                    "mouth: the lumens of {name} and its parent meet in the red curve, up to {:.1} mm along \
                     the axis of {name}; depth counts from there",
                    reaching.mouth_mm
                ),
            ),
            zone(
                reaching.mouth_mm,
                deep_mm,
                SCALE,
                format!(
                    "depth: the tip has to lie {} mm or more beyond the whole mouth, and in no other vessel",
                    reaching.beyond_mm
                ),
            ),
            zone(
                deep_mm,
                last_mm,
                TARGET,
                format!(
                    "hold: fed {:.1} mm further it has to go {:.1} mm deeper or more, and stay in; only then \
                     is the target reached",
                    reaching.hold_mm,
                    reaching.share * reaching.hold_mm
                ),
            ),
        ];
        let mut points: Vec<Vector2<f64>> = Vec::new();
        let mut axis = Vec::new();
        let mut at = 0.0;
        while at <= last_mm + SPACING_MM {
            let p = stage.seen(&line.position(at));
            let r = Vector2::repeat(line.radius(at));
            points.extend([p.xy() + r, p.xy() - r]);
            axis.push(p);
            at += SPACING_MM;
        }
        let parent = branch.parent.map_or(0.0, |(parent, at_mm)| {
            tree.branches()[parent].centreline.radius(at_mm)
        });
        points.extend([-2.0 * parent, 3.0 * parent].map(|x| Vector2::new(x, -parent)));
        let (mut low, mut high) = (points[0], points[0]);
        for p in &points {
            (low, high) = (low.inf(p), high.sup(p));
        }
        Some(Self {
            subtitle: format!(
                "{}; in the plane of the branch and its parent",
                prepared.scenario().name
            ),
            parent: branch.parent.map_or_else(String::new, |(parent, _)| {
                tree.branches()[parent].name.clone()
            }),
            outline: seen_outline(&SceneOutline::new(prepared), &stage, 1.0),
            zones,
            curve: mouth.curve.iter().map(|p| stage.seen(p)).collect(),
            axis,
            ostium: (
                stage.seen(&line.position(branch.ostium_mm)),
                branch.ostium_mm,
            ),
            low: low.add_scalar(-SURROUND_MM),
            high: high.add_scalar(SURROUND_MM),
        })
    }

    fn key(&self) -> Vec<(Option<RGBColor>, String)> {
        let style = Type::new(KEY_SIZE, INK);
        let zones = self.zones.iter().flat_map(|zone| {
            let lines = wrap(&zone.words, WIDTH - 2.0 * MARGIN - SWATCH, style);
            let colours = std::iter::once(Some(zone.colour)).chain(std::iter::repeat(None));
            colours.zip(lines)
        });
        zones.collect()
    }

    fn plot(&self) -> Plot {
        let size = self.high - self.low;
        let wide = WIDTH - 2.0 * MARGIN;
        let tall = (wide * size.y / size.x).min(TALLEST);
        let top = HEADING_BOTTOM + KEY_LINE * self.key().len() as f64 + 12.0;
        // What is too tall is shown with more of the parent.
        let half = 0.5 * (wide * size.y / tall).max(size.x);
        let middle = 0.5 * (self.low.x + self.high.x);
        Plot {
            left: MARGIN,
            top,
            right: WIDTH - MARGIN,
            bottom: top + tall,
            x: (middle - half, middle + half),
            y: (self.low.y, self.high.y),
        }
    }
}

/// A closed curve in the pieces between its jumps. At a fork of several vessels the curve in which the
/// lumens meet is in parts, and a line from one to the next would lie on no wall.
fn unbroken(closed: &[Vector3<f64>]) -> Vec<Vec<Vector3<f64>>> {
    let count = closed.len();
    let step = |i: usize| (closed[(i + 1) % count] - closed[i]).norm();
    let mut steps: Vec<f64> = (0..count).map(step).collect();
    steps.sort_by(f64::total_cmp);
    let Some(usual) = steps.get(count / 2) else {
        return Vec::new();
    };
    let is_jump = |i: usize| step(i) > JUMP * usual;
    let mut pieces = vec![Vec::new()];
    let first = (0..count).find(|i| is_jump(*i)).map_or(0, |i| i + 1);
    for i in (first..first + count).map(|i| i % count) {
        if let Some(piece) = pieces.last_mut() {
            piece.push(closed[i]);
        }
        if is_jump(i) {
            pieces.push(Vec::new());
        }
    }
    if pieces.len() == 1 {
        pieces[0].extend(closed.first().copied());
    }
    pieces.retain(|piece| piece.len() > 1);
    pieces
}

/// The outline of a band between two stations; `at` gives its middle and half its width across.
fn edges(
    from_mm: f64,
    to_mm: f64,
    at: impl Fn(f64) -> (Vector3<f64>, Vector3<f64>),
) -> Vec<Vector3<f64>> {
    let pieces = ((to_mm - from_mm) / SPACING_MM).ceil().max(1.0);
    let (mut left, mut right) = (Vec::new(), Vec::new());
    let mut piece = 0.0;
    while piece <= pieces {
        let (p, half) = at(from_mm + (to_mm - from_mm) * piece / pieces);
        left.push(p + half);
        right.push(p - half);
        piece += 1.0;
    }
    left.extend(right.into_iter().rev());
    left
}

impl Figure for ReachedPicture {
    fn name(&self) -> &str {
        "reached"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some thousand points"
    )]
    fn size(&self) -> (u32, u32) {
        (WIDTH as u32, (self.plot().bottom + MARGIN).ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let title = format!("When {} counts as reached", self.outline.target);
        heading(pen, &title, &self.subtitle)?;
        for (row, (colour, text)) in self.key().into_iter().enumerate() {
            let y = HEADING_BOTTOM + KEY_LINE * (row as f64 + 0.6);
            if let Some(colour) = colour {
                let (low, high) = ((MARGIN, y - 6.0), (MARGIN + 13.0, y + 7.0));
                pen.fill(low, high, pale(colour, 0.55))?;
            }
            pen.text(&text, (MARGIN + SWATCH, y), Type::new(KEY_SIZE, INK))?;
        }
        let plot = self.plot();
        draw_lumen(pen, &plot, VIEW, &self.outline)?;
        let on_paper = |points: &[Vector3<f64>]| -> Vec<(f64, f64)> {
            points.iter().map(|p| VIEW.on_paper(&plot, p)).collect()
        };
        for zone in &self.zones {
            // In convex pieces, each from one pair of opposite points to the next.
            let count = zone.corners.len();
            for i in 0..count / 2 - 1 {
                let piece = [i, i + 1, count - 2 - i, count - 1 - i].map(|k| zone.corners[k]);
                draw_clipped(pen, &plot, &on_paper(&piece), pale(zone.colour, 0.55))?;
            }
        }
        // The parent lies over the part of the mouth that is its own.
        let branches = self.outline.branches.iter();
        for parent in branches.filter(|b| b.name == self.parent) {
            draw_tube(pen, &plot, VIEW, &parent.points, 0.0, LUMEN)?;
        }
        pen.line(&on_paper(&self.axis), 1.0, SOFT_INK)?;
        for piece in unbroken(&self.curve) {
            pen.line(&on_paper(&piece), 2.4, MARK)?;
        }
        let at = VIEW.on_paper(&plot, &self.ostium.0);
        pen.disc(at, 3.5, INK)?;
        let style = Type::new(12.0, INK).align(Align::Left);
        let words = format!(
            "ostium: the axis leaves the parent at {:.1} mm",
            self.ostium.1
        );
        let beside = (at.0 + 14.0, at.1 + 80.0);
        pen.line(&[at, (beside.0 - 4.0, beside.1)], 0.8, INK)?;
        pen.text(&words, beside, style)?;
        draw_guide(pen, &plot, VIEW, &self.outline)?;
        draw_scale_bar(pen, &plot, VIEW, &self.outline)?;
        plot.frame(pen)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circle of 36 points is one closed line; one of which a third stands elsewhere is two.
    #[test]
    fn a_curve_is_drawn_in_its_parts() {
        let circle = |lifted: bool| -> Vec<Vector3<f64>> {
            let point = |i: i32| {
                let a = (10.0 * f64::from(i)).to_radians();
                let z = if lifted && (12..24).contains(&i) {
                    5.0
                } else {
                    0.0
                };
                Vector3::new(a.cos(), a.sin(), z)
            };
            (0..36).map(point).collect()
        };
        let lengths =
            |lifted| -> Vec<usize> { unbroken(&circle(lifted)).iter().map(Vec::len).collect() };
        assert_eq!(lengths(false), [37]);
        assert_eq!(lengths(true), [12, 24]);
        assert!(unbroken(&[]).is_empty());
    }
}
