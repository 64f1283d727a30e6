//! Natural curvature of a tip into which one or two bends have been shaped.

use super::StiffnessProfile;
use crate::scenario::model::BendSpec;

/// Part of a bend's length over which its curvature rises from zero, and again falls to zero.
pub const RAMP_FRACTION: f64 = 0.1;

/// Points and weights of the six-point Gauss-Legendre rule on `[-1, 1]`, exact to degree 11.
const GAUSS: [(f64, f64); 6] = [
    (-0.932_469_514_203_152, 0.171_324_492_379_170_4),
    (-0.661_209_386_466_264_5, 0.360_761_573_048_138_6),
    (-0.238_619_186_083_196_9, 0.467_913_934_572_691),
    (0.238_619_186_083_196_9, 0.467_913_934_572_691),
    (0.661_209_386_466_264_5, 0.360_761_573_048_138_6),
    (0.932_469_514_203_152, 0.171_324_492_379_170_4),
];

/// One bend: an arc whose curvature rises and falls over a short ramp inside its length, so that
/// a bend that slides into the guide meets no step in force. A bend that ends at the tip has no
/// ramp there.
///
/// Equation:  `kappa(s) = kappa_p f((s - start)/ramp_front) f((end - s)/ramp_back)`, with
/// `f(u) = 3u² - 2u³` on 0 to 1; the curvature of the plateau
/// `kappa_p = angle / (end - start - ramp_front/2 - ramp_back/2)` makes the bend turn by exactly
/// its angle.
///
/// Symbols:   `kappa` curvature (1/mm), `s, start, end, ramp` lengths from the tip (mm), `angle`
/// (rad)
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bend {
    start: f64,
    end: f64,
    ramp_front: f64,
    ramp_back: f64,
    plateau: f64,
    direction: [f64; 2],
}

impl Bend {
    fn new(spec: &BendSpec) -> Self {
        let ramp_back = RAMP_FRACTION * spec.length_mm;
        let ramp_front = if spec.from_tip_mm > 0.0 {
            ramp_back
        } else {
            0.0
        };
        Self {
            start: spec.from_tip_mm,
            end: spec.from_tip_mm + spec.length_mm,
            ramp_front,
            ramp_back,
            plateau: spec.angle_rad / (spec.length_mm - 0.5 * (ramp_front + ramp_back)),
            direction: [spec.plane_rad.cos(), spec.plane_rad.sin()],
        }
    }

    fn curvature(&self, s: f64) -> f64 {
        if s < self.start || s > self.end {
            return 0.0;
        }
        let rise = |distance: f64, ramp: f64| {
            if distance >= ramp {
                1.0
            } else {
                let u = distance / ramp;
                u * u * (3.0 - 2.0 * u)
            }
        };
        self.plateau * rise(s - self.start, self.ramp_front) * rise(self.end - s, self.ramp_back)
    }

    /// Angle turned between the tip and `s`.
    fn turned(&self, s: f64) -> f64 {
        // Integral of f(distance/ramp) from 0 to `distance`.
        let risen = |distance: f64, ramp: f64| {
            if distance >= ramp {
                distance - 0.5 * ramp
            } else {
                let u = (distance / ramp).max(0.0);
                ramp * u * u * u * (1.0 - 0.5 * u)
            }
        };
        let whole = self.end - self.start - 0.5 * (self.ramp_front + self.ramp_back);
        if s <= self.start {
            0.0
        } else if s < self.end - self.ramp_back {
            self.plateau * risen(s - self.start, self.ramp_front)
        } else {
            self.plateau * (whole - risen(self.end - s, self.ramp_back))
        }
    }

    /// Places where the formula of the curvature changes.
    fn joints(&self) -> [f64; 4] {
        [
            self.start,
            self.start + self.ramp_front,
            self.end - self.ramp_back,
            self.end,
        ]
    }
}

/// Natural curvature of the tip: bends that do not overlap.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShapedTip {
    bends: Vec<Bend>,
}

impl ShapedTip {
    /// Tip with the given bends.
    ///
    /// The caller has checked the values: finite, length above 0, distance from the tip 0 or
    /// more, no overlap.
    #[must_use]
    pub(super) fn new<'a>(bends: impl IntoIterator<Item = &'a BendSpec>) -> Self {
        Self {
            bends: bends.into_iter().map(Bend::new).collect(),
        }
    }

    /// The same tip with every bend's angle times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let scale = |bend: &Bend| Bend {
            plateau: bend.plateau * factor,
            ..*bend
        };
        Self {
            bends: self.bends.iter().map(scale).collect(),
        }
    }

    /// The same tip with one more bend, which overlaps none of the others.
    #[must_use]
    pub(super) fn with(&self, bend: &BendSpec) -> Self {
        let mut bends = self.bends.clone();
        bends.push(Bend::new(bend));
        Self { bends }
    }

    /// Natural curvature in 1/mm at `s` mm from the tip, along the two directions of the
    /// material frame.
    #[must_use]
    pub fn curvature(&self, s: f64) -> [f64; 2] {
        self.sum(|bend| bend.curvature(s))
    }

    /// Integral of the natural curvature over `[a, b]` in rad; negative where `b < a`.
    #[must_use]
    pub fn turned_between(&self, a: f64, b: f64) -> [f64; 2] {
        self.sum(|bend| bend.turned(b) - bend.turned(a))
    }

    /// Energy in mN mm that the part more than `s` mm from the tip stores when it is held
    /// straight: the integral of `B kappa² / 2` from `s` on.
    ///
    /// Between the joints of bend and profile the integrand is a polynomial of degree 10 at most,
    /// so that the Gauss rule is exact.
    #[must_use]
    pub fn straightened_energy_beyond(&self, s: f64, profile: &StiffnessProfile) -> f64 {
        let of_bend = |bend: &Bend| {
            let mut cuts: Vec<f64> = bend
                .joints()
                .iter()
                .chain(profile.stations())
                .map(|&cut| cut.clamp(bend.start, bend.end).max(s))
                .collect();
            cuts.sort_by(f64::total_cmp);
            let piece = |cut: &[f64]| {
                let (middle, half) = (0.5 * (cut[0] + cut[1]), 0.5 * (cut[1] - cut[0]));
                let density = |x: f64| 0.5 * profile.at(x) * bend.curvature(x).powi(2);
                let rule = GAUSS.iter().map(|&(x, w)| w * density(middle + half * x));
                half * rule.sum::<f64>()
            };
            cuts.windows(2).map(piece).sum::<f64>()
        };
        self.bends.iter().map(of_bend).sum()
    }

    /// Smallest radius of curvature in mm, infinite for a straight tip.
    #[must_use]
    pub fn tightest_radius_mm(&self) -> f64 {
        let tightest = self.bends.iter().map(|bend| bend.plateau.abs());
        1.0 / tightest.fold(0.0, f64::max)
    }

    /// Distance from the tip in mm at which the last bend has ended; 0 for a straight tip.
    #[must_use]
    pub fn end_mm(&self) -> f64 {
        self.bends.iter().map(|bend| bend.end).fold(0.0, f64::max)
    }

    /// Beginning and end of each bend in mm from the tip.
    pub fn bends_mm(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.bends.iter().map(|bend| (bend.start, bend.end))
    }

    fn sum(&self, value: impl Fn(&Bend) -> f64) -> [f64; 2] {
        self.bends.iter().fold([0.0, 0.0], |total, bend| {
            let v = value(bend);
            [
                total[0] + v * bend.direction[0],
                total[1] + v * bend.direction[1],
            ]
        })
    }
}
