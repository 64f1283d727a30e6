//! Curves of all wires in one figure: panels side by side, a colour for each wire.

use crate::report::figures::palette::{FRAME, GRID, INK, SOFT_INK};
use crate::report::figures::{Align, wrap};
use crate::report::figures::{
    Figure, FigureError, HEADING_BOTTOM, MARGIN, Pen, Plot, Tick, Type, WIDTH, heading, text_width,
    wire_colour,
};

/// Width of a line in points.
const WIDTH_OF_LINE: f64 = 1.8;
/// How much wider a line is for each line that lies on it, in points.
const WIDER: f64 = 2.4;
const LEGEND_LINE: f64 = 20.0;
const PANEL_HEIGHT: f64 = 280.0;
const TITLE_LINE: f64 = 17.0;
const LEFT: f64 = 78.0;
const BETWEEN: f64 = 84.0;
const BELOW: f64 = 50.0;
/// Least distance of an axis name from the frame at its right.
const NAME_GAP: f64 = 56.0;
/// Least range of an axis that holds 0: what is smaller is rounding.
const LEAST_RANGE: f64 = 1e-3;

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineStyle {
    /// Through.
    Solid,
    /// In dashes.
    Dashed,
    /// Through, with a disc at each point.
    Marked,
}

/// One curve.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnSeries {
    /// Index of the wire, for the colour.
    pub wire: usize,
    /// How the line is drawn.
    pub style: LineStyle,
    /// Words at the end of the curve; may be empty.
    pub label: String,
    /// Points: x and y.
    pub points: Vec<Vec<f64>>,
}

/// A rectangle with curves.
#[derive(Debug, Clone, PartialEq)]
pub struct CurvePanel {
    /// What is shown; may be empty.
    pub title: String,
    /// Name and unit of the axis along the bottom.
    pub x_name: String,
    /// Name and unit of the axis at the left.
    pub y_name: String,
    /// Whether the y axis is logarithmic.
    pub log_y: bool,
    /// The curves.
    pub series: Vec<DrawnSeries>,
}

/// A figure of curves.
#[derive(Debug, Clone, PartialEq)]
pub struct CurveFigure {
    /// Name of the files.
    pub name: String,
    /// Title.
    pub title: String,
    /// The line below it.
    pub subtitle: String,
    /// Names of the wires.
    pub wires: Vec<String>,
    /// What the line styles mean.
    pub styles: Vec<(LineStyle, String)>,
    /// Most panels in a row, at least 1.
    pub most_columns: usize,
    /// The panels.
    pub panels: Vec<CurvePanel>,
}

impl CurveFigure {
    fn columns(&self) -> usize {
        self.panels.len().clamp(1, self.most_columns)
    }

    fn panel_width(&self) -> f64 {
        let columns = self.columns() as f64;
        let room = f64::from(WIDTH) - LEFT - MARGIN - BETWEEN * (columns - 1.0);
        room / columns
    }

    fn title_lines(&self) -> f64 {
        let width = self.panel_width();
        let lines = self
            .panels
            .iter()
            .map(|p| wrap(&p.title, width, title_style()).len());
        lines.max().unwrap_or(0) as f64
    }

    /// Entries of the legend: colour or style, and words.
    fn legend(&self) -> Vec<(LineStyle, Option<usize>, &str)> {
        let wires = self.wires.iter().enumerate();
        wires
            .map(|(i, name)| (LineStyle::Solid, Some(i), name.as_str()))
            .chain(
                self.styles
                    .iter()
                    .map(|(s, words)| (*s, None, words.as_str())),
            )
            .collect()
    }

    /// Where each entry of the legend lies, and where the legend ends.
    fn legend_places(&self) -> (Vec<(f64, f64)>, f64) {
        let style = Type::new(13.0, SOFT_INK);
        let (mut x, mut y) = (MARGIN, HEADING_BOTTOM + 12.0);
        let mut places = Vec::new();
        for (_, _, words) in self.legend() {
            let width = 36.0 + text_width(words, style) + 24.0;
            if x + width > f64::from(WIDTH) - MARGIN && x > MARGIN {
                x = MARGIN;
                y += LEGEND_LINE;
            }
            places.push((x, y));
            x += width;
        }
        (places, y + LEGEND_LINE)
    }

    fn row_height(&self) -> f64 {
        TITLE_LINE * self.title_lines() + 8.0 + PANEL_HEIGHT + BELOW
    }
}

fn title_style() -> Type {
    Type::new(13.0, INK).bold()
}

impl Figure for CurveFigure {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let rows = self.panels.len().div_ceil(self.columns()) as f64;
        let (_, bottom) = self.legend_places();
        (WIDTH, (bottom + rows * self.row_height()).ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(pen, &self.title, &self.subtitle)?;
        let (places, bottom) = self.legend_places();
        for ((style, wire, words), (x, y)) in self.legend().into_iter().zip(places) {
            let colour = wire.map_or(SOFT_INK, wire_colour);
            let ends = [(x, y), (x + 26.0, y)];
            match style {
                LineStyle::Dashed => dashed(pen, &ends, WIDTH_OF_LINE, colour)?,
                LineStyle::Solid | LineStyle::Marked => pen.line(&ends, 2.5, colour)?,
            }
            if style == LineStyle::Marked {
                pen.disc((x + 13.0, y), 3.5, colour)?;
            }
            pen.text(words, (x + 34.0, y), Type::new(13.0, SOFT_INK))?;
        }
        let width = self.panel_width();
        for (index, panel) in self.panels.iter().enumerate() {
            let (row, column) = (index / self.columns(), index % self.columns());
            let left = LEFT + column as f64 * (width + BETWEEN);
            let top = bottom + row as f64 * self.row_height();
            let lines = wrap(&panel.title, width, title_style());
            for (i, line) in lines.iter().enumerate() {
                let y = top + TITLE_LINE * (i as f64 + 0.5);
                pen.text(line, (left, y), title_style())?;
            }
            let top = top + TITLE_LINE * self.title_lines() + 8.0;
            draw_panel(pen, panel, left, top, width)?;
        }
        Ok(())
    }
}

fn draw_panel(
    pen: &Pen<'_>,
    panel: &CurvePanel,
    left: f64,
    top: f64,
    width: f64,
) -> Result<(), FigureError> {
    let scale = |y: f64| if panel.log_y { y.log10() } else { y };
    let points = panel.series.iter().flat_map(|s| &s.points);
    let x = range(points.clone().map(|p| p[0]), false);
    let values = points.clone().flat_map(|p| &p[1..]);
    let most = values.fold(0.0_f64, |most, y| most.max(y.abs()));
    let y = range(
        points.flat_map(|p| &p[1..]).map(|&y| scale(y)),
        !panel.log_y,
    );
    let plot = Plot {
        left,
        top,
        right: left + width,
        bottom: top + PANEL_HEIGHT,
        x,
        y,
    };
    plot.x_ticks(pen, true)?;
    if panel.log_y {
        decades(pen, &plot)?;
    } else {
        plot.y_ticks(pen, true)?;
    }
    if !panel.log_y && y.0 < 0.0 {
        pen.line(&[plot.map(x.0, 0.0), plot.map(x.1, 0.0)], 1.0, FRAME)?;
    }
    let on_paper = |series: &DrawnSeries| -> Vec<(f64, f64)> {
        let points = series.points.iter();
        points.map(|p| plot.map(p[0], scale(p[1]))).collect()
    };
    let lines: Vec<Vec<(f64, f64)>> = panel.series.iter().map(on_paper).collect();
    for (place, (series, line)) in panel.series.iter().zip(&lines).enumerate() {
        let colour = wire_colour(series.wire);
        // A line below others on the same way is drawn wider, so that all of them are seen.
        let above = lines[place + 1..].iter();
        let hidden = above.filter(|other| coincide(line, other)).count();
        let width = WIDTH_OF_LINE + WIDER * hidden as f64;
        match series.style {
            LineStyle::Solid | LineStyle::Marked => pen.line(line, width, colour)?,
            LineStyle::Dashed => dashed(pen, line, width, colour)?,
        }
        if series.style == LineStyle::Marked {
            for &point in line {
                pen.disc(point, 3.5, colour)?;
            }
        }
        if let (Some(&(px, py)), false) = (line.last(), series.label.is_empty()) {
            let wide = text_width(&series.label, Type::new(11.0, INK));
            let style = Type::new(11.0, SOFT_INK).align(Align::Right);
            let at = ((px - 4.0).max(left + wide + 4.0), (py - 9.0).max(top + 8.0));
            pen.text(&series.label, at, style)?;
        }
    }
    if !panel.log_y && most < LEAST_RANGE {
        let style = Type::new(13.0, SOFT_INK).align(Align::Centre);
        let middle = (
            0.5 * (plot.left + plot.right),
            0.5 * (plot.top + plot.bottom),
        );
        pen.text(&format!("below {LEAST_RANGE} all along"), middle, style)?;
    }
    plot.frame(pen)?;
    plot.x_name(pen, &panel.x_name)?;
    let gap = if panel.log_y {
        NAME_GAP
    } else {
        plot.y_name_gap(NAME_GAP)
    };
    plot.y_name(pen, &panel.y_name, gap)
}

/// Whether two lines on paper lie on each other.
fn coincide(a: &[(f64, f64)], b: &[(f64, f64)]) -> bool {
    let near = |(p, q): (&(f64, f64), &(f64, f64))| (p.0 - q.0).hypot(p.1 - q.1) < WIDTH_OF_LINE;
    a.len() == b.len() && a.iter().zip(b).all(near)
}

/// Whole powers of ten with thin lines at their doubles and fivefolds.
pub(super) fn decades(pen: &Pen<'_>, plot: &Plot) -> Result<(), FigureError> {
    for tick in log_ticks(plot.y) {
        let (_, y) = plot.map(plot.x.0, tick.value);
        pen.line(&[(plot.left, y), (plot.right, y)], 1.0, GRID)?;
        pen.line(&[(plot.left - 4.0, y), (plot.left, y)], 1.0, FRAME)?;
        let style = Type::new(12.0, SOFT_INK).align(Align::Right);
        pen.text(&tick.label, (plot.left - 7.0, y), style)?;
    }
    Ok(())
}

/// 1, 2 and 5 times the powers of ten within a range of logarithms; the powers alone where that
/// would be more than ten.
fn log_ticks(range: (f64, f64)) -> Vec<Tick> {
    let factors: &[f64] = if range.1 - range.0 > 3.0 {
        &[1.0]
    } else {
        &[1.0, 2.0, 5.0]
    };
    let mut found = Vec::new();
    let mut power = range.0.floor();
    while power <= range.1 {
        for factor in factors {
            let value = power + factor.log10();
            if value >= range.0 - 1e-9 && value <= range.1 + 1e-9 {
                let label = format!("{}", factor * 10f64.powf(power.abs()).powf(power.signum()));
                found.push(Tick { value, label });
            }
        }
        power += 1.0;
    }
    found
}

/// Range of an axis: all values and some room, with 0 if `zero`.
pub(super) fn range(values: impl Iterator<Item = f64>, zero: bool) -> (f64, f64) {
    let start = if zero {
        (0.0, 0.0)
    } else {
        (f64::INFINITY, f64::NEG_INFINITY)
    };
    let (low, high) = values
        .filter(|v| v.is_finite())
        .fold(start, |(low, high): (f64, f64), v| {
            (low.min(v), high.max(v))
        });
    if low > high {
        return (0.0, 1.0);
    }
    let high = if zero {
        high.max(low + LEAST_RANGE)
    } else {
        high
    };
    let room = 0.05 * (high - low).max(1e-6 * high.abs()).max(1e-9);
    let keep_zero = |end: f64, with: f64| if zero && end.abs() <= 0.0 { 0.0 } else { with };
    (keep_zero(low, low - room), keep_zero(high, high + room))
}

/// A line of this width in dashes of equal length along it.
pub(super) fn dashed(
    pen: &Pen<'_>,
    line: &[(f64, f64)],
    width: f64,
    colour: plotters::style::RGBColor,
) -> Result<(), FigureError> {
    const DASH: f64 = 6.0;
    let mut drawn: Vec<(f64, f64)> = line.first().copied().into_iter().collect();
    let (mut left, mut on) = (DASH, true);
    for pair in line.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let rest = (to.0 - from.0).hypot(to.1 - from.1);
            if rest < left {
                left -= rest;
                drawn.push(to);
                break;
            }
            let share = left / rest;
            from = (
                from.0 + share * (to.0 - from.0),
                from.1 + share * (to.1 - from.1),
            );
            drawn.push(from);
            if on {
                pen.line(&drawn, width, colour)?;
            }
            drawn = vec![from];
            (left, on) = (DASH, !on);
        }
    }
    if on && drawn.len() > 1 {
        pen.line(&drawn, width, colour)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_of_a_logarithmic_axis_are_round() {
        let labels: Vec<_> = log_ticks((-2.0, 0.4))
            .into_iter()
            .map(|t| t.label)
            .collect();
        assert_eq!(
            labels,
            ["0.01", "0.02", "0.05", "0.1", "0.2", "0.5", "1", "2"]
        );
        let labels: Vec<_> = log_ticks((-2.0, 2.0))
            .into_iter()
            .map(|t| t.label)
            .collect();
        assert_eq!(labels, ["0.01", "0.1", "1", "10", "100"]);
    }
}
