//! By how much each uncertain input moves an answer: bars about the answer as it is, the longest on top.

use crate::evidence::{Answer, Effect, HangsOn};
use crate::report::figures::palette::{GRID, INK, MARK, SOFT_INK, wire_colour};
use crate::report::figures::{
    Align, Figure, FigureError, HEADING_BOTTOM, MARGIN, Pen, Plot, Type, WIDTH, heading, text_width,
};

/// Height of a row and of its bar, room above and below the rows of a panel, in points.
const ROW: f64 = 30.0;
const BAR: f64 = 15.0;
const ABOVE: f64 = 34.0;
const BELOW: f64 = 52.0;
/// Height of the legend in points.
const LEGEND: f64 = 26.0;
/// Room right of the plot in points.
const RIGHT: f64 = 40.0;

/// The tornado of a strategy, a panel for each answer.
#[derive(Debug, Clone)]
pub(super) struct Tornado {
    pub name: String,
    pub scenario: String,
    pub strategy: String,
    /// Answers that vary.
    pub panels: Vec<HangsOn>,
}

impl Tornado {
    fn panel_height(panel: &HangsOn) -> f64 {
        ABOVE + ROW * panel.effects.len() as f64 + BELOW
    }
}

impl Figure for Tornado {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let panels: f64 = self.panels.iter().map(Self::panel_height).sum();
        (WIDTH, (HEADING_BOTTOM + LEGEND + panels) as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(
            pen,
            &format!("What the result hangs on: {}", self.strategy),
            &format!(
                "{}; one input at a time at either end of its spread, the same draws",
                self.scenario
            ),
        )?;
        let style = Type::new(13.0, INK);
        let mut x = MARGIN;
        for (index, text) in ["input at its low end", "input at its high end"]
            .iter()
            .enumerate()
        {
            pen.fill(
                (x, HEADING_BOTTOM),
                (x + 14.0, HEADING_BOTTOM + 12.0),
                wire_colour(index),
            )?;
            pen.text(text, (x + 20.0, HEADING_BOTTOM + 6.0), style)?;
            x += 20.0 + text_width(text, style) + 24.0;
        }
        let mut top = HEADING_BOTTOM + LEGEND;
        for panel in &self.panels {
            self.panel(pen, panel, top)?;
            top += Self::panel_height(panel);
        }
        Ok(())
    }
}

impl Tornado {
    fn panel(&self, pen: &Pen<'_>, panel: &HangsOn, top: f64) -> Result<(), FigureError> {
        let style = Type::new(13.0, INK);
        let inputs = self.panels.iter().flat_map(|p| &p.effects);
        let widths = inputs.map(|effect| text_width(&effect.input, style));
        let widest = widths.fold(0.0, f64::max);
        let plot = Plot {
            left: MARGIN + widest + 14.0,
            top: top + ABOVE,
            right: f64::from(WIDTH) - RIGHT,
            bottom: top + ABOVE + ROW * panel.effects.len() as f64,
            x: span(panel),
            y: (0.0, 1.0),
        };
        plot.x_ticks(pen, true)?;
        plot.frame(pen)?;
        plot.x_name(pen, &panel.answer.words())?;
        for (row, effect) in panel.effects.iter().enumerate() {
            let middle = plot.top + ROW * (row as f64 + 0.5);
            pen.text(
                &effect.input,
                (plot.left - 8.0, middle),
                style.align(Align::Right),
            )?;
            bars(pen, &plot, panel, effect, middle)?;
        }
        let (x, _) = plot.map(panel.stated, 0.0);
        pen.line(&[(x, plot.top), (x, plot.bottom)], 2.0, MARK)?;
        let as_it_is = Type::new(12.0, MARK).align(Align::Centre);
        pen.text("as it is", (x, plot.top - 9.0), as_it_is)
    }
}

/// The bars of an input: from the answer as it is to those at both ends of the spread, one above the other
/// where both lie to the same side.
fn bars(
    pen: &Pen<'_>,
    plot: &Plot,
    panel: &HangsOn,
    effect: &Effect,
    middle: f64,
) -> Result<(), FigureError> {
    let at = |value: f64| plot.map(value, 0.0).0;
    let origin = at(panel.stated);
    for (index, end) in [effect.low, effect.high].into_iter().enumerate() {
        let (from, to) = if index == 0 {
            (middle - 0.5 * BAR, middle)
        } else {
            (middle, middle + 0.5 * BAR)
        };
        match end {
            Some(value) => {
                let (left, right) = (origin.min(at(value)), origin.max(at(value)));
                pen.fill(
                    (left, from),
                    (right.max(left + 1.0), to),
                    wire_colour(index),
                )?;
            }
            None => {
                let style = Type::new(10.0, SOFT_INK);
                let side = ["low", "high"][index];
                let text = format!("cannot be built at its {side} end");
                pen.text(&text, (origin + 6.0, 0.5 * (from + to)), style)?;
            }
        }
    }
    let below = middle + 0.5 * ROW;
    pen.line(&[(plot.left, below), (plot.right, below)], 1.0, GRID)
}

/// The range of an answer with some room at either end.
fn span(panel: &HangsOn) -> (f64, f64) {
    let ends = panel.effects.iter().flat_map(|e| [e.low, e.high]).flatten();
    let all: Vec<f64> = ends.chain([panel.stated]).collect();
    let low = all.iter().copied().fold(f64::INFINITY, f64::min);
    let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let room = (0.08 * (high - low)).max(0.02 * high.abs()).max(1e-6);
    match panel.answer {
        Answer::Rate => ((low - room).max(-2.0), (high + room).min(102.0)),
        Answer::Force(_) => ((low - room).max(0.0), high + room),
    }
}
