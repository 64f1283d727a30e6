//! How often each strategy reaches the target, with its interval.

use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::palette::{INK, PAPER, SOFT_INK, wire_colour};
use super::pen::{Align, Pen, Type};
use super::strategies::{HEADING_BOTTOM, StrategyList, heading};
use crate::study::StrategySummary;

const TOP: f64 = HEADING_BOTTOM + 10.0;
const RIGHT: f64 = 110.0;

/// Success rate of each strategy with Wilson's 95 % interval.
#[derive(Debug, Clone, PartialEq)]
pub struct Rates {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the target branch.
    pub target: String,
    /// Names of the wires in the order of their colours.
    pub wires: Vec<String>,
    /// The strategies.
    pub strategies: Vec<StrategySummary>,
}

/// Draws the rate of a strategy with its interval at a height `y` of a plot in per cent.
///
/// # Errors
///
/// What the backend reports.
pub(super) fn draw_rate(
    pen: &Pen<'_>,
    plot: &Plot,
    y: f64,
    strategy: &StrategySummary,
    colour: RGBColor,
) -> Result<(), FigureError> {
    let at = |rate: f64| (plot.map(100.0 * rate, 0.0).0, y);
    let (low, high) = (at(strategy.ci95[0]), at(strategy.ci95[1]));
    pen.line(&[low, high], 3.0, colour)?;
    for (x, y) in [low, high] {
        pen.line(&[(x, y - 5.0), (x, y + 5.0)], 2.0, colour)?;
    }
    pen.disc(at(strategy.rate), 7.0, PAPER)?;
    pen.disc(at(strategy.rate), 5.5, colour)
}

impl Figure for Rates {
    fn name(&self) -> &str {
        "success-rate"
    }

    fn size(&self) -> (u32, u32) {
        StrategyList::new(&self.strategies, TOP).figure_size()
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let title = format!("How often the wire reaches {}", self.target);
        let subtitle = format!("{}; lines: 95 % Wilson interval", self.scenario);
        heading(pen, &title, &subtitle)?;
        let list = StrategyList::new(&self.strategies, TOP);
        let plot = list.plot(RIGHT);
        plot.x_ticks(pen, true)?;
        list.draw(pen, plot.right)?;
        plot.frame(pen)?;
        plot.x_name(pen, "trials that reach the target (%)")?;
        for (index, strategy) in self.strategies.iter().enumerate() {
            let y = list.middle(index);
            let wire = self.wires.iter().position(|w| *w == strategy.wire);
            draw_rate(pen, &plot, y, strategy, wire_colour(wire.unwrap_or(0)))?;
            let text = format!("{} of {}", strategy.reached, strategy.trials);
            let style = Type::new(13.0, INK).align(Align::Left);
            pen.text(&text, (plot.right + 12.0, y), style)?;
        }
        let style = Type::new(12.0, SOFT_INK);
        pen.text("reached", (plot.right + 12.0, TOP + 8.0), style)
    }
}
