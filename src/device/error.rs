//! What can be wrong with a device.

use crate::schema::Place;

/// A device that cannot be built from its catalogue quantities.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DeviceError {
    /// A number lies outside its allowed range, or is not a number.
    #[error("wire '{wire}': {quantity} is {value} {unit}, allowed is {allowed}; {remedy}")]
    OutOfRange {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// What the number means.
        quantity: &'static str,
        /// The number.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// The allowed range in words.
        allowed: &'static str,
        /// What to do about it.
        remedy: &'static str,
    },
    /// A number of a catheter lies outside its allowed range, or is not a number.
    #[error("catheter '{catheter}': {quantity} is {value} {unit}, allowed is {allowed}; {remedy}")]
    Catheter {
        /// Name of the catheter.
        catheter: String,
        /// Where the catheter is described.
        place: Place,
        /// What the number means.
        quantity: &'static str,
        /// The number.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// The allowed range in words.
        allowed: String,
        /// What to do about it.
        remedy: &'static str,
    },
    /// A grind profile or stiffness list without an entry.
    #[error(
        "wire '{wire}': the {list} is empty, allowed is one station or more; give a pair of distance from the tip and value"
    )]
    NoStations {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// Which list.
        list: &'static str,
    },
    /// Stations of a grind profile or stiffness list that do not rise.
    #[error(
        "wire '{wire}': in the {list} the station {value_mm} mm follows {before_mm} mm, allowed are rising distances from the tip; sort the list"
    )]
    StationsNotRising {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// Which list.
        list: &'static str,
        /// Station before, in mm.
        before_mm: f64,
        /// Station that does not rise, in mm.
        value_mm: f64,
    },
    /// A core grind that begins within the length in which the tip load rules.
    #[error(
        "wire '{wire}': the core grind begins at {value_mm} mm from the tip, allowed is {allowed_mm} mm or more, because the tip load already fixes the stiffness of the last {allowed_mm} mm; leave out the nearer stations, or give the grind alone"
    )]
    GrindWithinTip {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// First station of the grind in mm.
        value_mm: f64,
        /// Length in which the tip load rules, in mm.
        allowed_mm: f64,
    },
    /// Stiffer than a solid rod of the wire's diameter.
    #[error(
        "wire '{wire}': at {station_mm} mm from the tip the core would be {value_mm:.4} mm thick, allowed is the wire's diameter of {allowed_mm} mm; check the units of core diameter, stiffness and modulus"
    )]
    CoreThickerThanWire {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// Station in mm from the tip.
        station_mm: f64,
        /// Diameter of a round core of this stiffness in mm.
        value_mm: f64,
        /// Diameter of the wire in mm.
        allowed_mm: f64,
    },
    /// Two bends that share a part of the wire.
    #[error(
        "wire '{wire}': the secondary bend begins at {value_mm} mm from the tip, allowed is {allowed_mm} mm or more, where the primary bend ends; move it back or shorten the primary bend"
    )]
    BendsOverlap {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// Where the secondary bend begins in mm from the tip.
        value_mm: f64,
        /// Where the primary bend ends in mm from the tip.
        allowed_mm: f64,
    },
    /// A bend tighter than the wire's own radius.
    #[error(
        "wire '{wire}': the {bend} bend has a radius of {value_mm:.4} mm, allowed is more than the wire's radius of {allowed_mm} mm; lengthen the bend or lessen its angle"
    )]
    BendTooTight {
        /// Name of the wire.
        wire: String,
        /// Where the wire is described.
        place: Place,
        /// Primary or secondary.
        bend: &'static str,
        /// Radius of the bend in mm.
        value_mm: f64,
        /// Radius of the wire in mm.
        allowed_mm: f64,
    },
}

impl DeviceError {
    /// Where in the scenario the device is described.
    #[must_use]
    pub fn place(&self) -> &Place {
        match self {
            Self::OutOfRange { place, .. }
            | Self::Catheter { place, .. }
            | Self::NoStations { place, .. }
            | Self::StationsNotRising { place, .. }
            | Self::GrindWithinTip { place, .. }
            | Self::CoreThickerThanWire { place, .. }
            | Self::BendsOverlap { place, .. }
            | Self::BendTooTight { place, .. } => place,
        }
    }
}
