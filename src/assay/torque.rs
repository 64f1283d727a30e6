//! Torque response: the hand turns the wire in a tube, there and back, and the tip follows.

use super::AssayError;
use super::path::Path;
use super::track::{Row, Way, advance};
use crate::device::Wire;
use crate::scenario::bench::TorqueTest;
use crate::solve::Assembly;

/// How far before the end of the tube the tip lies, in mm.
const BEFORE_END_MM: f64 = 5.0;

/// One reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// Angle of the hand in rad.
    pub hand_rad: f64,
    /// Angle of the tip about the wire's axis in rad, counted from the start of the turning.
    pub tip_rad: f64,
    /// Torque at the hand in mN mm.
    pub torque: f64,
}

/// The tip's answer to the hand.
#[derive(Debug, Clone, PartialEq)]
pub struct TorqueResponse {
    /// Readings while the hand turns forward, the start included.
    pub there: Vec<Turn>,
    /// Readings while the hand turns back.
    pub back: Vec<Turn>,
}

impl TorqueResponse {
    /// Hand less tip at the end of the forward turning, in rad.
    #[must_use]
    pub fn lag_rad(&self) -> f64 {
        self.there.last().map_or(0.0, |t| t.hand_rad - t.tip_rad)
    }

    /// Whip: the largest turn of the tip between two readings beyond the turn of the hand, in
    /// rad; 0 if the tip never turns faster than the hand.
    #[must_use]
    pub fn whip_rad(&self) -> f64 {
        let jumps = [&self.there, &self.back].into_iter().flat_map(|way| {
            way.windows(2).map(|t| {
                (t[1].tip_rad - t[0].tip_rad).abs() - (t[1].hand_rad - t[0].hand_rad).abs()
            })
        });
        jumps.fold(0.0, f64::max)
    }

    /// Largest torque at the hand, without sign, in mN mm.
    #[must_use]
    pub fn largest_torque(&self) -> f64 {
        let all = self.there.iter().chain(&self.back);
        all.map(|t| t.torque.abs()).fold(0.0, f64::max)
    }

    /// Width of the hysteresis loop: largest difference in rad between the angles of the tip at
    /// the same angle of the hand, there and back.
    #[must_use]
    pub fn loop_width_rad(&self) -> f64 {
        let pairs = self.there.iter().rev().zip(&self.back);
        pairs
            .map(|(there, back)| (there.tip_rad - back.tip_rad).abs())
            .fold(0.0, f64::max)
    }

    /// Energy that the hand loses in the cycle, in mN mm: the area of the loop of torque against
    /// angle of the hand.
    #[must_use]
    pub fn lost_energy(&self) -> f64 {
        let area = |way: &[Turn]| -> f64 {
            way.windows(2)
                .map(|t| 0.5 * (t[0].torque + t[1].torque) * (t[1].hand_rad - t[0].hand_rad))
                .sum()
        };
        area(&self.there) + area(&self.back)
    }
}

/// A wire in a tube, near its end, with the readings of the way there and its answer to turning.
pub struct InTube<'a> {
    /// The wire before it was turned.
    pub insertion: Assembly<'a>,
    /// Readings of the way in.
    pub pushed: Vec<Row>,
    /// How the way in ended.
    pub way: Way,
    /// The answer to turning; `None` if it was not wanted or the wire locked on the way in.
    pub response: Option<TorqueResponse>,
}

/// Feeds the wire to near the end of the tube and, if `turned`, turns it by the test's angle and
/// back.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found.
pub fn respond<'a>(
    wire: &Wire,
    path: &'a Path,
    test: &TorqueTest,
    turned: bool,
) -> Result<InTube<'a>, AssayError> {
    let fault = |failure| AssayError::Tube {
        test: format!("torque response, {}", path.course.name()),
        failure,
    };
    let mut insertion = path.enter(wire).map_err(fault)?;
    let mut pushed = Vec::new();
    let to_mm = path.length_mm() - BEFORE_END_MM;
    let way = advance(&mut insertion, path, to_mm, &mut pushed);
    let response = if turned && way == Way::Through {
        Some(turn(&mut insertion.clone(), test).map_err(fault)?)
    } else {
        None
    };
    Ok(InTube {
        insertion,
        pushed,
        way,
        response,
    })
}

/// Turns a wire that lies in a tube by the test's angle and back.
///
/// # Errors
/// [`crate::solve::Unresolved`] where no equilibrium is found.
pub fn turn(
    insertion: &mut Assembly<'_>,
    test: &TorqueTest,
) -> Result<TorqueResponse, crate::solve::Unresolved> {
    let rest = (insertion.hand_rad(), insertion.tip_rad());
    let read = |insertion: &Assembly<'_>| Turn {
        hand_rad: insertion.hand_rad() - rest.0,
        tip_rad: insertion.tip_rad() - rest.1,
        torque: insertion.torque(),
    };
    let mut there = vec![read(insertion)];
    let steps = (test.turn_rad / test.step_rad).ceil().max(1.0);
    let step = test.turn_rad / steps;
    let mut way = |angle: f64, out: &mut Vec<Turn>| {
        let mut done = 0.0;
        while done < steps {
            insertion.turn(angle)?;
            out.push(read(insertion));
            done += 1.0;
        }
        Ok(())
    };
    way(step, &mut there)?;
    let mut back: Vec<Turn> = there.last().copied().into_iter().collect();
    way(-step, &mut back)?;
    Ok(TorqueResponse { there, back })
}
