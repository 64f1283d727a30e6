//! Named wire surfaces and their friction coefficients.

/// A named surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// Name used in scenario files.
    pub name: &'static str,
    /// Coulomb friction coefficient against a wet vessel wall.
    pub friction: f64,
}

/// The surfaces that a scenario may name.
///
/// Their ratio steel : PTFE : hydrophilic = 6 : 3 : 1 is that of Schroeder J, Cardiovasc
/// Intervent Radiol 1993;16:93-97 (sliding friction of PTFE one half, of hydrophilic surfaces
/// about one sixth of that of steel). The ratio says nothing about size; the table is anchored
/// at 0.03 for the hydrophilic surface, the middle of the range 0.02 to 0.04 that published
/// values for hydrophilic coatings leave (the lower end measured on a coated polymer sheath).
pub const SURFACES: [Surface; 3] = [
    Surface {
        name: "hydrophilic",
        friction: 0.03,
    },
    Surface {
        name: "PTFE",
        friction: 0.09,
    },
    Surface {
        name: "steel",
        friction: 0.18,
    },
];

#[cfg(test)]
mod tests {
    use super::SURFACES;
    use approx::assert_relative_eq;

    #[test]
    fn ratios_are_those_of_schroeder_1993() {
        let of = |name| {
            let found = SURFACES.iter().find(|surface| surface.name == name);
            found.unwrap().friction
        };
        let hydrophilic = of("hydrophilic");
        assert_relative_eq!(of("steel") / hydrophilic, 6.0, max_relative = 1e-12);
        assert_relative_eq!(of("PTFE") / hydrophilic, 3.0, max_relative = 1e-12);
    }
}
