//! A flexible line with a thickness: where a point lies beside it, and on which of its points the
//! place there hangs.

use nalgebra::Vector3;

use super::lumen::WallPoint;

/// Pieces whose common ball is asked first.
const BLOCK: usize = 8;

/// Newton steps to the foot of a point on a piece.
const STEPS: usize = 8;

/// Bound on a centreline's displacement over the largest displacement of its control points: as far as
/// they, and by half as much more where a corner takes more of the lengths beside it, or less.
const WITH_CORNERS: f64 = 1.5;

/// How far a line counts as gone that was laid through other points, in mm.
const ELSEWHERE_MM: f64 = 1e3;

/// A control point of a centreline.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ControlPoint {
    pub at: Vector3<f64>,
    /// Diameter in mm from here to the next point.
    pub diameter_mm: f64,
    /// What is to be known by the point.
    pub name: usize,
}

/// Point `i` of the line with its share.
pub(crate) type Weights = [(usize, f64); 3];

/// A piece with round ends, a parabola: `from + out t + bend t²` for t from 0 to 1.
#[derive(Debug, Clone, Copy)]
struct Segment {
    from: Vector3<f64>,
    out: Vector3<f64>,
    bend: Vector3<f64>,
    radius_mm: f64,
    /// Middle and radius in mm of a ball around the piece.
    centre: Vector3<f64>,
    reach_mm: f64,
    /// Names of the points on which it hangs, and how far its ends lie from the middle one, as
    /// shares of the lengths to the others; a straight piece depends on the first two, and its ends
    /// lie that far from the first.
    names: [usize; 3],
    shares: [f64; 2],
}

/// Pieces in a row and a ball around them.
#[derive(Debug, Clone, Copy)]
struct Block {
    end: usize,
    centre: Vector3<f64>,
    reach_mm: f64,
}

/// A line through points, each length between two of them with its radius.
///
/// The line has no corners that a wire could catch on: at each point a parabola takes half of the
/// shorter of the two lengths beside it, and as much of the other. With equal lengths this is the
/// quadratic B-spline of the points. Where the radius changes the line goes through the point.
#[derive(Debug, Clone, Default)]
pub(crate) struct Line {
    control_points: Vec<ControlPoint>,
    pieces: Vec<Segment>,
    blocks: Vec<Block>,
}

/// A point seen from the nearest piece.
#[derive(Debug, Clone)]
pub(crate) struct LineView {
    /// How far the point lies inside the line's thickness, in mm.
    pub depth_mm: f64,
    pub radius_mm: f64,
    /// From the line to the point, in mm.
    pub offset: Vector3<f64>,
    /// Direction of the piece, where the point lies beside it and not beyond an end; its length
    /// is 1 on a straight piece, more on the inner side of a bend and less on the outer one.
    pub along: Option<Vector3<f64>>,
    /// Where on the line.
    place: LinePlace,
}

/// A place on a line: piece, and how far on it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LinePlace {
    piece: usize,
    t: f64,
}

impl LineView {
    pub(crate) fn place(&self) -> LinePlace {
        self.place
    }

    /// The space around the line as a lumen, seen from the point.
    pub(super) fn wall(&self) -> WallPoint {
        WallPoint::around(self.radius_mm, &self.offset, self.along.as_ref())
    }
}

impl Line {
    /// Lays the line through `control_points`; pieces shorter than a micrometre are left out. Returns a
    /// bound on how far the line has moved, in mm.
    pub(crate) fn lay(&mut self, control_points: impl Iterator<Item = ControlPoint>) -> f64 {
        let before = std::mem::take(&mut self.control_points);
        for control_point in control_points {
            if self
                .control_points
                .last()
                .is_none_or(|last| (control_point.at - last.at).norm() > 1e-3)
            {
                self.control_points.push(control_point);
            }
        }
        self.pieces.clear();
        for k in 0..self.control_points.len().saturating_sub(1) {
            let (from, to) = (&self.control_points[k], &self.control_points[k + 1]);
            let radius_mm = 0.5 * from.diameter_mm;
            let span = to.at - from.at;
            let length = span.norm();
            let along = span / length;
            let (begin, end) = (self.cut(k), self.cut(k + 1));
            if length - begin - end > 1e-9 {
                let ends = [from.at + along * begin, to.at - along * end];
                self.pieces.push(Segment::new(
                    [ends[0], ends[1] - ends[0], Vector3::zeros()],
                    radius_mm,
                    [from.name, to.name, to.name],
                    [begin / length, 1.0 - end / length],
                ));
            }
            if end > 0.0 {
                let beyond = &self.control_points[k + 2];
                let next = beyond.at - to.at;
                let next_length = next.norm();
                let bend = next * (end / next_length) - along * end;
                self.pieces.push(Segment::new(
                    [to.at - along * end, along * (2.0 * end), bend],
                    radius_mm,
                    [from.name, to.name, beyond.name],
                    [end / length, end / next_length],
                ));
            }
        }
        self.blocks.clear();
        let chunks = self.pieces.chunks(BLOCK);
        self.blocks.extend(chunks.scan(0, |end, pieces| {
            *end += pieces.len();
            Some(Block::of(pieces, *end))
        }));
        let same = |(a, b): (&ControlPoint, &ControlPoint)| a.name == b.name;
        if before.len() == self.control_points.len()
            && before.iter().zip(&self.control_points).all(same)
        {
            let ways = before.iter().zip(&self.control_points);
            let squares = ways.map(|(a, b)| (b.at - a.at).norm_squared());
            WITH_CORNERS * squares.fold(0.0, f64::max).sqrt()
        } else {
            ELSEWHERE_MM
        }
    }

    /// Length of each side of point `k` that its corner takes.
    fn cut(&self, k: usize) -> f64 {
        let line = &self.control_points;
        if k == 0 || k + 1 >= line.len() {
            return 0.0;
        }
        if (line[k - 1].diameter_mm - line[k].diameter_mm).abs() > 0.0 {
            return 0.0;
        }
        let side = |i: usize| (line[i].at - line[k].at).norm();
        0.5 * side(k - 1).min(side(k + 1))
    }

    /// The piece into which `p` lies deepest, among those less than `margin` away.
    pub(crate) fn deepest(&self, p: &Vector3<f64>, margin: f64) -> Option<LineView> {
        self.deepest_from(0, p, margin)
    }

    /// The same among the pieces that depend on no point with a name below `from`.
    pub(crate) fn deepest_from(
        &self,
        from: usize,
        p: &Vector3<f64>,
        margin: f64,
    ) -> Option<LineView> {
        let mut best: Option<LineView> = None;
        let mut least = -margin;
        let mut begin = 0;
        for block in &self.blocks {
            let pieces = begin..block.end;
            begin = block.end;
            if block.reach_mm - (p - block.centre).norm() < least {
                continue;
            }
            for index in pieces {
                let piece = &self.pieces[index];
                let is_far = piece.reach_mm - (p - piece.centre).norm() < least;
                if is_far || piece.names[0].min(piece.names[2]) < from {
                    continue;
                }
                let seen = piece.see(index, p);
                if seen.depth_mm >= least {
                    least = seen.depth_mm;
                    best = Some(seen);
                }
            }
        }
        best
    }

    /// How far `p` lies inside the line's thickness in mm; negative outside.
    pub(super) fn depth(&self, p: &Vector3<f64>) -> f64 {
        let seen = self.deepest(p, f64::INFINITY);
        seen.map_or(f64::NEG_INFINITY, |seen| seen.depth_mm)
    }

    /// The names of the points on which a place hangs, with their shares, which add up to 1.
    pub(crate) fn weights(&self, place: LinePlace) -> Weights {
        let LinePlace { piece, t } = place;
        let Segment { names, shares, .. } = &self.pieces[piece];
        if self.pieces[piece].is_straight() {
            let along = shares[0] + (shares[1] - shares[0]) * t;
            return [(names[0], 1.0 - along), (names[1], along), (names[2], 0.0)];
        }
        let (first, last) = ((1.0 - t).powi(2) * shares[0], t * t * shares[1]);
        [
            (names[0], first),
            (names[1], 1.0 - first - last),
            (names[2], last),
        ]
    }
}

/// The lower of the names of the two points between which a place lies.
pub(crate) fn between(weights: &Weights) -> usize {
    let [first, middle, last] = weights;
    let other = if first.1 >= last.1 { first } else { last };
    other.0.min(middle.0)
}

impl Block {
    fn of(pieces: &[Segment], end: usize) -> Self {
        // A piece lies in the triangle of its ends and its control point.
        let corners = |p: &Segment| [p.from, p.from + p.out * 0.5, p.at(1.0)];
        let ends = || pieces.iter().flat_map(corners);
        let count = 3.0 * f64::from(u32::try_from(pieces.len()).unwrap_or(u32::MAX));
        let centre = ends().sum::<Vector3<f64>>() / count;
        let thickest = pieces.iter().map(|p| p.radius_mm).fold(0.0, f64::max);
        let reach = ends()
            .map(|x| (x - centre).norm_squared())
            .fold(0.0, f64::max);
        Self {
            end,
            centre,
            reach_mm: reach.sqrt() + thickest,
        }
    }
}

impl Segment {
    fn new(
        [from, out, bend]: [Vector3<f64>; 3],
        radius_mm: f64,
        names: [usize; 3],
        shares: [f64; 2],
    ) -> Self {
        Self {
            from,
            out,
            bend,
            radius_mm,
            centre: from + out * 0.5 + bend * 0.25,
            reach_mm: 0.5 * out.norm() + 0.75 * bend.norm() + radius_mm,
            names,
            shares,
        }
    }

    fn is_straight(&self) -> bool {
        self.names[1] == self.names[2]
    }

    fn at(&self, t: f64) -> Vector3<f64> {
        self.from + (self.out + self.bend * t) * t
    }

    /// The point seen from its foot. With `h(t)` half the square of the distance from the piece, the
    /// foot has `h' = 0`, and the second derivatives of that half square in space are the identity
    /// less `x' x'ᵀ / h''` there.
    fn see(&self, piece: usize, p: &Vector3<f64>) -> LineView {
        let chord = self.out + self.bend;
        let mut t = ((p - self.from).dot(&chord) / chord.norm_squared()).clamp(0.0, 1.0);
        let mut offset = p - self.at(t);
        let mut along = None;
        for _ in 0..STEPS {
            let forward = self.out + self.bend * (2.0 * t);
            let curved = forward.norm_squared() - 2.0 * offset.dot(&self.bend);
            // Beyond the centre of a bend the foot is at an end.
            let step = if curved > 0.1 * forward.norm_squared() {
                offset.dot(&forward) / curved
            } else {
                offset.dot(&forward).signum()
            };
            let wanted = t + step;
            let next = wanted.clamp(0.0, 1.0);
            let is_beside = (0.0..=1.0).contains(&wanted);
            along = (is_beside && curved > 0.0).then(|| forward / curved.sqrt());
            let moved = (next - t).abs();
            t = next;
            offset = p - self.at(t);
            if moved < 1e-13 {
                break;
            }
        }
        LineView {
            depth_mm: self.radius_mm - offset.norm(),
            radius_mm: self.radius_mm,
            offset,
            along,
            place: LinePlace { piece, t },
        }
    }
}

#[cfg(test)]
impl Line {
    /// Places along the whole line with its radius there, both in mm.
    pub(super) fn places(&self) -> Vec<(Vector3<f64>, f64)> {
        let along = |piece: &Segment| {
            let piece = *piece;
            (0..=1000).map(move |i| (piece.at(f64::from(i) * 1e-3), piece.radius_mm))
        };
        self.pieces.iter().flat_map(along).collect()
    }
}
