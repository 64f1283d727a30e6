//! The list of bench tests: what each is, in which columns its curves stand, where it comes from.

/// A bench test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Test {
    /// Load at which the tip buckles on a plate.
    TipLoad,
    /// Side force that turns the tip.
    Flexibility,
    /// Bending stiffness along the wire.
    ThreePoint,
    /// The tip's answer to turning the hand.
    Torque,
    /// Forces into and out of a path.
    Track,
    /// Friction between two jaws.
    Pinch,
    /// Smallest loop.
    Kink,
    /// Force on a bend of a vessel.
    Straightening,
    /// Stiffness from a measured curve.
    Fit,
}

/// A column of a curve: what, and in which unit.
pub type Column = (&'static str, &'static str);

impl Test {
    /// All tests in the order of the report.
    pub const ALL: [Self; 9] = [
        Self::TipLoad,
        Self::Flexibility,
        Self::ThreePoint,
        Self::Torque,
        Self::Track,
        Self::Pinch,
        Self::Kink,
        Self::Straightening,
        Self::Fit,
    ];

    /// Name for files and the command line.
    #[must_use]
    pub fn slug(self) -> &'static str {
        match self {
            Self::TipLoad => "tip-load",
            Self::Flexibility => "flexibility",
            Self::ThreePoint => "three-point",
            Self::Torque => "torque",
            Self::Track => "track",
            Self::Pinch => "pinch",
            Self::Kink => "kink",
            Self::Straightening => "straightening",
            Self::Fit => "fit",
        }
    }

    /// Title.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::TipLoad => "Tip load",
            Self::Flexibility => "Tip flexibility",
            Self::ThreePoint => "Three-point bending",
            Self::Torque => "Torque response",
            Self::Track => "Track",
            Self::Pinch => "Pinch test of the coating",
            Self::Kink => "Kink",
            Self::Straightening => "Straightening of a vessel bend",
            Self::Fit => "Stiffness fitted to measured curves",
        }
    }

    /// What is done and what is read, in two lines.
    #[must_use]
    pub fn explanation(self) -> [&'static str; 2] {
        match self {
            Self::TipLoad => [
                "The wire is held behind its tip and driven against a plate with friction.",
                "Read: the largest load, and how far it is from the catalogue's tip load.",
            ],
            Self::Flexibility => [
                "The wire is held 5, 10 and 20 mm behind its tip and a side force turns the tip.",
                "Read: the force at 45 and 90 degrees, square to the tip or fixed in direction.",
            ],
            Self::ThreePoint => [
                "The wire lies on two supports and is pressed down between them, along its length.",
                "Read: flexural stiffness, and the modulus of a solid wire of the same diameter.",
            ],
            Self::Torque => [
                "The hand turns the wire in a tube, forward and back; the tip follows.",
                "Read: lag of the tip, whip (largest jump), torque at the hand, hysteresis.",
            ],
            Self::Track => [
                "The wire is pushed through a tube and pulled out again.",
                "Read: largest push, pull and wall force, where the wire locks, and the set it keeps.",
            ],
            Self::Pinch => [
                "Two flat jaws clamp the wire and it is pulled out between them.",
                "Read: pull over clamp force (often quoted), and half of it: two contacts.",
            ],
            Self::Kink => [
                "A loop of the wire is pressed between two plates that come together.",
                "Read: half the distance of the legs at the core's strain limit; set after half of it.",
            ],
            Self::Straightening => [
                "The wire is fed through a bend of a vessel that lies in soft tissue.",
                "Read: the force on the bend, how far its axis moves, and how much of its turning is lost.",
            ],
            Self::Fit => [
                "A stiffness profile is sought whose simulated tests give all measured curves at once.",
                "Read: stiffness at the knots with 95 % interval, residuals, and a wire to use.",
            ],
        }
    }

    /// Where the test comes from.
    #[must_use]
    pub fn source(self) -> &'static str {
        match self {
            Self::TipLoad => "common practice, no source",
            Self::Flexibility => {
                "FDA guidance on guidewires, 1995 and 2019 (held lengths and angles from memory)"
            }
            Self::ThreePoint => {
                "Harrison et al., J Endovasc Ther 2011;18:797 (method); span common practice, no source"
            }
            Self::Torque => {
                "FDA guidance on guidewires, 2019 (path, as transcribed); 1080 degrees: Adv Mater \
                 Process Oct 2019, p. 49"
            }
            Self::Track => "FDA guidance on guidewires, 2019 (path, as transcribed)",
            Self::Pinch => "common practice, no source",
            Self::Kink => {
                "two-point bending of fibres, a textbook test; limit common practice, no source"
            }
            Self::Straightening => "ours; no source",
            Self::Fit => "ours: nonlinear least squares; no source",
        }
    }

    /// Columns of the test's curves.
    #[must_use]
    pub fn columns(self) -> &'static [Column] {
        match self {
            Self::TipLoad => &[("travel", "mm"), ("load", "mN")],
            Self::Flexibility => &[("tip_angle", "deg"), ("side_force", "mN")],
            Self::ThreePoint => &[
                ("station", "mm"),
                ("flexural_stiffness", "N mm²"),
                ("apparent_modulus", "GPa"),
            ],
            Self::Torque => &[
                ("hand_angle", "deg"),
                ("tip_angle", "deg"),
                ("hand_less_tip", "deg"),
                ("torque", "mN mm"),
            ],
            Self::Track => &[
                ("fed", "mm"),
                ("push_force", "mN"),
                ("wall_force", "mN"),
                ("tip_along_path", "mm"),
                ("strain_over_limit", ""),
            ],
            Self::Pinch => &[("pull", "mm"), ("pull_force", "mN")],
            Self::Kink => &[
                ("loop_radius", "mm"),
                ("strain_over_limit", ""),
                ("set", "deg"),
            ],
            Self::Straightening => &[
                ("apex_behind_tip", "mm"),
                ("outward_force", "mN"),
                ("bend_moved", "mm"),
                ("turning_lost", "deg"),
            ],
            Self::Fit => &[
                ("station", "mm"),
                ("flexural_stiffness", "N mm²"),
                ("low_95", "N mm²"),
                ("high_95", "N mm²"),
                ("described_stiffness", "N mm²"),
                ("reached_by_readings", ""),
            ],
        }
    }

    /// What a real bench adds that the fixture leaves out.
    #[must_use]
    pub fn leaves_out(self) -> &'static str {
        match self {
            Self::TipLoad => "the give of the load cell, the shape of the tip's end, speed",
            Self::Flexibility => "friction of the probe, whose force acts at the very tip",
            Self::ThreePoint => "friction on the supports; coils that touch each other",
            Self::Torque => "friction in the proximal part of the wire, which is held straight",
            Self::Track => "friction in the guide, water, warmth",
            Self::Pinch => "flattening of coils and coating, wear, water",
            Self::Kink => "coils; a core that is not round",
            Self::Straightening => "pulsation, tissue and wall that stiffen as they are strained",
            Self::Fit => "everything that the simulated test leaves out goes into the stiffness",
        }
    }
}
