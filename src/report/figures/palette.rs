//! Colours and sizes shared by all figures.
//!
//! A colour has one meaning in all figures, and stands here under that meaning. Outcomes have the
//! colours of M. Okabe and K. Ito, *Color Universal Design*, 2008, chosen to stay distinct for readers
//! with colour-vision deficiency.

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

/// A support catheter.
pub const CATHETER: RGBColor = RGBColor(191, 146, 84);
/// A balloon.
pub const BALLOON: RGBColor = RGBColor(158, 134, 178);
/// Force of the hand on the wire.
pub const PUSH: RGBColor = RGBColor(28, 52, 104);
/// Force of the hand on the catheter.
pub const CATHETER_PUSH: RGBColor = RGBColor(128, 92, 34);
/// Force on the wall.
pub const WALL_FORCE: RGBColor = RGBColor(176, 42, 48);
/// Force on the wall while a wire leaves the guide.
pub const LEAVING_FORCE: RGBColor = RGBColor(226, 152, 132);
/// The strong end of a scale from white.
pub const SCALE: RGBColor = RGBColor(24, 84, 138);
/// What the reader should look at: a mark, a frame around a best value, a fitted line.
pub const MARK: RGBColor = RGBColor(196, 24, 92);
/// Edge of the target.
pub const TARGET: RGBColor = RGBColor(22, 120, 92);

/// Colour of the `index`-th wire; in a figure that tells no wires apart, of the `index`-th line that
/// its legend names. None of them is the colour of an outcome.
///
/// Source: P. Tol, *Colour schemes*, technical note, 2021, the muted scheme, with darker partners.
#[must_use]
pub fn wire_colour(index: usize) -> RGBColor {
    [
        RGBColor(51, 34, 136),
        RGBColor(136, 34, 85),
        RGBColor(119, 119, 30),
        RGBColor(68, 140, 150),
        RGBColor(120, 74, 36),
        RGBColor(150, 118, 208),
    ][index % 6]
}

/// Colour of an outcome, used for nothing else.
#[must_use]
pub fn outcome_colour(outcome: Outcome) -> RGBColor {
    match outcome {
        Outcome::Reached => RGBColor(0, 158, 115),
        Outcome::WrongBranch => RGBColor(230, 159, 0),
        Outcome::Prolapsed => RGBColor(204, 121, 167),
        Outcome::Stalled => RGBColor(0, 114, 178),
        Outcome::OutOfWire => RGBColor(240, 228, 66),
        Outcome::BackedOut => RGBColor(86, 180, 233),
        Outcome::OverForceLimit => RGBColor(213, 94, 0),
        Outcome::Unresolved => RGBColor(168, 172, 178),
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
