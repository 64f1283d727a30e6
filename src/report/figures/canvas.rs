//! Writes a figure as PNG and as SVG.

use std::path::Path;

use plotters::backend::{BitMapBackend, SVGBackend};
use plotters::drawing::IntoDrawingArea;
use plotters::prelude::DrawingBackend;
use thiserror::Error;

use super::palette::PAPER;
use super::pen::{Pen, register_fonts};
use crate::study::KeepError;
use crate::study::store::write_file;

/// Pixels of the large bitmap to one pixel of the PNG, along each side: smooths every edge.
const SMOOTHING: u32 = 3;
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
pub trait Figure {
    /// Name of its files, without ending.
    fn name(&self) -> &str;

    /// Width and height in points, which are the pixels of the PNG.
    fn size(&self) -> (u32, u32);

    /// Draws itself; the paper is already white.
    ///
    /// # Errors
    ///
    /// What the backend reports.
    fn draw<DB: DrawingBackend>(&self, pen: &Pen<'_, DB>) -> Result<(), FigureError>;
}

/// Writes `figure` into `folder` as `<name>.png` and `<name>.svg`.
///
/// # Errors
///
/// A failed file operation, or what a backend reports.
pub fn save(folder: &Path, figure: &impl Figure) -> Result<(), KeepError> {
    register_fonts();
    let png = folder.join(format!("{}.png", figure.name()));
    let svg = folder.join(format!("{}.svg", figure.name()));
    let failed = |path: &Path, reason: FigureError| KeepError::Output {
        what: format!("cannot draw {}", path.display()),
        reason: reason.to_string(),
    };
    let text = draw_svg(figure).map_err(|e| failed(&svg, e))?;
    write_file(&svg, text)?;
    let picture = draw_png(figure).map_err(|e| failed(&png, e))?;
    write_file(&png, picture)
}

fn draw_svg(figure: &impl Figure) -> Result<String, FigureError> {
    let (width, height) = figure.size();
    let mut text = String::new();
    {
        let size = (width * SVG_UNITS, height * SVG_UNITS);
        let area = SVGBackend::with_string(&mut text, size).into_drawing_area();
        area.fill(&PAPER).map_err(FigureError::drawing)?;
        figure.draw(&Pen::new(&area, f64::from(SVG_UNITS), false))?;
        area.present().map_err(FigureError::drawing)?;
    }
    // The view box keeps the fine units; the picture shows at its stated size.
    let fine = format!(
        "width=\"{}\" height=\"{}\"",
        width * SVG_UNITS,
        height * SVG_UNITS
    );
    Ok(text.replacen(&fine, &format!("width=\"{width}\" height=\"{height}\""), 1))
}

/// The bytes of the PNG file.
fn draw_png(figure: &impl Figure) -> Result<Vec<u8>, FigureError> {
    let (width, height) = figure.size();
    let large = (width * SMOOTHING, height * SMOOTHING);
    let mut fine = vec![0_u8; 3 * large.0 as usize * large.1 as usize];
    {
        let area = BitMapBackend::with_buffer(&mut fine, large).into_drawing_area();
        area.fill(&PAPER).map_err(FigureError::drawing)?;
        figure.draw(&Pen::new(&area, f64::from(SMOOTHING), true))?;
        area.present().map_err(FigureError::drawing)?;
    }
    let small = shrink(&fine, width as usize, height as usize);
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().map_err(FigureError::drawing)?;
    writer
        .write_image_data(&small)
        .map_err(FigureError::drawing)?;
    writer.finish().map_err(FigureError::drawing)?;
    Ok(file)
}

/// Mean of every block of pixels.
fn shrink(fine: &[u8], width: usize, height: usize) -> Vec<u8> {
    let block = SMOOTHING as usize;
    let count = block * block;
    let mut small = vec![0_u8; 3 * width * height];
    for y in 0..height {
        for x in 0..width {
            for channel in 0..3 {
                let mut sum = 0_usize;
                for dy in 0..block {
                    let start = ((y * block + dy) * width + x) * block;
                    for dx in 0..block {
                        sum += usize::from(fine[3 * (start + dx) + channel]);
                    }
                }
                small[3 * (y * width + x) + channel] =
                    u8::try_from((sum + count / 2) / count).unwrap_or(u8::MAX);
            }
        }
    }
    small
}
