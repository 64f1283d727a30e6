//! What has become of a vessel that gives way: how far it is moved, straightened and compressed.

use nalgebra::Vector3;

use super::bending::AtRest;
use super::giving::GivingVessel;

/// Length of axis in mm over which straightening is counted.
const WINDOW_MM: f64 = 10.0;

/// The largest changes of a vessel, each with the branch on which it lies.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct VesselReading {
    /// Largest displacement of an axis in mm, and the number of the branch.
    pub moved_mm: (f64, usize),
    /// Largest loss of turning within 10 mm of an axis in rad, and the branch; 0 where nothing is
    /// straightened.
    ///
    /// Equation: `∫ (|k0| - |k|) ds`, `k0`, `k` curvature at rest and now.
    pub straightened_rad: (f64, usize),
    /// Largest compression of the wall along the vessel, and the branch: where a bend is straightened
    /// or bent further, the wall on one side becomes shorter.
    ///
    /// Equation: `|k - R k0| r - (λ - 1)`, `r` radius of the lumen; a thin wall.
    pub compression: (f64, usize),
}

impl GivingVessel {
    /// The largest changes at the control vectors `moved`, in mm, against the vessel as its own movement
    /// has `carried` it.
    #[must_use]
    pub fn reading(&self, moved: &[Vector3<f64>], carried: &[Vector3<f64>]) -> VesselReading {
        self.reading_from(moved, &self.at_rest(carried))
    }

    /// The same with the axis at rest at hand, see [`Self::at_rest`].
    pub(crate) fn reading_from(&self, moved: &[Vector3<f64>], at_rest: &[AtRest]) -> VesselReading {
        let mut out = VesselReading::default();
        let keep = |most: &mut (f64, usize), value: f64, branch: usize| {
            if value > most.0 {
                *most = (value, branch);
            }
        };
        let mut lost: Vec<(f64, f64, usize)> = Vec::new();
        let both = self.stations().zip(at_rest);
        for (station, rest) in both.filter(|(s, _)| s.is_moved(moved)) {
            let [u, v, w] = station.moved(moved, rest);
            let length = v.norm();
            let t = v / length;
            let bent = (w - t * t.dot(&w)) / length;
            let back = rest.curvature.dot(&t) / (1.0 + rest.tangent.dot(&t));
            let turned = rest.curvature - (rest.tangent + t) * back;
            keep(&mut out.moved_mm, u.norm(), station.branch);
            let compression =
                (bent - turned).norm() * station.lumen_mm - (length - rest.first.norm());
            keep(&mut out.compression, compression, station.branch);
            let loss = (rest.curvature.norm() - bent.norm()) * station.weight;
            lost.push((station.at_mm, loss, station.branch));
        }
        for (i, (from, _, branch)) in lost.iter().enumerate() {
            let within = |s: &&(f64, f64, usize)| s.2 == *branch && s.0 < from + WINDOW_MM;
            let sum = lost[i..].iter().take_while(within).map(|s| s.1).sum();
            keep(&mut out.straightened_rad, sum, *branch);
        }
        out
    }
}
