//! The pen: draws in points, which are the pixels of the picture at its stated size, with
//! fractions.

use plotters::backend::SVGBackend;
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters::element::{Circle, Drawable, PathElement, PointCollection, Polygon, Rectangle};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontStyle, FontTransform, IntoFont, RGBColor, TextStyle};

use super::canvas::FigureError;
use super::font::FAMILY;

/// What the backend divides the size of a text by.
const BACKEND_SIZE: f64 = 1.24;

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

/// Draws on an area. Coordinates are points from the top left corner.
pub struct Pen<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
    scale: f64,
}

impl<'a> Pen<'a> {
    /// A pen on `area`, which has `scale` units to the point.
    #[must_use]
    pub fn new(area: DrawingArea<SVGBackend<'a>, Shift>, scale: f64) -> Self {
        Self { area, scale }
    }

    /// Width of the figure in points.
    #[must_use]
    pub fn width(&self) -> f64 {
        f64::from(self.area.dim_in_pixel().0) / self.scale
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
        let path: Vec<_> = points.iter().map(|&p| self.at(p)).collect();
        self.put(&PathElement::new(
            path,
            colour.stroke_width(self.pixels(width)),
        ))
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
        self.area
            .draw_text(text, &self.style(&style), self.at((x, y)))
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
        let font = (FAMILY, style.size * self.scale * BACKEND_SIZE, weight).into_font();
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
        for<'b> &'b E: PointCollection<'b, (i32, i32)>,
        E: Drawable<SVGBackend<'a>>,
    {
        self.area.draw(element).map_err(FigureError::drawing)
    }
}
