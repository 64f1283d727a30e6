//! Colours and sizes shared by all figures.
//!
//! Series colours are those of M. Okabe and K. Ito, *Color Universal Design*, 2008, chosen to
//! stay distinct for readers with colour-vision deficiency.

use plotters::style::RGBColor;

use crate::trial::result::Outcome;

/// Text and strong lines.
pub const INK: RGBColor = RGBColor(38, 42, 48);
/// Text of second rank.
pub const SOFT_INK: RGBColor = RGBColor(96, 102, 110);
/// Frames and tick marks.
pub const FRAME: RGBColor = RGBColor(150, 156, 164);
/// Grid lines.
pub const GRID: RGBColor = RGBColor(226, 229, 233);
/// Background.
pub const PAPER: RGBColor = RGBColor(255, 255, 255);
/// Wall of a vessel.
pub const WALL: RGBColor = RGBColor(172, 152, 148);
/// Lumen of a vessel.
pub const LUMEN: RGBColor = RGBColor(250, 241, 237);
/// Lumen of the target branch.
pub const TARGET_LUMEN: RGBColor = RGBColor(222, 240, 232);
/// A body in the lumen.
pub const BODY: RGBColor = RGBColor(205, 190, 160);
/// Guiding catheter.
pub const GUIDE: RGBColor = RGBColor(120, 126, 134);

/// Blue.
pub const BLUE: RGBColor = RGBColor(0, 114, 178);
/// Vermilion.
pub const VERMILION: RGBColor = RGBColor(213, 94, 0);
/// Bluish green.
pub const GREEN: RGBColor = RGBColor(0, 158, 115);
/// Orange.
pub const ORANGE: RGBColor = RGBColor(230, 159, 0);
/// Sky blue.
pub const SKY: RGBColor = RGBColor(86, 180, 233);
/// Reddish purple.
pub const PURPLE: RGBColor = RGBColor(204, 121, 167);
/// Yellow.
pub const YELLOW: RGBColor = RGBColor(240, 228, 66);
/// Grey for what is not a result.
pub const GREY: RGBColor = RGBColor(168, 172, 178);

/// Colour of the `index`-th wire.
#[must_use]
pub fn wire_colour(index: usize) -> RGBColor {
    [BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY][index % 6]
}

/// Colour of an outcome.
#[must_use]
pub fn outcome_colour(outcome: Outcome) -> RGBColor {
    match outcome {
        Outcome::Reached => GREEN,
        Outcome::WrongBranch => ORANGE,
        Outcome::Prolapsed => PURPLE,
        Outcome::Stalled => BLUE,
        Outcome::OutOfWire => YELLOW,
        Outcome::BackedOut => SKY,
        Outcome::OverForceLimit => VERMILION,
        Outcome::Unresolved => GREY,
    }
}

/// `colour` mixed with white; `strength` 1 leaves it, 0 gives white.
#[must_use]
pub fn pale(colour: RGBColor, strength: f64) -> RGBColor {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a value between two bytes is a byte"
    )]
    let mix = |c: u8| (255.0 - (255.0 - f64::from(c)) * strength.clamp(0.0, 1.0)).round() as u8;
    RGBColor(mix(colour.0), mix(colour.1), mix(colour.2))
}
