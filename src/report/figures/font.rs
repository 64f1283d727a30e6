//! The font of the figures: the openly licensed one that the program carries, so that a picture
//! needs no font of the system, and the widths of texts in it.

use std::sync::{Arc, OnceLock};

use resvg::usvg::fontdb::Database;
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::pen::Type;

/// Name of the font that a reader of the SVG file sees: whatever upright font is there.
pub const FAMILY: &str = "sans-serif";
/// Name that the carried font gives itself.
const CARRIED: &str = "DejaVu Sans";

/// The carried font for whoever turns a figure into pixels.
#[must_use]
pub fn fonts() -> Arc<Database> {
    static FONTS: OnceLock<Arc<Database>> = OnceLock::new();
    let load = || {
        let mut fonts = Database::new();
        fonts.load_font_data(dejavu::sans::regular().to_vec());
        fonts.load_font_data(dejavu::sans::bold().to_vec());
        fonts.set_sans_serif_family(CARRIED);
        Arc::new(fonts)
    };
    FONTS.get_or_init(load).clone()
}

/// Width of a text in points.
#[must_use]
pub fn text_width(text: &str, style: Type) -> f64 {
    static WIDTHS: OnceLock<[Option<FontRef<'static>>; 2]> = OnceLock::new();
    let [regular, bold] = WIDTHS.get_or_init(|| {
        [dejavu::sans::regular(), dejavu::sans::bold()].map(|font| FontRef::new(font).ok())
    });
    let Some(font) = (if style.bold { bold } else { regular }) else {
        return 0.0;
    };
    let glyphs = font.charmap();
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    let width = |letter: char| {
        let glyph = glyphs.map(letter).unwrap_or_default();
        f64::from(metrics.advance_width(glyph).unwrap_or(0.0))
    };
    style.size * text.chars().map(width).sum::<f64>()
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
