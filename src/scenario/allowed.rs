//! Allowed ranges of the numbers in a scenario file, and what a number outside may have meant.

use std::fmt;

use crate::units;

/// The range of a number.
#[derive(Debug, Clone, Copy)]
pub(super) struct Allowed {
    low: f64,
    low_is_allowed: bool,
    high: f64,
    /// Unit as written in messages; empty for a ratio.
    pub(super) unit: &'static str,
    suspicion: fn(f64) -> Option<String>,
}

impl Allowed {
    const fn between(low: f64, high: f64, unit: &'static str) -> Self {
        Self {
            low,
            low_is_allowed: true,
            high,
            unit,
            suspicion: |_| None,
        }
    }

    const fn above(low: f64, high: f64, unit: &'static str) -> Self {
        Self {
            low_is_allowed: false,
            ..Self::between(low, high, unit)
        }
    }

    const fn suspect(self, suspicion: fn(f64) -> Option<String>) -> Self {
        Self { suspicion, ..self }
    }

    /// Whether a number lies in the range; not-a-number and infinities never do.
    pub(super) fn holds(&self, value: f64) -> bool {
        value.is_finite()
            && value <= self.high
            && (value > self.low || (self.low_is_allowed && value >= self.low))
    }

    /// What a number outside the range may have meant.
    pub(super) fn suspicion(&self, value: f64) -> Option<String> {
        (self.suspicion)(value)
    }

    /// A value with its unit.
    pub(super) fn say(&self, value: f64) -> String {
        format!("{value} {}", self.unit).trim_end().to_owned()
    }
}

impl fmt::Display for Allowed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self {
            low, high, unit, ..
        } = self;
        if self.low_is_allowed {
            write!(f, "{low} to {high}")?;
        } else {
            write!(f, "above {low} and up to {high}")?;
        }
        if unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {unit}")
        }
    }
}

/// Coordinate of a point.
pub(super) const COORDINATE: Allowed = Allowed::between(-1e4, 1e4, "mm");
/// Component of a direction, whose length does not matter.
pub(super) const DIRECTION: Allowed = Allowed::between(-1e6, 1e6, "");
/// Length of something that must be there.
pub(super) const LENGTH: Allowed = Allowed::above(0.0, 1e4, "mm");
/// Share of a whole that is more than nothing.
pub(super) const SHARE: Allowed = Allowed::above(0.0, 1.0, "");
/// Distance along a vessel or a wire from its start.
pub(super) const STATION: Allowed = Allowed::between(0.0, 1e4, "mm");
/// Rise of a helix in one turn.
pub(super) const PITCH: Allowed = Allowed::between(-1e3, 1e3, "mm");
/// Turns of a helix.
pub(super) const TURNS: Allowed = Allowed::above(0.0, 100.0, "turns");
/// Turn of a bend of a vessel.
pub(super) const TURN: Allowed = Allowed::above(0.0, 1080.0, "deg");
/// Direction about an axis.
pub(super) const PLANE: Allowed = Allowed::between(-360.0, 360.0, "deg");
/// Turn that a wire makes into a branch.
pub(super) const TAKE_OFF: Allowed = Allowed::between(0.0, 180.0, "deg");
/// Distance from an ostium in a table of polar coordinates.
pub(super) const POLAR_RADIUS: Allowed = Allowed::between(0.0, 30.0, "cm").suspect(|value| {
    (value > 30.0).then(|| format!("polar tables are in cm: {value} mm is {} cm", value / 10.0))
});
/// Distance below which something counts, or within which something is done.
pub(super) const REACH: Allowed = Allowed::between(0.0, 50.0, "mm");
/// Distance between points.
pub(super) const SPACING: Allowed = Allowed::between(0.05, 20.0, "mm");
/// Scale of smoothing.
pub(super) const SMOOTHING: Allowed = Allowed::between(0.0, 10.0, "mm");
/// Number of a tip.
pub(super) const TIP: Allowed = Allowed::between(1.0, 10_000.0, "");
/// Lumen diameter.
pub(super) const LUMEN: Allowed = Allowed::above(0.0, 40.0, "mm");
/// Width over which two tubes blend.
pub(super) const BLEND: Allowed = Allowed::between(0.0, 5.0, "mm");
/// Stiffness of the wall's elastic foundation.
pub(super) const WALL_STIFFNESS: Allowed = Allowed::above(0.0, 1e6, "mN/mm²");
/// Stiffness of the guide against backing out.
pub(super) const BACKUP: Allowed = Allowed::above(0.0, 1e6, "mN/mm");
/// Force limit.
pub(super) const FORCE: Allowed = Allowed::above(0.0, 1e5, "mN");
/// Outer diameter of a wire.
pub(super) const WIRE_DIAMETER: Allowed = Allowed::between(0.1, 1.0, "mm").suspect(|value| {
    if (5.0..=40.0).contains(&value) {
        let mm = units::inch_to_mm(value * 1e-3);
        Some(format!(
            "{value} looks like thousandths of an inch: {:.3} inch is {mm:.4} mm",
            value * 1e-3
        ))
    } else if (0.004..=0.04).contains(&value) {
        let mm = units::inch_to_mm(value);
        Some(format!(
            "{value} looks like inches: write diameter_in = {value}, or diameter_mm = {mm:.4}"
        ))
    } else {
        None
    }
});
/// Outer diameter of a wire in inches.
pub(super) const WIRE_DIAMETER_INCH: Allowed =
    Allowed::between(0.004, 0.04, "inch").suspect(|value| {
        if (0.1..=1.0).contains(&value) {
            Some(format!(
                "{value} looks like mm: write diameter_mm = {value}; 0.014 inch is 0.3556 mm"
            ))
        } else if (4.0..=40.0).contains(&value) {
            Some(format!(
                "{value} looks like thousandths of an inch: write {:.3}",
                value * 1e-3
            ))
        } else {
            None
        }
    });
/// Tip load.
pub(super) const TIP_LOAD: Allowed = Allowed::between(0.05, 50.0, "gf").suspect(|value| {
    (value > 50.0).then(|| {
        let gf = units::mn_to_gram_force(value);
        format!(
            "looks like mN? tip loads are in gram-force (1 gf = 9.80665 mN): {value} mN is {gf:.2} gf"
        )
    })
});
/// Diameter of a wire's core.
pub(super) const CORE: Allowed = Allowed::between(0.01, 1.0, "mm").suspect(|value| {
    (0.000_4..0.01).contains(&value).then(|| {
        let mm = units::inch_to_mm(value);
        format!("{value} looks like inches: {value} inch is {mm:.4} mm")
    })
});
/// Young's modulus.
pub(super) const MODULUS: Allowed = Allowed::between(0.1, 1000.0, "GPa").suspect(|value| {
    (value > 1000.0).then(|| {
        format!(
            "{value} looks like MPa (N/mm²): {value} MPa is {} GPa; steel is about 200 GPa",
            value / 1000.0
        )
    })
});
/// Bending stiffness.
pub(super) const BENDING: Allowed = Allowed::above(0.0, 1e4, "N mm²");
/// Poisson's ratio.
pub(super) const POISSON: Allowed = Allowed::between(0.0, 0.5, "");
/// Ratio of torsional to bending stiffness.
pub(super) const TORSION_RATIO: Allowed = Allowed::above(0.0, 10.0, "");
/// Coulomb friction coefficient.
pub(super) const FRICTION: Allowed = Allowed::between(0.0, 2.0, "").suspect(|value| {
    (value > 2.0 && value <= 100.0).then(|| {
        format!(
            "a friction coefficient is a ratio of forces; if {value} is meant in percent write {}",
            value / 100.0
        )
    })
});
/// Strain beyond which a core keeps a kink.
pub(super) const STRAIN: Allowed = Allowed::above(0.0, 0.2, "").suspect(|value| {
    (value > 0.2 && value <= 20.0)
        .then(|| format!("strain is a ratio: {value} percent is {}", value / 100.0))
});
/// Stress of a lower plateau over that of the upper.
pub(super) const PLATEAU_RATIO: Allowed = Allowed::between(0.0, 1.0, "");
/// Turn of a bend shaped into a wire.
pub(super) const TIP_BEND: Allowed = Allowed::between(0.0, 360.0, "deg");
/// Diameter to which a balloon is inflated.
pub(super) const BALLOON: Allowed = Allowed::between(0.5, 10.0, "mm");
/// Distance of a body's axis from that of its vessel.
pub(super) const OFF_AXIS: Allowed = Allowed::between(0.0, 20.0, "mm");
/// Angle of a guide's direction off its vessel's.
pub(super) const GUIDE_TILT: Allowed = Allowed::between(0.0, 60.0, "deg");
/// How much deeper a guide stands.
pub(super) const GUIDE_DEEPER: Allowed = Allowed::between(0.0, 50.0, "mm");
/// Turn of the hand to either side.
pub(super) const ROCK: Allowed = Allowed::between(0.0, 180.0, "deg");
/// Diameter of a support catheter.
pub(super) const CATHETER: Allowed = Allowed::above(0.0, 4.0, "mm").suspect(|value| {
    (value > 4.0 && value <= 12.0).then(|| {
        format!(
            "{value} looks like French: {value} French is {:.3} mm",
            units::french_to_mm(value)
        )
    })
});
/// Diameter of a support catheter in French.
pub(super) const CATHETER_FRENCH: Allowed = Allowed::above(0.0, 12.0, "French");
/// Angle of a catheter's bent tip.
pub(super) const CATHETER_TIP: Allowed = Allowed::between(-180.0, 180.0, "deg");
/// Angle in which a side port lets a wire out.
pub(super) const SIDE_PORT: Allowed = Allowed::between(0.0, 90.0, "deg");
/// Distance before an ostium; negative beyond it.
pub(super) const BEFORE_OSTIUM: Allowed = Allowed::between(-20.0, 100.0, "mm");
/// Diameter of a guide's lumen.
pub(super) const GUIDE_LUMEN: Allowed = Allowed::between(0.5, 4.0, "mm");
/// Angle of the fold that a wire keeps.
pub(super) const FOLD: Allowed = Allowed::above(0.0, 180.0, "deg");
/// Turn of the hand.
pub(super) const HAND_TURN: Allowed = Allowed::between(-360.0, 360.0, "deg");
/// Half-width of a draw of an angle.
pub(super) const HALF_WIDTH: Allowed = Allowed::between(0.0, 180.0, "deg");
/// Standard deviation of an angle.
pub(super) const ANGLE_SD: Allowed = Allowed::between(0.0, 90.0, "deg");
/// Coefficient of variation.
pub(super) const VARIATION: Allowed = Allowed::between(0.0, 1.0, "").suspect(|value| {
    (value > 1.0 && value <= 100.0).then(|| {
        format!(
            "a coefficient of variation is a ratio: {value} percent is {}",
            value / 100.0
        )
    })
});
/// Primary angle of a C-arm.
pub(super) const PRIMARY: Allowed = Allowed::between(-180.0, 180.0, "deg");
/// Secondary angle of a C-arm.
pub(super) const SECONDARY: Allowed = Allowed::between(-90.0, 90.0, "deg");
/// Sum of the two, signs left away.
pub(super) const COMBINED: Allowed = Allowed::between(0.0, 270.0, "deg");
/// Distance of the parts of a C-arm.
pub(super) const DISTANCE: Allowed = Allowed::between(10.0, 5000.0, "mm").suspect(|value| {
    (value > 0.0 && value < 10.0)
        .then(|| format!("{value} looks like m: write {} mm", 1000.0 * value))
});
/// Error of a reading in a projection.
pub(super) const READING: Allowed = Allowed::between(0.0, 5.0, "mm");
/// Shift along a vessel either way.
pub(super) const SHIFT: Allowed = Allowed::between(-100.0, 100.0, "mm");
/// Number of trials.
pub(super) const TRIALS: Allowed = Allowed::between(1.0, 1e6, "trials");
/// Number of recorded trials.
pub(super) const RECORDED: Allowed = Allowed::between(0.0, 1000.0, "trials");
/// Number of attempts.
pub(super) const ATTEMPTS: Allowed = Allowed::between(1.0, 100.0, "attempts");
/// Seed: every whole number that a file can hold.
pub(super) const SEED: Allowed = Allowed::between(0.0, 9_223_372_036_854_775_807.0, "");
/// Fed length in one step.
pub(super) const STEP: Allowed = Allowed::between(0.001, 2.0, "mm");
/// Edge length at the tip.
pub(super) const EDGE: Allowed = Allowed::between(0.02, 5.0, "mm");
/// Tolerance of the solver.
pub(super) const TOLERANCE: Allowed = Allowed::between(1e-12, 0.1, "");
/// Free length of a wire in a chuck.
pub(super) const HELD: Allowed = Allowed::between(1.0, 200.0, "mm");
/// How far a chuck drives.
pub(super) const TRAVEL: Allowed = Allowed::above(0.0, 50.0, "mm");
/// Angle to which a side force turns a tip.
pub(super) const SIDE_ANGLE: Allowed = Allowed::between(1.0, 100.0, "deg").suspect(|value| {
    (value > 0.0 && value < 1.0).then(|| {
        format!(
            "looks like rad? {value} rad is {:.1} deg",
            value.to_degrees()
        )
    })
});
/// Turn of the hand on the bench.
pub(super) const BENCH_TURN: Allowed = Allowed::above(0.0, 1e4, "deg");
/// Clamp force.
pub(super) const CLAMP: Allowed = Allowed::above(0.0, 1e5, "gf");
/// Relative error of a reading.
pub(super) const RELATIVE_ERROR: Allowed = Allowed::above(0.0, 0.5, "").suspect(|value| {
    (value > 0.5 && value <= 50.0)
        .then(|| format!("it is a ratio: {value} percent is {}", value / 100.0))
});
/// Feed speed.
pub(super) const SPEED: Allowed = Allowed::between(0.1, 1000.0, "mm/s");

/// Any number that a parameter of a sweep may take.
pub(super) const FREE: Allowed = Allowed::between(-1e12, 1e12, "");
/// Any number above zero that a parameter of a sweep may take.
pub(super) const FREE_ABOVE_ZERO: Allowed = Allowed::above(0.0, 1e12, "");
/// Points of a sweep.
pub(super) const POINTS: Allowed = Allowed::between(1.0, 1e7, "points");
/// Levels of a parameter in a grid.
pub(super) const STEPS: Allowed = Allowed::between(2.0, 1e5, "levels");
/// Mean curvature of a drawn vessel.
pub(super) const CURVATURE: Allowed = Allowed::above(0.0, 0.5, "per mm");
/// Number of a drawn anatomy.
pub(super) const DRAW: Allowed = Allowed::between(0.0, 1e9, "");
/// A factor on a spread.
pub(super) const SPREAD_FACTOR: Allowed = Allowed::between(0.0, 10.0, "");
/// Confidence of a statement.
pub(super) const CONFIDENCE: Allowed = Allowed::between(0.5, 0.9999, "");
/// Trials with new draws for a winner.
pub(super) const CONFIRMATIONS: Allowed = Allowed::between(0.0, 1e6, "trials");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ends_of_a_range_belong_to_it_or_not_as_it_says() {
        assert!(FRICTION.holds(0.0) && FRICTION.holds(2.0));
        assert!(!FRICTION.holds(-1e-9) && !FRICTION.holds(2.000_001));
        assert!(!LENGTH.holds(0.0) && LENGTH.holds(1e-9));
        assert!(!LENGTH.holds(f64::NAN) && !LENGTH.holds(f64::INFINITY));
        assert_eq!(LENGTH.to_string(), "above 0 and up to 10000 mm");
        assert_eq!(FRICTION.to_string(), "0 to 2");
    }

    #[test]
    fn fourteen_thousandths_are_recognised_in_either_unit() {
        assert!(
            WIRE_DIAMETER
                .suspicion(14.0)
                .unwrap()
                .contains("0.014 inch is 0.3556 mm")
        );
        assert!(
            WIRE_DIAMETER
                .suspicion(0.014)
                .unwrap()
                .contains("diameter_in = 0.014")
        );
        assert!(
            WIRE_DIAMETER_INCH
                .suspicion(0.3556)
                .unwrap()
                .contains("diameter_mm = 0.3556")
        );
    }

    #[test]
    fn three_hundred_mn_of_tip_load_are_thirty_gram_force() {
        assert!(TIP_LOAD.suspicion(300.0).unwrap().contains("30.59 gf"));
    }
}
