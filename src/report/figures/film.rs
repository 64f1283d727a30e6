//! A film strip: six moments of one trial, large enough for a slide.

use nalgebra::{Vector2, Vector3};
use plotters::style::RGBColor;

use super::axis::{Plot, round_step};
use super::canvas::{Figure, FigureError};
use super::font::{text_width, wrap};
use super::palette::{
    BALLOON, CATHETER, FRAME, GUIDE, INK, LUMEN, PAPER, SOFT_INK, TARGET_LUMEN, WALL, pale,
    wire_colour,
};
use super::pen::{Align, Pen, Type};
use super::projection::{AxisView, draw_guide_at, draw_lumen, draw_path, draw_tube};
use crate::report::outline::{OutlinePoint, SceneOutline};

const WIDTH: f64 = 1600.0;
pub(super) const MARGIN: f64 = 32.0;
const TITLE_Y: f64 = 34.0;
const SUBTITLE_Y: f64 = 68.0;
const LEGEND_Y: f64 = 102.0;
pub(super) const TOP: f64 = 126.0;
const COLUMNS: usize = 3;
const GAP: f64 = 22.0;
/// Height of a picture in points.
const PICTURE: f64 = 266.0;
const LINE: f64 = 23.0;
/// Lines of text below a picture beside what the hands did.
const OTHER_LINES: usize = 3;
const ROW_GAP: f64 = 10.0;
const CAPTION: f64 = 18.0;
/// Rim that sets a wire off from what lies below it, both sides together, in points.
const RIM: f64 = 2.0;
const FIRST_WIRE: RGBColor = SOFT_INK;
/// The axis of a vessel at rest, in a frame in which it lies elsewhere.
const AT_REST: RGBColor = WALL;
const AT_REST_WIDTH: f64 = 1.2;
/// Said in a frame that shows another place than the film.
const ELSEWHERE: &str = "another place: around the tip";
/// What is so many times as thick as the wire is a catheter.
const THICKER: f64 = 1.5;

/// What a film shows of the picture plane: coordinates in mm from the ostium, along the parent and
/// to the side of the target.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FilmWindow {
    /// Lower left corner in mm.
    pub low: Vector2<f64>,
    /// Upper right corner in mm.
    pub high: Vector2<f64>,
}

impl FilmWindow {
    /// The window of a picture's shape around `points`, with `surround_mm` of paper.
    #[must_use]
    pub fn around(points: &[Vector2<f64>], surround_mm: f64) -> Self {
        let (mut low, mut high) = (Vector2::zeros(), Vector2::zeros());
        for p in points {
            low = low.inf(p);
            high = high.sup(p);
        }
        let size = (high - low).add_scalar(2.0 * surround_mm);
        let middle = 0.5 * (low + high);
        let shape = shape();
        let width = size.x.max(shape * size.y);
        let half = 0.5 * Vector2::new(width, width / shape);
        Self {
            low: middle - half,
            high: middle + half,
        }
    }

    /// A window of the same size around a point.
    #[must_use]
    pub fn moved_to(&self, p: &Vector3<f64>) -> Self {
        let half = 0.5 * (self.high - self.low);
        Self {
            low: p.xy() - half,
            high: p.xy() + half,
        }
    }

    /// Whether a point is in the picture.
    #[must_use]
    pub fn holds(&self, p: &Vector3<f64>) -> bool {
        p.x > self.low.x && p.x < self.high.x && p.y > self.low.y && p.y < self.high.y
    }
}

/// One frame. Places are in mm in the film's picture: from the ostium, along the parent, to the
/// side of the target, towards the reader.
#[derive(Debug, Clone, PartialEq)]
pub struct FilmFrame {
    /// What moment it is.
    pub title: String,
    /// What the hands did since the frame before.
    pub caption: String,
    /// Fed length, angle of the hand, force on the wall.
    pub reading: String,
    /// Where the tip lies.
    pub place: String,
    /// Number of the wire's colour.
    pub wire: usize,
    /// Name of the wire.
    pub wire_name: String,
    /// Diameter of the balloon in mm; 0 where it is deflated, or there is none.
    pub balloon_mm: f64,
    /// Outer diameter of the wire in mm.
    pub diameter_mm: f64,
    /// The wire from the guide's end to its tip.
    pub nodes: Vec<Vector3<f64>>,
    /// The part of it that the catheter covers.
    pub covered: Vec<Vector3<f64>>,
    /// Outer diameter of the catheter in mm.
    pub cover_diameter_mm: f64,
    /// What lies beside the wire, in pieces with their outer diameter in mm: a catheter ahead of its
    /// side port, and its first wire.
    pub beside: Vec<(Vec<Vector3<f64>>, f64)>,
    /// What this frame shows where it is not what the film shows: the surroundings of a tip that lies
    /// far off.
    pub window: Option<FilmWindow>,
    /// End and direction of the guide.
    pub guide: (Vector3<f64>, Vector3<f64>),
    /// The vessel in this frame, where it has moved.
    pub outline: Option<SceneOutline>,
}

impl FilmFrame {
    /// What the hands did, in lines.
    fn said(&self) -> Vec<String> {
        wrap(&self.caption, picture_width(), said_type())
    }
}

fn said_type() -> Type {
    Type::new(CAPTION, INK)
}

/// A film strip.
#[derive(Debug, Clone, PartialEq)]
pub struct Film {
    /// Name of its files, without ending.
    pub name: String,
    /// Technique and wire.
    pub title: String,
    /// Which trial, and how typical it is.
    pub subtitle: String,
    /// Name of the target.
    pub target: String,
    /// The vessel in the film's picture.
    pub outline: SceneOutline,
    /// The inflated balloon; empty for none.
    pub balloon: Vec<OutlinePoint>,
    /// What is shown.
    pub window: FilmWindow,
    /// The frames, at least one.
    pub frames: Vec<FilmFrame>,
}

/// Looking at the plane of parent and target.
const VIEW: AxisView = AxisView { right: 0, up: 1 };

/// Width over height of a picture.
pub(super) fn shape() -> f64 {
    picture_width() / PICTURE
}

fn picture_width() -> f64 {
    (WIDTH - 2.0 * MARGIN - GAP * (COLUMNS as f64 - 1.0)) / COLUMNS as f64
}

impl Film {
    fn rows(&self) -> usize {
        self.frames.len().div_ceil(COLUMNS).max(1)
    }

    /// Lines of text below a picture.
    fn lines(&self) -> usize {
        let said = self.frames.iter().map(|frame| frame.said().len());
        OTHER_LINES + said.max().unwrap_or(1)
    }

    fn plot(&self, index: usize) -> Plot {
        let frame = self.frames.get(index);
        let window = frame.and_then(|f| f.window).unwrap_or(self.window);
        let (row, column) = (index / COLUMNS, index % COLUMNS);
        let left = MARGIN + column as f64 * (picture_width() + GAP);
        let top = TOP + row as f64 * (PICTURE + LINE * self.lines() as f64 + ROW_GAP);
        Plot {
            left,
            top,
            right: left + picture_width(),
            bottom: top + PICTURE,
            x: (window.low.x, window.high.x),
            y: (window.low.y, window.high.y),
        }
    }

    fn points_per_mm(&self, picture_width: f64) -> f64 {
        picture_width / (self.window.high.x - self.window.low.x)
    }

    fn draw_picture(
        &self,
        pen: &Pen<'_>,
        plot: &Plot,
        frame: &FilmFrame,
    ) -> Result<(), FigureError> {
        self.draw_vessel(pen, plot, frame)?;
        self.draw_devices(pen, plot, frame)
    }

    /// The vessel, and the balloon in it.
    pub(super) fn draw_vessel(
        &self,
        pen: &Pen<'_>,
        plot: &Plot,
        frame: &FilmFrame,
    ) -> Result<(), FigureError> {
        let outline = frame.outline.as_ref().unwrap_or(&self.outline);
        draw_lumen(pen, plot, VIEW, outline)?;
        let balloon = self.balloon_at(frame.balloon_mm);
        draw_tube(pen, plot, VIEW, &balloon, 0.0, BALLOON)?;
        draw_tube(pen, plot, VIEW, &balloon, -1.5, pale(BALLOON, 0.45))
    }

    /// The balloon with a diameter in mm: the same axis in a thinner tube; empty for a deflated one.
    fn balloon_at(&self, diameter_mm: f64) -> Vec<OutlinePoint> {
        let full = self.balloon.iter().map(|p| p.radius_mm).fold(0.0, f64::max);
        let less = full - 0.5 * diameter_mm;
        let points = self.balloon.iter().filter(|_| diameter_mm > 0.0);
        let thinner = points.map(|p| OutlinePoint {
            radius_mm: (p.radius_mm - less).max(0.0),
            ..*p
        });
        thinner.collect()
    }

    /// Guide, wires and catheter, and the frame of the picture.
    pub(super) fn draw_devices(
        &self,
        pen: &Pen<'_>,
        plot: &Plot,
        frame: &FilmFrame,
    ) -> Result<(), FigureError> {
        draw_guide_at(pen, plot, VIEW, frame.guide)?;
        let on_paper = |points: &[Vector3<f64>]| -> Vec<(f64, f64)> {
            points.iter().map(|p| VIEW.on_paper(plot, p)).collect()
        };
        if frame.outline.is_some() {
            for branch in &self.outline.branches {
                let axis: Vec<_> = branch.points.iter().map(|p| p.position_mm).collect();
                draw_path(pen, plot, &on_paper(&axis), AT_REST_WIDTH, AT_REST)?;
            }
        }
        let scale = self.points_per_mm(plot.right - plot.left);
        let colour = wire_colour(frame.wire);
        let width = frame.diameter_mm * scale;
        for (nodes, diameter_mm) in &frame.beside {
            let line = on_paper(nodes);
            let (width, colour) = if *diameter_mm > frame.diameter_mm * THICKER {
                (diameter_mm * scale, CATHETER)
            } else {
                (diameter_mm * scale, FIRST_WIRE)
            };
            draw_path(pen, plot, &line, width + RIM, LUMEN)?;
            draw_path(pen, plot, &line, width, colour)?;
        }
        let wire = on_paper(&frame.nodes);
        draw_path(pen, plot, &wire, width + RIM, LUMEN)?;
        draw_path(pen, plot, &wire, width, colour)?;
        if frame.covered.len() > 1 {
            let band = on_paper(&frame.covered);
            let across = frame.cover_diameter_mm * scale;
            draw_path(pen, plot, &band, across, CATHETER)?;
            draw_path(pen, plot, &band, 0.4 * width, pale(CATHETER, 0.35))?;
        }
        if frame.window.is_some() {
            let style = Type::new(15.0, INK);
            pen.text_on(ELSEWHERE, (plot.left + 10.0, plot.top + 16.0), style, PAPER)?;
        }
        plot.frame(pen)
    }

    /// Title, caption and readings below a picture.
    pub(super) fn draw_text(
        pen: &Pen<'_>,
        plot: &Plot,
        frame: &FilmFrame,
    ) -> Result<(), FigureError> {
        let soft = Type::new(15.0, SOFT_INK);
        let mut lines = vec![(frame.title.clone(), said_type().bold())];
        let said = wrap(&frame.caption, plot.right - plot.left, said_type());
        lines.extend(said.into_iter().map(|line| (line, said_type())));
        for below in [&frame.place, &frame.reading] {
            lines.push((below.clone(), soft));
        }
        for (index, (text, style)) in lines.iter().enumerate() {
            let y = plot.bottom + LINE * (index as f64 + 0.7);
            pen.text(text, (plot.left, y), *style)?;
        }
        Ok(())
    }

    /// Title, subtitle and legend; `right` is the right edge of the paper, pictures are `picture_width`
    /// wide, both in points.
    pub(super) fn draw_heading(
        &self,
        pen: &Pen<'_>,
        right: f64,
        picture_width: f64,
    ) -> Result<(), FigureError> {
        let title = Type::new(28.0, INK).bold();
        pen.text(&self.title, (MARGIN, TITLE_Y), title)?;
        let style = Type::new(17.0, SOFT_INK);
        pen.text(&self.subtitle, (MARGIN, SUBTITLE_Y), style)?;
        self.draw_legend(pen, right, picture_width)?;
        let (x, y) = (MARGIN, TOP - 8.0);
        pen.line(&[(x, y), (right - MARGIN, y)], 1.0, FRAME)
    }

    /// The legend, once for all frames.
    fn draw_legend(
        &self,
        pen: &Pen<'_>,
        right: f64,
        picture_width: f64,
    ) -> Result<(), FigureError> {
        let mut entries: Vec<(String, RGBColor, f64)> = Vec::new();
        for frame in &self.frames {
            let entry = (frame.wire_name.clone(), wire_colour(frame.wire), 5.0);
            if !entries.contains(&entry) {
                entries.push(entry);
            }
        }
        if self.frames.iter().any(|f| f.covered.len() > 1) {
            entries.push(("support catheter".to_owned(), CATHETER, 9.0));
        }
        if self.frames.iter().any(|f| !f.beside.is_empty()) {
            entries.push(("first wire".to_owned(), FIRST_WIRE, 5.0));
        }
        if !self.balloon.is_empty() {
            entries.push(("balloon".to_owned(), pale(BALLOON, 0.45), 15.0));
        }
        let in_picture = |f: &FilmFrame| f.window.unwrap_or(self.window).holds(&f.guide.0);
        if self.frames.iter().any(in_picture) {
            entries.push(("guide (not to scale)".to_owned(), GUIDE, 9.0));
        }
        entries.push((format!("target: {}", self.target), TARGET_LUMEN, 15.0));
        entries.push(("other vessels".to_owned(), LUMEN, 15.0));
        if self.frames.iter().any(|f| f.outline.is_some()) {
            entries.push(("axes at rest".to_owned(), AT_REST, AT_REST_WIDTH));
        }
        let style = Type::new(17.0, INK);
        let mut x = MARGIN;
        for (text, colour, thick) in entries {
            let ends = [(x, LEGEND_Y), (x + 30.0, LEGEND_Y)];
            if thick > 10.0 {
                pen.line(&ends, thick + 3.0, WALL)?;
            }
            pen.line(&ends, thick, colour)?;
            pen.text(&text, (x + 38.0, LEGEND_Y), style)?;
            x += 38.0 + text_width(&text, style) + 34.0;
        }
        let length = round_step(0.1 * (self.window.high.x - self.window.low.x));
        let wide = length * self.points_per_mm(picture_width);
        let right = right - MARGIN;
        pen.line(&[(right - wide, LEGEND_Y), (right, LEGEND_Y)], 4.0, INK)?;
        let style = style.align(Align::Right);
        pen.text(
            &format!("{length} mm"),
            (right - wide - 8.0, LEGEND_Y),
            style,
        )
    }
}

impl Figure for Film {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let row = PICTURE + LINE * self.lines() as f64 + ROW_GAP;
        let height = TOP + self.rows() as f64 * row;
        (WIDTH as u32, height.ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        self.draw_heading(pen, WIDTH, picture_width())?;
        for (index, frame) in self.frames.iter().enumerate() {
            let plot = self.plot(index);
            self.draw_picture(pen, &plot, frame)?;
            Self::draw_text(pen, &plot, frame)?;
        }
        Ok(())
    }
}
