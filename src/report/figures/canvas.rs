//! Draws figures side by side and writes each as SVG and as the PNG made from it.

use std::path::Path;

use plotters::backend::SVGBackend;
use plotters::drawing::IntoDrawingArea;
use rayon::prelude::*;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use thiserror::Error;

use super::font::fonts;
use super::palette::PAPER;
use super::pen::Pen;
use crate::study::KeepError;
use crate::study::store::write_file;

/// Units of the SVG to one point: the backend rounds to whole units.
const SVG_UNITS: u32 = 10;
/// Figures that are drawn before the first of them is written: bounds the memory that they take.
const AT_ONCE: usize = 64;

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

/// Writes `figures` into `folder`, each as `<name>.svg` and `<name>.png`. They are drawn on all
/// threads of the pool around and written in their order, so that the bytes do not depend on the
/// number of threads.
///
/// # Errors
///
/// A failed file operation, or what a backend reports.
pub fn save_all(folder: &Path, figures: &[Box<dyn Figure>]) -> Result<(), KeepError> {
    for figures in figures.chunks(AT_ONCE) {
        let drawn: Vec<_> = figures.par_iter().map(|f| drawn(f.as_ref())).collect();
        for (figure, drawn) in figures.iter().zip(drawn) {
            write(folder, figure.name(), drawn)?;
        }
    }
    Ok(())
}

/// Writes one figure, see [`save_all`].
///
/// # Errors
///
/// A failed file operation, or what a backend reports.
pub fn save(folder: &Path, figure: &dyn Figure) -> Result<(), KeepError> {
    write(folder, figure.name(), drawn(figure))
}

/// A figure as SVG and as the bytes of a PNG file.
type Drawn = Result<(String, Vec<u8>), FigureError>;

fn drawn(figure: &dyn Figure) -> Drawn {
    let svg = draw_svg(figure)?;
    let png = raster(&svg)?;
    Ok((svg, png))
}

fn write(folder: &Path, name: &str, drawn: Drawn) -> Result<(), KeepError> {
    let [svg, png] = ["svg", "png"].map(|ending| folder.join(format!("{name}.{ending}")));
    let (text, picture) = drawn.map_err(|reason| KeepError::Output {
        what: format!("cannot draw {}", svg.display()),
        reason: reason.to_string(),
    })?;
    write_file(&svg, text)?;
    write_file(&png, picture)
}

fn draw_svg(figure: &dyn Figure) -> Result<String, FigureError> {
    let (width, height) = figure.size();
    let fine = (width * SVG_UNITS, height * SVG_UNITS);
    let mut text = String::new();
    {
        let area = SVGBackend::with_string(&mut text, fine).into_drawing_area();
        area.fill(&PAPER).map_err(FigureError::drawing)?;
        figure.draw(&Pen::new(area.clone(), f64::from(SVG_UNITS)))?;
        area.present().map_err(FigureError::drawing)?;
    }
    // The view box keeps the fine units; the picture shows at its stated size. Lines that fold back
    // on themselves have round corners instead of long points.
    let fine = format!("width=\"{}\" height=\"{}\"", fine.0, fine.1);
    let stated = format!("width=\"{width}\" height=\"{height}\" stroke-linejoin=\"round\"");
    Ok(text.replacen(&fine, &stated, 1))
}

/// The bytes of the PNG file of an SVG text.
fn raster(svg: &str) -> Result<Vec<u8>, FigureError> {
    let options = Options {
        fontdb: fonts(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(FigureError::drawing)?;
    let size = tree.size().to_int_size();
    let mut picture = Pixmap::new(size.width(), size.height())
        .ok_or_else(|| FigureError(format!("no picture of {size:?} pixels")))?;
    resvg::render(&tree, Transform::default(), &mut picture.as_mut());
    picture.encode_png().map_err(FigureError::drawing)
}
