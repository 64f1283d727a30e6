//! What can be measured of the trials of a page, by name.

/// How a value is written behind its number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeasureUnit {
    /// A count of trials or attempts.
    Count,
    /// Per cent.
    Percent,
    /// A plain ratio.
    One,
    /// Millimetres.
    Millimetre,
    /// Degrees.
    Degree,
    /// Seconds.
    Second,
    /// Millinewtons.
    Millinewton,
    /// Millinewtons times millimetres.
    MillinewtonMillimetre,
}

impl MeasureUnit {
    /// The word behind a number; empty for a count and a ratio.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Count | Self::One => "",
            Self::Percent => "%",
            Self::Millimetre => "mm",
            Self::Degree => "degrees",
            Self::Second => "s",
            Self::Millinewton => "mN",
            Self::MillinewtonMillimetre => "mN mm",
        }
    }
}

/// What is measured of the trials of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Measure {
    /// A number of the page by its name in [`Measure::NAMED`].
    Named(&'static str),
    /// Trials whose tip lay in this branch at the end.
    TipIn(String),
}

/// Word by which [`Measure::TipIn`] begins.
const TIP_IN: &str = "tip_in";

impl Measure {
    /// Every measure but `tip_in`: name, unit, meaning.
    pub const NAMED: [(&'static str, MeasureUnit, &'static str); 25] = [
        ("trials", MeasureUnit::Count, "trials"),
        ("reached", MeasureUnit::Count, "trials that reached"),
        (
            "rate",
            MeasureUnit::Percent,
            "share of the trials that reached",
        ),
        ("wrong_branch", MeasureUnit::Count, "trials that ended so"),
        ("prolapsed", MeasureUnit::Count, "trials that ended so"),
        ("stalled", MeasureUnit::Count, "trials that ended so"),
        ("out_of_wire", MeasureUnit::Count, "trials that ended so"),
        ("backed_out", MeasureUnit::Count, "trials that ended so"),
        (
            "over_force_limit",
            MeasureUnit::Count,
            "trials that ended so",
        ),
        ("unresolved", MeasureUnit::Count, "trials that ended so"),
        ("attempts", MeasureUnit::Count, "attempts, median"),
        (
            "travel",
            MeasureUnit::Millimetre,
            "length fed plus length withdrawn, median",
        ),
        (
            "fed",
            MeasureUnit::Millimetre,
            "wire outside the guide at the end, median",
        ),
        (
            "turned",
            MeasureUnit::Degree,
            "sum of all turns of the hand, median",
        ),
        (
            "time",
            MeasureUnit::Second,
            "time at the hands' speeds, median",
        ),
        (
            "wall_force",
            MeasureUnit::Millinewton,
            "largest force on a millimetre of wall, leaving the guide not counted, median",
        ),
        (
            "wall_force_on_the_way",
            MeasureUnit::Millinewton,
            "the same on the way to the target or past it, median",
        ),
        (
            "wall_force_at_mouth",
            MeasureUnit::Millinewton,
            "the same at the target's mouth, median",
        ),
        (
            "tip_force",
            MeasureUnit::Millinewton,
            "largest force on the last millimetre of the tip, median",
        ),
        (
            "push",
            MeasureUnit::Millinewton,
            "largest push of the hand on the wire, median",
        ),
        (
            "torque",
            MeasureUnit::MillinewtonMillimetre,
            "largest torque of the hand on the wire, median",
        ),
        (
            "strain",
            MeasureUnit::One,
            "largest bending strain of the core over its limit, median",
        ),
        (
            "set",
            MeasureUnit::Degree,
            "set that the core keeps, median",
        ),
        (
            "straightened",
            MeasureUnit::Degree,
            "largest loss of turning within ten millimetres of a vessel, median",
        ),
        (
            "moved",
            MeasureUnit::Millimetre,
            "farthest that the axis of a vessel was moved, median",
        ),
    ];

    /// The measure of this name, with a branch behind `tip_in`.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        if let Some(branch) = text.strip_prefix(TIP_IN) {
            let branch = branch.strip_prefix(' ')?.trim().trim_matches('"');
            return (!branch.is_empty()).then(|| Self::TipIn(branch.to_owned()));
        }
        let mut all = Self::NAMED.iter();
        all.find(|(name, ..)| *name == text)
            .map(|(name, ..)| Self::Named(name))
    }

    /// All names, for messages.
    #[must_use]
    pub fn names() -> Vec<&'static str> {
        let names = Self::NAMED.iter().map(|(name, ..)| *name);
        names.chain([TIP_IN]).collect()
    }

    /// Whether it is a median over the trials of the page.
    #[must_use]
    pub fn is_median(&self) -> bool {
        let Self::Named(own) = self else {
            return false;
        };
        let mut all = Self::NAMED.iter();
        all.any(|(name, _, meaning)| name == own && meaning.ends_with("median"))
    }

    /// The unit of its value.
    #[must_use]
    pub fn unit(&self) -> MeasureUnit {
        match self {
            Self::Named(own) => {
                let mut all = Self::NAMED.iter();
                all.find(|(name, ..)| name == own)
                    .map_or(MeasureUnit::One, |m| m.1)
            }
            Self::TipIn(_) => MeasureUnit::Count,
        }
    }

    /// As it is written in a lesson.
    #[must_use]
    pub fn written(&self) -> String {
        match self {
            Self::Named(name) => (*name).to_owned(),
            Self::TipIn(branch) => format!("{TIP_IN} {branch}"),
        }
    }
}
