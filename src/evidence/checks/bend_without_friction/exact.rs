//! An exact solution: a straight wire in a quarter circle without friction, and bends of which it holds too.
//!
//! Reference values: computed independently of this project by two methods (nonlinear programming on a segment
//! model with Richardson extrapolation, and shooting with piecewise elastica), agreeing to 1.1e-7 in the energy
//! and 1.5e-6 in the push force, per unit bending stiffness. Tube: straight for 5 mm from the clamp, a quarter
//! circle of 10 mm radius, straight; lumen 3 mm, wire 0.36 mm.

use crate::evidence::scenes::BendTube;

/// `d, E/B, P/B, force on the wall at the tip/B, tip angle in degrees, place of the inner contact
/// behind the bend's start, its force/B`; lengths in mm, per unit stiffness in mN mm².
#[rustfmt::skip]
pub const BEND_10: [[f64; 7]; 21] = [
    [6.0, 0.00017647, 0.00049461, 0.0010247, 3.0949, 0.0, 0.0],
    [7.0, 0.00097881, 0.00109119, 0.0021687, 7.6263, 0.0, 0.0],
    [8.0, 0.00232844, 0.00159601, 0.0030473, 12.2689, 0.0, 0.0],
    [9.0, 0.00415172, 0.00204321, 0.0037533, 17.0446, 0.0, 0.0],
    [10.0, 0.00640389, 0.00245733, 0.0043501, 21.9785, 0.0, 0.0],
    [11.0, 0.00906171, 0.00285734, 0.0048830, 27.0995, 0.0, 0.0],
    [12.0, 0.01211917, 0.00325907, 0.0053873, 32.4420, 0.0, 0.0],
    [13.0, 0.01580973, 0.00419616, 0.0070229, 39.5291, 4.4905, 0.0024901],
    [14.0, 0.02040958, 0.00495465, 0.0084671, 46.8556, 5.0196, 0.0045006],
    [15.0, 0.02563879, 0.00547103, 0.0095166, 54.0195, 5.5557, 0.0055950],
    [16.0, 0.03079111, 0.00466158, 0.0094760, 60.5322, 6.0350, 0.0066729],
    [17.0, 0.03496341, 0.00370028, 0.0090359, 65.8262, 6.3707, 0.0072725],
    [18.0, 0.03823567, 0.00286875, 0.0084665, 70.1940, 6.5831, 0.0075066],
    [19.0, 0.04075054, 0.00218519, 0.0078555, 73.8489, 6.6975, 0.0075150],
    [20.0, 0.04265157, 0.00163789, 0.0072531, 76.9489, 6.7387, 0.0073865],
    [21.0, 0.04406456, 0.00120527, 0.0066851, 79.6133, 6.7276, 0.0071776],
    [22.0, 0.04509285, 0.00086497, 0.0061628, 81.9317, 6.6809, 0.0069234],
    [23.0, 0.04581869, 0.00059740, 0.0056890, 83.9723, 6.6109, 0.0066456],
    [24.0, 0.04630654, 0.00038662, 0.0052621, 85.7865, 6.5265, 0.0063571],
    [25.0, 0.04660667, 0.00022013, 0.0048786, 87.4139, 6.4340, 0.0060657],
    [26.0, 0.04675830, 0.00008822, 0.0045342, 88.8851, 6.3377, 0.0057762],
];
/// Largest push force, per unit stiffness.
pub const PEAK: f64 = 0.0055281;
/// Largest force at the tip and at the inner wall among the rows, per unit stiffness.
pub const PEAK_TIP: f64 = 0.0095166;
pub const PEAK_INNER: f64 = 0.0075150;
/// `d` of the first contact, `sqrt(2 R c + c²)`; of the first contact with the inner wall; and
/// from which the tip lies flat on the outer wall and nothing pushes back.
pub const FIRST_CONTACT: f64 = 5.304_941;
pub const INNER_CONTACT: f64 = 12.20726;
pub const TANGENT: f64 = 26.8263;

/// Foundation stiffness in mN/mm² that leaves the wall all but rigid for these forces.
pub const STIFF_WALL: f64 = 3e4;
/// Diameter of the wire and of the lumen, and radius of the bend in mm.
pub const WIRE_MM: f64 = 0.36;
pub const LUMEN_MM: f64 = 3.0;
pub const BEND_MM: f64 = 10.0;

/// The tube and the wire of the table, or others of which it holds too: the solution depends on the play over the
/// radius of the bend alone, lengths go with the radius, energy over stiffness with its inverse, forces over
/// stiffness with the square of that.
#[derive(Clone, Copy)]
pub struct Size {
    /// Radius of the bend over that of the table.
    pub times: f64,
    /// Diameter of the wire in mm.
    pub wire_mm: f64,
}

/// That of the table, and tighter and wider bends with wires of other diameters.
pub const TABLED: Size = size(1.0, WIRE_MM);
pub const SIZES: [Size; 3] = [size(0.4, 0.26), size(1.0, 0.6), size(2.5, 0.9)];

const fn size(times: f64, wire_mm: f64) -> Size {
    Size { times, wire_mm }
}

impl Size {
    pub fn bend_mm(self) -> f64 {
        BEND_MM * self.times
    }

    pub fn lead_mm(self) -> f64 {
        5.0 * self.times
    }

    pub fn lumen_mm(self) -> f64 {
        self.wire_mm + (LUMEN_MM - WIRE_MM) * self.times
    }

    /// A wall that gives way by as much of the play: forces on it go with the inverse cube of the size.
    pub fn wall(self) -> f64 {
        STIFF_WALL / self.times.powi(4)
    }

    pub fn tube(self) -> BendTube {
        BendTube {
            lead: self.lead_mm(),
            bend: self.bend_mm(),
            angle: 90f64.to_radians(),
            radius: 0.5 * self.lumen_mm(),
        }
    }
}
