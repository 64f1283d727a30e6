//! How much of a target's lumen other vessels cover in a view.
//!
//! The target is sampled across its seen width at points along it. For each view all other
//! vessels are projected as a chain of pieces; those whose frame touches the frame of the target
//! are asked point by point whether they cover it. The frames leave some dozen pieces of a
//! thousand.

use nalgebra::Vector2;

use super::camera::Camera;
use super::site::Site;

/// Points across the lumen, as fractions of its radius: the middles of five equal strips.
const ACROSS: [f64; 5] = [-0.8, -0.4, 0.0, 0.4, 0.8];

/// A piece of another vessel in the image.
#[derive(Debug, Clone, Copy)]
struct Band {
    from: Vector2<f64>,
    chord: Vector2<f64>,
    per_square: f64,
    radius: f64,
    widening: f64,
}

impl Band {
    fn covers(&self, p: &Vector2<f64>) -> bool {
        let away = p - self.from;
        let share = (away.dot(&self.chord) * self.per_square).clamp(0.0, 1.0);
        let radius = self.radius + share * self.widening;
        (away - self.chord * share).norm_squared() < radius * radius
    }
}

/// Memory for the overlap of one site in many views.
#[derive(Debug, Clone)]
pub(super) struct Overlap {
    site: Site,
    /// Points of the target in the image, with their weights.
    samples: Vec<(Vector2<f64>, f64)>,
    bands: Vec<Band>,
}

impl Overlap {
    pub(super) fn new(site: &Site) -> Self {
        Self {
            site: site.clone(),
            samples: Vec::new(),
            bands: Vec::new(),
        }
    }

    /// Share of the target's lumen, weighted by length and width, that another vessel covers in
    /// the view, 0 to 1.
    pub(super) fn share(&mut self, camera: &Camera) -> f64 {
        self.project(camera);
        self.gather(camera);
        let (mut covered, mut all) = (0.0, 0.0);
        let mut last = 0;
        for (point, weight) in &self.samples {
            all += weight;
            // The band that covered the point before mostly covers this one too.
            let hit = self.bands.get(last).is_some_and(|b| b.covers(point));
            let found = if hit {
                Some(last)
            } else {
                self.bands.iter().position(|b| b.covers(point))
            };
            if let Some(band) = found {
                covered += weight;
                last = band;
            }
        }
        if all > 0.0 { covered / all } else { 0.0 }
    }

    fn project(&mut self, camera: &Camera) {
        self.samples.clear();
        for piece in &self.site.target {
            let (centre, scale) = camera.seen(&piece.position);
            let seen = camera.beam.flat(&piece.tangent);
            let length = seen.norm();
            let normal = if length > 1e-9 {
                Vector2::new(-seen.y, seen.x) / length
            } else {
                Vector2::x()
            };
            let radius = piece.radius_mm * scale;
            let weight = piece.length_mm * piece.radius_mm;
            for across in ACROSS {
                self.samples
                    .push((centre + normal * (across * radius), weight));
            }
        }
    }

    /// Keeps the pieces of other vessels that may touch the target.
    fn gather(&mut self, camera: &Camera) {
        self.bands.clear();
        let Some(first) = self.samples.first() else {
            return;
        };
        let (low, high) = self
            .samples
            .iter()
            .fold((first.0, first.0), |(low, high), (p, _)| {
                (low.inf(p), high.sup(p))
            });
        let mut before: Option<(Vector2<f64>, f64)> = None;
        for cover in &self.site.others {
            let (b, scale) = camera.seen(&cover.position);
            let rb = cover.radius_mm * scale;
            let from = before.take();
            before = cover.goes_on.then_some((b, rb));
            let Some((a, ra)) = from else {
                continue;
            };
            let margin = ra.max(rb);
            let apart = a.x.max(b.x) + margin < low.x
                || a.x.min(b.x) - margin > high.x
                || a.y.max(b.y) + margin < low.y
                || a.y.min(b.y) - margin > high.y;
            if apart {
                continue;
            }
            let chord = b - a;
            let square = chord.norm_squared();
            self.bands.push(Band {
                from: a,
                chord,
                per_square: if square > 0.0 { 1.0 / square } else { 0.0 },
                radius: ra,
                widening: rb - ra,
            });
        }
    }
}
