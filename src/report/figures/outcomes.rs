//! How the trials of each strategy end.

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::font::text_width;
use super::palette::{INK, PAPER, outcome_colour};
use super::pen::{Align, Pen, Type};
use super::strategies::{HEADING_BOTTOM, MARGIN, StrategyList, WIDTH, heading};
use crate::study::StrategySummary;
use crate::trial::result::Outcome;

const LEGEND_LINE: f64 = 24.0;
const RIGHT: f64 = 30.0;
const BAR: f64 = 20.0;

/// Trials of each strategy by outcome, as stacked bars.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcomes {
    /// Name of the scenario.
    pub scenario: String,
    /// The strategies.
    pub strategies: Vec<StrategySummary>,
}

/// The outcomes that occur, each with the point where its swatch starts, on a figure of `width`
/// points; and the lower end of the legend in points.
#[must_use]
pub(super) fn legend(
    strategies: &[StrategySummary],
    width: f64,
) -> (Vec<(Outcome, f64, f64)>, f64) {
    let style = Type::new(13.0, INK);
    let (mut x, mut y) = (MARGIN, HEADING_BOTTOM + 14.0);
    let mut entries = Vec::new();
    let occurs = |o: &Outcome| {
        let mut counts = strategies.iter().map(|s| s.outcomes.get(o).copied());
        counts.any(|n| n.is_some_and(|n| n > 0))
    };
    for outcome in Outcome::ALL.into_iter().filter(occurs) {
        let entry = 20.0 + text_width(outcome.label(), style) + 22.0;
        if x + entry > width - MARGIN {
            x = MARGIN;
            y += LEGEND_LINE;
        }
        entries.push((outcome, x, y));
        x += entry;
    }
    (entries, y + LEGEND_LINE)
}

/// Draws the entries of a legend.
///
/// # Errors
///
/// What the backend reports.
pub(super) fn draw_legend(
    pen: &Pen<'_>,
    entries: &[(Outcome, f64, f64)],
) -> Result<(), FigureError> {
    for &(outcome, x, y) in entries {
        let colour = outcome_colour(outcome);
        pen.fill((x, y - 6.0), (x + 13.0, y + 7.0), colour)?;
        pen.text(outcome.label(), (x + 20.0, y), Type::new(13.0, INK))?;
    }
    Ok(())
}

/// Draws the outcomes of a strategy as a stacked bar at a height `y` of a plot in per cent.
///
/// # Errors
///
/// What the backend reports.
pub(super) fn draw_stack(
    pen: &Pen<'_>,
    plot: &Plot,
    y: f64,
    strategy: &StrategySummary,
) -> Result<(), FigureError> {
    let share = |n: u32| 100.0 * f64::from(n) / f64::from(strategy.trials.max(1));
    let mut before = 0;
    for (&outcome, &count) in &strategy.outcomes {
        if count == 0 {
            continue;
        }
        let x0 = plot.map(share(before), 0.0).0;
        let x1 = plot.map(share(before + count), 0.0).0;
        before += count;
        let colour = outcome_colour(outcome);
        pen.fill((x0, y - BAR / 2.0), (x1, y + BAR / 2.0), colour)?;
        let style = Type::new(12.0, ink_on(outcome)).align(Align::Centre);
        let text = count.to_string();
        if text_width(&text, style) + 6.0 < x1 - x0 {
            pen.text(&text, ((x0 + x1) / 2.0, y), style)?;
        }
        if before < strategy.trials {
            let edge = [(x1, y - BAR / 2.0), (x1, y + BAR / 2.0)];
            pen.line(&edge, 1.0, PAPER)?;
        }
    }
    Ok(())
}

impl Figure for Outcomes {
    fn name(&self) -> &str {
        "outcomes"
    }

    fn size(&self) -> (u32, u32) {
        let (_, top) = legend(&self.strategies, f64::from(WIDTH));
        StrategyList::new(&self.strategies, top).figure_size()
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let subtitle = format!("{}; numbers: trials", self.scenario);
        heading(pen, "How the trials end", &subtitle)?;
        let (entries, top) = legend(&self.strategies, f64::from(WIDTH));
        draw_legend(pen, &entries)?;
        let list = StrategyList::new(&self.strategies, top);
        let plot = list.plot(RIGHT);
        plot.x_ticks(pen, true)?;
        list.draw(pen, plot.right)?;
        plot.x_name(pen, "trials (%)")?;
        for (index, strategy) in self.strategies.iter().enumerate() {
            draw_stack(pen, &plot, list.middle(index), strategy)?;
        }
        plot.frame(pen)
    }
}

/// A text colour that reads on the outcome's bar.
fn ink_on(outcome: Outcome) -> plotters::style::RGBColor {
    match outcome {
        Outcome::Reached | Outcome::Stalled | Outcome::OverForceLimit => PAPER,
        Outcome::WrongBranch
        | Outcome::Prolapsed
        | Outcome::OutOfWire
        | Outcome::BackedOut
        | Outcome::Unresolved => INK,
    }
}
