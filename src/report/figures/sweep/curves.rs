//! Success against one parameter: a panel for each technique, a line with its band for each wire.

use plotters::style::RGBColor;

use super::effects::{Scale, scale};
use crate::report::figures::axis::Plot;
use crate::report::figures::canvas::{Figure, FigureError};
use crate::report::figures::font::{text_width, wrap};
use crate::report::figures::forces::distinct;
use crate::report::figures::palette::{INK, pale, wire_colour};
use crate::report::figures::pen::{Pen, Type};
use crate::report::figures::strategies::heading;
use crate::scenario::sweep::model::ParameterSpec;
use crate::study::StrategyLabel;
use crate::study::sweep::{Bin, Effect};

const LEFT: f64 = 72.0;
const RIGHT: f64 = 30.0;
const GAP: f64 = 40.0;
const LEGEND_Y: f64 = 78.0;
const TOP: f64 = 100.0;
const BELOW: f64 = 56.0;
const TITLE_LINE: f64 = 18.0;
const IN_A_ROW: usize = 4;
/// Width and height of the panel where there is one, and where there are many, in points.
const ONE: (f64, f64) = (618.0, 270.0);
const MANY: (f64, f64) = (300.0, 180.0);

/// Success against one parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct SuccessCurve {
    /// Name of its files.
    pub name: String,
    /// Name of the sweep.
    pub sweep: String,
    /// The parameter.
    pub parameter: ParameterSpec,
    /// Each strategy with its success at the values of the parameter.
    pub lines: Vec<(StrategyLabel, Effect)>,
}

impl SuccessCurve {
    fn techniques(&self) -> Vec<&str> {
        distinct(self.lines.iter().map(|(label, _)| label.technique.as_str()))
    }

    fn wires(&self) -> Vec<&str> {
        distinct(self.lines.iter().map(|(label, _)| label.wire.as_str()))
    }

    fn columns(&self) -> usize {
        self.techniques().len().clamp(1, IN_A_ROW)
    }

    fn panel(&self) -> (f64, f64) {
        if self.techniques().len() > 1 {
            MANY
        } else {
            ONE
        }
    }

    /// Lines of the longest title of a panel.
    fn title_lines(&self) -> usize {
        let lines = self.techniques().into_iter().map(|t| self.title(t).len());
        lines.max().unwrap_or(1)
    }

    fn title(&self, technique: &str) -> Vec<String> {
        wrap(technique, self.panel().0, Type::new(14.0, INK).bold())
    }

    fn row_height(&self) -> f64 {
        TITLE_LINE * self.title_lines() as f64 + self.panel().1 + BELOW
    }

    fn plot(&self, index: usize, scale: &Scale) -> Plot {
        let (row, column) = (index / self.columns(), index % self.columns());
        let (width, height) = self.panel();
        let left = LEFT + column as f64 * (width + GAP);
        let top = TOP + row as f64 * self.row_height() + TITLE_LINE * self.title_lines() as f64;
        Plot {
            left,
            top,
            right: left + width,
            bottom: top + height,
            x: scale.range(),
            y: (0.0, 100.0),
        }
    }

    fn draw_lines(
        pen: &Pen<'_>,
        plot: &Plot,
        scale: &Scale,
        lines: &[(RGBColor, &Effect)],
    ) -> Result<(), FigureError> {
        let many = lines.len() as f64;
        let placed = |index: usize, effect: &Effect, value: fn(&Bin) -> f64| -> Vec<(f64, f64)> {
            let aside = match scale {
                Scale::Words(_) => 8.0 * (index as f64 - 0.5 * (many - 1.0)),
                Scale::Numbers(_) => 0.0,
            };
            let bins = (0..).zip(&effect.bins).filter(|(_, bin)| bin.trials > 0);
            bins.map(|(k, bin)| {
                let (x, y) = plot.map(scale.place(k, bin), 100.0 * value(bin));
                (x + aside, y)
            })
            .collect()
        };
        let bounds = |index: usize, effect: &Effect| {
            let low = placed(index, effect, |bin| bin.ci95[0]);
            (low, placed(index, effect, |bin| bin.ci95[1]))
        };
        if matches!(scale, Scale::Numbers(_)) {
            for (index, (colour, effect)) in lines.iter().enumerate() {
                let (low, high) = bounds(index, effect);
                let band: Vec<_> = low.into_iter().chain(high.into_iter().rev()).collect();
                if band.len() > 2 {
                    pen.polygon(&band, pale(*colour, 0.16))?;
                }
            }
        }
        for (index, (colour, effect)) in lines.iter().enumerate() {
            // Lines that coincide are seen as one round the other.
            let below = many - 1.0 - index as f64;
            let (low, high) = bounds(index, effect);
            let points = placed(index, effect, |bin| bin.rate);
            match scale {
                Scale::Numbers(_) => {
                    pen.line(&low, 0.8, pale(*colour, 0.5))?;
                    pen.line(&high, 0.8, pale(*colour, 0.5))?;
                    pen.line(&points, 2.0 + 2.4 * below, *colour)?;
                }
                Scale::Words(_) => {
                    for (low, high) in low.iter().zip(&high) {
                        pen.line(&[*low, *high], 1.5, *colour)?;
                    }
                }
            }
            for &point in &points {
                pen.disc(point, 3.5 + 1.8 * below, *colour)?;
            }
        }
        Ok(())
    }
}

impl Figure for SuccessCurve {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let columns = self.columns() as f64;
        let rows = self.techniques().len().div_ceil(self.columns()).max(1) as f64;
        let width = LEFT + columns * (self.panel().0 + GAP) - GAP + RIGHT;
        (
            width.max(720.0) as u32,
            (TOP + rows * self.row_height()).ceil() as u32,
        )
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(
            pen,
            &format!("Success against {}", self.parameter.label),
            &format!(
                "{}; over all values of the other parameters; bands: 95 % interval on effective trials",
                self.sweep
            ),
        )?;
        let (techniques, wires) = (self.techniques(), self.wires());
        let mut x = 24.0;
        for (index, wire) in wires.iter().enumerate() {
            let (colour, style) = (wire_colour(index), Type::new(13.0, INK));
            pen.line(&[(x, LEGEND_Y), (x + 22.0, LEGEND_Y)], 2.5, colour)?;
            pen.disc((x + 11.0, LEGEND_Y), 4.0, colour)?;
            pen.text(wire, (x + 30.0, LEGEND_Y), style)?;
            x += 30.0 + text_width(wire, style) + 26.0;
        }
        let effects: Vec<Effect> = self.lines.iter().map(|(_, e)| e.clone()).collect();
        let scale = scale(&self.parameter, &effects);
        for (index, technique) in techniques.iter().enumerate() {
            let plot = self.plot(index, &scale);
            plot.y_ticks(pen, true)?;
            scale.ticks(pen, &plot)?;
            let own = self
                .lines
                .iter()
                .filter(|(label, _)| label.technique == *technique);
            let lines: Vec<_> = own
                .map(|(label, effect)| {
                    let wire = wires.iter().position(|w| *w == label.wire);
                    (wire_colour(wire.unwrap_or(0)), effect)
                })
                .collect();
            Self::draw_lines(pen, &plot, &scale, &lines)?;
            plot.frame(pen)?;
            plot.x_name(pen, &self.parameter.axis())?;
            if index % self.columns() == 0 {
                plot.y_name(pen, "reached (%)", 48.0)?;
            }
            for (i, line) in self.title(technique).iter().rev().enumerate() {
                let y = plot.top - TITLE_LINE * (i as f64 + 0.6);
                pen.text(line, (plot.left, y), Type::new(14.0, INK).bold())?;
            }
        }
        Ok(())
    }
}
