//! Draws a figure as SVG, and makes the PNG from it.

use std::path::Path;

use plotters::backend::SVGBackend;
use plotters::drawing::IntoDrawingArea;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use thiserror::Error;

use super::font::fonts;
use super::palette::PAPER;
use super::pen::Pen;
use crate::study::store::write_file;
use crate::study::{Files, KeepError, Making, make};

/// Units of the SVG to one point: the backend rounds to whole units.
const SVG_UNITS: u32 = 10;

/// Why a figure could not be drawn.
#[derive(Debug, Error)]
#[error("{0}")]
pub struct FigureError(String);

impl FigureError {
    /// Wraps what a drawing backend reports.
    pub fn drawing(error: impl std::error::Error) -> Self {
        Self(error.to_string())
    }
}

/// Something that can be drawn.
pub trait Figure: Send + Sync {
    /// Name of its files, without ending.
    fn name(&self) -> &str;

    /// Width and height in points, which are the pixels of the PNG.
    fn size(&self) -> (u32, u32);

    /// Draws itself; the paper is already white.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError>;
}

/// A figure as `<folder>/<name>.svg` and `<folder>/<name>.png`: names and bytes.
///
/// # Errors
///
/// What a backend reports.
pub fn picture(folder: &str, figure: &dyn Figure) -> Result<Files, KeepError> {
    let [svg, png] = ["svg", "png"].map(|ending| {
        let name = format!("{}.{ending}", figure.name());
        if folder.is_empty() {
            name
        } else {
            format!("{folder}/{name}")
        }
    });
    let failed = |reason: FigureError| KeepError::Output {
        what: format!("cannot draw {svg}"),
        reason: reason.to_string(),
    };
    let text = draw_svg(figure).map_err(failed)?;
    let pixels = raster(&text).map_err(failed)?;
    Ok(vec![(svg, text.into_bytes()), (png, pixels)])
}

/// Writes `figures` into `folder`; they are drawn side by side, see [`make`], and `seen` is shown each
/// file.
///
/// # Errors
///
/// A failed file operation, or what a backend reports.
pub fn save_all(
    folder: &Path,
    figures: Vec<Box<dyn Figure>>,
    seen: impl FnMut(&str, &[u8]),
) -> Result<(), KeepError> {
    let drawing =
        |figure: Box<dyn Figure>| -> Making { Box::new(move || picture("", figure.as_ref())) };
    make(folder, figures.into_iter().map(drawing).collect(), seen)
}

/// Writes one figure into `folder`.
///
/// # Errors
///
/// A failed file operation, or what a backend reports.
pub fn save(folder: &Path, figure: &dyn Figure) -> Result<(), KeepError> {
    for (name, bytes) in picture("", figure)? {
        write_file(&folder.join(name), bytes)?;
    }
    Ok(())
}

/// The text of a figure's SVG file.
///
/// # Errors
///
/// What a backend reports.
pub fn draw_svg(figure: &dyn Figure) -> Result<String, FigureError> {
    drawn(figure.size(), true, |pen| figure.draw(pen))
}

/// What `draw` draws on paper of a size in points, or on none, as the text of an SVG file.
///
/// # Errors
///
/// What a backend reports.
pub fn drawn(
    (width, height): (u32, u32),
    on_paper: bool,
    draw: impl FnOnce(&Pen<'_>) -> Result<(), FigureError>,
) -> Result<String, FigureError> {
    let fine = (width * SVG_UNITS, height * SVG_UNITS);
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, fine).into_drawing_area();
        if on_paper {
            area.fill(&PAPER).map_err(FigureError::drawing)?;
        }
        draw(&Pen::new(area.clone(), f64::from(SVG_UNITS)))?;
        area.present().map_err(FigureError::drawing)?;
    }
    // The view box keeps the fine units; the picture shows at its stated size. Lines that fold back
    // on themselves have round corners instead of long points.
    let fine = format!("width=\"{}\" height=\"{}\"", fine.0, fine.1);
    let stated = format!("width=\"{width}\" height=\"{height}\" stroke-linejoin=\"round\"");
    let text = text.replacen(&fine, &stated, 1);
    // Fields that touch leave no bright line between them.
    Ok(text.replace("<rect ", "<rect shape-rendering=\"crispEdges\" "))
}

/// The bytes of the PNG file of an SVG text.
fn raster(svg: &str) -> Result<Vec<u8>, FigureError> {
    pixels(svg, None)?
        .encode_png()
        .map_err(FigureError::drawing)
}

/// The pixels of an SVG text, on those of `below` if there are some, which have its size.
///
/// # Errors
///
/// A text that is no picture.
pub fn pixels(svg: &str, below: Option<&Pixmap>) -> Result<Pixmap, FigureError> {
    let options = Options {
        fontdb: fonts(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(FigureError::drawing)?;
    let size = tree.size().to_int_size();
    let mut picture = match below {
        Some(below) => below.clone(),
        None => Pixmap::new(size.width(), size.height())
            .ok_or_else(|| FigureError(format!("no picture of {size:?} pixels")))?,
    };
    resvg::render(&tree, Transform::default(), &mut picture.as_mut());
    Ok(picture)
}
