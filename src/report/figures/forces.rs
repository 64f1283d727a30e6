//! Push force and wall force against the travel of the wire.

use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::font::{text_width, wrap};
use super::palette::{CATHETER_PUSH, INK, LEAVING_FORCE, PUSH, SOFT_INK, WALL_FORCE, pale};
use super::pen::{Pen, Type};
use super::strategies::{HEADING_BOTTOM, MARGIN, WIDTH, heading};
use crate::trial::result::TraceRow;

const LEGEND_Y: f64 = HEADING_BOTTOM + 12.0;
const FIRST_ROW: f64 = LEGEND_Y + 24.0;
const LABEL_LINE: f64 = 17.0;
const PANEL_HEIGHT: f64 = 150.0;
const ROW_GAP: f64 = 36.0;
const LEFT: f64 = 78.0;
const COLUMN_GAP: f64 = 56.0;
const BELOW: f64 = 52.0;
const LEAST_WIDTH: f64 = 340.0;

/// Shade behind the travel on which the wire is withdrawn.
const WITHDRAWN: RGBColor = RGBColor(240, 241, 243);

/// The recorded trials of one strategy.
#[derive(Debug, Clone, PartialEq)]
pub struct ForcePanel {
    /// Name of the technique.
    pub technique: String,
    /// Name of the wire.
    pub wire: String,
    /// Recorded steps of each recorded trial; the first is drawn strong.
    pub trials: Vec<Vec<TraceRow>>,
}

/// Push force of the hands and largest wall force, that of leaving the guide apart, a panel for each
/// strategy: a column for each technique, a row for each wire, each panel with a force axis of its own.
///
/// The axis along the bottom is the travel of the wire (fed plus withdrawn length), so that a
/// plan that goes to and fro reads from left to right in the order in which things happen.
#[derive(Debug, Clone, PartialEq)]
pub struct Forces {
    /// Name of the scenario.
    pub scenario: String,
    /// The panels.
    pub panels: Vec<ForcePanel>,
}

impl Forces {
    fn techniques(&self) -> Vec<&str> {
        distinct(self.panels.iter().map(|p| p.technique.as_str()))
    }

    fn wires(&self) -> Vec<&str> {
        distinct(self.panels.iter().map(|p| p.wire.as_str()))
    }

    /// Height of the labels above a row of panels.
    fn label_height(&self) -> f64 {
        let width = self.column_width();
        let lines = self.panels.iter().map(|p| label(p, width).len()).max();
        LABEL_LINE * lines.unwrap_or(1) as f64
    }

    fn width(&self) -> f64 {
        let columns = self.techniques().len() as f64;
        f64::from(WIDTH).max(LEFT + MARGIN - COLUMN_GAP + columns * (COLUMN_GAP + LEAST_WIDTH))
    }

    fn column_width(&self) -> f64 {
        let columns = self.techniques().len().max(1) as f64;
        (self.width() - LEFT - MARGIN - COLUMN_GAP * (columns - 1.0)) / columns
    }

    fn row_height(&self) -> f64 {
        self.label_height() + PANEL_HEIGHT + ROW_GAP
    }

    /// Force axis of a panel: a soft wire must not be flattened by a stiff one.
    fn force_range(panel: &ForcePanel) -> (f64, f64) {
        let values = panel.trials.iter().flatten().flat_map(|r| {
            let wall = r
                .wall_force_on_vessel_mn()
                .max(r.wall_force_leaving_guide_mN);
            [r.push_force_mN, r.catheter_push_force_mN, wall]
        });
        let (low, high) = extent(values.chain([0.0]));
        let pad = 0.06 * (high - low).max(1e-3);
        (low - if low < 0.0 { pad } else { 0.0 }, high + pad)
    }

    /// Whether a catheter was pushed or pulled in any trial.
    fn has_catheter(&self) -> bool {
        let mut rows = self.panels.iter().flat_map(|p| p.trials.iter().flatten());
        rows.any(|row| row.catheter_push_force_mN.abs() > 0.0)
    }

    /// Travel axis of a column.
    fn longest_travel(&self, technique: &str) -> f64 {
        self.panels
            .iter()
            .filter(|p| p.technique == technique)
            .flat_map(|p| &p.trials)
            .filter_map(|trial| travel(trial).last().copied())
            .fold(1e-3, f64::max)
    }

    fn draw_panel(
        &self,
        pen: &Pen<'_>,
        panel: &ForcePanel,
        plot: &Plot,
    ) -> Result<(), FigureError> {
        if let Some(first) = panel.trials.first() {
            for (from, to) in withdrawals(first) {
                let corner = plot.map(from, plot.y.1);
                pen.fill(corner, plot.map(to, plot.y.0), WITHDRAWN)?;
            }
        }
        plot.x_ticks(pen, false)?;
        plot.y_ticks(pen, true)?;
        plot.zero_line(pen)?;
        for (rank, trial) in panel.trials.iter().enumerate().rev() {
            let (strength, width) = if rank == 0 { (1.0, 1.8) } else { (0.35, 1.0) };
            let along = travel(trial);
            let curve = |value: fn(&TraceRow) -> f64| -> Vec<(f64, f64)> {
                let points = along.iter().zip(trial);
                points.map(|(&t, row)| plot.map(t, value(row))).collect()
            };
            let leaving = curve(|row| row.wall_force_leaving_guide_mN);
            pen.line(&leaving, width, pale(LEAVING_FORCE, strength))?;
            let wall = curve(TraceRow::wall_force_on_vessel_mn);
            pen.line(&wall, width, pale(WALL_FORCE, strength))?;
            if self.has_catheter() {
                let push = curve(|row| row.catheter_push_force_mN);
                pen.line(&push, width, pale(CATHETER_PUSH, strength))?;
            }
            let push = curve(|row| row.push_force_mN);
            pen.line(&push, width, pale(PUSH, strength))?;
        }
        plot.frame(pen)?;
        for (i, line) in label(panel, plot.right - plot.left).iter().enumerate() {
            let y = plot.top - self.label_height() + LABEL_LINE * (i as f64 + 0.35);
            pen.text(line, (plot.left, y), LABEL.bold())?;
        }
        Ok(())
    }
}

impl Figure for Forces {
    fn name(&self) -> &str {
        "forces"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let rows = self.wires().len() as f64;
        let bottom = FIRST_ROW + rows * self.row_height() - ROW_GAP + BELOW;
        (self.width().ceil() as u32, bottom.ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let subtitle = format!(
            "{}; recorded trials, the first of each strategy drawn strong; pushed: above 0, pulled: below; \
             each panel has its own force axis",
            self.scenario
        );
        heading(pen, "Push force and wall force", &subtitle)?;
        draw_legend(pen, self.has_catheter())?;
        let (techniques, wires) = (self.techniques(), self.wires());
        let width = self.column_width();
        for panel in &self.panels {
            let index =
                |names: &[&str], name: &str| names.iter().position(|n| *n == name).unwrap_or(0);
            let row = index(&wires, &panel.wire);
            let column = index(&techniques, &panel.technique);
            let left = LEFT + column as f64 * (width + COLUMN_GAP);
            let top = FIRST_ROW + row as f64 * self.row_height() + self.label_height();
            let plot = Plot {
                left,
                top,
                right: left + width,
                bottom: top + PANEL_HEIGHT,
                x: (0.0, self.longest_travel(&panel.technique)),
                y: Self::force_range(panel),
            };
            self.draw_panel(pen, panel, &plot)?;
            if column == 0 {
                plot.y_name(pen, "force (mN)", plot.y_name_gap(52.0))?;
            }
            if row + 1 == wires.len() {
                plot.x_name(pen, "wire outside at first, then fed + withdrawn (mm)")?;
            }
        }
        Ok(())
    }
}

const LABEL: Type = Type {
    size: 13.0,
    colour: INK,
    bold: false,
    align: super::pen::Align::Left,
    upwards: false,
};

fn label(panel: &ForcePanel, width: f64) -> Vec<String> {
    let text = format!("{}, {}", panel.technique, panel.wire);
    wrap(&text, width, LABEL.bold())
}

fn draw_legend(pen: &Pen<'_>, with_catheter: bool) -> Result<(), FigureError> {
    let style = Type::new(13.0, SOFT_INK);
    let mut x = MARGIN;
    let catheter = with_catheter.then_some(("push on the catheter", CATHETER_PUSH));
    for (name, colour) in [
        Some(("push on the wire", PUSH)),
        catheter,
        Some(("largest wall force", WALL_FORCE)),
        Some(("the same, leaving the guide", LEAVING_FORCE)),
    ]
    .into_iter()
    .flatten()
    {
        pen.line(&[(x, LEGEND_Y), (x + 24.0, LEGEND_Y)], 3.0, colour)?;
        pen.text(name, (x + 32.0, LEGEND_Y), style)?;
        x += 32.0 + text_width(name, style) + 28.0;
    }
    pen.fill((x, LEGEND_Y - 7.0), (x + 24.0, LEGEND_Y + 7.0), WITHDRAWN)?;
    pen.text("wire withdrawn", (x + 32.0, LEGEND_Y), style)
}

/// Travel of the wire at each recorded step: the fed length of the first and the sum of all
/// changes since.
fn travel(trial: &[TraceRow]) -> Vec<f64> {
    let mut sum = trial.first().map_or(0.0, |row| row.outside_mm.abs());
    let mut all = vec![sum];
    for pair in trial.windows(2) {
        sum += (pair[1].outside_mm - pair[0].outside_mm).abs();
        all.push(sum);
    }
    all.truncate(trial.len());
    all
}

/// Stretches of travel on which the wire is withdrawn.
fn withdrawals(trial: &[TraceRow]) -> Vec<(f64, f64)> {
    let along = travel(trial);
    let mut found: Vec<(f64, f64)> = Vec::new();
    for (i, pair) in trial.windows(2).enumerate() {
        if pair[1].outside_mm < pair[0].outside_mm {
            match found.last_mut() {
                Some(last) if last.1 >= along[i] => last.1 = along[i + 1],
                _ => found.push((along[i], along[i + 1])),
            }
        }
    }
    found
}

fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values
        .filter(|v| v.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
            (low.min(v), high.max(v))
        })
}

/// Each name once, in the order of its first.
pub fn distinct<'a>(names: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let mut seen: Vec<&str> = Vec::new();
    for name in names {
        if !seen.contains(&name) {
            seen.push(name);
        }
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn travel_runs_on_while_the_wire_is_withdrawn() {
        let row = |outside_mm| TraceRow {
            outside_mm,
            ..TraceRow::default()
        };
        let trial = [1.0, 3.0, 2.0, 1.5, 1.5, 4.0].map(row);
        assert_eq!(travel(&trial), [1.0, 3.0, 4.0, 4.5, 4.5, 7.0]);
        assert_eq!(withdrawals(&trial), [(3.0, 4.5)]);
    }
}
