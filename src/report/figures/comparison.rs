//! Techniques side by side on one anatomy: how often, how it ended, with what effort and force.

use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::outcomes;
use super::palette::{INK, PAPER, wire_colour};
use super::pen::{Align, Pen, Type};
use super::rates::draw_rate;
use super::strategies::{MARGIN, StrategyList, heading};
use crate::study::{LEAST_FOR_P95, Spread, StrategySummary};

const WIDTH: f64 = 1800.0;
const GAP: f64 = 26.0;
/// Room for the axes below the list, in points.
const BELOW: f64 = 34.0;
/// Room for the names of the columns above the list, in points.
const ABOVE: f64 = 28.0;

/// What a column of numbers shows: the median, and the end of the line from it.
type Number = fn(&StrategySummary) -> [f64; 2];

/// The columns of numbers: name with unit, and value.
const NUMBERS: [(&str, Number); 6] = [
    ("attempts", |s| [s.attempts.median; 2]),
    ("fed + withdrawn (mm)", |s| ends(s, s.travel_mm)),
    ("turned (degrees)", |s| ends(s, s.turned_deg)),
    ("wall force (mN)", |s| ends(s, s.peak_wall_force_mn)),
    ("tip force (mN)", |s| ends(s, s.peak_tip_force_mn)),
    ("push force (mN)", |s| ends(s, s.peak_push_force_mn)),
];

fn ends(strategy: &StrategySummary, spread: Spread) -> [f64; 2] {
    [spread.median, spread.high(strategy.trials)]
}

/// All strategies of a study side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the target branch.
    pub target: String,
    /// Names of the wires in the order of their colours.
    pub wires: Vec<String>,
    /// The strategies.
    pub strategies: Vec<StrategySummary>,
}

impl Comparison {
    fn top(&self) -> f64 {
        outcomes::legend(&self.strategies, WIDTH).1 + ABOVE
    }

    fn list(&self) -> StrategyList {
        StrategyList::new(&self.strategies, self.top())
    }

    /// The columns from left to right: rate, outcomes, and the numbers.
    fn plots(&self, list: &StrategyList) -> Vec<Plot> {
        let left = list.right + GAP;
        let free = WIDTH - MARGIN - left - GAP * (1.0 + NUMBERS.len() as f64);
        // Rate and outcomes get twice the width of a column of numbers.
        let unit = free / (4.0 + NUMBERS.len() as f64);
        let mut plots = Vec::new();
        let mut at = left;
        for column in 0..2 + NUMBERS.len() {
            let (width, x) = match column.checked_sub(2) {
                None => (2.0 * unit, (0.0, 100.0)),
                Some(number) => (unit, (0.0, self.most(NUMBERS[number].1))),
            };
            plots.push(Plot {
                left: at,
                top: self.top(),
                right: at + width,
                bottom: list.bottom,
                x,
                y: (0.0, 1.0),
            });
            at += width + GAP;
        }
        plots
    }

    /// End of a column's axis.
    fn most(&self, value: Number) -> f64 {
        let values = self.strategies.iter().map(|s| value(s)[1]);
        let most = values.filter(|v| v.is_finite()).fold(0.0_f64, f64::max);
        if most > 0.0 { 1.08 * most } else { 1.0 }
    }

    fn colour(&self, strategy: &StrategySummary) -> RGBColor {
        let wire = self.wires.iter().position(|w| *w == strategy.wire);
        wire_colour(wire.unwrap_or(0))
    }
}

impl Figure for Comparison {
    fn name(&self) -> &str {
        "comparison"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        (WIDTH as u32, (self.list().bottom + BELOW).ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let title = format!("Techniques side by side: the way into {}", self.target);
        let fewest = self.strategies.iter().map(|s| s.trials).min();
        let high = if fewest.is_some_and(|trials| trials < LEAST_FOR_P95) {
            "largest value"
        } else {
            "95th percentile"
        };
        let subtitle = format!(
            "{}; rate with 95 % Wilson interval; numbers: dot median, line to the {high}, all trials; \
              forces: peaks of a trial, on the wall without leaving the guide",
            self.scenario
        );
        heading(pen, &title, &subtitle)?;
        let (legend, _) = outcomes::legend(&self.strategies, WIDTH);
        outcomes::draw_legend(pen, &legend)?;
        let list = self.list();
        let plots = self.plots(&list);
        list.draw(pen, WIDTH - MARGIN)?;
        let names = ["trials that reach the target (%)", "how the trials end (%)"];
        let names = names.into_iter().chain(NUMBERS.map(|(name, _)| name));
        for (column, (plot, name)) in plots.iter().zip(names).enumerate() {
            plot.x_ticks(pen, true)?;
            plot.frame(pen)?;
            let style = Type::new(13.0, INK).bold().align(Align::Centre);
            pen.text(
                name,
                (0.5 * (plot.left + plot.right), plot.top - 14.0),
                style,
            )?;
            for (index, strategy) in self.strategies.iter().enumerate() {
                let (y, colour) = (list.middle(index), self.colour(strategy));
                match column {
                    0 => draw_rate(pen, plot, y, strategy, colour)?,
                    1 => outcomes::draw_stack(pen, plot, y, strategy)?,
                    _ => draw_number(pen, plot, y, NUMBERS[column - 2].1(strategy), colour)?,
                }
            }
        }
        Ok(())
    }
}

/// A dot at the median, a line to the high end.
fn draw_number(
    pen: &Pen<'_>,
    plot: &Plot,
    y: f64,
    [median, high]: [f64; 2],
    colour: RGBColor,
) -> Result<(), FigureError> {
    if !median.is_finite() {
        return Ok(());
    }
    let at = |v: f64| (plot.map(v, 0.0).0, y);
    pen.line(&[at(median), at(high)], 2.5, colour)?;
    pen.disc(at(median), 6.0, PAPER)?;
    pen.disc(at(median), 4.5, colour)
}
