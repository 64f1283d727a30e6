//! Where a tree that is being put together passes near a point: segments in a grid of cells.

use std::collections::BTreeMap;

use nalgebra::Vector3;

use super::polyline::Polyline;

/// The nearest place of a tree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Near {
    /// Distance in mm.
    pub distance: f64,
    /// Number of the track.
    pub track: usize,
    /// Number of the sample at or before the place.
    pub sample: usize,
    /// The place.
    pub foot: Vector3<f64>,
}

/// Segments of tracks by cell.
#[derive(Debug)]
pub(super) struct Nearness {
    cell_mm: f64,
    cells: BTreeMap<[i64; 3], Vec<(usize, usize)>>,
}

impl Nearness {
    /// For questions about distances of up to `reach_mm`.
    pub(super) fn new(reach_mm: f64) -> Self {
        Self {
            cell_mm: reach_mm.max(1.0),
            cells: BTreeMap::new(),
        }
    }

    fn cell(&self, p: &Vector3<f64>) -> [i64; 3] {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "the cast saturates; coordinates are limited"
        )]
        let index = |x: f64| (x / self.cell_mm).floor() as i64;
        [index(p.x), index(p.y), index(p.z)]
    }

    /// Adds a track; its samples lie closer together than a cell is wide.
    pub(super) fn add(&mut self, track: usize, line: &Polyline) {
        for (sample, pair) in line.points.windows(2).enumerate() {
            let (a, b) = (self.cell(&pair[0]), self.cell(&pair[1]));
            self.cells.entry(a).or_default().push((track, sample));
            if b != a {
                self.cells.entry(b).or_default().push((track, sample));
            }
        }
    }

    /// The nearest place within about the reach; `None` if there is none.
    pub(super) fn nearest(&self, p: &Vector3<f64>, tracks: &[&Polyline]) -> Option<Near> {
        let [x, y, z] = self.cell(p);
        let mut best: Option<Near> = None;
        for i in x - 1..=x + 1 {
            for j in y - 1..=y + 1 {
                for k in z - 1..=z + 1 {
                    for &(track, sample) in self.cells.get(&[i, j, k]).into_iter().flatten() {
                        let line = tracks[track];
                        let foot = foot(p, &line.points[sample], &line.points[sample + 1]);
                        let distance = (p - foot).norm();
                        let nearer = best.is_none_or(|b| {
                            distance < b.distance
                                || (distance <= b.distance && (track, sample) < (b.track, b.sample))
                        });
                        if nearer {
                            best = Some(Near {
                                distance,
                                track,
                                sample,
                                foot,
                            });
                        }
                    }
                }
            }
        }
        best.filter(|b| b.distance <= self.cell_mm)
    }
}

/// The point of a segment nearest to `p`.
pub(super) fn foot(p: &Vector3<f64>, a: &Vector3<f64>, b: &Vector3<f64>) -> Vector3<f64> {
    let along = b - a;
    let square = along.norm_squared();
    let t = if square > 0.0 {
        ((p - a).dot(&along) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    a + along * t
}
