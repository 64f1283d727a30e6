//! Views with names, and what others have published.

use crate::scenario::view::ViewAngles;

/// A view in common use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Customary {
    /// Name.
    pub name: &'static str,
    /// Primary angle in degrees, positive LAO.
    pub primary_deg: f64,
    /// Secondary angle in degrees, positive cranial.
    pub secondary_deg: f64,
}

impl Customary {
    /// The angles.
    #[must_use]
    pub fn angles(&self) -> ViewAngles {
        ViewAngles::from_degrees(self.primary_deg, self.secondary_deg)
    }
}

/// Views in common use, one from within each range of Di Mario C, Sutaria N, Heart
/// 2005;91:968-976, table 2; the plain AP view added (common practice, no source).
pub const CUSTOMARY: [Customary; 10] = [
    customary("plain frontal", 0.0, 0.0),
    customary("left oblique caudal", 45.0, -30.0),
    customary("AP caudal", 0.0, -30.0),
    customary("right oblique caudal", -30.0, -30.0),
    customary("AP cranial", 0.0, 40.0),
    customary("left oblique cranial", 40.0, 30.0),
    customary("right oblique", -30.0, 0.0),
    customary("left oblique", 45.0, 0.0),
    customary("left lateral", 90.0, 0.0),
    customary("left lateral cranial", 90.0, 20.0),
];

const fn customary(name: &'static str, primary_deg: f64, secondary_deg: f64) -> Customary {
    Customary {
        name,
        primary_deg,
        secondary_deg,
    }
}

/// What others have published on the view that opens a branching, as context: the mean of many
/// patients, not a value to meet on one tree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Published {
    /// Parent and branch as the scenarios here call them.
    pub branching: (&'static str, &'static str),
    /// What was found.
    pub finding: &'static str,
}

/// Kočka V et al., JACC Cardiovasc Interv 2020;13(21):2560-2570 (100 patients, as transcribed);
/// Tu S et al., Int J Cardiovasc Imaging 2012;28(7):1617-1625 (194 branchings).
pub const PUBLISHED: [Published; 5] = [
    Published {
        branching: ("LM", "LCx"),
        finding: LEFT_MAIN,
    },
    Published {
        branching: ("LM", "LAD"),
        finding: LEFT_MAIN,
    },
    Published {
        branching: ("LAD", "D1"),
        finding: DIAGONAL,
    },
    Published {
        branching: ("LAD", "D2"),
        finding: DIAGONAL,
    },
    Published {
        branching: ("LCx", "M1"),
        finding: "the view square to the branching was out of the C-arm's reach in 17.6 % (Tu 2012)",
    },
];

const LEFT_MAIN: &str = "LAO 0 CAU 49 (RAO 8 to LAO 8, CAU 43 to 54; Kočka 2020, 100 patients); \
    RAO 5 +- 33 CAU 47 +- 35, best reachable LAO 4 +- 39 CAU 35 +- 16, out of reach in 81.6 % \
    (Tu 2012)";
const DIAGONAL: &str = "LAO 11 CRA 71 (RAO 6 to LAO 27, CRA 66 to 77; Kočka 2020, 100 patients); \
    out of the C-arm's reach in 78.4 % (Tu 2012)";
