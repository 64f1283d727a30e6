//! Names and the scale bar in a view of the scene.

use plotters::prelude::DrawingBackend;

use super::axis::{Plot, round_step};
use super::canvas::FigureError;
use super::palette::{INK, LUMEN, PAPER, SOFT_INK};
use super::pen::{Align, Pen, Type, text_width};
use super::projection::View;
use crate::report::outline::{OutlineBranch, SceneOutline};

/// Draws the names of branches, guide and target where there is room for them.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_names<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    view: View,
    outline: &SceneOutline,
) -> Result<(), FigureError> {
    let mut taken: Vec<[f64; 4]> = Vec::new();
    let mut names: Vec<(String, (f64, f64), Type)> = Vec::new();
    let mut order: Vec<_> = outline.branches.iter().collect();
    order.sort_by_key(|b| b.name != outline.target);
    for branch in order {
        let target = branch.name == outline.target;
        let style = Type::new(13.0, if target { INK } else { SOFT_INK });
        let (name, style) = if target {
            (format!("{} (target)", branch.name), style.bold())
        } else {
            (branch.name.clone(), style)
        };
        if let Some(at) = name_place(outline, branch, plot, view, text_width(&name, style)) {
            names.push((name, at, style));
        }
    }
    let guide = view.on_paper(plot, &outline.guide_end_mm);
    names.insert(
        names.len().min(1),
        (
            "guide".to_owned(),
            (guide.0, guide.1 - 16.0),
            Type::new(13.0, INK),
        ),
    );
    for (name, (x, y), style) in names {
        let half = text_width(&name, style) / 2.0;
        let x = x.clamp(plot.left + half + 6.0, plot.right - half - 6.0);
        let y = y.clamp(plot.top + 12.0, plot.bottom - 12.0);
        let place = [x - half, y - 9.0, x + half, y + 9.0];
        let free = taken
            .iter()
            .all(|t| place[2] < t[0] || t[2] < place[0] || place[3] < t[1] || t[3] < place[1]);
        if free && plot.right - plot.left > 2.0 * half + 12.0 {
            pen.text_on(&name, (x, y), style.align(Align::Centre), LUMEN)?;
            taken.push(place);
        }
    }
    Ok(())
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
    let scale = (plot.right - plot.left) / (plot.x.1 - plot.x.0);
    let gap = branch.points[last].radius_mm * scale + 12.0;
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
pub fn draw_scale_bar<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    view: View,
    outline: &SceneOutline,
) -> Result<(), FigureError> {
    let points_per_mm = (plot.right - plot.left) / (plot.x.1 - plot.x.0);
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
