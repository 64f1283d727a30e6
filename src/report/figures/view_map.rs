//! All views of a place as maps over the two angles.

use plotters::style::RGBColor;

use super::axis::{Plot, TICK_SIZE};
use super::canvas::{Figure, FigureError};
use super::font::text_width;
use super::palette::{CATHETER, FRAME, INK, MARK, PAPER, SCALE, SOFT_INK, TARGET, pale};
use super::pen::{Align, Pen, Type};
use super::strategies::{HEADING_BOTTOM, MARGIN, heading};
use crate::scenario::view::{ReachSpec, ViewAngles};

/// Side of a panel in points.
const SIDE: f64 = 320.0;
const LEFT: f64 = 78.0;
const GAP: f64 = 34.0;
const TOP: f64 = HEADING_BOTTOM + 34.0;
const SCALE_Y: f64 = TOP + SIDE + 62.0;
const LEGEND_Y: f64 = SCALE_Y + 42.0;
const LINE: f64 = 22.0;
/// Steps of the colour scale.
const STEPS: u32 = 10;
/// Distance of a number from a mark that would cover it, in points.
const BESIDE_MARK: f64 = 19.0;
/// Degrees between two drawn cells.
const CELL_DEG: usize = 2;

/// One measure over all views.
#[derive(Debug, Clone, PartialEq)]
pub struct MapPanel {
    /// What is shown.
    pub title: String,
    /// Values from 0 to 1, a row of all primary angles for each secondary angle.
    pub values: Vec<f64>,
}

/// A view that is marked.
#[derive(Debug, Clone, PartialEq)]
pub struct MapMark {
    /// Words in the legend.
    pub label: String,
    /// Primary and secondary angle in degrees.
    pub at: (f64, f64),
}

/// Maps of several measures side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct ViewMapFigure {
    /// Name of its files, without ending.
    pub name: String,
    /// Title.
    pub title: String,
    /// Line below the title.
    pub subtitle: String,
    /// Primary angles in degrees, rising.
    pub primary_deg: Vec<i32>,
    /// Secondary angles in degrees, rising.
    pub secondary_deg: Vec<i32>,
    /// The measures.
    pub panels: Vec<MapPanel>,
    /// What the C-arm can reach.
    pub reach: ReachSpec,
    /// Current, recommended and second view.
    pub marks: Vec<MapMark>,
    /// Customary views, numbered in this order.
    pub customary: Vec<MapMark>,
}

impl ViewMapFigure {
    fn plot(&self, panel: usize) -> Plot {
        let ends = |angles: &[i32]| {
            let (first, last) = (angles.first(), angles.last());
            (
                first.map_or(-90.0, |&a| f64::from(a)),
                last.map_or(90.0, |&a| f64::from(a)),
            )
        };
        let left = LEFT + panel as f64 * (SIDE + GAP);
        Plot {
            left,
            top: TOP,
            right: left + SIDE,
            bottom: TOP + SIDE,
            x: ends(&self.primary_deg),
            y: ends(&self.secondary_deg),
        }
    }

    /// The cells of a panel: neighbours of one colour in a row are drawn as one.
    fn draw_cells(&self, pen: &Pen<'_>, plot: &Plot, values: &[f64]) -> Result<(), FigureError> {
        let columns = self.primary_deg.len();
        let half = 0.5 * CELL_DEG as f64;
        for (row, &secondary) in self.secondary_deg.iter().enumerate().step_by(CELL_DEG) {
            let level = |column: usize| step_of(values[row * columns + column]);
            let mut start = 0;
            while start < columns {
                let mut end = start;
                while end + CELL_DEG < columns && level(end + CELL_DEG) == level(start) {
                    end += CELL_DEG;
                }
                let (y, x0, x1) = (
                    f64::from(secondary),
                    f64::from(self.primary_deg[start]),
                    f64::from(self.primary_deg[end]),
                );
                let low = plot.map((x0 - half).max(plot.x.0), (y - half).max(plot.y.0));
                let high = plot.map((x1 + half).min(plot.x.1), (y + half).min(plot.y.1));
                pen.fill(low, high, shade(level(start)))?;
                start = end + CELL_DEG;
            }
        }
        Ok(())
    }

    /// The edge of what the C-arm can reach.
    fn draw_reach(&self, pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
        let [low, high] = self.reach.primary_rad.map(f64::to_degrees);
        let [down, up] = self.reach.secondary_rad.map(f64::to_degrees);
        let sum = self.reach.combined_rad.to_degrees();
        let mut upper = Vec::new();
        let mut lower = Vec::new();
        let mut primary = low;
        loop {
            let room = sum - primary.abs();
            let inside = self.reach.holds(&ViewAngles::from_degrees(
                primary,
                0.0_f64.clamp(down, up.max(down)),
            ));
            if room >= 0.0 && inside {
                let on_paper = |y: f64| {
                    plot.map(
                        primary.clamp(plot.x.0, plot.x.1),
                        y.clamp(plot.y.0, plot.y.1),
                    )
                };
                upper.push(on_paper(up.min(room)));
                lower.push(on_paper(down.max(-room)));
            }
            if primary >= high {
                break;
            }
            primary = (primary + 0.5).min(high);
        }
        lower.reverse();
        upper.extend(lower);
        if let Some(&first) = upper.first() {
            upper.push(first);
        }
        pen.line(&upper, 3.0, PAPER)?;
        pen.line(&upper, 1.6, INK)
    }

    fn draw_marks(&self, pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
        let on_paper = |mark: &MapMark| plot.map(mark.at.0, mark.at.1);
        let marks: Vec<(f64, f64)> = self.marks.iter().map(on_paper).collect();
        for (index, mark) in self.customary.iter().enumerate() {
            let (mut x, y) = on_paper(mark);
            // A number below a mark stands beside it.
            let above = marks
                .iter()
                .find(|m| (m.0 - x).hypot(m.1 - y) < BESIDE_MARK);
            if let Some(above) = above {
                let right = above.0 + BESIDE_MARK;
                let is_free = right < plot.right - 9.0;
                x = if is_free {
                    right
                } else {
                    above.0 - BESIDE_MARK
                };
            }
            let at = (x.clamp(plot.left + 9.0, plot.right - 9.0), y);
            draw_number(pen, at, index + 1)?;
        }
        for (index, at) in marks.into_iter().enumerate() {
            draw_diamond(pen, at, mark_colour(index))?;
        }
        Ok(())
    }

    fn draw_scale(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let width = 26.0;
        let mut x = LEFT;
        for level in 0..STEPS {
            let from = (x, SCALE_Y - 8.0);
            pen.fill(from, (x + width, SCALE_Y + 8.0), shade(level))?;
            x += width;
        }
        pen.frame((LEFT, SCALE_Y - 8.0), (x, SCALE_Y + 8.0), 1.0, FRAME)?;
        let style = Type::new(12.0, SOFT_INK);
        for (share, text) in [(0.0, "0 %"), (0.5, "50 %"), (1.0, "100 %")] {
            let at = (LEFT + share * (x - LEFT), SCALE_Y + 19.0);
            pen.text(text, at, style.align(Align::Centre))?;
        }
        pen.text("pale is good", (x + 16.0, SCALE_Y), style)
    }

    /// The legend in three columns: marks first, then the customary views by number.
    fn draw_legend(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let rows = self.legend_rows();
        let widest = self.marks.iter().chain(&self.customary);
        let style = Type::new(13.0, INK);
        let column = widest
            .map(|m| text_width(&m.label, style) + 44.0)
            .fold(0.0, f64::max);
        let entries = self.marks.len() + self.customary.len();
        for entry in 0..entries {
            let x = MARGIN + 8.0 + (entry / rows) as f64 * column;
            let y = LEGEND_Y + (entry % rows) as f64 * LINE;
            let label = if let Some(mark) = self.marks.get(entry) {
                draw_diamond(pen, (x, y), mark_colour(entry))?;
                &mark.label
            } else {
                let number = entry - self.marks.len();
                draw_number(pen, (x, y), number + 1)?;
                &self.customary[number].label
            };
            pen.text(label, (x + 16.0, y), style)?;
        }
        Ok(())
    }

    fn legend_rows(&self) -> usize {
        (self.marks.len() + self.customary.len()).div_ceil(3).max(1)
    }
}

impl Figure for ViewMapFigure {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let panels = self.panels.len().max(2) as f64;
        let width = LEFT + panels * SIDE + (panels - 1.0) * GAP + MARGIN;
        let height = LEGEND_Y + self.legend_rows() as f64 * LINE + 6.0;
        (width.max(960.0).ceil() as u32, height.ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(pen, &self.title, &self.subtitle)?;
        for (index, panel) in self.panels.iter().enumerate() {
            let plot = self.plot(index);
            self.draw_cells(pen, &plot, &panel.values)?;
            self.draw_reach(pen, &plot)?;
            self.draw_marks(pen, &plot)?;
            plot.frame(pen)?;
            draw_ticks(pen, &plot, index == 0)?;
            plot.x_name(pen, "RAO  -  primary angle (deg)  +  LAO")?;
            if index == 0 {
                plot.y_name(pen, "CAU  -  secondary angle (deg)  +  CRA", 50.0)?;
            }
            let style = Type::new(14.0, INK).bold();
            pen.text(&panel.title, (plot.left, plot.top - 14.0), style)?;
        }
        self.draw_scale(pen)?;
        self.draw_legend(pen)
    }
}

/// Ticks every 30 degrees below a panel, and beside it where asked.
fn draw_ticks(pen: &Pen<'_>, plot: &Plot, beside: bool) -> Result<(), FigureError> {
    let style = Type::new(TICK_SIZE, SOFT_INK);
    let mut angle = -180;
    while angle <= 180 {
        let value = f64::from(angle);
        let (x, y) = plot.map(value, value);
        if (plot.x.0..=plot.x.1).contains(&value) {
            pen.line(&[(x, plot.bottom), (x, plot.bottom + 4.0)], 1.0, FRAME)?;
            let at = (x, plot.bottom + 13.0);
            pen.text(&angle.to_string(), at, style.align(Align::Centre))?;
        }
        if beside && (plot.y.0..=plot.y.1).contains(&value) {
            pen.line(&[(plot.left - 4.0, y), (plot.left, y)], 1.0, FRAME)?;
            let at = (plot.left - 7.0, y);
            pen.text(&angle.to_string(), at, style.align(Align::Right))?;
        }
        angle += 30;
    }
    Ok(())
}

/// A number in a circle that holds its digits.
fn draw_number(pen: &Pen<'_>, at: (f64, f64), number: usize) -> Result<(), FigureError> {
    let (text, style) = (number.to_string(), Type::new(11.0, INK));
    let radius = (0.5 * text_width(&text, style) + 3.0).max(8.0);
    pen.disc(at, radius, INK)?;
    pen.disc(at, radius - 1.0, PAPER)?;
    pen.text(&text, at, style.align(Align::Centre))
}

fn draw_diamond(pen: &Pen<'_>, (x, y): (f64, f64), colour: RGBColor) -> Result<(), FigureError> {
    for (size, colour) in [(10.5, PAPER), (8.5, INK), (7.0, colour)] {
        let corners = [(x, y - size), (x + size, y), (x, y + size), (x - size, y)];
        pen.polygon(&corners, colour)?;
    }
    Ok(())
}

fn mark_colour(index: usize) -> RGBColor {
    [MARK, TARGET, CATHETER][index % 3]
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share times ten"
)]
fn step_of(value: f64) -> u32 {
    ((value.clamp(0.0, 1.0) * f64::from(STEPS)) as u32).min(STEPS - 1)
}

fn shade(level: u32) -> RGBColor {
    pale(SCALE, (f64::from(level) + 0.25) / f64::from(STEPS))
}
