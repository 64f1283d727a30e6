//! Success against one parameter, a line for each strategy.

use plotters::prelude::DrawingBackend;

use super::effects::{Scale, scale};
use crate::report::figures::axis::Plot;
use crate::report::figures::canvas::{Figure, FigureError};
use crate::report::figures::palette::{INK, wire_colour};
use crate::report::figures::pen::{Pen, Type};
use crate::report::figures::strategies::heading;
use crate::scenario::sweep::model::ParameterSpec;
use crate::study::sweep::Effect;

const WIDTH: u32 = 720;
const HEIGHT: u32 = 420;
const LEGEND_LINE: f64 = 20.0;

/// Success against one parameter.
#[derive(Debug, Clone, PartialEq)]
pub struct SuccessCurve {
    /// Name of its files.
    pub name: String,
    /// Name of the sweep.
    pub sweep: String,
    /// The parameter.
    pub parameter: ParameterSpec,
    /// One entry a strategy.
    pub effects: Vec<Effect>,
}

impl Figure for SuccessCurve {
    fn name(&self) -> &str {
        &self.name
    }

    fn size(&self) -> (u32, u32) {
        let lines = u32::try_from(self.effects.len()).unwrap_or(1);
        (WIDTH, HEIGHT + 20 * lines)
    }

    fn draw<DB: DrawingBackend>(&self, pen: &Pen<'_, DB>) -> Result<(), FigureError> {
        heading(
            pen,
            &format!("Success against {}", self.parameter.label),
            &format!(
                "{}; over all values of the other parameters; bars: 95 % Wilson interval on effective trials",
                self.sweep
            ),
        )?;
        let mut y = 78.0;
        for (index, effect) in self.effects.iter().enumerate() {
            let colour = wire_colour(index);
            pen.line(&[(24.0, y), (46.0, y)], 2.5, colour)?;
            pen.disc((35.0, y), 4.0, colour)?;
            pen.text(&effect.strategy, (54.0, y), Type::new(13.0, INK))?;
            y += LEGEND_LINE;
        }
        let scale = scale(&self.effects);
        let plot = Plot {
            left: 72.0,
            top: y + 4.0,
            right: f64::from(WIDTH) - 30.0,
            bottom: y + 4.0 + f64::from(HEIGHT) - 150.0,
            x: scale.range(),
            y: (0.0, 100.0),
        };
        plot.y_ticks(pen, true)?;
        scale.ticks(pen, &plot)?;
        plot.frame(pen)?;
        plot.x_name(pen, &self.parameter.axis())?;
        plot.y_name(pen, "trials that reach the target (%)", 48.0)?;
        for (index, effect) in self.effects.iter().enumerate() {
            let colour = wire_colour(index);
            let aside = 3.0 * (index as f64 - (self.effects.len() as f64 - 1.0) / 2.0);
            let at = |place: f64, rate: f64| {
                let (x, y) = plot.map(place, 100.0 * rate);
                (x + aside, y)
            };
            let ran: Vec<_> = (0..)
                .zip(&effect.bins)
                .filter(|(_, b)| b.trials > 0)
                .collect();
            let points: Vec<_> = ran
                .iter()
                .map(|(k, bin)| at(scale.place(*k, bin), bin.rate))
                .collect();
            if !matches!(scale, Scale::Words(_)) {
                pen.line(&points, 2.0, colour)?;
            }
            for ((k, bin), point) in ran.iter().zip(&points) {
                let place = scale.place(*k, bin);
                pen.line(
                    &[at(place, bin.ci95[0]), at(place, bin.ci95[1])],
                    1.5,
                    colour,
                )?;
                pen.disc(*point, 4.0, colour)?;
            }
        }
        Ok(())
    }
}
