//! Main effects: a small plot for each parameter on one scale.

use crate::report::figures::axis::{Plot, TICK_SIZE};
use crate::report::figures::canvas::{Figure, FigureError};
use crate::report::figures::font::{text_width, wrap};
use crate::report::figures::palette::{FRAME, GRID, INK, SOFT_INK, wire_colour};
use crate::report::figures::pen::{Align, Pen, Type};
use crate::report::figures::strategies::heading;
use crate::scenario::sweep::model::{ParameterSpec, number, shown};
use crate::study::sweep::{Bin, Effect};

const PANEL: f64 = 210.0;
const LEFT: f64 = 68.0;
const GAP: f64 = 24.0;
const ROW_GAP: f64 = 74.0;
const IN_A_ROW: usize = 4;
const LEGEND_LINE: f64 = 20.0;
const LEGEND_TOP: f64 = 78.0;
/// Distance in points between the points of two strategies at one value, so that those that coincide
/// are all seen.
const DODGE: f64 = 3.0;

/// Success against every parameter, side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct MainEffects {
    /// Name of the sweep.
    pub sweep: String,
    /// Names of the strategies.
    pub strategies: Vec<String>,
    /// Each parameter with its effects by strategy.
    pub parameters: Vec<(ParameterSpec, Vec<Effect>)>,
}

/// How the values of a parameter lie along an axis.
#[derive(Debug, Clone, PartialEq)]
pub enum Scale {
    /// By their value: the values, rising.
    Numbers(Vec<f64>),
    /// One beside the other.
    Words(Vec<String>),
}

/// The scale for the bins of some effects of one parameter: words for a category.
#[must_use]
pub fn scale(parameter: &ParameterSpec, effects: &[Effect]) -> Scale {
    let bins = effects.first().map_or(&[][..], |effect| &effect.bins);
    let values: Option<Vec<f64>> = bins.iter().map(|bin| number(&bin.value)).collect();
    match values {
        Some(mut values) if !values.is_empty() && !parameter.is_category() => {
            values.sort_by(f64::total_cmp);
            Scale::Numbers(values)
        }
        _ => Scale::Words(bins.iter().map(|bin| shown(&bin.value)).collect()),
    }
}

impl Scale {
    /// Ends of the axis.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        match self {
            Self::Numbers(values) => {
                let low = values.first().copied().unwrap_or(0.0);
                let high = values.last().copied().unwrap_or(1.0);
                let margin = if high > low { 0.06 * (high - low) } else { 0.5 };
                (low - margin, high + margin)
            }
            Self::Words(words) => (-0.5, words.len() as f64 - 0.5),
        }
    }

    /// Where the values lie, rising.
    #[must_use]
    pub fn places(&self) -> Vec<f64> {
        match self {
            Self::Numbers(values) => values.clone(),
            Self::Words(words) => (0..words.len()).map(|k| k as f64).collect(),
        }
    }

    /// Where the bin numbered `index` lies.
    #[must_use]
    pub fn place(&self, index: u32, bin: &Bin) -> f64 {
        match self {
            Self::Numbers(_) => number(&bin.value).unwrap_or(f64::NAN),
            Self::Words(_) => f64::from(index),
        }
    }

    /// Ticks along the bottom of a plot.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn ticks(&self, pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
        let words = match self {
            Self::Numbers(values) => return plot.x_ticks_at(pen, values),
            Self::Words(words) => words,
        };
        let style = Type::new(TICK_SIZE, SOFT_INK).align(Align::Centre);
        let room = (plot.right - plot.left) / words.len().max(1) as f64 - 4.0;
        for (index, word) in words.iter().enumerate() {
            let (x, _) = plot.map(index as f64, 0.0);
            let mut text = word.clone();
            while text_width(&text, style) > room && text.chars().count() > 3 {
                text = text
                    .chars()
                    .take(text.chars().count() - 2)
                    .collect::<String>()
                    + "…";
            }
            pen.line(&[(x, plot.bottom), (x, plot.bottom + 4.0)], 1.0, FRAME)?;
            pen.text(&text, (x, plot.bottom + 13.0), style)?;
        }
        Ok(())
    }
}

impl MainEffects {
    fn top(&self) -> f64 {
        let lines = self.strategies.len() + self.fixed().len();
        LEGEND_TOP + LEGEND_LINE * lines as f64 + 2.0
    }

    /// The parameters with a panel: those with several values, since one value shows no effect; all
    /// where none has several.
    fn varied(&self) -> Vec<&(ParameterSpec, Vec<Effect>)> {
        let several = |effects: &[Effect]| effects.first().is_some_and(|e| e.bins.len() > 1);
        let (varied, fixed): (Vec<_>, Vec<_>) =
            (self.parameters.iter()).partition(|(_, effects)| several(effects));
        if varied.is_empty() { fixed } else { varied }
    }

    fn columns(&self) -> f64 {
        self.varied().len().clamp(1, IN_A_ROW) as f64
    }

    fn width(&self) -> f64 {
        let columns = self.columns();
        (LEFT + columns * PANEL + (columns - 1.0) * GAP + 28.0).max(560.0)
    }

    /// Names the parameters without a panel, with their value, in lines.
    fn fixed(&self) -> Vec<String> {
        let varied = self.varied();
        let without = self.parameters.iter().filter(|p| !varied.contains(p));
        let named: Vec<String> = without
            .map(|(parameter, effects)| {
                let bin = effects.first().and_then(|e| e.bins.first());
                let value = bin.map_or_else(String::new, |bin| shown(&bin.value));
                format!("{} {value} {}", parameter.label, parameter.unit)
                    .trim_end()
                    .to_owned()
            })
            .collect();
        if named.is_empty() {
            return Vec::new();
        }
        let text = format!("at one value only: {}", named.join(", "));
        wrap(&text, self.width() - 48.0, Type::new(12.0, SOFT_INK))
    }
}

impl Figure for MainEffects {
    fn name(&self) -> &'static str {
        "main-effects"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let rows = self.varied().len().div_ceil(IN_A_ROW).max(1) as f64;
        let height = self.top() + rows * PANEL + (rows - 1.0) * ROW_GAP + 52.0;
        (self.width() as u32, height as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(
            pen,
            "What each parameter does to success",
            &format!("{}; rate over all values of the others", self.sweep),
        )?;
        for (index, strategy) in self.strategies.iter().enumerate() {
            let y = LEGEND_TOP + LEGEND_LINE * index as f64;
            pen.line(&[(24.0, y), (46.0, y)], 2.5, wire_colour(index))?;
            pen.text(strategy, (54.0, y), Type::new(13.0, INK))?;
        }
        for (index, line) in self.fixed().iter().enumerate() {
            let y = LEGEND_TOP + LEGEND_LINE * (self.strategies.len() + index) as f64;
            pen.text(line, (24.0, y), Type::new(12.0, SOFT_INK))?;
        }
        for (index, (parameter, effects)) in self.varied().into_iter().enumerate() {
            let (row, column) = ((index / IN_A_ROW) as f64, (index % IN_A_ROW) as f64);
            let left = LEFT + column * (PANEL + GAP);
            let top = self.top() + row * (PANEL + ROW_GAP);
            let scale = scale(parameter, effects);
            let plot = Plot {
                left,
                top,
                right: left + PANEL,
                bottom: top + PANEL,
                x: scale.range(),
                y: (0.0, 100.0),
            };
            if index % IN_A_ROW == 0 {
                plot.y_ticks_at(pen, &[0.0, 20.0, 40.0, 60.0, 80.0, 100.0])?;
                plot.y_name(pen, "trials that reach the target (%)", 46.0)?;
            }
            for rate in [20.0, 40.0, 60.0, 80.0] {
                let at = |x: f64| plot.map(x, rate);
                pen.line(&[at(plot.x.0), at(plot.x.1)], 1.0, GRID)?;
            }
            scale.ticks(pen, &plot)?;
            plot.frame(pen)?;
            plot.x_name(pen, &parameter.axis())?;
            for (series, effect) in effects.iter().enumerate() {
                let aside = DODGE * (series as f64 - 0.5 * (effects.len() as f64 - 1.0));
                let colour = wire_colour(series);
                let points: Vec<_> = (0..)
                    .zip(&effect.bins)
                    .filter(|(_, bin)| bin.trials > 0)
                    .map(|(k, bin)| {
                        let (x, y) = plot.map(scale.place(k, bin), 100.0 * bin.rate);
                        (x + aside, y)
                    })
                    .collect();
                // Between names there is nothing to join.
                if matches!(scale, Scale::Numbers(_)) {
                    pen.line(&points, 1.6, colour)?;
                }
                for point in points {
                    pen.disc(point, 3.0, colour)?;
                }
            }
        }
        Ok(())
    }
}
