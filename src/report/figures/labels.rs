//! Names and the scale bar in a view of the scene.

use nalgebra::Vector3;

use super::axis::{Plot, round_step};
use super::canvas::FigureError;
use super::font::text_width;
use super::palette::{INK, LUMEN, PAPER, SOFT_INK};
use super::pen::{Align, Pen, Type};
use super::projection::{View, guide_on_paper};
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};

/// A text at the tip of a drawn wire.
#[derive(Debug, Clone, PartialEq)]
pub struct TipLabel {
    /// The wire, where there are several.
    pub wire: Option<String>,
    /// What it says.
    pub text: String,
    /// The tip, in mm.
    pub tip_mm: Vector3<f64>,
}

/// Least distance in points between two tips that bear the same text; nearer ones share it.
const SAME_TIP: f64 = 40.0;

/// Air on each side of a text, in points.
const APART: f64 = 5.0;

/// Half the height of a text with some air, in points.
const HALF_LINE: f64 = 9.0;

/// Finds places for texts in one view: never on another text, and where there is a choice not on
/// a wire, a wall or the guide.
struct Board<'a> {
    plot: &'a Plot,
    /// Points of the drawn wires, of the walls and of the guide.
    busy: Vec<(f64, f64)>,
    /// Left, top, right and lower end of every text so far.
    taken: Vec<[f64; 4]>,
}

impl Board<'_> {
    /// The best of `places` for the middle of a text `width` points wide, moved into the frame;
    /// `None` where each lies on another text or the frame is too narrow.
    fn place(&mut self, width: f64, places: &[(f64, f64)]) -> Option<(f64, f64)> {
        let (plot, half) = (self.plot, width / 2.0);
        if width >= board_width(plot) {
            return None;
        }
        let into_frame = |&(x, y): &(f64, f64)| {
            (
                x.clamp(plot.left + half + 6.0, plot.right - half - 6.0),
                y.clamp(plot.top + 12.0, plot.bottom - 12.0),
            )
        };
        let around = |(x, y): (f64, f64)| {
            [
                x - half - APART,
                y - HALF_LINE,
                x + half + APART,
                y + HALF_LINE,
            ]
        };
        let free = |b: &[f64; 4]| {
            let apart = |t: &[f64; 4]| b[2] < t[0] || t[2] < b[0] || b[3] < t[1] || t[3] < b[1];
            self.taken.iter().all(apart)
        };
        let covered = |b: &[f64; 4]| {
            let under = |&&(x, y): &&(f64, f64)| x > b[0] && x < b[2] && y > b[1] && y < b[3];
            self.busy.iter().filter(under).count()
        };
        let places = places.iter().map(into_frame);
        let best = places
            .filter(|&at| free(&around(at)))
            .min_by_key(|&at| covered(&around(at)))?;
        self.taken.push(around(best));
        Some(best)
    }
}

/// Draws the names of branches, guide and target and the labels of tips where there is room for
/// them; `busy` are the points of the drawn wires.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_names(
    pen: &Pen<'_>,
    plot: &Plot,
    view: View,
    outline: &SceneOutline,
    tips: &[TipLabel],
    busy: Vec<(f64, f64)>,
) -> Result<(), FigureError> {
    let mut busy = busy;
    busy.extend(walls(outline, plot, view));
    busy.extend(guide_on_paper(plot, view, outline));
    let mut board = Board {
        plot,
        busy,
        taken: Vec::new(),
    };
    let mut write = |text: &str, style: Type, places: &[(f64, f64)]| match board
        .place(text_width(text, style), places)
    {
        Some(at) => pen.text_on(text, at, style.align(Align::Centre), LUMEN),
        None => Ok(()),
    };
    let (others, target): (Vec<_>, Vec<_>) =
        (outline.branches.iter()).partition(|b| b.name != outline.target);
    let plain = Type::new(13.0, INK);
    for branch in target {
        let (name, style) = target_name(&branch.name);
        let places = name_places(outline, branch, plot, view, text_width(&name, style));
        write(&name, style, &places)?;
    }
    let style = Type::new(12.0, INK);
    for (index, tip) in tips.iter().enumerate() {
        let at = view.on_paper(plot, &tip.tip_mm);
        let shares = |other: &&TipLabel| {
            let (x, y) = view.on_paper(plot, &other.tip_mm);
            other.text == tip.text && (x - at.0).hypot(y - at.1) < SAME_TIP
        };
        if !tips[..index].iter().any(|other| shares(&other)) {
            let wires = tips[index..].iter().filter(shares);
            let wires: Vec<&str> = wires.filter_map(|t| t.wire.as_deref()).collect();
            let text = match wires[..] {
                [] => tip.text.clone(),
                [one] => format!("{one}, {}", tip.text),
                [one, other] => format!("{one} and {other}, {}", tip.text),
                _ => format!("{} wires, {}", wires.len(), tip.text),
            };
            let places = beside(at, 8.0, text_width(&text, style));
            write(&text, style, &places)?;
        }
    }
    let end = view.on_paper(plot, &outline.guide_end_mm);
    let radius = (outline.branches.iter().flat_map(|b| &b.points))
        .min_by(|a, b| {
            let away = |p: &OutlinePoint| (p.position_mm - outline.guide_end_mm).norm();
            away(a).total_cmp(&away(b))
        })
        .map_or(0.0, |p| p.radius_mm);
    let names = ["guide (not to scale)", "guide"];
    let fits = |name: &&&str| board_width(plot) > text_width(name, plain);
    if let Some(name) = names.iter().find(fits) {
        let width = text_width(name, plain);
        let near = radius * points_per_mm(plot) + 4.0;
        let mut places = Vec::new();
        for gap in [near, near + 2.0 * HALF_LINE, near + 4.0 * HALF_LINE] {
            let [right, left, above, below, others @ ..] = beside(end, gap, width);
            places.extend([above, below, right, left]);
            places.extend(others);
        }
        write(name, plain, &places)?;
    }
    for branch in others {
        let style = Type::new(13.0, SOFT_INK);
        let places = name_places(outline, branch, plot, view, text_width(&branch.name, style));
        write(&branch.name, style, &places)?;
    }
    Ok(())
}

/// How the target is named, and in which type.
fn target_name(branch: &str) -> (String, Type) {
    (format!("{branch} (target)"), Type::new(13.0, INK).bold())
}

/// Width of a view in points in which the name of the target has room beside its branch.
#[must_use]
pub fn target_width(outline: &SceneOutline) -> f64 {
    let (name, style) = target_name(&outline.target);
    text_width(&name, style) + 4.0 * (APART + 1.0)
}

/// Places for a text `width` points wide around a point, `gap` points away from it: right, left,
/// above, below, and further off.
fn beside((x, y): (f64, f64), gap: f64, width: f64) -> [(f64, f64); 8] {
    let (across, up) = (gap + width / 2.0, gap + HALF_LINE);
    [
        (x + across, y),
        (x - across, y),
        (x, y - up),
        (x, y + up),
        (x + across, y - 2.0 * HALF_LINE),
        (x + across, y + 2.0 * HALF_LINE),
        (x - across, y - 2.0 * HALF_LINE),
        (x - across, y + 2.0 * HALF_LINE),
    ]
}

/// Widest text that fits into a view, in points.
fn board_width(plot: &Plot) -> f64 {
    plot.right - plot.left - 2.0 * (APART + 1.0)
}

fn points_per_mm(plot: &Plot) -> f64 {
    (plot.right - plot.left) / (plot.x.1 - plot.x.0)
}

/// Where a branch's name can go, the best first: its place by [`name_place`], then around the
/// branch there.
fn name_places(
    outline: &SceneOutline,
    branch: &OutlineBranch,
    plot: &Plot,
    view: View,
    width: f64,
) -> Vec<(f64, f64)> {
    let Some((x, y)) = name_place(outline, branch, plot, view, width) else {
        return Vec::new();
    };
    let widest = branch
        .points
        .iter()
        .fold(0.0_f64, |r, p| r.max(p.radius_mm));
    let gap = widest * points_per_mm(plot) + 4.0;
    let mut places = vec![(x, y)];
    let mut around = |at: (f64, f64)| {
        let [right, left, above, below, others @ ..] = beside(at, gap, width);
        places.extend([above, below, right, left]);
        places.extend(others);
    };
    around((x, y));
    // Else beside the branch further back, from its end to its start.
    let last = branch.points.len().saturating_sub(1);
    for part in [7, 6, 5, 4, 3, 2, 1] {
        let at = view.on_paper(plot, &branch.points[last * part / 8].position_mm);
        if inside(at, plot, 14.0) {
            around(at);
        }
    }
    places
}

/// Points on the edges of the branches as seen, close together.
fn walls(outline: &SceneOutline, plot: &Plot, view: View) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    for branch in &outline.branches {
        for pair in branch.points.windows(2) {
            let [a, b] = [0, 1].map(|i| view.on_paper(plot, &pair[i].position_mm));
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let length = dx.hypot(dy);
            if length <= 0.0 {
                continue;
            }
            let half = pair[0].radius_mm * points_per_mm(plot);
            let (nx, ny) = (-dy / length * half, dx / length * half);
            let steps = (length / APART).ceil();
            let mut k = 0.0;
            while k < steps {
                let (x, y) = (a.0 + dx * k / steps, a.1 + dy * k / steps);
                out.extend([(x + nx, y + ny), (x - nx, y - ny)]);
                k += 1.0;
            }
        }
    }
    out
}

/// Where a branch's name goes: beyond its end if that is in the frame and free, on the
/// middle of what is in the frame if it ends inside another branch, else on the last point
/// in the frame.
fn name_place(
    outline: &SceneOutline,
    branch: &OutlineBranch,
    plot: &Plot,
    view: View,
    width: f64,
) -> Option<(f64, f64)> {
    let on_paper = |i: usize| view.on_paper(plot, &branch.points[i].position_mm);
    let seen: Vec<usize> = (0..branch.points.len())
        .filter(|&i| inside(on_paper(i), plot, 14.0))
        .collect();
    let last = *seen.last()?;
    let at = on_paper(last);
    if last + 1 < branch.points.len() || last == 0 {
        return Some(at);
    }
    let end = branch.points[last].position_mm;
    let others = outline.branches.iter().filter(|b| b.name != branch.name);
    if others
        .flat_map(|b| &b.points)
        .any(|p| (p.position_mm - end).norm() < p.radius_mm)
    {
        return Some(on_paper(seen[seen.len() / 2]));
    }
    let before = on_paper(last.saturating_sub(3));
    let (dx, dy) = (at.0 - before.0, at.1 - before.1);
    let length = dx.hypot(dy).max(1e-9);
    let gap = branch.points[last].radius_mm * points_per_mm(plot) + 12.0;
    let (ux, uy) = (dx / length, dy / length);
    let beyond = (at.0 + ux * (gap + ux.abs() * width / 2.0), at.1 + uy * gap);
    let half = width / 2.0 + 6.0;
    if beyond.0 - half > plot.left && beyond.0 + half < plot.right {
        return Some(beyond);
    }
    // No room beside the end: above it, or below it at the top of the frame.
    let above = at.1 - gap;
    let roomy = above > plot.top + 12.0;
    Some((at.0, if roomy { above } else { at.1 + gap }))
}

/// Draws a bar of a round length in the corner of the frame that holds least of the vessel.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_scale_bar(
    pen: &Pen<'_>,
    plot: &Plot,
    view: View,
    outline: &SceneOutline,
) -> Result<(), FigureError> {
    let points_per_mm = points_per_mm(plot);
    let length = round_step(0.12 * (plot.right - plot.left) / points_per_mm);
    let wide = length * points_per_mm;
    let (low, high) = (plot.bottom - 16.0, plot.top + 32.0);
    let (left, right) = (plot.left + 16.0, plot.right - 16.0 - wide);
    let corners = [(left, low), (right, low), (left, high), (right, high)];
    let covered = |&(x, y): &(f64, f64)| {
        let points = outline.branches.iter().flat_map(|b| &b.points);
        points
            .filter(|p| {
                let (px, py) = view.on_paper(plot, &p.position_mm);
                let near = p.radius_mm * points_per_mm + 6.0;
                px > x - near && px < x + wide + near && py > y - 20.0 - near && py < y + near
            })
            .count()
    };
    let (x, y) = corners
        .into_iter()
        .min_by_key(covered)
        .unwrap_or(corners[0]);
    let style = Type::new(12.0, INK).align(Align::Centre);
    pen.line(&[(x, y), (x + wide, y)], 3.0, INK)?;
    pen.text_on(
        &format!("{length} mm"),
        (x + wide / 2.0, y - 12.0),
        style,
        PAPER,
    )
}

/// Whether a point lies in the frame, at least `margin` points from it.
fn inside((x, y): (f64, f64), plot: &Plot, margin: f64) -> bool {
    x > plot.left + margin
        && x < plot.right - margin
        && y > plot.top + margin
        && y < plot.bottom - margin
}
