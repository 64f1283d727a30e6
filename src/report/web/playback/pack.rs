//! Places and forces in few bytes: places as 16-bit steps within a box, forces as bytes of equal ratio.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use nalgebra::Vector3;

use crate::report::outline::SceneOutline;

/// Room in mm around the branches, for wires that leave them and vessels that move.
const ROOM_MM: f64 = 30.0;
/// Smallest force that has a byte of its own, in mN.
const LEAST_MN: f64 = 1e-3;
/// Largest force over the smallest.
const RANGE: f64 = 1e7;
/// Highest number of 16 bits.
const STEPS: f64 = 65535.0;

/// The box in which places are counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grid {
    /// Lower corner in mm.
    pub low_mm: Vector3<f64>,
    /// Length of a step in mm.
    pub step_mm: f64,
}

impl Grid {
    /// The box around a scene.
    #[must_use]
    pub fn around(outline: &SceneOutline) -> Self {
        let tubes = outline.branches.iter().chain(&outline.bodies);
        let places = tubes.flat_map(|t| t.points.iter().map(|p| p.position_mm));
        let all = places.chain([outline.guide_end_mm]);
        let start = (outline.guide_end_mm, outline.guide_end_mm);
        let (low, high) = all.fold(start, |(low, high), p| (low.inf(&p), high.sup(&p)));
        Self {
            low_mm: low.add_scalar(-ROOM_MM),
            step_mm: ((high - low).max() + 2.0 * ROOM_MM) / STEPS,
        }
    }

    /// The nearest place of the box, in steps.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 16 bits"
    )]
    pub fn steps(&self, p: &Vector3<f64>) -> [u16; 3] {
        let steps = (p - self.low_mm) / self.step_mm;
        [0, 1, 2].map(|k| steps[k].round().clamp(0.0, STEPS) as u16)
    }
}

/// A force in mN as a byte: 0 below a thousandth of a mN, else 1 to 255 in equal ratios of 6.5 %.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to 8 bits"
)]
pub fn force(mn: f64) -> u8 {
    if mn.is_nan() || mn < LEAST_MN {
        return 0;
    }
    (1.0 + 254.0 * (mn / LEAST_MN).ln() / RANGE.ln())
        .round()
        .min(255.0) as u8
}

/// Bytes as text.
#[must_use]
pub fn text(bytes: &[u8]) -> String {
    STANDARD.encode(bytes)
}

/// Numbers of 16 bits as text, the low byte first.
#[must_use]
pub fn words(numbers: impl IntoIterator<Item = u16>) -> String {
    let bytes: Vec<u8> = numbers.into_iter().flat_map(u16::to_le_bytes).collect();
    text(&bytes)
}

/// A number with so many decimals, as JSON takes it.
#[must_use]
pub fn rounded(value: f64, decimals: i32) -> f64 {
    let scale = 10_f64.powi(decimals);
    (value * scale).round() / scale + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_force_comes_back_within_half_a_ratio_over_seven_decades() {
        assert_eq!(force(0.0), 0);
        assert_eq!(force(f64::NAN), 0);
        for mn in [0.001, 0.02, 0.5, 1.0, 37.0, 9_999.0] {
            let back = LEAST_MN * RANGE.powf((f64::from(force(mn)) - 1.0) / 254.0);
            assert!((back / mn - 1.0).abs() < 0.033, "{mn} {back}");
        }
    }

    #[test]
    fn a_place_comes_back_within_a_step() {
        let grid = Grid {
            low_mm: Vector3::new(-10.0, 0.0, 5.0),
            step_mm: 0.002,
        };
        let p = Vector3::new(3.3, 17.123, 99.99);
        let back = grid.low_mm + Vector3::from(grid.steps(&p).map(f64::from)) * grid.step_mm;
        assert!((back - p).amax() <= 0.001 + 1e-12);
        assert_eq!(grid.steps(&Vector3::repeat(-99.0)), [0; 3]);
    }
}
