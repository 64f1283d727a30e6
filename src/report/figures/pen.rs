//! The pen: draws in points (1/1 of the figure's stated size) with fractions, whatever the
//! format and its resolution.

use std::sync::Once;

use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters::element::{Circle, PathElement, Polygon, Rectangle};
use plotters::prelude::DrawingBackend;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{
    Color, FontStyle, FontTransform, IntoFont, RGBColor, TextStyle, register_font,
};

use super::canvas::FigureError;

/// Name under which the figures' font is registered; also the name that a reader of the SVG
/// sees.
pub const FONT: &str = "sans-serif";

/// How far bitmap text is lowered, as a fraction of its size, so that the middle of its small
/// letters lies on its point as it does in an SVG.
const SINK: f64 = 0.12;

/// Where a text stands relative to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// The text starts at the point.
    Left,
    /// The text is centred on the point.
    Centre,
    /// The text ends at the point.
    Right,
}

/// How a text looks; it is centred on its point in height.
#[derive(Debug, Clone, Copy)]
pub struct Type {
    /// Size in points.
    pub size: f64,
    /// Colour.
    pub colour: RGBColor,
    /// Bold.
    pub bold: bool,
    /// Where it stands.
    pub align: Align,
    /// Turned to read upwards.
    pub upwards: bool,
}

impl Type {
    /// A text of `size` in `colour` starting at its point.
    #[must_use]
    pub fn new(size: f64, colour: RGBColor) -> Self {
        Self {
            size,
            colour,
            bold: false,
            align: Align::Left,
            upwards: false,
        }
    }

    /// The same in bold.
    #[must_use]
    pub fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The same, aligned.
    #[must_use]
    pub fn align(self, align: Align) -> Self {
        Self { align, ..self }
    }

    /// The same, reading upwards.
    #[must_use]
    pub fn upwards(self) -> Self {
        Self {
            upwards: true,
            ..self
        }
    }
}

/// Draws on an area of any backend. Coordinates are points from the top left corner.
pub struct Pen<'a, DB: DrawingBackend> {
    area: &'a DrawingArea<DB, Shift>,
    scale: f64,
    segments: bool,
}

impl<'a, DB: DrawingBackend> Pen<'a, DB> {
    /// A pen on `area`, which has `scale` backend pixels to the point. With `segments` thick
    /// lines are put together from filled pieces, which bitmap backends draw cleanly where a
    /// line folds back on itself; without, they stay one path.
    #[must_use]
    pub fn new(area: &'a DrawingArea<DB, Shift>, scale: f64, segments: bool) -> Self {
        Self {
            area,
            scale,
            segments,
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        reason = "a saturated coordinate lies far outside any figure"
    )]
    fn at(&self, (x, y): (f64, f64)) -> (i32, i32) {
        (
            (x * self.scale).round() as i32,
            (y * self.scale).round() as i32,
        )
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a stroke of one to some hundred pixels"
    )]
    fn pixels(&self, width: f64) -> u32 {
        (width * self.scale).round().max(1.0) as u32
    }

    /// A line through `points`, `width` points thick.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn line(
        &self,
        points: &[(f64, f64)],
        width: f64,
        colour: RGBColor,
    ) -> Result<(), FigureError> {
        let thick = self.pixels(width);
        if !self.segments || thick < 2 {
            let path: Vec<_> = points.iter().map(|&p| self.at(p)).collect();
            return self.put(&PathElement::new(path, colour.stroke_width(thick)));
        }
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let length = (x1 - x0).hypot(y1 - y0);
            if length > 0.0 {
                let (nx, ny) = (
                    -(y1 - y0) / length * width / 2.0,
                    (x1 - x0) / length * width / 2.0,
                );
                self.polygon(
                    &[
                        (x0 + nx, y0 + ny),
                        (x1 + nx, y1 + ny),
                        (x1 - nx, y1 - ny),
                        (x0 - nx, y0 - ny),
                    ],
                    colour,
                )?;
            }
        }
        for &point in points.iter().skip(1).take(points.len().saturating_sub(2)) {
            self.disc(point, width / 2.0, colour)?;
        }
        Ok(())
    }

    /// A filled polygon.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn polygon(&self, corners: &[(f64, f64)], colour: RGBColor) -> Result<(), FigureError> {
        let corners: Vec<_> = corners.iter().map(|&p| self.at(p)).collect();
        self.put(&Polygon::new(corners, colour.filled()))
    }

    /// A filled circle.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn disc(
        &self,
        centre: (f64, f64),
        radius: f64,
        colour: RGBColor,
    ) -> Result<(), FigureError> {
        self.put(&Circle::new(
            self.at(centre),
            self.pixels(radius),
            colour.filled(),
        ))
    }

    /// A filled rectangle between two opposite corners.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn fill(
        &self,
        corner: (f64, f64),
        opposite: (f64, f64),
        colour: RGBColor,
    ) -> Result<(), FigureError> {
        self.put(&Rectangle::new(
            [self.at(corner), self.at(opposite)],
            colour.filled(),
        ))
    }

    /// The outline of a rectangle.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn frame(
        &self,
        (x0, y0): (f64, f64),
        (x1, y1): (f64, f64),
        width: f64,
        colour: RGBColor,
    ) -> Result<(), FigureError> {
        self.line(&[(x0, y0), (x1, y0)], width, colour)?;
        self.line(&[(x1, y0), (x1, y1)], width, colour)?;
        self.line(&[(x1, y1), (x0, y1)], width, colour)?;
        self.line(&[(x0, y1), (x0, y0)], width, colour)
    }

    /// A text at a point.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn text(&self, text: &str, (x, y): (f64, f64), style: Type) -> Result<(), FigureError> {
        let sink = if self.segments {
            SINK * style.size
        } else {
            0.0
        };
        let point = if style.upwards {
            (x + sink, y)
        } else {
            (x, y + sink)
        };
        self.area
            .draw_text(text, &self.style(&style), self.at(point))
            .map_err(FigureError::drawing)
    }

    /// A text with a rim of `rim` colour that lifts it off what lies below.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    pub fn text_on(
        &self,
        text: &str,
        (x, y): (f64, f64),
        style: Type,
        rim: RGBColor,
    ) -> Result<(), FigureError> {
        let behind = Type {
            colour: rim,
            ..style
        };
        for (dx, dy) in [
            (-1.5, 0.0),
            (1.5, 0.0),
            (0.0, -1.5),
            (0.0, 1.5),
            (-1.0, -1.0),
            (1.0, -1.0),
            (-1.0, 1.0),
            (1.0, 1.0),
        ] {
            self.text(text, (x + dx, y + dy), behind)?;
        }
        self.text(text, (x, y), style)
    }

    fn style<'s>(&self, style: &'s Type) -> TextStyle<'s> {
        let weight = if style.bold {
            FontStyle::Bold
        } else {
            FontStyle::Normal
        };
        let font = (FONT, style.size * self.scale, weight).into_font();
        let font = if style.upwards {
            font.transform(FontTransform::Rotate270)
        } else {
            font
        };
        let h = match style.align {
            Align::Left => HPos::Left,
            Align::Centre => HPos::Center,
            Align::Right => HPos::Right,
        };
        TextStyle::from(font)
            .color(&style.colour)
            .pos(Pos::new(h, VPos::Center))
    }

    fn put<E>(&self, element: &E) -> Result<(), FigureError>
    where
        for<'b> &'b E: plotters::element::PointCollection<'b, (i32, i32)>,
        E: plotters::element::Drawable<DB>,
    {
        self.area.draw(element).map_err(FigureError::drawing)
    }
}

/// Registers the openly licensed font that the program carries, once in a process, so that
/// figures need no font of the system.
pub fn register_fonts() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // Fails only for bytes that are no font; the backend would then report the text.
        let _ = register_font(FONT, FontStyle::Normal, dejavu::sans::regular());
        let _ = register_font(FONT, FontStyle::Bold, dejavu::sans::bold());
    });
}

/// Breaks a text between words into lines of at most `width` points; a longer word stays whole.
#[must_use]
pub fn wrap(text: &str, width: f64, style: Type) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if text_width(&format!("{line} {word}"), style) <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Width of a text in points.
#[must_use]
pub fn text_width(text: &str, style: Type) -> f64 {
    /// Measured large, for fractions of a point.
    const MAGNIFIED: f64 = 16.0;
    register_fonts();
    let weight = if style.bold {
        FontStyle::Bold
    } else {
        FontStyle::Normal
    };
    let font = (FONT, style.size * MAGNIFIED, weight).into_font();
    font.box_size(text)
        .map_or(0.0, |(width, _)| f64::from(width) / MAGNIFIED)
}
