//! A rectangular plot with two linear axes.

use super::canvas::FigureError;
use super::font::text_width;
use super::palette::{FRAME, GRID, INK, SOFT_INK};
use super::pen::{Align, Pen, Type};

/// Size of tick labels in points.
pub const TICK_SIZE: f64 = 12.0;
/// Size of axis names in points.
pub const NAME_SIZE: f64 = 13.0;

/// A rectangle of paper with data coordinates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plot {
    /// Left edge in points.
    pub left: f64,
    /// Top edge in points.
    pub top: f64,
    /// Right edge in points.
    pub right: f64,
    /// Bottom edge in points.
    pub bottom: f64,
    /// Data at the left and right edge.
    pub x: (f64, f64),
    /// Data at the bottom and top edge.
    pub y: (f64, f64),
}

impl Plot {
    /// Paper coordinates of a data point.
    #[must_use]
    pub fn map(&self, x: f64, y: f64) -> (f64, f64) {
        (
            self.left + (x - self.x.0) / (self.x.1 - self.x.0) * (self.right - self.left),
            self.bottom - (y - self.y.0) / (self.y.1 - self.y.0) * (self.bottom - self.top),
        )
    }

    /// Grid lines and tick labels along the bottom.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn x_ticks(&self, pen: &Pen<'_>, grid: bool) -> Result<(), FigureError> {
        let wanted = ((self.right - self.left) / 90.0).clamp(3.0, 10.0);
        let style = Type::new(TICK_SIZE, SOFT_INK).align(Align::Centre);
        for tick in ticks(self.x, wanted) {
            let (x, _) = self.map(tick.value, self.y.0);
            if grid {
                pen.line(&[(x, self.top), (x, self.bottom)], 1.0, GRID)?;
            }
            pen.line(&[(x, self.bottom), (x, self.bottom + 4.0)], 1.0, FRAME)?;
            pen.text(&tick.label, (x, self.bottom + 13.0), style)?;
        }
        Ok(())
    }

    /// Tick labels along the bottom at these values, leaving out those without room.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn x_ticks_at(&self, pen: &Pen<'_>, values: &[f64]) -> Result<(), FigureError> {
        let style = Type::new(TICK_SIZE, SOFT_INK).align(Align::Centre);
        let mut free = f64::NEG_INFINITY;
        for &value in values {
            let (x, _) = self.map(value, self.y.0);
            let text = plain(value);
            pen.line(&[(x, self.bottom), (x, self.bottom + 4.0)], 1.0, FRAME)?;
            let half = text_width(&text, style) / 2.0;
            if x - half > free {
                pen.text(&text, (x, self.bottom + 13.0), style)?;
                free = x + half + 5.0;
            }
        }
        Ok(())
    }

    /// Tick labels along the left side at these values, leaving out those without room.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn y_ticks_at(&self, pen: &Pen<'_>, values: &[f64]) -> Result<(), FigureError> {
        let style = Type::new(TICK_SIZE, SOFT_INK).align(Align::Right);
        let mut free = f64::INFINITY;
        for &value in values {
            let (_, y) = self.map(self.x.0, value);
            pen.line(&[(self.left - 4.0, y), (self.left, y)], 1.0, FRAME)?;
            if y < free {
                pen.text(&plain(value), (self.left - 7.0, y), style)?;
                free = y - TICK_SIZE - 2.0;
            }
        }
        Ok(())
    }

    /// Grid lines and tick labels along the left side.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn y_ticks(&self, pen: &Pen<'_>, grid: bool) -> Result<(), FigureError> {
        let style = Type::new(TICK_SIZE, SOFT_INK).align(Align::Right);
        for tick in self.y_numbers() {
            let (_, y) = self.map(self.x.0, tick.value);
            if grid {
                pen.line(&[(self.left, y), (self.right, y)], 1.0, GRID)?;
            }
            pen.line(&[(self.left - 4.0, y), (self.left, y)], 1.0, FRAME)?;
            pen.text(&tick.label, (self.left - 7.0, y), style)?;
        }
        Ok(())
    }

    /// The numbers at the left side.
    fn y_numbers(&self) -> Vec<Tick> {
        let wanted = ((self.bottom - self.top) / 45.0).clamp(2.0, 8.0);
        let few = ticks(self.y, wanted);
        // A single number shows no scale.
        if few.len() > 1 {
            few
        } else {
            ticks(self.y, 2.0 * wanted)
        }
    }

    /// How far left of the frame the name of the axis stands clear of the numbers that
    /// [`Self::y_ticks`] writes, in points; `least` or more.
    #[must_use]
    pub fn y_name_gap(&self, least: f64) -> f64 {
        let style = Type::new(TICK_SIZE, SOFT_INK);
        let numbers = self.y_numbers();
        let widths = numbers.iter().map(|tick| text_width(&tick.label, style));
        let widest = widths.fold(0.0, f64::max);
        least.max(7.0 + widest + 5.0 + 0.5 * NAME_SIZE)
    }

    /// Name of the axis along the bottom.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn x_name(&self, pen: &Pen<'_>, name: &str) -> Result<(), FigureError> {
        let style = Type::new(NAME_SIZE, INK).align(Align::Centre);
        let middle = (self.left + self.right) / 2.0;
        pen.text(name, (middle, self.bottom + 32.0), style)
    }

    /// Name of the axis along the left side, `gap` points left of the frame.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn y_name(&self, pen: &Pen<'_>, name: &str, gap: f64) -> Result<(), FigureError> {
        let style = Type::new(NAME_SIZE, INK).align(Align::Centre).upwards();
        let middle = (self.top + self.bottom) / 2.0;
        pen.text(name, (self.left - gap, middle), style)
    }

    /// The frame.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn frame(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let corners = ((self.left, self.top), (self.right, self.bottom));
        pen.frame(corners.0, corners.1, 1.0, FRAME)
    }

    /// A line across the plot at 0.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn zero_line(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        pen.line(
            &[self.map(self.x.0, 0.0), self.map(self.x.1, 0.0)],
            1.0,
            FRAME,
        )
    }
}

/// A value with three digits that count.
fn plain(value: f64) -> String {
    let rounded: f64 = format!("{value:.2e}").parse().unwrap_or(value);
    format!("{rounded}")
}

/// A tick with its label.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// Where.
    pub value: f64,
    /// What stands there.
    pub label: String,
}

/// Round numbers within `range`, about `wanted` of them.
#[must_use]
pub fn ticks(range: (f64, f64), wanted: f64) -> Vec<Tick> {
    let span = range.1 - range.0;
    if !(span.is_finite() && span > 0.0) {
        return Vec::new();
    }
    let step = round_step(span / wanted);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a small number of digits"
    )]
    let digits = (-step.log10().floor()).clamp(0.0, 12.0) as usize;
    let slack = 1e-9 * span;
    let mut index = ((range.0 - slack) / step).ceil();
    let mut found = Vec::new();
    while index * step <= range.1 + slack {
        let value = index * step + 0.0;
        found.push(Tick {
            value,
            label: format!("{value:.digits$}"),
        });
        index += 1.0;
    }
    found
}

/// The smallest of 1, 2, 5 times a power of ten that is not below `least` (above 0).
#[must_use]
pub fn round_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    let factor = [1.0, 2.0, 5.0]
        .into_iter()
        .find(|f| f * power >= least * (1.0 - 1e-9))
        .unwrap_or(10.0);
    factor * power
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(range: (f64, f64), wanted: f64) -> Vec<String> {
        ticks(range, wanted).into_iter().map(|t| t.label).collect()
    }

    #[test]
    fn ticks_are_round_numbers_within_the_range() {
        assert_eq!(
            labels((0.0, 100.0), 5.0),
            ["0", "20", "40", "60", "80", "100"]
        );
        assert_eq!(labels((-0.3, 0.31), 4.0), ["-0.2", "0.0", "0.2"]);
        assert_eq!(labels((0.0, 0.0), 5.0), Vec::<String>::new());
    }
}
