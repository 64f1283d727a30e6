//! Success against one parameter: a panel for each technique, a line with its
//! intervals for each wire.

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

/// Distance in points between the points of two wires at one value.
const DODGE: f64 = 7.0;
/// Half the width of a whisker's end, in points.
const CAP: f64 = 2.5;

/// How intervals are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Intervals {
    /// A whisker at each point, the wires side by side.
    Whiskers,
    /// Thin lines above and below, where the values lie too close for whiskers.
    Lines,
}

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

    /// The lines of one technique, each with the number of its wire.
    fn own_lines(&self, technique: &str) -> Vec<(usize, &Effect)> {
        let wires = self.wires();
        let own = self.lines.iter();
        let own = own.filter(|(label, _)| label.technique == technique);
        own.map(|(label, effect)| {
            let wire = wires.iter().position(|w| *w == label.wire);
            (wire.unwrap_or(0), effect)
        })
        .collect()
    }

    /// How the intervals are drawn: the same in all panels.
    fn intervals(&self, scale: &Scale) -> Intervals {
        let most = self.wires().len();
        let plot = self.plot(0, scale);
        let places = scale.places();
        let apart = places.windows(2).map(|pair| {
            let [a, b] = [pair[0], pair[1]].map(|x| plot.map(x, 0.0).0);
            b - a
        });
        let apart = apart.fold(f64::INFINITY, f64::min);
        if apart >= DODGE * (most as f64 + 1.0) {
            Intervals::Whiskers
        } else {
            Intervals::Lines
        }
    }

    fn draw_lines(
        pen: &Pen<'_>,
        plot: &Plot,
        scale: &Scale,
        intervals: Intervals,
        (lines, wires): (&[(usize, &Effect)], usize),
    ) -> Result<(), FigureError> {
        for &(wire, effect) in lines {
            let colour = wire_colour(wire);
            let aside = match intervals {
                Intervals::Whiskers => DODGE * (wire as f64 - 0.5 * (wires as f64 - 1.0)),
                Intervals::Lines => 0.0,
            };
            let bins: Vec<_> = (0..)
                .zip(&effect.bins)
                .filter(|(_, b)| b.trials > 0)
                .collect();
            let placed = |value: fn(&Bin) -> f64| -> Vec<(f64, f64)> {
                let placed = bins.iter().map(|&(k, bin)| {
                    let (x, y) = plot.map(scale.place(k, bin), 100.0 * value(bin));
                    (x + aside, y)
                });
                placed.collect()
            };
            let (low, high) = (placed(|b| b.ci95[0]), placed(|b| b.ci95[1]));
            let points = placed(|b| b.rate);
            match intervals {
                Intervals::Whiskers => {
                    for (&low, &high) in low.iter().zip(&high) {
                        pen.line(&[low, high], 1.2, pale(colour, 0.6))?;
                        for (x, y) in [low, high] {
                            pen.line(&[(x - CAP, y), (x + CAP, y)], 1.2, pale(colour, 0.6))?;
                        }
                    }
                }
                Intervals::Lines => {
                    pen.line(&low, 0.8, pale(colour, 0.5))?;
                    pen.line(&high, 0.8, pale(colour, 0.5))?;
                }
            }
            // Between names there is nothing to join.
            if matches!(scale, Scale::Numbers(_)) {
                pen.line(&points, 1.8, colour)?;
            }
            for &point in &points {
                pen.disc(point, 3.2, colour)?;
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
        let effects: Vec<Effect> = self.lines.iter().map(|(_, e)| e.clone()).collect();
        let scale = scale(&self.parameter, &effects);
        let intervals = self.intervals(&scale);
        let drawn_as = match intervals {
            Intervals::Whiskers => "whiskers",
            Intervals::Lines => "thin lines",
        };
        heading(
            pen,
            &format!("Success against {}", self.parameter.label),
            &format!(
                "{}; over all values of the other parameters; {drawn_as}: 95 % interval on effective \
                 trials",
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
        for (index, technique) in techniques.iter().enumerate() {
            let plot = self.plot(index, &scale);
            plot.y_ticks(pen, true)?;
            scale.ticks(pen, &plot)?;
            let lines = self.own_lines(technique);
            Self::draw_lines(pen, &plot, &scale, intervals, (&lines, wires.len()))?;
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
