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

/// Endings of field names and the units they stand for, longer ones first.
const ENDINGS: [(&str, &str); 18] = [
    ("_mN_per_mm2", "mN/mm²"),
    ("_mN_per_mm", "mN/mm"),
    ("_mm_per_s", "mm/s"),
    ("_per_minute", "per minute"),
    ("_per_mm", "per mm"),
    ("_per_cm", "per cm"),
    ("_N_mm2", "N mm²"),
    ("_GPa", "GPa"),
    ("_MPa", "MPa"),
    ("_deg", "deg"),
    ("_mN", "mN"),
    ("_mm", "mm"),
    ("_cm", "cm"),
    ("_gf", "gf"),
    ("_fr", "French"),
    ("_in", "inch"),
    ("_cv", "CV"),
    ("_GJ", "GJ"),
];

/// The ending of a field's name that stands for a unit, and that unit; both empty where none does.
#[must_use]
pub fn of_field(name: &str) -> (&'static str, &'static str) {
    let found = ENDINGS.iter().find(|(ending, _)| name.ends_with(ending));
    found.copied().unwrap_or(("", ""))
}

/// Angles for serde, one or more of them: degrees in a file, rad inside.
pub mod degrees {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    /// An angle, one that may be missing, or several.
    pub trait Angles: Clone {
        /// The same with every angle changed by `change`.
        #[must_use]
        fn each(self, change: fn(f64) -> f64) -> Self;
    }

    impl Angles for f64 {
        fn each(self, change: fn(f64) -> f64) -> Self {
            change(self)
        }
    }

    impl<A: Angles> Angles for Option<A> {
        fn each(self, change: fn(f64) -> f64) -> Self {
            self.map(|angles| angles.each(change))
        }
    }

    impl<A: Angles, const N: usize> Angles for [A; N] {
        fn each(self, change: fn(f64) -> f64) -> Self {
            self.map(|angles| angles.each(change))
        }
    }

    /// From degrees to rad. A field that may be missing needs `default` besides.
    ///
    /// # Errors
    ///
    /// Where a value is no number.
    pub fn deserialize<'de, D, A>(deserializer: D) -> Result<A, D::Error>
    where
        D: Deserializer<'de>,
        A: Angles + Deserialize<'de>,
    {
        A::deserialize(deserializer).map(|angles| angles.each(f64::to_radians))
    }

    /// From rad to degrees.
    ///
    /// # Errors
    ///
    /// Those of the serializer.
    pub fn serialize<S, A>(rad: &A, serializer: S) -> Result<S::Ok, S::Error>
    where
        S: Serializer,
        A: Angles + Serialize,
    {
        rad.clone().each(f64::to_degrees).serialize(serializer)
    }
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
