//! The centreline of a branch: a smooth curve by arc length with a radius along it.

use super::monotone;
use super::path::{Path, number, whole};
use super::radius::RadiusProfile;
use nalgebra::{Vector3, Vector4};
use std::sync::Arc;

/// Largest distance of two stations at which a branch is drawn, in mm.
const DRAWN_EVERY_MM: f64 = 0.5;

/// Number of segments in one block of the slow search.
const BLOCK: usize = 8;

/// Position (x, y, z) and radius over one interval, as one polynomial of the distance from its
/// start; kept together so that four numbers at a time are computed.
type Segment = [Vector4<f64>; 6];

/// Position with two derivatives and radius with one, at one station.
#[derive(Debug, Clone, Copy)]
pub(super) struct CurveJet {
    pub position: Vector3<f64>,
    pub first: Vector3<f64>,
    pub second: Vector3<f64>,
    pub radius: f64,
    pub slope: f64,
}

/// Number of blocks in one region of the slow search.
const REGION: usize = 32;

/// A sphere around some neighbouring knots, or around some neighbouring blocks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Block {
    pub first: usize,
    pub last: usize,
    pub centre: Vector3<f64>,
    pub reach_mm: f64,
}

/// What does not change when all diameters are scaled.
#[derive(Debug)]
pub(super) struct Curve {
    pub spacing_mm: f64,
    per_spacing: f64,
    pub length_mm: f64,
    segments: Vec<Segment>,
    /// Positions of the knots, one more than segments.
    pub knots: Vec<Vector3<f64>>,
    normals: Vec<Vector3<f64>>,
    pub blocks: Vec<Block>,
    /// Spheres around some neighbouring blocks, whose numbers they hold.
    pub regions: Vec<Block>,
    /// A sphere around all regions: its middle and radius in mm.
    pub around: (Vector3<f64>, f64),
    tightest: (f64, f64),
    /// Largest slope of the radius.
    pub steepest: f64,
    /// Largest radius in mm.
    pub widest_mm: f64,
}

impl Curve {
    fn new(path: &Path, profile: &RadiusProfile) -> Self {
        let h = path.spacing_mm;
        let mut radii: Vec<_> = (0..path.knots.len())
            .map(|i| profile.at(h * number(i)))
            .collect();
        monotone::ease(&mut radii, h);
        let segments: Vec<Segment> = path
            .knots
            .windows(2)
            .zip(radii.windows(2))
            .map(|(k, r)| {
                let position = quintic(
                    [k[0].position, k[0].tangent, k[0].curvature],
                    [k[1].position, k[1].tangent, k[1].curvature],
                    h,
                );
                let radius = cubic(r[0], r[1], h);
                std::array::from_fn(|i| position[i].push(radius.get(i).copied().unwrap_or(0.0)))
            })
            .collect();
        let knots: Vec<_> = path.knots.iter().map(|k| k.position).collect();
        let (sharpest, curvature) = path
            .knots
            .iter()
            .map(|k| k.curvature.norm())
            .enumerate()
            .fold((0, 0.0), |m, (i, c)| if c > m.1 { (i, c) } else { m });
        let blocks = blocks(&knots);
        let regions = regions(&blocks);
        Self {
            spacing_mm: h,
            per_spacing: 1.0 / h,
            length_mm: h * number(segments.len()),
            segments,
            around: sphere_around(&regions),
            regions,
            blocks,
            knots,
            normals: path.knots.iter().map(|k| k.normal).collect(),
            tightest: (h * number(sharpest), 1.0 / curvature),
            steepest: radii
                .windows(2)
                .fold(0.0, |m: f64, r| m.max(steepest(&cubic(r[0], r[1], h), h))),
            widest_mm: radii.iter().fold(0.0, |m: f64, r| m.max(r.0)),
        }
    }

    /// Station and radius of curvature of the tightest bend, in mm.
    pub(super) fn tightest(&self) -> (f64, f64) {
        self.tightest
    }

    /// Bytes of memory that the curve takes.
    pub(super) fn bytes(&self) -> usize {
        size_of_val(self.segments.as_slice())
            + size_of_val(self.knots.as_slice())
            + size_of_val(self.normals.as_slice())
            + size_of_val(self.blocks.as_slice())
    }

    /// The curve at `station`, which lies on it. Always inlined: a call through memory costs as
    /// much as the arithmetic.
    #[inline(always)]
    pub(super) fn jet(&self, station: f64) -> CurveJet {
        let i = whole(station * self.per_spacing).min(self.segments.len() - 1);
        let u = station - number(i) * self.spacing_mm;
        let [c0, c1, c2, c3, c4, c5] = &self.segments[i];
        let square = u * u;
        let value = (c0 + c1 * u) + ((c2 + c3 * u) + (c4 + c5 * u) * square) * square;
        let first =
            (c1 + c2 * (2.0 * u)) + ((c3 * 3.0 + c4 * (4.0 * u)) + c5 * (5.0 * square)) * square;
        let second = (c2 * 2.0 + c3 * (6.0 * u)) + (c4 * 12.0 + c5 * (20.0 * u)) * square;
        CurveJet {
            position: value.xyz(),
            first: first.xyz(),
            second: second.xyz(),
            radius: value.w,
            slope: first.w,
        }
    }
}

/// The smooth centreline of a branch with its lumen radius.
///
/// Stations are arc lengths in mm from the start of the branch; a station off the branch is
/// taken at its nearer end. Between samples at most 0.25 mm apart the curve is the quintic with
/// the samples' position, tangent and curvature, so curvature is continuous; its arc length
/// agrees with the station to the sixth power of the spacing. The radius is a cubic between
/// samples and continuous with its slope. Cheap to clone.
#[derive(Debug, Clone)]
pub struct Centreline {
    curve: Arc<Curve>,
    diameter_factor: f64,
}

impl Centreline {
    pub(super) fn new(path: &Path, profile: &RadiusProfile) -> Self {
        Self {
            curve: Arc::new(Curve::new(path, profile)),
            diameter_factor: 1.0,
        }
    }

    pub(super) fn curve(&self) -> &Arc<Curve> {
        &self.curve
    }

    /// The same path with all radii multiplied by `factor` once more.
    pub(super) fn widened(&self, factor: f64) -> Self {
        Self {
            curve: Arc::clone(&self.curve),
            diameter_factor: self.diameter_factor * factor,
        }
    }

    fn jet(&self, station: f64) -> CurveJet {
        self.curve.jet(station.clamp(0.0, self.curve.length_mm))
    }

    /// Arc length of the branch in mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        self.curve.length_mm
    }

    /// Stations in mm from the start to the end, at even distances of at most half a millimetre, at which
    /// the branch is drawn.
    pub fn drawn_stations(&self) -> impl Iterator<Item = f64> + use<> {
        let length = self.length_mm();
        let pieces = (length / DRAWN_EVERY_MM).ceil().max(1.0);
        std::iter::successors(Some(0.0), |index| Some(index + 1.0))
            .take_while(move |index| *index <= pieces)
            .map(move |index| length * index / pieces)
    }

    /// Position in mm.
    #[must_use]
    pub fn position(&self, station_mm: f64) -> Vector3<f64> {
        self.jet(station_mm).position
    }

    /// Unit tangent, towards the end of the branch.
    #[must_use]
    pub fn tangent(&self, station_mm: f64) -> Vector3<f64> {
        self.jet(station_mm).first.normalize()
    }

    /// Curvature vector in 1/mm: towards the centre of curvature, as long as the inverse of the
    /// radius of curvature.
    #[must_use]
    pub fn curvature(&self, station_mm: f64) -> Vector3<f64> {
        let jet = self.jet(station_mm);
        let square = jet.first.norm_squared();
        (jet.second - jet.first * (jet.second.dot(&jet.first) / square)) / square
    }

    /// Running normal: the unit vector from which plane angles are counted (see
    /// [the module's text](super)).
    #[must_use]
    pub fn normal(&self, station_mm: f64) -> Vector3<f64> {
        let station = station_mm.clamp(0.0, self.curve.length_mm);
        let i = whole(station * self.curve.per_spacing).min(self.curve.segments.len() - 1);
        let share = station * self.curve.per_spacing - number(i);
        let n = &self.curve.normals;
        let tangent = self.tangent(station);
        super::frame::square_to(&n[i].lerp(&n[i + 1], share), &tangent)
    }

    /// Lumen radius in mm.
    #[must_use]
    pub fn radius(&self, station_mm: f64) -> f64 {
        self.jet(station_mm).radius * self.diameter_factor
    }

    /// Station and radius of curvature, in mm, of the tightest bend; the radius is infinite for
    /// a straight branch.
    #[must_use]
    pub fn tightest_bend(&self) -> (f64, f64) {
        self.curve.tightest
    }
}

/// Coefficients of the quintic on [0, h] with given value and first two derivatives at both ends.
fn quintic(from: [Vector3<f64>; 3], to: [Vector3<f64>; 3], h: f64) -> [Vector3<f64>; 6] {
    let [p0, v0, a0] = from;
    let [p1, v1, a1] = to;
    let p = (p1 - p0 - v0 * h - a0 * (0.5 * h * h)) / (h * h * h);
    let v = (v1 - v0 - a0 * h) / (h * h);
    let a = (a1 - a0) / h;
    [
        p0,
        v0,
        a0 * 0.5,
        p * 10.0 - v * 4.0 + a * 0.5,
        (p * -15.0 + v * 7.0 - a) / h,
        (p * 6.0 - v * 3.0 + a * 0.5) / (h * h),
    ]
}

/// Coefficients of the cubic on [0, h] with given value and slope at both ends.
pub(super) fn cubic(from: (f64, f64), to: (f64, f64), h: f64) -> [f64; 4] {
    let rise = (to.0 - from.0) / h;
    [
        from.0,
        from.1,
        (3.0 * rise - 2.0 * from.1 - to.1) / h,
        (from.1 + to.1 - 2.0 * rise) / (h * h),
    ]
}

/// Largest slope of a cubic on [0, h], without its sign.
fn steepest([_, slope, c, d]: &[f64; 4], h: f64) -> f64 {
    let at = |u: f64| (slope + (2.0 * c + 3.0 * d * u) * u).abs();
    let turn = -c / (3.0 * d);
    let inside = (0.0..=h).contains(&turn).then(|| at(turn));
    at(0.0).max(at(h)).max(inside.unwrap_or(0.0))
}

fn blocks(knots: &[Vector3<f64>]) -> Vec<Block> {
    let last_knot = knots.len() - 1;
    (0..last_knot)
        .step_by(BLOCK)
        .map(|first| {
            let last = (first + BLOCK).min(last_knot);
            let centre = knots[usize::midpoint(first, last)];
            let reach_mm = knots[first..=last]
                .iter()
                .fold(0.0, |m: f64, k| m.max((k - centre).norm()));
            Block {
                first,
                last,
                centre,
                reach_mm,
            }
        })
        .collect()
}

/// Middle and radius in mm of a sphere around the spheres of one block or more.
fn sphere_around(part: &[Block]) -> (Vector3<f64>, f64) {
    let centre = part[part.len() / 2].centre;
    let reach = |block: &Block| (block.centre - centre).norm() + block.reach_mm;
    (centre, part.iter().map(reach).fold(0.0, f64::max))
}

fn regions(blocks: &[Block]) -> Vec<Block> {
    let region = |(number, part): (usize, &[Block])| {
        let (centre, reach_mm) = sphere_around(part);
        Block {
            first: number * REGION,
            last: number * REGION + part.len() - 1,
            centre,
            reach_mm,
        }
    };
    blocks.chunks(REGION).enumerate().map(region).collect()
}
