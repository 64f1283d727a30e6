//! The list of strategies down the left side of a figure, grouped by technique.

use super::axis::Plot;
use super::canvas::FigureError;
use super::font::{text_width, wrap};
use super::palette::{GRID, INK, SOFT_INK};
use super::pen::{Pen, Type};
use crate::study::StrategySummary;

/// Width of the whole figure in points.
pub const WIDTH: u32 = 960;
/// Left margin in points.
pub const MARGIN: f64 = 24.0;
/// Size of the title in points.
pub const TITLE_SIZE: f64 = 18.0;
/// Size of the line below the title in points.
pub const SUBTITLE_SIZE: f64 = 13.0;

/// Size of a line below the title that is too long for one, and the distance between its parts, in
/// points.
const SMALL: f64 = 11.0;
const SMALL_LINE: f64 = 14.0;

/// Room for the axis below the list in points.
const BELOW: f64 = 52.0;
const LABEL_SIZE: f64 = 14.0;
const LINE: f64 = 18.0;
const ROW_GAP: f64 = 14.0;
const GROUP_GAP: f64 = 12.0;
const WIDEST_LABEL: f64 = 270.0;

/// Where each strategy's row lies.
#[derive(Debug, Clone, PartialEq)]
pub struct StrategyList {
    headings: Vec<(f64, Vec<String>)>,
    labels: Vec<(f64, Vec<String>)>,
    rules: Vec<f64>,
    top: f64,
    /// Right end of the labels in points.
    pub right: f64,
    /// Lower end of the last row in points.
    pub bottom: f64,
}

impl StrategyList {
    /// Lays the strategies out from `top` downwards, a heading for each technique and a row for
    /// each wire.
    #[must_use]
    pub fn new(strategies: &[StrategySummary], top: f64) -> Self {
        let labels = strategies.iter();
        Self::of(labels.map(|s| (s.technique.as_str(), s.wire.as_str())), top)
    }

    /// The same for strategies that are named by technique and wire.
    #[must_use]
    pub fn of<'s>(strategies: impl Iterator<Item = (&'s str, &'s str)>, top: f64) -> Self {
        let style = Type::new(LABEL_SIZE, INK);
        let mut list = Self {
            headings: Vec::new(),
            labels: Vec::new(),
            rules: Vec::new(),
            top,
            right: 0.0,
            bottom: top,
        };
        let mut y = top;
        let mut technique: Option<&str> = None;
        for (of_strategy, wire) in strategies {
            if technique != Some(of_strategy) {
                if technique.is_some() {
                    y += GROUP_GAP;
                    list.rules.push(y - GROUP_GAP / 2.0);
                }
                technique = Some(of_strategy);
                let lines = wrap(of_strategy, WIDEST_LABEL, style.bold());
                let height = LINE * lines.len() as f64;
                list.widen(&lines, style.bold());
                list.headings.push((y, lines));
                y += height + ROW_GAP / 2.0;
            }
            let lines = wrap(wire, WIDEST_LABEL, style);
            let height = LINE * lines.len().max(1) as f64;
            list.widen(&lines, style);
            list.labels.push((y + height / 2.0, lines));
            y += height + ROW_GAP;
        }
        list.bottom = y;
        list
    }

    /// Size of a figure that ends in this list and the axis below it, in points.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    pub fn figure_size(&self) -> (u32, u32) {
        (WIDTH, (self.bottom + BELOW).ceil() as u32)
    }

    /// The plot beside the list: per cent from left to right, ending `right` points from the
    /// figure's edge.
    #[must_use]
    pub fn plot(&self, right: f64) -> Plot {
        Plot {
            left: self.right + 28.0,
            top: self.top,
            right: f64::from(WIDTH) - right,
            bottom: self.bottom,
            x: (0.0, 100.0),
            y: (0.0, 1.0),
        }
    }

    fn widen(&mut self, lines: &[String], style: Type) {
        for line in lines {
            self.right = self.right.max(MARGIN + text_width(line, style));
        }
    }

    /// Middle of the `index`-th strategy's row in points.
    #[must_use]
    pub fn middle(&self, index: usize) -> f64 {
        self.labels[index].0
    }

    /// Draws headings, labels and the rules between groups, which run to `right`.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn draw(&self, pen: &Pen<'_>, right: f64) -> Result<(), FigureError> {
        let style = Type::new(LABEL_SIZE, INK);
        for &rule in &self.rules {
            pen.line(&[(MARGIN, rule), (right, rule)], 1.0, GRID)?;
        }
        for (top, lines) in &self.headings {
            for (i, line) in lines.iter().enumerate() {
                let y = top + LINE * (i as f64 + 0.5);
                pen.text(line, (MARGIN, y), style.bold())?;
            }
        }
        for (middle, lines) in &self.labels {
            for (i, line) in lines.iter().enumerate() {
                let y = middle + LINE * (i as f64 - 0.5 * (lines.len() as f64 - 1.0));
                pen.text(line, (MARGIN, y), style)?;
            }
        }
        Ok(())
    }
}

/// Draws title and subtitle in the top left corner; returns where they end, in points.
///
/// # Errors
///
/// What the backend reports.
pub fn heading(pen: &Pen<'_>, title: &str, subtitle: &str) -> Result<f64, FigureError> {
    let title_style = Type::new(TITLE_SIZE, INK).bold();
    pen.text(title, (MARGIN, 26.0), title_style)?;
    let room = pen.width() - 2.0 * MARGIN;
    let style = Type::new(SUBTITLE_SIZE, SOFT_INK);
    if text_width(subtitle, style) <= room {
        pen.text(subtitle, (MARGIN, 50.0), style)?;
        return Ok(HEADING_BOTTOM);
    }
    // What is too long stands in two narrower lines.
    let style = Type::new(SMALL, SOFT_INK);
    for (index, line) in wrap(subtitle, room, style).iter().enumerate() {
        pen.text(line, (MARGIN, 44.0 + SMALL_LINE * index as f64), style)?;
    }
    Ok(HEADING_BOTTOM)
}

/// Lower end of title and subtitle in points.
pub const HEADING_BOTTOM: f64 = 66.0;
