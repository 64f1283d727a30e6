//! Names and the scale bar in a view of the scene.

use nalgebra::Vector3;

use super::axis::{Plot, round_step};
use super::board::{AIR, Anchor, Board, Paper, TextBox};
use super::canvas::FigureError;
use super::font::text_width;
use super::palette::{INK, PAPER, SOFT_INK};
use super::pen::{Align, Pen, Type};
use super::projection::{AxisView, guide_on_paper};
use crate::report::outline::{OutlineBranch, SceneOutline};

/// The end of a drawn wire.
#[derive(Debug, Clone, PartialEq)]
pub struct TipLabel {
    /// The wire, where there are several.
    pub wire: Option<String>,
    /// Number of the trial.
    pub trial: u32,
    /// How it ended.
    pub ending: &'static str,
    /// The tip, in mm.
    pub tip_mm: Vector3<f64>,
}

/// What else is in a view.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Drawn {
    /// Ends of wires that get a text.
    pub tips: Vec<TipLabel>,
    /// Points of the drawn wires, on paper.
    pub wires: Vec<Paper>,
    /// Boxes with something else.
    pub taken: Vec<TextBox>,
}

/// Least distance in points between two tips that end in the same way; nearer ones share a text.
const SAME_TIP: f64 = 40.0;
/// Half the width of the drawn guide with some air, in points.
const GUIDE: f64 = 6.0;
/// Parts of a branch at whose ends its name may stand.
const PARTS: usize = 8;
/// How much worse each of them is than the next one towards the branch's end, and one on which
/// another branch lies, in points of distance.
const FURTHER_BACK: f64 = 2.0;
const HIDDEN: f64 = 60.0;

/// Writes texts in a view, each with its leader line.
struct Writer<'a, 'p> {
    pen: &'a Pen<'p>,
    board: Board<'a>,
}

impl Writer<'_, '_> {
    fn write(
        &mut self,
        text: &str,
        style: Type,
        anchors: &[Anchor],
        own: Option<usize>,
    ) -> Result<(), FigureError> {
        let placed = self.board.place(text_width(text, style), anchors, own);
        let Some(placed) = placed else {
            return Ok(());
        };
        if let Some(line) = placed.leader {
            self.pen.line(&line, 0.9, SOFT_INK)?;
            self.pen.disc(line[0], 1.8, SOFT_INK)?;
        }
        self.pen
            .text_on(text, placed.middle, style.align(Align::Centre), PAPER)
    }
}

/// Draws the names of branches, guide and target and the texts of tips where there is room for
/// them.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_names(
    pen: &Pen<'_>,
    plot: &Plot,
    view: AxisView,
    outline: &SceneOutline,
    drawn: Drawn,
) -> Result<(), FigureError> {
    let mut busy = drawn.wires;
    let guide: Vec<Paper> = guide_on_paper(plot, view, outline)
        .into_iter()
        .filter(|&at| inside(at, plot, 0.0))
        .collect();
    busy.extend(&guide);
    let tubes = outline
        .branches
        .iter()
        .map(|b| discs(b, plot, view))
        .collect();
    let mut writer = Writer {
        pen,
        board: Board::new(plot, tubes, &busy, drawn.taken),
    };
    let named = |writer: &mut Writer<'_, '_>, of_target: bool| -> Result<(), FigureError> {
        for (number, branch) in outline.branches.iter().enumerate() {
            if (branch.name == outline.target) == of_target {
                let (name, style) = if of_target {
                    target_name(&branch.name)
                } else {
                    (branch.name.clone(), Type::new(13.0, SOFT_INK))
                };
                let anchors = name_anchors(&writer.board, number, branch, plot, view);
                writer.write(&name, style, &anchors, Some(number))?;
            }
        }
        Ok(())
    };
    named(&mut writer, true)?;
    for (text, at) in tip_texts(&drawn.tips, plot, view) {
        let anchor = Anchor {
            at,
            radius: 5.0,
            worse: 0.0,
        };
        writer.write(&text, Type::new(12.0, INK), &[anchor], None)?;
    }
    let plain = Type::new(13.0, INK);
    let names = ["guide (not to scale)", "guide"];
    let fits = |name: &&&str| writer.board.fits(text_width(name, plain));
    if let Some(name) = names.iter().find(fits) {
        let anchors: Vec<Anchor> = guide
            .iter()
            .step_by(4)
            .map(|&at| Anchor {
                at,
                radius: GUIDE,
                worse: 0.0,
            })
            .collect();
        writer.write(name, plain, &anchors, None)?;
    }
    named(&mut writer, false)
}

/// The texts of tips: tips that end in the same way and close together share one.
fn tip_texts(tips: &[TipLabel], plot: &Plot, view: AxisView) -> Vec<(String, Paper)> {
    let mut groups: Vec<(Paper, Vec<&TipLabel>)> = Vec::new();
    for tip in tips {
        let (x, y) = view.on_paper(plot, &tip.tip_mm);
        let near = |(at, group): &&mut (Paper, Vec<&TipLabel>)| {
            group[0].ending == tip.ending && (at.0 - x).hypot(at.1 - y) < SAME_TIP
        };
        match groups.iter_mut().find(near) {
            Some((_, group)) => group.push(tip),
            None => groups.push(((x, y), vec![tip])),
        }
    }
    let text = |group: &[&TipLabel]| {
        let mut wires: Vec<&str> = group.iter().filter_map(|t| t.wire.as_deref()).collect();
        wires.dedup();
        let who = match wires[..] {
            [] => String::new(),
            [one] => format!("{one}, "),
            [one, other] => format!("{one} and {other}, "),
            _ => format!("{} wires, ", wires.len()),
        };
        let mut trials: Vec<u32> = group.iter().map(|t| t.trial).collect();
        trials.sort_unstable();
        trials.dedup();
        let word = if trials.len() == 1 { "trial" } else { "trials" };
        let trials: Vec<String> = trials.iter().map(u32::to_string).collect();
        format!("{who}{word} {}: {}", trials.join(", "), group[0].ending)
    };
    let groups = groups.iter();
    groups.map(|(at, group)| (text(group), *at)).collect()
}

/// How the target is named, and in which type.
fn target_name(branch: &str) -> (String, Type) {
    (format!("{branch} (target)"), Type::new(13.0, INK).bold())
}

/// Width of a view in points in which the name of the target has room beside its branch.
#[must_use]
pub fn target_width(outline: &SceneOutline) -> f64 {
    let (name, style) = target_name(&outline.target);
    text_width(&name, style) + 4.0 * (AIR + 1.0)
}

fn points_per_mm(plot: &Plot) -> f64 {
    (plot.right - plot.left) / (plot.x.1 - plot.x.0)
}

/// A branch on paper.
fn discs(branch: &OutlineBranch, plot: &Plot, view: AxisView) -> Vec<(Paper, f64)> {
    let scale = points_per_mm(plot);
    let points = branch.points.iter();
    points
        .map(|p| (view.on_paper(plot, &p.position_mm), p.radius_mm * scale))
        .collect()
}

/// Where a branch's name may stand: at the end of what is seen of it, or further back; rather not
/// where another branch lies.
fn name_anchors(
    board: &Board<'_>,
    number: usize,
    branch: &OutlineBranch,
    plot: &Plot,
    view: AxisView,
) -> Vec<Anchor> {
    let discs = discs(branch, plot, view);
    let seen: Vec<(Paper, f64)> = discs
        .into_iter()
        .filter(|&(at, _)| inside(at, plot, 6.0))
        .collect();
    let Some(last) = seen.len().checked_sub(1) else {
        return Vec::new();
    };
    let anchors = (1..=PARTS).rev().map(|part| {
        let (at, radius) = seen[last * part / PARTS];
        let hidden = if board.on_another(at, number) {
            HIDDEN
        } else {
            0.0
        };
        Anchor {
            at,
            radius,
            worse: FURTHER_BACK * (PARTS - part) as f64 + hidden,
        }
    });
    anchors.collect()
}

/// Draws a bar of a round length in the corner of the frame that holds least of the vessel, and
/// returns the box that it takes.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_scale_bar(
    pen: &Pen<'_>,
    plot: &Plot,
    view: AxisView,
    outline: &SceneOutline,
) -> Result<TextBox, FigureError> {
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
    )?;
    Ok(TextBox {
        left: x - AIR,
        top: y - 22.0,
        right: x + wide + AIR,
        bottom: y + AIR,
    })
}

/// Whether a point lies in the frame, at least `margin` points from it.
fn inside((x, y): Paper, plot: &Plot, margin: f64) -> bool {
    x > plot.left + margin
        && x < plot.right - margin
        && y > plot.top + margin
        && y < plot.bottom - margin
}
