//! Sensitivity bars: how much of the variance of the success rate each parameter explains.

use crate::report::figures::axis::Plot;
use crate::report::figures::canvas::{Figure, FigureError};
use crate::report::figures::font::text_width;
use crate::report::figures::palette::{INK, SOFT_INK, wire_colour};
use crate::report::figures::pen::{Align, Pen, Type};
use crate::report::figures::strategies::{MARGIN, heading};
use crate::study::sweep::{Index, Sensitivity};

const WIDTH: u32 = 780;
const ROW: f64 = 34.0;
const BAR: f64 = 11.0;
const TOP: f64 = 100.0;
const GROUP: f64 = 34.0;

/// Sensitivity bars of every strategy.
#[derive(Debug, Clone, PartialEq)]
pub struct SensitivityBars {
    /// Name of the sweep.
    pub sweep: String,
    /// Whether the design is a grid, which tells first-order indices only.
    pub grid: bool,
    /// Column and label of each parameter.
    pub labels: Vec<(String, String)>,
    /// Indices by strategy.
    pub strategies: Vec<(String, Vec<Sensitivity>)>,
}

impl SensitivityBars {
    fn bottom(&self) -> f64 {
        let rows: usize = self.strategies.iter().map(|(_, p)| p.len()).sum();
        TOP + GROUP * self.strategies.len() as f64 + ROW * rows as f64
    }

    fn label(&self, column: &str) -> String {
        let found = self.labels.iter().find(|(of, _)| of == column);
        found.map_or(column.to_owned(), |(_, label)| label.clone())
    }
}

impl Figure for SensitivityBars {
    fn name(&self) -> &'static str {
        "sensitivity"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        (WIDTH, (self.bottom() + 56.0) as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let interval = if self.grid {
            "jackknife over draws"
        } else {
            "jackknife over rows"
        };
        heading(
            pen,
            "What the success rate depends on",
            &format!("{}; lines: 95 % interval ({interval})", self.sweep),
        )?;
        let style = Type::new(13.0, INK);
        let mut x = MARGIN;
        let entries: &[_] = if self.grid {
            &[("alone (first order)", wire_colour(0))]
        } else {
            &[
                ("alone (first order)", wire_colour(0)),
                ("with interactions (total)", wire_colour(1)),
            ]
        };
        for (text, colour) in entries {
            pen.fill((x, 72.0), (x + 14.0, 84.0), *colour)?;
            pen.text(text, (x + 20.0, 78.0), style)?;
            x += 20.0 + text_width(text, style) + 24.0;
        }
        let widest = self
            .labels
            .iter()
            .map(|(_, label)| text_width(label, style))
            .fold(0.0, f64::max);
        let longest = self
            .strategies
            .iter()
            .flat_map(|(_, parameters)| parameters)
            .flat_map(|p| [Some(p.first_order), p.total])
            .flatten()
            .map(|index| index.ci95[1].max(index.value))
            .fold(1.0, f64::max);
        let plot = Plot {
            left: MARGIN + widest + 18.0,
            top: TOP,
            right: f64::from(WIDTH) - 34.0,
            bottom: self.bottom(),
            x: (0.0, longest.min(1.6)),
            y: (0.0, 1.0),
        };
        plot.x_ticks(pen, true)?;
        plot.frame(pen)?;
        plot.x_name(pen, "share of the variance of the success rate")?;
        let mut y = TOP;
        for (strategy, parameters) in &self.strategies {
            let bold = Type::new(13.0, INK).bold();
            pen.text(strategy, (plot.left + 8.0, y + 18.0), bold)?;
            y += GROUP;
            for parameter in parameters {
                let middle = y + ROW / 2.0 - 4.0;
                let style = Type::new(13.0, INK).align(Align::Right);
                let label = self.label(&parameter.parameter);
                pen.text(&label, (plot.left - 10.0, middle), style)?;
                match parameter.total {
                    None => bar(pen, &plot, middle, parameter.first_order, wire_colour(0))?,
                    Some(total) => {
                        bar(
                            pen,
                            &plot,
                            middle - 6.5,
                            parameter.first_order,
                            wire_colour(0),
                        )?;
                        bar(pen, &plot, middle + 6.5, total, wire_colour(1))?;
                    }
                }
                y += ROW;
            }
        }
        Ok(())
    }
}

fn bar(
    pen: &Pen<'_>,
    plot: &Plot,
    y: f64,
    index: Index,
    colour: plotters::style::RGBColor,
) -> Result<(), FigureError> {
    let at = |value: f64| plot.map(value.clamp(plot.x.0, plot.x.1), 0.0).0;
    pen.fill(
        (plot.left, y - BAR / 2.0),
        (at(index.value), y + BAR / 2.0),
        colour,
    )?;
    pen.line(
        &[(at(index.ci95[0]), y), (at(index.ci95[1]), y)],
        1.5,
        SOFT_INK,
    )?;
    for end in index.ci95 {
        pen.line(&[(at(end), y - 3.5), (at(end), y + 3.5)], 1.5, SOFT_INK)?;
    }
    Ok(())
}
