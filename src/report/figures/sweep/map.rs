//! The map: success rate over two parameters, with contour lines, a panel for each level of a
//! third.

use contour::ContourBuilder;
use plotters::style::RGBColor;

use crate::report::figures::axis::Plot;
use crate::report::figures::canvas::{Figure, FigureError};
use crate::report::figures::font::text_width;
use crate::report::figures::palette::{GRID, INK, MARK, PAPER, SCALE, SOFT_INK, pale};
use crate::report::figures::pen::{Align, Pen, Type};
use crate::report::figures::strategies::heading;
use crate::study::sweep::Cell;

const PANEL: f64 = 290.0;
const LEFT: f64 = 76.0;
const RIGHT: f64 = 30.0;
const TOP: f64 = 104.0;
const BELOW: f64 = 62.0;
const GAP: f64 = 26.0;
const ROW_GAP: f64 = 92.0;
const IN_A_ROW: usize = 3;
/// Success rates at which contour lines run, in per cent.
const LINES: [f64; 4] = [20.0, 40.0, 60.0, 80.0];

/// Fields of the highest rate that are framed; more say nothing.
const MOST_MARKED: usize = 3;

/// One panel of a map.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// What stands above it.
    pub title: String,
    /// Its fields.
    pub cells: Vec<Cell>,
}

/// Success rate over two parameters.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// Name of its files.
    pub name: String,
    /// Name of the sweep.
    pub sweep: String,
    /// The strategy.
    pub strategy: String,
    /// Name of the axis along the bottom, with unit.
    pub x: String,
    /// Name of the axis along the left side, with unit.
    pub y: String,
    /// The panels.
    pub panels: Vec<Panel>,
}

/// The fields of a panel as a table of rates.
struct Board {
    xs: Vec<f64>,
    ys: Vec<f64>,
    /// Rate in per cent by y, then x; not-a-number where no trial was run.
    rates: Vec<Vec<f64>>,
}

impl Board {
    fn new(cells: &[Cell]) -> Self {
        let sorted = |value: fn(&Cell) -> f64| {
            let mut values: Vec<f64> = cells.iter().map(value).collect();
            values.sort_by(f64::total_cmp);
            values.dedup();
            values
        };
        let (xs, ys) = (sorted(|c| c.x), sorted(|c| c.y));
        let mut rates = vec![vec![f64::NAN; xs.len()]; ys.len()];
        for cell in cells.iter().filter(|c| c.count.trials > 0) {
            let place = |values: &[f64], value: f64| {
                values
                    .iter()
                    .position(|v| v.total_cmp(&value).is_eq())
                    .unwrap_or(0)
            };
            rates[place(&ys, cell.y)][place(&xs, cell.x)] = 100.0 * cell.count.rate;
        }
        Self { xs, ys, rates }
    }

    /// The highest rate; not-a-number where no trial was run.
    fn best(&self) -> f64 {
        self.rates
            .iter()
            .flatten()
            .copied()
            .fold(f64::NAN, f64::max)
    }
}

/// Edges of the fields around rising values: half way between neighbours.
fn edges(values: &[f64]) -> Vec<f64> {
    let gap = |a: usize| (values[a + 1] - values[a]) / 2.0;
    let last = values.len() - 1;
    let (first_half, last_half) = match last {
        0 => (0.5, 0.5),
        _ => (gap(0), gap(last - 1)),
    };
    let mut edges = vec![values[0] - first_half];
    edges.extend((0..last).map(|a| values[a] + gap(a)));
    edges.push(values[last] + last_half);
    edges
}

impl Map {
    fn rows(&self) -> usize {
        self.panels.len().div_ceil(IN_A_ROW).max(1)
    }

    fn columns(&self) -> usize {
        self.panels.len().clamp(1, IN_A_ROW)
    }
}

impl Figure for Map {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let (rows, columns) = (self.rows() as f64, self.columns() as f64);
        let width = LEFT + columns * PANEL + (columns - 1.0) * GAP + RIGHT;
        let height = TOP + rows * PANEL + (rows - 1.0) * ROW_GAP + BELOW;
        (width.max(520.0) as u32, height as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(
            pen,
            &format!("Success rate of {}", self.strategy),
            &format!("{}; numbers: per cent reached", self.sweep),
        )?;
        legend(pen)?;
        for (index, panel) in self.panels.iter().enumerate() {
            let (row, column) = ((index / IN_A_ROW) as f64, (index % IN_A_ROW) as f64);
            let left = LEFT + column * (PANEL + GAP);
            let top = TOP + row * (PANEL + ROW_GAP);
            let board = Board::new(&panel.cells);
            if board.xs.is_empty() {
                continue;
            }
            let (x_edges, y_edges) = (edges(&board.xs), edges(&board.ys));
            let plot = Plot {
                left,
                top,
                right: left + PANEL,
                bottom: top + PANEL,
                x: (x_edges[0], x_edges[x_edges.len() - 1]),
                y: (y_edges[0], y_edges[y_edges.len() - 1]),
            };
            draw_fields(pen, &plot, &board, &x_edges, &y_edges)?;
            draw_lines(pen, &plot, &board)?;
            draw_numbers(pen, &plot, &board, &x_edges)?;
            plot.x_ticks_at(pen, &board.xs)?;
            plot.x_name(pen, &self.x)?;
            if index % IN_A_ROW == 0 {
                plot.y_ticks_at(pen, &board.ys)?;
                plot.y_name(pen, &self.y, 52.0)?;
            }
            plot.frame(pen)?;
            let style = Type::new(13.0, INK).bold().align(Align::Centre);
            pen.text(
                &panel.title,
                ((plot.left + plot.right) / 2.0, top - 13.0),
                style,
            )?;
        }
        Ok(())
    }
}

fn colour(rate: f64) -> RGBColor {
    pale(SCALE, 0.04 + 0.86 * rate / 100.0)
}

/// What lines and the ring mean.
fn legend(pen: &Pen<'_>) -> Result<(), FigureError> {
    let y = 70.0;
    let style = Type::new(12.0, SOFT_INK);
    pen.line(&[(24.0, y), (46.0, y)], 1.6, INK)?;
    let text = "equal rate: 20, 40, 60, 80 %";
    pen.text(text, (52.0, y), style)?;
    let x = 52.0 + text_width(text, style) + 22.0;
    pen.frame((x, y - 6.0), (x + 14.0, y + 6.0), 2.0, MARK)?;
    let text = format!("highest rate of a panel (if in up to {MOST_MARKED} fields)");
    pen.text(&text, (x + 20.0, y), style)
}

fn draw_fields(
    pen: &Pen<'_>,
    plot: &Plot,
    board: &Board,
    x_edges: &[f64],
    y_edges: &[f64],
) -> Result<(), FigureError> {
    for (row, rates) in board.rates.iter().enumerate() {
        for (column, rate) in rates.iter().enumerate() {
            let fill = if rate.is_finite() {
                colour(*rate)
            } else {
                GRID
            };
            let corner = plot.map(x_edges[column], y_edges[row]);
            let opposite = plot.map(x_edges[column + 1], y_edges[row + 1]);
            pen.fill(corner, opposite, fill)?;
        }
    }
    Ok(())
}

/// Contour lines through the middles of the fields, with linear interpolation between them.
fn draw_lines(pen: &Pen<'_>, plot: &Plot, board: &Board) -> Result<(), FigureError> {
    let (columns, rows) = (board.xs.len(), board.ys.len());
    let whole = board.rates.iter().flatten().all(|rate| rate.is_finite());
    if columns < 2 || rows < 2 || !whole {
        return Ok(());
    }
    // A finer table keeps the lines within the middles of the outer fields and smooths none of
    // the values.
    const FINE: usize = 12;
    let (wide, high) = ((columns - 1) * FINE + 1, (rows - 1) * FINE + 1);
    let mut values = Vec::with_capacity(wide * high);
    for j in 0..high {
        for i in 0..wide {
            values.push(interpolated(board, i, j, FINE));
        }
    }
    let builder = ContourBuilder::new(wide, high, true);
    let lines = builder
        .lines(&values, &LINES)
        .map_err(FigureError::drawing)?;
    for line in lines {
        for piece in &line.geometry().0 {
            let points: Vec<(f64, f64)> = piece
                .0
                .iter()
                .map(|at| {
                    // The builder counts from the corner of the first value's square.
                    let part = |at: f64| ((at - 0.5) / FINE as f64).max(0.0);
                    plot.map(along(&board.xs, part(at.x)), along(&board.ys, part(at.y)))
                })
                .collect();
            inside_only(pen, plot, board, &points)?;
        }
    }
    Ok(())
}

/// Draws a contour without the stretches that run along the edge of the table.
fn inside_only(
    pen: &Pen<'_>,
    plot: &Plot,
    board: &Board,
    points: &[(f64, f64)],
) -> Result<(), FigureError> {
    let (left, bottom) = plot.map(board.xs[0], board.ys[0]);
    let (right, top) = plot.map(board.xs[board.xs.len() - 1], board.ys[board.ys.len() - 1]);
    let on_edge = |a: (f64, f64), b: (f64, f64)| {
        let along = |p: f64, q: f64, edge: f64| (p - edge).abs() < 2.0 && (q - edge).abs() < 2.0;
        along(a.0, b.0, left)
            || along(a.0, b.0, right)
            || along(a.1, b.1, top)
            || along(a.1, b.1, bottom)
    };
    for pair in points.windows(2) {
        if !on_edge(pair[0], pair[1]) {
            pen.line(pair, 1.6, INK)?;
        }
    }
    Ok(())
}

fn interpolated(board: &Board, i: usize, j: usize, fine: usize) -> f64 {
    let split = |at: usize, count: usize| {
        let low = (at / fine).min(count - 2);
        (low, (at - low * fine) as f64 / fine as f64)
    };
    let (column, u) = split(i, board.xs.len());
    let (row, v) = split(j, board.ys.len());
    let at = |r: usize, c: usize| board.rates[r][c];
    (1.0 - v) * ((1.0 - u) * at(row, column) + u * at(row, column + 1))
        + v * ((1.0 - u) * at(row + 1, column) + u * at(row + 1, column + 1))
}

/// The value at a fractional index.
fn along(values: &[f64], index: f64) -> f64 {
    let last = values.len() - 1;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an index between 0 and the last"
    )]
    let low = (index.floor() as usize).min(last.saturating_sub(1));
    let part = (index - low as f64).clamp(0.0, 1.0);
    let high = (low + 1).min(last);
    values[low] + part * (values[high] - values[low])
}

fn draw_numbers(
    pen: &Pen<'_>,
    plot: &Plot,
    board: &Board,
    x_edges: &[f64],
) -> Result<(), FigureError> {
    let narrowest = x_edges
        .windows(2)
        .map(|pair| plot.map(pair[1], 0.0).0 - plot.map(pair[0], 0.0).0)
        .fold(f64::INFINITY, f64::min);
    let best = board.best();
    let alike = board.rates.iter().flatten().filter(|rate| **rate >= best);
    let marked = alike.count() <= MOST_MARKED;
    for (row, rates) in board.rates.iter().enumerate() {
        for (column, rate) in rates
            .iter()
            .enumerate()
            .filter(|(_, rate)| rate.is_finite())
        {
            let at = plot.map(board.xs[column], board.ys[row]);
            let (ink, rim) = if *rate > 55.0 {
                (PAPER, colour(*rate))
            } else {
                (INK, colour(*rate))
            };
            let style = Type::new(12.0, ink).align(Align::Centre);
            let text = format!("{rate:.0}");
            let wide = text_width(&text, style) / 2.0 + 3.0;
            if narrowest > text_width("100", style) {
                // No contour line runs through a number.
                let (low, high) = ((at.0 - wide, at.1 - 8.0), (at.0 + wide, at.1 + 8.0));
                pen.fill(low, high, rim)?;
            }
            if *rate >= best && marked {
                let half = (narrowest / 2.0 - 2.0).clamp(6.0, 17.0);
                pen.frame(
                    (at.0 - half, at.1 - 10.0),
                    (at.0 + half, at.1 + 10.0),
                    2.0,
                    MARK,
                )?;
            }
            if narrowest > text_width("100", style) {
                pen.text(&text, at, style)?;
            }
        }
    }
    Ok(())
}
