//! The map of wall forces: a band for each strategy along each vessel.

use plotters::style::RGBColor;

use super::axis::{Plot, round_step, ticks};
use super::canvas::{Figure, FigureError};
use super::font::text_width;
use super::palette::{FRAME, GRID, GUIDE, INK, SOFT_INK, WALL_FORCE};
use super::pen::{Align, Pen, Type};
use super::strategies::{HEADING_BOTTOM, MARGIN, StrategyList, WIDTH, heading};
use crate::study::MapField;
use crate::trial::result::Pressed;

const SCALE_TOP: f64 = HEADING_BOTTOM + 8.0;
const SCALE_HEIGHT: f64 = 12.0;
const SCALE_LEFT: f64 = 272.0;
const SCALE_WIDTH: f64 = 300.0;
/// Top of the bands in points; above them stand the names of the vessels.
const TOP: f64 = SCALE_TOP + 90.0;
const BELOW: f64 = 52.0;
const GAP: f64 = 22.0;
/// Room for all vessels together in points, if they need no more.
const VESSELS: f64 = 700.0;
/// Points to a mm of vessel.
const PER_MM: (f64, f64) = (3.0, 12.0);
/// Height of the band of the largest force, and of the one of the median below it, in points.
const LARGEST: f64 = 14.0;
const MEDIAN: f64 = 8.0;
/// How many times the palest force goes into the darkest.
const SPAN: f64 = 100.0;
/// Colours at the ends of the scale; between them lies [`WALL_FORCE`].
const PALEST: RGBColor = RGBColor(253, 236, 222);
const DARKEST: RGBColor = RGBColor(70, 12, 46);

/// A station that is marked on a vessel.
#[derive(Debug, Clone, PartialEq)]
pub struct WallMark {
    /// Name of the vessel.
    pub vessel: String,
    /// Station in mm.
    pub station_mm: f64,
    /// The guide ends there; else the target leaves, or its ostium lies, there.
    pub guide: bool,
}

/// Largest wall force along each vessel, a pair of bands for each strategy: the largest of all
/// trials, and below it the median of the trials that press there.
#[derive(Debug, Clone, PartialEq)]
pub struct WallMap {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the target branch.
    pub target: String,
    /// Technique and wire of each strategy.
    pub strategies: Vec<(String, String)>,
    /// Names of the vessels by number.
    pub vessels: Vec<String>,
    /// Marked stations.
    pub marks: Vec<WallMark>,
    /// What was pressed.
    pub fields: Vec<MapField>,
}

/// A vessel on the figure.
struct Column {
    vessel: usize,
    /// First and last station shown, pressed or marked, in mm.
    range: (f64, f64),
    /// Width that its name needs, in points.
    name: f64,
}

impl WallMap {
    fn list(&self) -> StrategyList {
        let labels = self.strategies.iter();
        StrategyList::of(labels.map(|(t, w)| (t.as_str(), w.as_str())), TOP)
    }

    /// The vessels on which anything pressed, in their order.
    fn columns(&self) -> Vec<Column> {
        let mut columns = Vec::new();
        for (vessel, name) in self.vessels.iter().enumerate() {
            let own = self.fields.iter().filter(|f| f.branch == vessel);
            let stretches = own.map(|f| f64::from(f.stretch));
            let (first, last) = stretches.fold((f64::INFINITY, 0.0_f64), |(a, b), s| {
                (a.min(s), b.max(s + 1.0))
            });
            if first < last {
                let pressed = (first * Pressed::STRETCH_MM, last * Pressed::STRETCH_MM);
                let marks = self.marks.iter().filter(|m| m.vessel == *name);
                let range = marks.fold(pressed, |(a, b), mark| {
                    (a.min(mark.station_mm), b.max(mark.station_mm))
                });
                columns.push(Column {
                    vessel,
                    range,
                    name: text_width(name, NAME.bold()).max(40.0),
                });
            }
        }
        columns
    }

    /// A plot for each column, all on the same scale.
    fn plots(&self, list: &StrategyList, columns: &[Column]) -> Vec<Plot> {
        let total: f64 = columns.iter().map(|c| c.range.1 - c.range.0).sum();
        let per_mm = (VESSELS / total.max(1.0)).clamp(PER_MM.0, PER_MM.1);
        let mut left = list.right + 28.0;
        let mut plots = Vec::new();
        for column in columns {
            let width = per_mm * (column.range.1 - column.range.0);
            plots.push(Plot {
                left,
                top: TOP,
                right: left + width,
                bottom: list.bottom,
                x: column.range,
                y: (0.0, 1.0),
            });
            left += width.max(column.name) + GAP;
        }
        plots
    }

    /// Palest and darkest force of the scale in mN.
    fn scale(&self) -> Scale {
        let forces = self.fields.iter().map(|f| f.largest_mn);
        let most = forces.fold(0.0_f64, f64::max).max(1e-3);
        Scale {
            least: most / SPAN,
            most,
        }
    }

    fn draw_column(
        &self,
        pen: &Pen<'_>,
        list: &StrategyList,
        (column, plot): (&Column, &Plot),
    ) -> Result<(), FigureError> {
        let scale = self.scale();
        let band = |strategy: usize| {
            let top = list.middle(strategy) - 0.5 * (LARGEST + MEDIAN);
            (top, top + LARGEST, top + LARGEST + MEDIAN)
        };
        for field in self.fields.iter().filter(|f| f.branch == column.vessel) {
            let (top, middle, bottom) = band(field.strategy);
            let from = f64::from(field.stretch) * Pressed::STRETCH_MM;
            let left = plot.map(from, 0.0).0;
            let right = plot.map(from + Pressed::STRETCH_MM, 0.0).0;
            let colour = scale.colour(field.largest_mn);
            pen.fill((left, top), (right, middle), colour)?;
            let colour = scale.colour(field.median_mn);
            pen.fill((left, middle), (right, bottom), colour)?;
        }
        for strategy in 0..self.strategies.len() {
            let (top, middle, bottom) = band(strategy);
            pen.frame((plot.left, top), (plot.right, bottom), 1.0, FRAME)?;
            pen.line(&[(plot.left, middle), (plot.right, middle)], 1.0, GRID)?;
        }
        let name = &self.vessels[column.vessel];
        for mark in self.marks.iter().filter(|m| m.vessel == *name) {
            let x = plot.map(mark.station_mm, 0.0).0;
            let colour = if mark.guide { GUIDE } else { INK };
            pen.line(&[(x, plot.top - 6.0), (x, plot.bottom)], 2.0, colour)?;
        }
        let style = if *name == self.target {
            NAME.bold()
        } else {
            NAME
        };
        pen.text(name, (plot.left, plot.top - 16.0), style)?;
        let below = Plot {
            bottom: list.bottom,
            ..*plot
        };
        below.x_ticks_at(pen, &stations(plot))?;
        pen.line(
            &[(plot.left, list.bottom), (plot.right, list.bottom)],
            1.0,
            FRAME,
        )
    }
}

const NAME: Type = Type {
    size: 13.0,
    colour: INK,
    bold: false,
    align: Align::Left,
    upwards: false,
};

/// Round stations within a plot, some 60 points apart.
fn stations(plot: &Plot) -> Vec<f64> {
    let per_mm = (plot.right - plot.left) / (plot.x.1 - plot.x.0);
    let step = round_step(60.0 / per_mm);
    let all = ticks(plot.x, (plot.x.1 - plot.x.0) / step);
    all.into_iter().map(|tick| tick.value).collect()
}

/// From force to colour, logarithmic.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scale {
    least: f64,
    most: f64,
}

impl Scale {
    /// Where on the scale a force lies, from 0 to 1.
    fn part(&self, force_mn: f64) -> f64 {
        let part = (force_mn / self.least).ln() / (self.most / self.least).ln();
        part.clamp(0.0, 1.0)
    }

    fn colour(&self, force_mn: f64) -> RGBColor {
        between(self.part(force_mn))
    }

    /// The forces at the ticks: 1, 2, 5 times powers of ten.
    fn round(&self) -> Vec<f64> {
        let mut found = Vec::new();
        let mut at = round_step(self.least);
        while at <= self.most * (1.0 + 1e-9) {
            found.push(at);
            at = round_step(1.5 * at);
        }
        found
    }
}

/// Colour at a part of the scale.
fn between(part: f64) -> RGBColor {
    let (low, high, share) = if part < 0.5 {
        (PALEST, WALL_FORCE, 2.0 * part)
    } else {
        (WALL_FORCE, DARKEST, 2.0 * part - 1.0)
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a value between two bytes is a byte"
    )]
    let mix = |a: u8, b: u8| (f64::from(a) + share * (f64::from(b) - f64::from(a))).round() as u8;
    RGBColor(mix(low.0, high.0), mix(low.1, high.1), mix(low.2, high.2))
}

impl Figure for WallMap {
    fn name(&self) -> &str {
        "wall-force-map"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let (list, columns) = (self.list(), self.columns());
        let plots = self.plots(&list, &columns);
        let ends = plots.iter().zip(&columns);
        let right = ends.map(|(p, c)| p.right.max(p.left + c.name));
        let width = right.fold(0.0, f64::max) + MARGIN;
        (
            width.max(f64::from(WIDTH)).ceil() as u32,
            (list.bottom + BELOW).ceil() as u32,
        )
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let subtitle = format!(
            "{}; all trials; forces of wire and catheter on one millimetre; white: nothing pressed \
             there; guide's own wall left out",
            self.scenario
        );
        heading(pen, "Where the wall is pressed", &subtitle)?;
        let (list, columns) = (self.list(), self.columns());
        if columns.is_empty() {
            let text = "no trial pressed on the wall";
            return pen.text(text, (MARGIN, TOP), Type::new(14.0, INK));
        }
        let plots = self.plots(&list, &columns);
        draw_legend(pen, self.scale())?;
        list.draw(pen, list.right)?;
        for pair in columns.iter().zip(&plots) {
            self.draw_column(pen, &list, pair)?;
        }
        let style = Type::new(13.0, INK);
        let left = plots.first().map_or(MARGIN, |p| p.left);
        let text = "distance along the vessel's centreline (mm)";
        pen.text(text, (left, list.bottom + 34.0), style)
    }
}

fn draw_legend(pen: &Pen<'_>, scale: Scale) -> Result<(), FigureError> {
    let style = Type::new(12.0, SOFT_INK);
    let (top, bottom) = (SCALE_TOP, SCALE_TOP + SCALE_HEIGHT);
    let middle = 0.5 * (top + bottom);
    pen.text(
        "wall force (mN), logarithmic scale:",
        (MARGIN, middle),
        style,
    )?;
    let parts = 100;
    for part in 0..parts {
        let at = |part: i32| SCALE_LEFT + SCALE_WIDTH * f64::from(part) / f64::from(parts);
        let colour = between((f64::from(part) + 0.5) / f64::from(parts));
        pen.fill((at(part), top), (at(part + 1), bottom), colour)?;
    }
    let centred = style.align(Align::Centre);
    for force in scale.round() {
        let x = SCALE_LEFT + SCALE_WIDTH * scale.part(force);
        pen.line(&[(x, bottom), (x, bottom + 4.0)], 1.0, FRAME)?;
        pen.text(&format!("{force}"), (x, bottom + 12.0), centred)?;
    }
    let right = SCALE_LEFT + SCALE_WIDTH + 24.0;
    let bands = "upper band: largest of all trials; lower band: median of those that press there";
    pen.text(bands, (MARGIN, bottom + 32.0), style)?;
    let mut x = right;
    for (colour, text) in [(GUIDE, "guide ends"), (INK, "target leaves; its ostium")] {
        pen.line(&[(x, top - 1.0), (x, bottom + 3.0)], 2.0, colour)?;
        pen.text(text, (x + 8.0, middle), style)?;
        x += 8.0 + text_width(text, style) + 20.0;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_runs_from_pale_to_dark_with_round_forces() {
        let scale = Scale {
            least: 0.4,
            most: 40.0,
        };
        assert_eq!(scale.round(), [0.5, 1.0, 2.0, 5.0, 10.0, 20.0]);
        let light = |force: f64| {
            let RGBColor(r, g, b) = scale.colour(force);
            0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b)
        };
        let forces = [0.1, 0.5, 1.0, 3.0, 9.0, 30.0, 40.0];
        assert!(forces.windows(2).all(|w| light(w[0]) > light(w[1])));
    }
}
