//! Push force and wall force of one trial against time, and below them what the hands do: a figure in
//! which the page's script moves a cursor.

use plotters::style::RGBColor;

use crate::report::figures::palette::{INK, PUSH, SOFT_INK, WALL_FORCE};
use crate::report::figures::{Align, Figure, FigureError, Pen, Plot, Type, draw_svg};

/// Width in points; the script knows it as that of the view box. Small, so that the type can be read where two charts
/// stand side by side.
pub const WIDTH: f64 = 440.0;
/// Left and right edge of the plot in points, known to the script.
pub const EDGES: [f64; 2] = [102.0, 430.0];
const TOP: f64 = 22.0;
const HEIGHT: f64 = 88.0;
const ROW: f64 = 16.0;
const BELOW: f64 = 42.0;
const LEGEND_Y: f64 = 11.0;
/// Bars of the hands.
const BAR: RGBColor = RGBColor(104, 112, 124);
/// Shortest bar in points.
const LEAST_BAR: f64 = 1.5;

/// Points of a curve: time in s, force in mN.
pub type Curve = Vec<(f64, f64)>;

/// When the hands do one kind of movement.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it is.
    pub name: String,
    /// From when to when, in s.
    pub spans: Vec<(f64, f64)>,
}

/// The chart of a trial.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Chart {
    /// Force of the hand on the wire.
    pub push: Curve,
    /// Largest wall force.
    pub wall: Curve,
    /// A row for each kind of movement.
    pub bars: Vec<Bar>,
    /// Least and largest force of the axis in mN, the same for all trials of a page; without them those of the
    /// curves.
    pub range: Option<(f64, f64)>,
}

impl Chart {
    /// The chart as SVG; empty where it cannot be drawn.
    #[must_use]
    pub fn svg(&self) -> String {
        draw_svg(self).unwrap_or_default()
    }

    /// Least and largest force of the curves in mN, 0 among them.
    #[must_use]
    pub fn forces(&self) -> (f64, f64) {
        let values = self.push.iter().chain(&self.wall).map(|p| p.1);
        values.fold((0.0_f64, 1e-3_f64), |(l, h), v| (l.min(v), h.max(v)))
    }

    fn rows_end(&self) -> f64 {
        TOP + HEIGHT + ROW * self.bars.len() as f64 + 4.0
    }

    fn plot(&self) -> Plot {
        let (low, high) = self.range.unwrap_or_else(|| self.forces());
        let pad = 0.06 * (high - low);
        let last = self.push.last().map_or(1.0, |p| p.0).max(1e-3);
        Plot {
            left: EDGES[0],
            right: EDGES[1],
            top: TOP,
            bottom: TOP + HEIGHT,
            x: (0.0, last),
            y: (if low < 0.0 { low - pad } else { 0.0 }, high + pad),
        }
    }

    fn draw_legend(pen: &Pen<'_>) -> Result<(), FigureError> {
        let style = Type::new(12.0, SOFT_INK);
        let mut x = 8.0;
        for (name, colour, width, room) in [
            ("push on the wire (thick; below 0 pull)", PUSH, 3.0, 254.0),
            ("largest wall force (thin)", WALL_FORCE, 1.4, 0.0),
        ] {
            pen.line(&[(x, LEGEND_Y), (x + 20.0, LEGEND_Y)], width, colour)?;
            pen.text(name, (x + 25.0, LEGEND_Y), style)?;
            x += room;
        }
        Ok(())
    }
}

impl Figure for Chart {
    fn name(&self) -> &str {
        "playback"
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        (WIDTH as u32, (self.rows_end() + BELOW).ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        let plot = self.plot();
        Self::draw_legend(pen)?;
        plot.y_ticks(pen, true)?;
        plot.zero_line(pen)?;
        for (curve, width, colour) in [(&self.push, 2.6, PUSH), (&self.wall, 1.3, WALL_FORCE)] {
            let points: Vec<_> = curve.iter().map(|p| plot.map(p.0, p.1)).collect();
            pen.line(&points, width, colour)?;
        }
        plot.frame(pen)?;
        plot.y_name(pen, "force (mN)", plot.y_name_gap(50.0))?;
        for (row, bar) in self.bars.iter().enumerate() {
            let middle = TOP + HEIGHT + 4.0 + ROW * (row as f64 + 0.5);
            let style = Type::new(12.0, INK).align(Align::Right);
            pen.text(&bar.name, (EDGES[0] - 6.0, middle), style)?;
            for (from, to) in &bar.spans {
                let (left, right) = (plot.map(*from, 0.0).0, plot.map(*to, 0.0).0);
                let right = right.max(left + LEAST_BAR);
                pen.fill((left, middle - 6.0), (right, middle + 6.0), BAR)?;
            }
        }
        let below = Plot {
            bottom: self.rows_end(),
            ..plot
        };
        below.x_ticks(pen, false)?;
        below.x_name(pen, "time at the hands' speeds (s)")
    }
}
