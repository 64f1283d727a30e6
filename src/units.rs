//! Conversion at the border between what people write and the internal units.
//!
//! Inside the crate lengths are in mm, forces in mN, angles in rad, time in s, so bending
//! stiffness is in mN mm². People write gram-force, inches, degrees, N mm² and GPa.

/// Standard acceleration of gravity in m/s² (exact by definition, CGPM 1901).
pub const STANDARD_GRAVITY_M_PER_S2: f64 = 9.806_65;

/// Gram-force to mN.
#[must_use]
pub fn gram_force_to_mn(gf: f64) -> f64 {
    gf * STANDARD_GRAVITY_M_PER_S2
}

/// mN to gram-force.
#[must_use]
pub fn mn_to_gram_force(mn: f64) -> f64 {
    mn / STANDARD_GRAVITY_M_PER_S2
}

/// Inches to mm (exact by definition).
#[must_use]
pub fn inch_to_mm(inch: f64) -> f64 {
    inch * 25.4
}

/// French catheter size to outer diameter in mm: one French is a third of a millimetre.
#[must_use]
pub fn french_to_mm(french: f64) -> f64 {
    french / 3.0
}

/// N mm² to mN mm².
#[must_use]
pub fn n_mm2_to_mn_mm2(value: f64) -> f64 {
    value * 1e3
}

/// GPa to mN/mm² (1 GPa = 1000 N/mm² = 10⁶ mN/mm²).
#[must_use]
pub fn gpa_to_mn_per_mm2(gpa: f64) -> f64 {
    gpa * 1e6
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn six_french_is_two_mm() {
        assert_relative_eq!(french_to_mm(6.0), 2.0, max_relative = 1e-15);
    }

    #[test]
    fn a_coronary_wire_of_fourteen_thousandths_is_0_3556_mm() {
        assert_relative_eq!(inch_to_mm(0.014), 0.3556, max_relative = 1e-12);
    }

    #[test]
    fn one_gram_force_is_9_80665_mn_and_back() {
        assert_relative_eq!(gram_force_to_mn(1.0), 9.806_65, max_relative = 1e-15);
        assert_relative_eq!(
            mn_to_gram_force(gram_force_to_mn(0.3)),
            0.3,
            max_relative = 1e-15
        );
    }

    #[test]
    fn stiffness_units_agree_with_each_other() {
        // 1 GPa times 1 mm^4 is 1000 N mm^2.
        assert_relative_eq!(
            gpa_to_mn_per_mm2(1.0),
            n_mm2_to_mn_mm2(1000.0),
            max_relative = 1e-15
        );
    }
}
